// @ts-check
//! The page at the flame: built once, then only what has changed is written.

/** @typedef {import("./face.js").Face} Face */
/** @typedef {import("./face.js").Does} Does */
/** @typedef {import("./face.js").Action} Action */
/** @typedef {import("./state.js").Input} Input */
/** @typedef {import("./state.js").Press} Press */
/** @typedef {import("./settings.js").Given} Given */
/** @typedef {import("./settings.js").Habits} Habits */
/** Told of a press on a button, with the event that brought it. */
/** @typedef {(does: Does | "mark", input: Input, event: Event) => void} Pressed */

/**
 * Makes an element.
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Record<string, string>} [attributes]
 * @param {...(Node | string)} inside
 * @returns {HTMLElementTagNameMap[Tag]}
 */
export function make(tag, attributes = {}, ...inside) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...inside);
  return element;
}

/**
 * Writes words only where they are others.
 * @param {Element} element
 * @param {string} words
 */
export function write(element, words) {
  if (element.textContent !== words) element.textContent = words;
}

/**
 * Acts on press-down, once a press: by pointer, by Space or Enter, or by a helper's click.
 * @param {HTMLButtonElement} button
 * @param {(input: Input, event: Event) => void} act
 */
export function onPressDown(button, act) {
  let handled = false;
  button.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    handled = true;
    act(event.pointerType === "mouse" ? "mouse" : "touch", event);
  });
  // The finger that is lifted presses nothing else: another button may stand there by then.
  button.addEventListener("touchend", (event) => event.preventDefault());
  button.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    if (!event.repeat) act("key", event);
  });
  button.addEventListener("keyup", (event) => {
    if (event.key === " ") event.preventDefault();
  });
  button.addEventListener("click", (event) => {
    // The click after a finger has acted already, here or on the page before; a helper's has not.
    const { pointerType: finger } = /** @type {PointerEvent} */ (event);
    if (event.detail === 0 || (!handled && !finger)) act("key", event);
    handled = false;
  });
}

export class View {
  /**
   * @param {HTMLElement} root
   * @param {Given} given
   * @param {Pressed} pressed
   */
  constructor(root, given, pressed) {
    this.root = root;
    this.pressed = pressed;
    const several = given.applications > 1 ? `${given.applications} × ` : "";
    const of = given.specimens ? ` of ${given.specimens}` : "";
    this.what = make("p", { class: "what" },
      `Specimen ${given.specimen}${of} · applied ${several}${given.application_s} s`
        + (given.made_up ? " · made-up" : ""));
    this.kept = make("p", { class: "kept", role: "status" });
    this.heading = make("h1");
    this.alarm = make("p", { class: "alarm", role: "alert" });
    this.digits = make("span", { class: "digits" });
    this.unit = make("span", { class: "unit" });
    this.number = make("p", { class: "number", role: "timer", "aria-live": "off" },
      this.digits, this.unit);
    this.bar = new BarView();
    this.durations = make("dl", { class: "durations" });
    new ResizeObserver(() => this.#reach()).observe(this.durations);
    this.notes = make("p", { class: "notes" });
    this.byHand = make("button", { type: "button", class: "by-hand" }, "Show the times to write down");
    this.byHand.hidden = true;
    this.times = make("div", { class: "times", tabindex: "0", role: "region",
      "aria-label": "Times to write down" });
    this.times.hidden = true;
    this.line = make("p", { class: "line", role: "status" });
    this.ofFilm = make("p", { class: "of-film", role: "status" });
    this.question = make("div", { class: "question", role: "group" });
    this.mark = make("button", { type: "button", class: "mark" }, make("span", {}, "Mark"),
      make("small", {}, "something fell or caught"));
    this.beside = make("button", { type: "button", class: "beside" });
    this.main = make("button", { type: "button", class: "main" });
    this.foot = make("div", { class: "foot" });
    this.shown = "";
    /** @type {Face | null} */
    this.face = null;
    this.page = this.#page();
    onPressDown(this.main, (input, event) => this.#do(this.face?.main, input, event));
    onPressDown(this.beside, (input, event) => this.#do(this.face?.beside, input, event));
    this.byHand.addEventListener("click", () => this.times.toggleAttribute("hidden"));
    onPressDown(this.mark, (input, event) => this.pressed("mark", input, event));
  }

  #page() {
    return make("div", { class: "page" },
      make("div", { class: "top" }, this.what, this.kept),
      make("div", { class: "middle" }, this.heading, this.number, this.durations,
        this.bar.element,
        make("div", { class: "aside" }, this.alarm, this.byHand, this.notes,
          this.question, this.ofFilm, this.line), this.times),
      make("div", { class: "actions" }, make("div", { class: "side" }, this.mark, this.beside),
        this.main),
      this.foot);
  }

  /** Puts the page up, with the main action in focus. */
  open() {
    if (this.page.isConnected) return;
    this.root.replaceChildren(this.page);
    this.main.focus({ preventScroll: true });
  }

  /**
   * The alarm, and the times in large letters where this device cannot keep them.
   * @param {string} words
   * @param {Press[] | null} presses
   */
  showAlarm(words, presses) {
    write(this.alarm, words);
    this.alarm.hidden = words === "";
    this.byHand.hidden = presses === null;
    if (presses === null || this.times.childElementCount === presses.length) return;
    this.times.replaceChildren(...presses.map(({ act, at_us }) =>
      make("p", {}, `${(at_us / 1e6).toFixed(1)} s  ${act.replaceAll("-", " ")}`)));
  }

  /**
   * What became of the film, where it is time to say it.
   * @param {string} words
   */
  sayOfFilm(words) {
    write(this.ofFilm, words);
    this.ofFilm.hidden = words === "";
  }

  /**
   * Whether the ring round the focus is lit: while keys move it, not while a switch or a finger
   * acts, for it would light the specimen.
   * @param {boolean} lit
   */
  ring(lit) {
    this.root.classList.toggle("ring", lit);
  }

  /** @param {Habits} habits */
  suit(habits) {
    this.root.classList.toggle("left-handed", habits.left_handed);
  }

  /**
   * @param {Face} face
   * @param {string} state
   */
  show(face, state) {
    this.face = face;
    if (this.root.dataset.state !== state) this.root.dataset.state = state;
    write(this.heading, face.heading);
    write(this.digits, face.number);
    write(this.unit, face.unit ? ` ${face.unit}` : "");
    this.digits.dataset.length = String(face.number.length);
    this.number.hidden = face.number === "";
    this.bar.show(face.bar);
    write(this.notes, face.notes.join(" · "));
    write(this.main, face.main.words);
    this.mark.hidden = !face.mark;
    this.mark.parentElement?.toggleAttribute("hidden", !face.mark);
    this.beside.hidden = face.beside === null;
    write(this.beside, face.beside?.words ?? "");
    this.#showParts(face);
  }

  /** The parts that are built anew, and only where they are others. */
  /** @param {Face} face */
  #showParts(face) {
    const parts = JSON.stringify([face.foot, face.lines, face.asks]);
    if (parts === this.shown) return;
    this.shown = parts;
    const held = document.activeElement;
    this.foot.replaceChildren(...face.foot.map((action) => this.#button(action)));
    this.durations.replaceChildren(...face.lines.map(({ name, value }) =>
      make("div", {}, make("dt", {}, name), make("dd", {}, value))));
    this.durations.hidden = face.lines.length === 0;
    this.#reach();
    const none = { does: /** @type {const} */ ("no-flame"), words: "No, none" };
    const some = { does: /** @type {const} */ ("acknowledged"), words: "Yes" };
    this.question.replaceChildren(...(face.asks === null ? [] : [
      make("p", {}, face.asks), this.#button(none), this.#button(some)]));
    this.question.hidden = face.asks === null;
    if (held !== null && !held.isConnected) this.main.focus({ preventScroll: true });
  }

  /** What does not fit can be reached by keys: as it is built, and as the screen is turned. */
  #reach() {
    const tall = this.durations.scrollHeight > this.durations.clientHeight;
    if (tall) this.durations.tabIndex = 0;
    else this.durations.removeAttribute("tabindex");
  }

  /**
   * @param {Action} action
   */
  #button(action) {
    const button = make("button", { type: "button" }, action.words);
    onPressDown(button, (input, event) => this.#do(action, input, event));
    return button;
  }

  /**
   * @param {Action | null | undefined} action
   * @param {Input} input
   * @param {Event} event
   */
  #do(action, input, event) {
    if (action) this.pressed(action.does, input, event);
  }
}

/** The bar: steps once a second, hatched where it is filled, dotted where it is late. */
class BarView {
  constructor() {
    this.filled = make("div", { class: "filled" });
    this.dotted = make("div", { class: "dotted" });
    this.mark = make("div", { class: "limit" });
    this.ends = make("div", { class: "ends" });
    this.element = make("div", { class: "bar", "aria-hidden": "true" },
      make("div", { class: "track" }, this.filled, this.dotted, this.mark), this.ends);
    this.shown = "";
  }

  /** @param {Face["bar"]} bar */
  show(bar) {
    this.element.hidden = bar === null;
    const words = JSON.stringify(bar);
    if (bar === null || words === this.shown) return;
    this.shown = words;
    this.filled.style.width = `${bar.filled * 100}%`;
    this.dotted.style.width = `${bar.dotted * 100}%`;
    this.mark.hidden = bar.mark === null;
    this.ends.replaceChildren(...bar.ends.map((end) => make("span", {}, end)));
  }
}

/**
 * Asks one question over the page; Esc is the last answer.
 * @param {HTMLElement} root
 * @param {string} question
 * @param {string[]} answers
 * @param {Node[]} [inside]
 * @returns {Promise<number>} Which answer.
 */
export function ask(root, question, answers, inside = []) {
  return new Promise((resolve) => {
    const dialog = make("dialog", { "aria-label": question }, make("h2", {}, question), ...inside);
    const close = (/** @type {number} */ answer) => {
      dialog.close();
      dialog.remove();
      resolve(answer);
    };
    answers.forEach((words, place) => {
      const button = make("button", { type: "button" }, words);
      button.addEventListener("click", () => close(place));
      dialog.append(button);
    });
    dialog.addEventListener("cancel", (event) => {
      event.preventDefault();
      close(answers.length - 1);
    });
    root.append(dialog);
    dialog.showModal();
  });
}
