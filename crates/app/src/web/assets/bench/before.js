// @ts-check
//! Before the flame: the checks of this device, the served checks, and how this device is set.

import { LIST, teachable, types } from "./keys.js";
import { photoLine } from "./photo.js";
import { ask, make, onPressDown, write } from "./view.js";

/** @typedef {import("./device.js").Check} Check */
/** @typedef {import("./settings.js").Given} Given */
/** @typedef {import("./settings.js").Habits} Habits */
/**
 * @typedef {object} Means
 * @property {() => void} begin
 * @property {() => Promise<boolean>} ticks Plays three ticks; whether anything could sound.
 * @property {(habits: Habits) => void} setHabits
 * @property {HTMLElement} film The line about a film.
 */

/** A switch that was not seen for this long may be asleep. */
const SWITCH_SEEN_WITHIN_MS = 120_000;
/** The second half of a double press does not begin. */
const SWITCH_BOUNCES_MS = 300;
/** @type {Readonly<Record<Check["stands"], string>>} */
const SIGNS = { done: "✓", open: "○", missing: "◆" };

export class Before {
  /**
   * @param {HTMLElement} root
   * @param {Given} given
   * @param {Habits} habits
   * @param {Means} means
   */
  constructor(root, given, habits, means) {
    this.root = root;
    this.given = given;
    this.habits = habits;
    this.means = means;
    this.teaching = false;
    this.without = false;
    /** @type {number | null} */
    this.switchSeen = null;
    this.soundHeard = false;
    /** @type {Check[]} */
    this.device = [];
    this.checks = make("ul", { class: "checks" });
    this.line = make("p", { class: "line", role: "status" });
    this.main = make("button", { type: "button", class: "main" }, "Darken the room and begin");
    onPressDown(this.main, () => this.begin());
    this.#eyes();
    photoLine(root, given);
    this.page = this.#page([...root.childNodes]);
  }

  /** What only eyes can check: whoever has looked says so. */
  #eyes() {
    for (const button of this.root.querySelectorAll("button[data-seen]")) {
      const line = button.closest("li");
      if (line === null) continue;
      const { name = "", words = "" } = line.dataset;
      button.addEventListener("click", () => {
        line.replaceWith(checkLine({ name, stands: "done", words }));
        this.main.focus({ preventScroll: true });
      });
    }
  }

  /** @param {ChildNode[]} served */
  #page(served) {
    const { specimen, specimens, person } = this.given;
    const of = specimens ? ` of ${specimens}` : "";
    return make("div", { class: "page before" },
      make("div", { class: "top" }, make("p", { class: "what" }, `Specimen ${specimen}${of}`),
        make("p", { class: "kept" }, person)),
      make("div", { class: "middle" }, make("h1", {}, "Before the flame"),
        make("div", { class: "served" }, ...served), this.checks, this.#settings(), this.line),
      make("div", { class: "actions" }, this.main));
  }

  open() {
    this.root.dataset.state = "before";
    this.root.replaceChildren(this.page);
    this.#show();
    this.main.focus({ preventScroll: true });
  }

  /** @param {Check[]} device */
  setDevice(device) {
    this.device = device;
    this.#show();
  }

  /** A press of the switch: the first is the check itself, the next begins. */
  pressSwitch() {
    const before = this.switchSeen;
    this.switchSeen = performance.now();
    const bounces = before !== null && this.switchSeen - before < SWITCH_BOUNCES_MS;
    if (bounces) return;
    if (before !== null && this.switchSeen - before < SWITCH_SEEN_WITHIN_MS) this.begin();
    else this.say("The switch works.");
    this.#show();
  }

  /**
   * A key while a switch is taught; whether it was taken.
   * @param {KeyboardEvent} event
   */
  teach(event) {
    if (!this.teaching || !teachable(event)) return false;
    this.teachSwitch({ key: event.code });
    const typed = types(event) ? " It also types a letter where letters are asked for." : "";
    this.say(`The key ${event.code} is now the switch.${typed}`);
    return true;
  }

  /** @param {Exclude<Habits["taught"], null>} taught */
  teachSwitch(taught) {
    this.teaching = false;
    this.switchSeen = performance.now();
    this.#set({ taught });
    this.#show();
  }

  begin() {
    const open = this.#inTheWay();
    if (open === null) this.means.begin();
    else this.say(open);
  }

  /** What must be done first, in words. */
  #inTheWay() {
    if (this.given.not_ready !== null) return `◆ ${this.given.not_ready}`;
    if (!this.without && !this.#switchAwake()) return "○ First press your switch once.";
    const missing = this.device.find((check) => check.name === "Battery" && check.stands === "missing");
    return missing === undefined ? null : `◆ Battery at ${missing.words}: charge this device first.`;
  }

  #switchAwake() {
    return this.switchSeen !== null && performance.now() - this.switchSeen < SWITCH_SEEN_WITHIN_MS;
  }

  /** @param {string} words */
  say(words) {
    write(this.line, words);
  }

  #show() {
    const device = this.device.map(checkLine);
    const lines = [this.#switchLine(), this.#soundLine(), this.means.film, ...device];
    const held = this.checks.contains(document.activeElement);
    this.checks.replaceChildren(...lines);
    if (held) this.main.focus({ preventScroll: true });
  }

  #switchLine() {
    if (this.without) return checkLine({ name: "Switch", stands: "done", words: "screen and keys alone" });
    if (this.#switchAwake()) return checkLine({ name: "Switch", stands: "done", words: "" });
    const words = this.teaching ? "press the switch to be taught" : "press your switch once";
    const line = checkLine({ name: "Switch", stands: "open", words });
    line.append(choices(
      button("Teach a switch", () => {
        this.teaching = true;
        this.#show();
        this.main.focus({ preventScroll: true });
      }),
      button("No switch: screen and keys", () => {
        this.without = true;
        this.#show();
        this.main.focus({ preventScroll: true });
      }),
    ));
    return line;
  }

  #soundLine() {
    const heard = this.soundHeard;
    const words = heard ? "" : "three ticks";
    const line = checkLine({ name: "Sound", stands: heard ? "done" : "open", words });
    if (!heard) line.append(choices(button("Play three ticks", () => this.#playTicks())));
    return line;
  }

  async #playTicks() {
    const sounded = await this.means.ticks();
    if (!sounded) {
      this.say("◆ This browser gives no sound: watch the number instead.");
      return;
    }
    const answer = await ask(this.root, "Did you hear three ticks?", ["Yes", "Louder", "No"]);
    if (answer === 0) this.soundHeard = true;
    if (answer === 1) this.#set({ volume: Math.min(1, this.habits.volume + 0.2) });
    if (answer === 2) this.say("◆ Look at the loudspeaker of this device, then play them again.");
    this.#show();
    if (answer === 1) await this.#playTicks();
  }

  /** @param {Partial<Habits>} change */
  #set(change) {
    this.habits = { ...this.habits, ...change };
    this.means.setHabits(this.habits);
  }

  #settings() {
    /** @param {"left_handed" | "letters" | "soft_ticks"} name @param {string} words */
    const choice = (name, words) => {
      const box = make("input", { type: "checkbox" });
      box.checked = this.habits[name];
      box.addEventListener("change", () => this.#set({ [name]: box.checked }));
      return make("label", {}, box, ` ${words}`);
    };
    return make("details", {}, make("summary", {}, "How this device is set"),
      choice("left_handed", "Left-handed: the main action on the left"),
      choice("letters", "Single letters act"),
      choice("soft_ticks", "One soft tick each 10 s while it burns"));
  }
}

/** @param {Check} check */
function checkLine({ name, stands, words }) {
  const said = words ? `${name}: ${words}` : name;
  return make("li", { class: stands }, make("span", { class: "sign", "aria-hidden": "true" }, SIGNS[stands]),
    make("span", {}, `${said}${stands === "open" ? " (to do)" : ""}`));
}

/** @param {...HTMLElement} buttons */
function choices(...buttons) {
  return make("span", { class: "choices" }, ...buttons);
}

/**
 * @param {string} words
 * @param {() => void} act
 */
function button(words, act) {
  const made = make("button", { type: "button" }, words);
  made.addEventListener("click", act);
  return made;
}

/** The list of keys, as a table. */
export function keyList() {
  return make("table", {}, make("caption", {}, "Each of them is also a button"),
    make("tbody", {}, ...LIST.map(([key, does]) =>
      make("tr", {}, make("th", { scope: "row" }, key), make("td", {}, does)))));
}
