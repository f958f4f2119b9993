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
/** @typedef {{ press: number, at: number, kind: Act }} Mark */
/** @typedef {{ act: Act, at_us: number }} Pressed */
/**
 * Where the presses that stand have led.
 * @typedef {object} Seen
 * @property {State} state
 * @property {readonly Application[]} applications
 * @property {Ending} flames
 * @property {Ending} glow
 * @property {Ending} layer
 * @property {boolean} caught Whether the layer caught.
 * @property {boolean} answered Whether the question about flame and glow is answered with yes.
 * @property {readonly Mark[]} marks
 */
/**
 * What the log means so far. Places in the log are from 0.
 * @typedef {object} Bench
 * @property {number} planned How many applications are planned.
 * @property {number} count How many presses the log has.
 * @property {Seen} seen
 * @property {readonly (Pressed & { place: number })[]} stands The presses that made `seen`.
 * @property {readonly number[]} withdrawn
 * @property {readonly number[]} ignored
 * @property {number | null} changed_us When the state last changed.
 * @property {number} doubts How many doubts of the time wait to be acknowledged.
 */
/** @typedef {"nothing" | "notes" | "steps" | "withdraws" | "remarks"} Does */

/** A second change of state sooner than this after the last is ignored. */
export const TOO_SOON_US = 300_000;
/** "Flame removed" is open from this long after "flame on specimen". */
export const REMOVAL_OPENS_US = 1_000_000;
/** Flames and glow both out so soon after removal: the page asks whether there were any. */
export const ASKS_WITHIN_US = 2_000_000;

/** @type {readonly Act[]} */
const MARKS = ["mark", "drop", "burning-drop", "layer-caught"];
/** @type {readonly Act[]} */
const STEPS = ["flame-on", "flame-removed", "flames-out", "no-flame", "glow-out", "no-glow",
  "burning-again", "layer-out", "put-out-by-hand", "specimen-spoilt"];
/** @type {readonly State[]} */
const FLAME_SEEN = ["on-specimen", "between", "burning", "glow", "layer"];
/** @type {Seen} */
const NOTHING_SEEN = { state: "ready", applications: [], flames: null, glow: null, layer: null,
  caught: false, answered: false, marks: [] };

/**
 * The bench before the first press.
 * @param {number} planned
 * @returns {Bench}
 */
export function begin(planned) {
  return { planned, count: 0, seen: NOTHING_SEEN, stands: [], withdrawn: [], ignored: [],
    changed_us: null, doubts: 0 };
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
  return { ...changed(bench, press), count: bench.count + 1 };
}

/**
 * What is logged when `act` is asked for: the act, or `ignored` where it does nothing or is too soon.
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Act}
 */
export function logged(bench, press) {
  return effect(bench, press) === "nothing" ? "ignored" : press.act;
}

/**
 * Whether a press would do something here, were it not too soon.
 * @param {Bench} bench
 * @param {Pressed} press
 */
export function tooSoon(bench, press) {
  if (effect(bench, press) !== "nothing") return false;
  return effect(bench, { act: press.act, at_us: Number.MAX_SAFE_INTEGER }) !== "nothing";
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
 * Whether flame and glow were both out so soon that one button may have had no other way to say
 * that there were none.
 * @param {Bench} bench
 */
export function asks({ seen }) {
  const removed = seen.applications.at(-1)?.removed;
  const { state, flames, glow } = seen;
  if (state !== "finished" || seen.answered || removed == null) return false;
  if (flames === null || flames === "none" || glow === null || glow === "none") return false;
  return "out" in flames && "out" in glow && glow.out - removed <= ASKS_WITHIN_US;
}

/**
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Does}
 */
function effect(bench, press) {
  const does = doesIn(bench.seen, press);
  const moves = does === "steps" || does === "withdraws";
  if (does === "withdraws" && !bench.stands.some(({ act }) => STEPS.includes(act))) return "nothing";
  const bounces = bench.changed_us !== null && press.at_us - bench.changed_us < TOO_SOON_US;
  return moves && bounces ? "nothing" : does;
}

/**
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Bench}
 */
function changed(bench, press) {
  const place = bench.count;
  const stands = [...bench.stands, { ...press, place }];
  switch (effect(bench, press)) {
    case "nothing":
      return { ...bench, ignored: [...bench.ignored, place] };
    case "remarks":
      return remarked(bench, press);
    case "notes":
      return { ...bench, stands, seen: taken(bench.seen, { ...press, place }, bench.planned) };
    case "steps":
      return { ...bench, stands, seen: taken(bench.seen, { ...press, place }, bench.planned),
        changed_us: press.at_us };
    case "withdraws":
      return { ...withdrawn(bench), changed_us: press.at_us };
  }
}

/**
 * A doubt of the time; or that one is acknowledged, or else the question is answered with yes.
 * @param {Bench} bench
 * @param {Pressed} press
 * @returns {Bench}
 */
function remarked(bench, press) {
  if (press.act === "time-doubtful") return { ...bench, doubts: bench.doubts + 1 };
  if (bench.doubts > 0) return { ...bench, doubts: bench.doubts - 1 };
  if (bench.seen.state !== "finished") return bench;
  const stands = [...bench.stands, { ...press, place: bench.count }];
  return { ...bench, stands, seen: { ...bench.seen, answered: true } };
}

/**
 * Takes the last step out, and goes through what stands once more.
 * @param {Bench} bench
 * @returns {Bench}
 */
function withdrawn(bench) {
  const last = bench.stands.findLastIndex(({ act }) => STEPS.includes(act));
  let seen = NOTHING_SEEN;
  const stands = [];
  const out = [...bench.withdrawn];
  for (const [index, press] of bench.stands.entries()) {
    // The question it answered is open again.
    if (press.act === "acknowledged" && seen.state !== "finished") continue;
    // A mark under a flame that was not on falls with it.
    if (index === last || doesIn(seen, press) === "nothing") {
      out.push(press.place);
    } else {
      seen = taken(seen, press, bench.planned);
      stands.push(press);
    }
  }
  return { ...bench, seen, stands, withdrawn: out };
}

/**
 * What a press does in this state, apart from being too soon.
 * @param {Seen} seen
 * @param {Pressed} press
 * @returns {Does}
 */
function doesIn(seen, { act, at_us }) {
  const { state } = seen;
  if (act === "time-doubtful" || act === "acknowledged") return "remarks";
  if (act === "last-press-wrong") return "withdraws";
  if (act === "not-spoilt") return state === "spoilt" ? "withdraws" : "nothing";
  if (MARKS.includes(act)) return FLAME_SEEN.includes(state) ? "notes" : "nothing";
  return steps(seen, act, at_us) ? "steps" : "nothing";
}

/**
 * @param {Seen} seen
 * @param {Act} act
 * @param {number} at_us
 * @returns {boolean}
 */
function steps(seen, act, at_us) {
  const { state } = seen;
  switch (act) {
    case "flame-on":
      return state === "ready" || state === "between";
    case "flame-removed":
      return state === "on-specimen"
        && at_us - (seen.applications.at(-1)?.on ?? 0) >= REMOVAL_OPENS_US;
    case "flames-out":
      return state === "burning";
    case "no-flame":
      return state === "burning" || state === "finished";
    case "glow-out":
    case "burning-again":
      return state === "glow";
    case "no-glow":
      return state === "glow" || state === "finished";
    case "layer-out":
      return FLAME_SEEN.includes(state) && layerBurns(seen);
    case "put-out-by-hand":
      return state === "burning" || state === "glow" || state === "layer";
    case "specimen-spoilt":
      return state !== "spoilt";
    default:
      return false;
  }
}

/**
 * What is seen after a press that does something.
 * @param {Seen} seen
 * @param {Pressed & { place: number }} press
 * @param {number} planned
 * @returns {Seen}
 */
function taken(seen, { act, at_us, place }, planned) {
  if (MARKS.includes(act)) {
    const marks = [...seen.marks, { press: place, at: at_us, kind: act }];
    return act === "layer-caught" ? { ...seen, marks, caught: true, layer: null } : { ...seen, marks };
  }
  switch (act) {
    case "flame-on":
      return { ...seen, state: "on-specimen",
        applications: [...seen.applications, { on: at_us, removed: null }] };
    case "flame-removed":
      return flameRemoved(seen, at_us, planned);
    case "flames-out":
      return flamesEnded(seen, { out: at_us });
    case "no-flame":
      return flamesEnded(seen, "none");
    case "glow-out":
      return glowEnded(seen, { out: at_us });
    case "no-glow":
      return glowEnded(seen, "none");
    case "burning-again":
      return { ...seen, state: "burning", flames: null };
    case "layer-out":
      return layerEnded(seen, { out: at_us });
    case "put-out-by-hand":
      if (seen.state === "burning") return flamesEnded(seen, { by_hand: at_us });
      if (seen.state === "glow") return glowEnded(seen, { by_hand: at_us });
      return layerEnded(seen, { by_hand: at_us });
    case "specimen-spoilt":
      return { ...seen, state: "spoilt" };
    case "acknowledged":
      return { ...seen, answered: true };
    default:
      return seen;
  }
}

/**
 * @param {Seen} seen
 * @param {number} removed
 * @param {number} planned
 * @returns {Seen}
 */
function flameRemoved(seen, removed, planned) {
  const applications = seen.applications.map((one, place) =>
    place === seen.applications.length - 1 ? { on: one.on, removed } : one);
  return { ...seen, state: applications.length < planned ? "between" : "burning", applications };
}

/**
 * @param {Seen} seen
 * @param {Ending} flames
 * @returns {Seen}
 */
function flamesEnded(seen, flames) {
  return { ...seen, flames, state: seen.state === "burning" ? "glow" : seen.state };
}

/**
 * @param {Seen} seen
 * @param {Ending} glow
 * @returns {Seen}
 */
function glowEnded(seen, glow) {
  if (seen.state !== "glow") return { ...seen, glow };
  return { ...seen, glow, state: layerBurns(seen) ? "layer" : "finished" };
}

/**
 * @param {Seen} seen
 * @param {Ending} layer
 * @returns {Seen}
 */
function layerEnded(seen, layer) {
  return { ...seen, layer, state: seen.state === "layer" ? "finished" : seen.state };
}

/** @param {Seen} seen */
function layerBurns({ caught, layer }) {
  return caught && layer === null;
}
