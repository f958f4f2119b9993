// @ts-check
//! What a key, a foot switch or a button of a game pad means at the bench.

/** @typedef {import("./state.js").Act} Act */
/** @typedef {import("./state.js").Input} Input */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./settings.js").Habits} Habits */
/**
 * What is meant: the main action, an act of the log, or something of the page.
 * `nothing`: the key is swallowed and one line says so.
 * @typedef {Act | "main" | "leave" | "help" | "nothing"} Meant
 */
/** @typedef {{ meant: Meant, input: Input }} Intent */
/** The parts of a keyboard event that are looked at. */
/**
 * @typedef {object} Key
 * @property {string} key
 * @property {string} code
 * @property {boolean} repeat
 * @property {boolean} shiftKey
 * @property {boolean} ctrlKey
 * @property {boolean} altKey
 * @property {boolean} metaKey
 */

/** States in which the page may be left and the key list opened. */
/** @type {readonly (State | "before")[]} */
const AT_REST = ["before", "ready", "finished", "spoilt"];
/** What a presenter's other buttons send. */
const SWALLOWED = ["F5", ".", "b"];
/** How often a game pad is asked. */
const LOOK_AT_PAD_MS = 8;

/** @type {Readonly<Record<string, Act>>} */
const LETTERS = {
  d: "drop",
  B: "burning-drop",
  l: "layer-caught",
  k: "layer-out",
  r: "burning-again",
  x: "put-out-by-hand",
  z: "last-press-wrong",
};

/** Each key with what it does, for the list and for the page of help. */
/** @type {readonly (readonly [string, string])[]} */
export const LIST = [
  ["PageDown, →, your switch", "main action"],
  ["PageUp, ←", "mark"],
  ["Space, Enter", "the control with the ring round it"],
  ["D", "a drop fell"],
  ["Shift and B", "a burning drop fell"],
  ["L", "the layer caught"],
  ["K", "the layer is out"],
  ["N", "no flame, no glow"],
  ["R", "burning again"],
  ["X", "put out by hand"],
  ["Z, Backspace", "last press was wrong"],
  ["Esc", "leave the bench, while nothing burns"],
  ["?", "this list, while nothing burns"],
];

/**
 * What a key means; nothing (`null`) where it is left to the browser.
 * @param {Key} event
 * @param {State | "before"} state
 * @param {Habits} habits
 * @returns {Intent | null}
 */
export function meant(event, state, habits) {
  if (event.ctrlKey || event.altKey || event.metaKey) return null;
  const taught = habits.taught !== null && "key" in habits.taught ? habits.taught.key : null;
  if (event.code === taught) return { meant: "main", input: "switch" };
  switch (event.key) {
    case "PageDown":
    case "ArrowRight":
      return { meant: "main", input: "switch" };
    case "PageUp":
    case "ArrowLeft":
      return { meant: "mark", input: "switch" };
    case "Backspace":
      return { meant: "last-press-wrong", input: "key" };
    case "Escape":
      return { meant: AT_REST.includes(state) ? "leave" : "nothing", input: "key" };
    case "?":
      return { meant: AT_REST.includes(state) ? "help" : "nothing", input: "key" };
  }
  if (SWALLOWED.includes(event.key)) return { meant: "nothing", input: "key" };
  if (!habits.letters) return null;
  const letter = event.key === "B" ? "B" : event.key.toLowerCase();
  if (letter === "n") return { meant: state === "glow" ? "no-glow" : "no-flame", input: "key" };
  const act = Object.hasOwn(LETTERS, letter) ? LETTERS[letter] : undefined;
  return act === undefined ? null : { meant: act, input: "key" };
}

/** Whether a key may be taught as a switch: it must not be one that the page needs. */
/** @param {Key} event */
export function teachable(event) {
  const needed = ["Tab", "Enter", " ", "Escape", "Shift", "Control", "Alt", "Meta", "Backspace"];
  return event.code !== "" && !needed.includes(event.key);
}

/** Whether a taught key also types a letter somewhere else. */
/** @param {Key} event */
export function types(event) {
  return [...event.key].length === 1;
}

/**
 * Tells each press of a game pad's button, with the pad's own stamp.
 * @param {(button: number, timeStamp: number) => void} tell
 */
export function watchPads(tell) {
  /** @type {Map<string, boolean>} */
  const down = new Map();
  /** @type {ReturnType<typeof setInterval> | undefined} */
  let timer;
  const look = () => {
    for (const pad of navigator.getGamepads()) {
      pad?.buttons.forEach((button, place) => {
        const name = `${pad.index}/${place}`;
        if (button.pressed && !down.get(name)) tell(place, pad.timestamp || performance.now());
        down.set(name, button.pressed);
      });
    }
  };
  const connected = () => {
    timer ??= setInterval(look, LOOK_AT_PAD_MS);
  };
  addEventListener("gamepadconnected", connected);
  if (navigator.getGamepads?.().some((pad) => pad !== null)) connected();
}
