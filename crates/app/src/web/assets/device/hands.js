// @ts-check
//! The lines that a person answers: is the sound heard, does the switch reach the page, may the
//! camera be used.

import { meant, teachable, types, watchPads } from "../bench/keys.js";
import { Sound } from "../bench/sound.js";

/** @typedef {import("./lines.js").Lines} Lines */
/** @typedef {import("./lines.js").Act} Act */
/** @typedef {import("../bench/settings.js").Habits} Habits */
/** @typedef {import("../bench/store.js").Store} Store */

/** Between two ticks, as before a removal. */
const TICK_EVERY_MS = 1_000;
const LOUDER_BY = 0.2;

export class Hands {
  /**
   * @param {Lines} lines
   * @param {Store} store
   * @param {Habits} habits
   */
  constructor(lines, store, habits) {
    this.lines = lines;
    this.store = store;
    this.habits = habits;
    this.sound = new Sound(habits.volume);
    this.teaching = false;
  }

  begin() {
    this.#askSound("");
    this.#askSwitch("press your switch once");
    addEventListener("keydown", (event) => this.#key(event));
    watchPads((button) => this.#pad(button));
  }

  /** @param {string} words */
  #askSound(words) {
    this.lines.set({ name: "Sound", stands: "open", words }, ["Play three ticks", () => this.#ticks()]);
  }

  async #ticks() {
    if (!(await this.sound.wake())) {
      this.lines.set({ name: "Sound", stands: "missing", words: "this browser gives no sound" });
      return;
    }
    for (let tick = 0; tick < 3; tick += 1) {
      setTimeout(() => this.sound.now("tick", 0), tick * TICK_EVERY_MS);
    }
    this.lines.set({ name: "Sound", stands: "open", words: "did you hear three ticks?" },
      ["Yes", () => this.lines.set({ name: "Sound", stands: "done", words: "heard" })],
      ["Louder", () => this.#louder()],
      ["No", () => this.#askSound("look at the loudspeaker of this device")]);
  }

  async #louder() {
    const volume = Math.min(1, this.habits.volume + LOUDER_BY);
    this.sound.volume = volume;
    await this.#keep({ volume });
    await this.#ticks();
  }

  /** @param {string} words */
  #askSwitch(words) {
    this.lines.set({ name: "Switch", stands: "open", words },
      ["Teach a switch", () => this.#teach()]);
  }

  #teach() {
    this.teaching = true;
    this.#askSwitch("press the switch to be taught");
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
    if (this.teaching && teachable(event)) {
      event.preventDefault();
      const typed = types(event) ? "; it also types a letter where letters are asked for" : "";
      this.#taught({ key: event.code }, `taught, ${event.code}${typed}`);
      return;
    }
    if (meant(event, "before", this.habits)?.meant === "main") {
      if (this.#waits()) event.preventDefault();
      this.#works();
    }
  }

  /** @param {number} button */
  #pad(button) {
    const { taught } = this.habits;
    if (this.teaching) this.#taught({ button }, `taught, button ${button + 1}`);
    else if (taught !== null && "button" in taught && taught.button === button) this.#works();
  }

  #waits() {
    return this.lines.checks.get("Switch")?.stands === "open";
  }

  #works() {
    if (this.#waits()) this.#inOrder("it works");
  }

  /** @param {string} words */
  #inOrder(words) {
    this.lines.set({ name: "Switch", stands: "done", words },
      ["Teach another", () => this.#teach()]);
  }

  /**
   * @param {Exclude<Habits["taught"], null>} taught
   * @param {string} words
   */
  async #taught(taught, words) {
    this.teaching = false;
    await this.#keep({ taught });
    this.#inOrder(words);
  }

  /** @param {Partial<Habits>} change */
  async #keep(change) {
    this.habits = { ...this.habits, ...change };
    await this.store.setHabits(this.habits);
  }
}

/**
 * Whether the camera may be used.
 * @param {Lines} lines
 */
export async function camera(lines) {
  const name = "Camera";
  if (navigator.mediaDevices === undefined) {
    lines.set({ name, stands: "missing", words: "this page may not use one" });
    return;
  }
  const asked = /** @type {PermissionDescriptor} */ (/** @type {unknown} */ ({ name: "camera" }));
  const state = await navigator.permissions?.query(asked).then((it) => it.state, () => "prompt");
  if (state === "granted") lines.set({ name, stands: "done", words: "allowed" });
  else lines.set({ name, stands: "open", words: "" }, ["Allow the camera", () => allow(lines)]);
}

/** @param {Lines} lines */
async function allow(lines) {
  const name = "Camera";
  try {
    const film = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    for (const track of film.getTracks()) track.stop();
    lines.set({ name, stands: "done", words: "allowed" });
  } catch {
    lines.set({ name, stands: "missing", words: "not allowed, or there is none" },
      ["Ask again", () => allow(lines)]);
  }
}
