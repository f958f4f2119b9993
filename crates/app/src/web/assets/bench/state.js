// @ts-check
//! The states of the bench, and what the log of presses means. Pure: no clock, no page.
//! The same cases hold for this file and for the program: `crates/trial/tests/cases/bench.json`.

/**
 * @typedef {"flame-on" | "flame-removed" | "flames-out" | "no-flame" | "glow-out" | "no-glow"
 *   | "burning-again" | "layer-out" | "mark" | "drop" | "burning-drop" | "layer-caught"
 *   | "put-out-by-hand" | "last-press-wrong" | "specimen-spoilt" | "not-spoilt" | "ignored"
 *   | "time-doubtful" | "acknowledged"} Act
 */
/** @typedef {"switch" | "key" | "touch" | "mouse"} Input */
/**
 * One press as it is kept and sent.
 * @typedef {object} Press
 * @property {number} sequence From 1, without gaps.
 * @property {number} at_us Whole microseconds since the sitting began.
 * @property {string} wall The device's wall clock, RFC 3339.
 * @property {Act} act
 * @property {Input} input
 * @property {string} [note]
 */
/**
 * @typedef {"ready" | "on-specimen" | "between" | "burning" | "glow" | "layer" | "finished"
 *   | "spoilt"} State
 */
/**
 * How flames or glowing ended: there were none, went out, or were put out by hand; in microseconds.
 * @typedef {"none" | { out: number } | { by_hand: number } | null} Ending
 */
/** @typedef {{ on: number, removed: number | null }} Application */
/**
 * What one step back restores.
 * @typedef {object} Seen
 * @property {State} state
 * @property {readonly Application[]} applications
 * @property {Ending} flames
 * @property {Ending} glow
 * @property {Ending} layer
 */
/** @typedef {{ press: number, before: Seen }} Step */
/** @typedef {{ press: number, at: number, kind: Act }} Mark */
/**
 * What the log means so far.
 * @typedef {object} Bench
 * @property {number} planned How many applications are planned.
 * @property {number} count How many presses the log has.
 * @property {Seen} seen
 * @property {readonly Mark[]} marks
 * @property {readonly number[]} withdrawn Places in the log, from 0.
 * @property {readonly number[]} ignored Places in the log, from 0.
 * @property {readonly Step[]} steps The changes of state that stand.
 * @property {number | null} changed_us When the state last changed.
 * @property {boolean} doubtful Whether doubtful time waits to be acknowledged.
 * @property {boolean} answered Whether the question about flame and glow is answered.
 */
/** @typedef {{ act: Act, at_us: number }} Pressed */

/** A second change of state sooner than this after the last is ignored. */
export const TOO_SOON_US = 300_000;
/** "Flame removed" is open from this long after "flame on specimen". */
export const REMOVAL_OPENS_US = 1_000_000;
/** Flames and glow both out sooner than this after removal: the page asks whether there were any. */
export const ASKS_WITHIN_US = 2_000_000;

/** @type {readonly Act[]} */
const MARKS = ["mark", "drop", "burning-drop", "layer-caught"];
/** @type {readonly State[]} */
const FLAME_SEEN = ["on-specimen", "between", "burning", "glow", "layer"];

/**
 * The bench before the first press.
 * @param {number} planned
 * @returns {Bench}
 */
export function begin(planned) {
  /** @type {Seen} */
  const seen = { state: "ready", applications: [], flames: null, glow: null, layer: null };
  return {
    planned,
    count: 0,
    seen,
    marks: [],
    withdrawn: [],
    ignored: [],
    steps: [],
    changed_us: null,
    doubtful: false,
    answered: false,
  };
}

/**
 * What a whole log means.
 * @param {number} planned
 * @param {readonly Pressed[]} presses
 * @returns {Bench}
 */
export function replay(planned, presses) {
  return presses.reduce(after, begin(planned));
}

/**
 * The bench after one more press. A press that may not be here changes nothing but the count.
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Bench}
 */
export function after(bench, press) {
  const next = changed(bench, press) ?? { ...bench, ignored: [...bench.ignored, bench.count] };
  return { ...next, count: bench.count + 1 };
}

/**
 * What is logged when `act` is asked for: the act, or `ignored` where it does nothing or is too soon.
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Act}
 */
export function logged(bench, press) {
  return changed(bench, press) === null ? "ignored" : press.act;
}

/**
 * The one main action of the state; none in `finished` and `spoilt`, where it leads on.
 * @param {Bench} bench
 * @returns {Act | null}
 */
export function mainAct(bench) {
  switch (bench.seen.state) {
    case "ready":
    case "between":
      return "flame-on";
    case "on-specimen":
      return "flame-removed";
    case "burning":
      return "flames-out";
    case "glow":
      return "glow-out";
    case "layer":
      return "layer-out";
    default:
      return null;
  }
}

/**
 * Whether the act has a place in this state, apart from being too soon.
 * @param {Bench} bench
 * @param {Act} act
 * @returns {boolean}
 */
export function open(bench, act) {
  return changed(bench, { act, at_us: Number.MAX_SAFE_INTEGER }) !== null;
}

/**
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Bench | null}
 */
function changed(bench, press) {
  const { act, at_us } = press;
  if (act === "ignored") return null;
  if (act === "time-doubtful") return { ...bench, doubtful: true };
  if (act === "acknowledged") return { ...bench, doubtful: false, answered: true };
  if (MARKS.includes(act)) return marked(bench, press);
  if (tooSoon(bench, at_us)) return null;
  const unspoilt = act === "not-spoilt" && bench.seen.state === "spoilt";
  if (act === "last-press-wrong" || unspoilt) return steppedBack(bench, at_us);
  const seen = moved(bench, press);
  if (seen === null) return null;
  const step = { press: bench.count, before: bench.seen };
  const answered = bench.answered && seen.state === bench.seen.state;
  return { ...bench, seen, steps: [...bench.steps, step], changed_us: at_us, answered };
}

/**
 * @param {Bench} bench
 * @param {number} at_us
 */
function tooSoon(bench, at_us) {
  return bench.changed_us !== null && at_us - bench.changed_us < TOO_SOON_US;
}

/**
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Bench | null}
 */
function marked(bench, { act, at_us }) {
  if (!FLAME_SEEN.includes(bench.seen.state)) return null;
  const seen = act === "layer-caught" ? { ...bench.seen, layer: null } : bench.seen;
  return { ...bench, seen, marks: [...bench.marks, { press: bench.count, at: at_us, kind: act }] };
}

/**
 * @param {Bench} bench
 * @param {number} at_us
 * @returns {Bench | null}
 */
function steppedBack(bench, at_us) {
  const last = bench.steps.at(-1);
  if (last === undefined) return null;
  // Marks count from the flame on the specimen: where that was wrong, they were too.
  const away = last.before.applications.length === 0 ? bench.marks : [];
  return {
    ...bench,
    seen: last.before,
    marks: bench.marks.filter((mark) => !away.includes(mark)),
    steps: bench.steps.slice(0, -1),
    withdrawn: [...bench.withdrawn, last.press, ...away.map((mark) => mark.press)],
    changed_us: at_us,
    answered: false,
  };
}

/**
 * What is seen after an act that changes the state; nothing where it has no place.
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Seen | null}
 */
function moved(bench, { act, at_us }) {
  const { seen } = bench;
  if (act === "specimen-spoilt" && seen.state !== "spoilt") return { ...seen, state: "spoilt" };
  if (act === "layer-out" && layerBurns(bench)) {
    const state = seen.state === "layer" ? "finished" : seen.state;
    return { ...seen, layer: { out: at_us }, state };
  }
  switch (seen.state) {
    case "ready":
    case "between":
      return act === "flame-on" ? flameOn(seen, at_us) : null;
    case "on-specimen":
      return act === "flame-removed" ? flameRemoved(bench, at_us) : null;
    case "burning":
      return afterBurning(seen, act, at_us);
    case "glow":
      return afterGlow(bench, act, at_us);
    case "layer":
      if (act === "put-out-by-hand") {
        return { ...seen, layer: { by_hand: at_us }, state: "finished" };
      }
      return null;
    case "finished":
      return answered(bench, act);
    case "spoilt":
      return null;
  }
}

/**
 * @param {Seen} seen
 * @param {number} on
 * @returns {Seen}
 */
function flameOn(seen, on) {
  const applications = [...seen.applications, { on, removed: null }];
  return { ...seen, state: "on-specimen", applications };
}

/**
 * @param {Bench} bench
 * @param {number} removed
 * @returns {Seen | null}
 */
function flameRemoved({ seen, planned }, removed) {
  const last = seen.applications.at(-1);
  if (last === undefined || removed - last.on < REMOVAL_OPENS_US) return null;
  const applications = [...seen.applications.slice(0, -1), { on: last.on, removed }];
  return { ...seen, state: applications.length < planned ? "between" : "burning", applications };
}

/**
 * @param {Seen} seen
 * @param {Act} act
 * @param {number} at_us
 * @returns {Seen | null}
 */
function afterBurning(seen, act, at_us) {
  if (act === "flames-out") return { ...seen, state: "glow", flames: { out: at_us } };
  if (act === "no-flame") return { ...seen, state: "glow", flames: "none" };
  if (act === "put-out-by-hand") return { ...seen, state: "glow", flames: { by_hand: at_us } };
  return null;
}

/**
 * @param {Bench} bench
 * @param {Act} act
 * @param {number} at_us
 * @returns {Seen | null}
 */
function afterGlow(bench, act, at_us) {
  const { seen } = bench;
  if (act === "burning-again") return { ...seen, state: "burning", flames: null };
  const state = layerBurns(bench) ? "layer" : "finished";
  if (act === "glow-out") return { ...seen, state, glow: { out: at_us } };
  if (act === "no-glow") return { ...seen, state, glow: "none" };
  if (act === "put-out-by-hand") return { ...seen, state, glow: { by_hand: at_us } };
  return null;
}

/**
 * The answer to the question of `finished`: there was no flame, no glow.
 * @param {Bench} bench
 * @param {Act} act
 * @returns {Seen | null}
 */
function answered({ seen }, act) {
  if (act === "no-flame") return { ...seen, flames: "none" };
  if (act === "no-glow") return { ...seen, glow: "none" };
  return null;
}

/** @param {Bench} bench */
function layerBurns({ marks, seen }) {
  const afire = FLAME_SEEN.includes(seen.state) && seen.layer === null;
  return afire && marks.some((mark) => mark.kind === "layer-caught");
}

/**
 * Whether flame and glow were both out so soon that one button may have had no other way to say
 * that there were none.
 * @param {Bench} bench
 */
export function asks({ seen, answered }) {
  const removed = seen.applications.at(-1)?.removed;
  const { state, flames, glow } = seen;
  if (state !== "finished" || answered || removed == null) return false;
  if (flames === null || flames === "none" || glow === null || glow === "none") return false;
  return "out" in flames && "out" in glow && glow.out - removed <= ASKS_WITHIN_US;
}
