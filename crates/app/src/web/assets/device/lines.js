// @ts-check
//! The lines of the list: how each stands, in a sign and in words, and what can be done about it.

import { make } from "../bench/view.js";

/** @typedef {import("../bench/device.js").Check} Check */
/** A button: its words, and what it does. */
/** @typedef {readonly [string, () => void]} Act */

/** @type {Readonly<Record<Check["stands"], string>>} */
const SIGNS = { done: "✓", open: "○", missing: "◆" };
/** @type {Readonly<Record<Check["stands"], string>>} */
const WORDS = { done: "in order", open: "to do", missing: "missing" };

/** What was not to be had, and was gone on without: that is not in order. */
export const WITHOUT = "gone on without";

/**
 * How a line stands, as it is read.
 * @param {Check} check
 */
export function said({ name, stands, words }) {
  if (words === WITHOUT) return `${name}: ${words}`;
  return words ? `${name}: ${WORDS[stands]}, ${words}` : `${name}: ${WORDS[stands]}`;
}

/**
 * What is not in order yet, in one sentence; nothing where all is.
 * @param {readonly Check[]} checks
 */
export function notReady(checks) {
  const names = checks.filter(({ stands }) => stands !== "done").map(({ name }) => name);
  return names.length === 0 ? null : `Not in order yet: ${names.join(", ")}.`;
}

export class Lines {
  /** @param {HTMLElement} list Its items name their line in `data-line`. */
  constructor(list) {
    this.list = list;
    /** @type {Map<string, Check>} */
    this.checks = new Map();
  }

  /**
   * Shows how a line stands. One that is not in order can be gone without.
   * @param {Check} check
   * @param {...Act} acts
   */
  set(check, ...acts) {
    const item = this.item(check.name);
    if (item === null) return;
    this.checks.set(check.name, check);
    item.className = check.stands;
    const sign = check.words === WITHOUT ? "–" : SIGNS[check.stands];
    item.querySelector(".standing")?.replaceChildren(
      make("span", { class: "sign", "aria-hidden": "true" }, sign), ` ${said(check)}`);
    const without = /** @type {Act} */ ([
      "Go on without",
      () => this.set({ ...check, stands: "done", words: WITHOUT }),
    ]);
    const all = check.stands === "done" ? acts : [...acts, without];
    const held = item.contains(document.activeElement);
    item.querySelector(".acts")?.replaceChildren(...all.map((act) => button(act, check.name)));
    // Who pressed a button that is gone goes on from the line.
    if (held) item.focus();
  }

  /** @param {string} name */
  item(name) {
    return /** @type {HTMLElement | null} */ (this.list.querySelector(`[data-line="${name}"]`));
  }

  /** How all stand, in the order of the page. */
  all() {
    const items = /** @type {NodeListOf<HTMLElement>} */ (this.list.querySelectorAll("[data-line]"));
    return Array.from(items, ({ dataset: { line: name = "" } }) =>
      this.checks.get(name) ?? /** @type {Check} */ ({ name, stands: "open", words: "" }));
  }
}

/**
 * @param {Act} act
 * @param {string} name The line, for who hears the button alone.
 */
function button([words, act], name) {
  const made = make("button", { type: "button", class: "second" }, words,
    make("span", { class: "apart" }, ` (${name})`));
  made.addEventListener("click", act);
  return made;
}
