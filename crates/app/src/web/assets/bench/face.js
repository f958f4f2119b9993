// @ts-check
//! What the page shows in each state, as data: heading, number, bar, main action, foot line. Pure.

/** @typedef {import("./state.js").Bench} Bench */
/** @typedef {import("./state.js").Act} Act */
/** @typedef {import("./state.js").Ending} Ending */
/** @typedef {import("./settings.js").Given} Given */
/**
 * What a button does: a press of the log, or something of the page.
 * @typedef {Act | "begin" | "back-to-checks" | "describe" | "say-what-happened"
 *   | "take-over"} Does
 */
/** @typedef {{ does: Does, words: string }} Action */
/**
 * How the bar stands: `filled` and `limit` from 0 to 1, `dotted` grows past the end.
 * @typedef {{ filled: number, dotted: number, mark: number | null, ends: string[] }} Bar
 */
/** @typedef {{ name: string, value: string }} Line */
/**
 * @typedef {object} Face
 * @property {string} heading
 * @property {string} number Whole seconds, with sign; empty where there is none.
 * @property {string} unit
 * @property {Bar | null} bar
 * @property {Action} main
 * @property {boolean} mark Whether the Mark stands beside it.
 * @property {Action | null} beside A further act beside the main one.
 * @property {Action[]} foot At most four.
 * @property {Line[]} lines The durations, once they stand still.
 * @property {string[]} notes Facts that were not planned.
 * @property {string | null} asks A question with yes and no.
 */

const SECOND_US = 1_000_000;
/** @type {Action} */
const WRONG = { does: "last-press-wrong", words: "Last press was wrong" };
/** @type {Action} */
const SPOILT = { does: "specimen-spoilt", words: "Specimen spoilt" };
/** @type {Action} */
const BY_HAND = { does: "put-out-by-hand", words: "Put out by hand" };
/** @type {Action} */
const NO_FLAME = { does: "no-flame", words: "No flame" };
/** @type {Action} */
const NO_GLOW = { does: "no-glow", words: "No glow" };

/**
 * What is shown at an instant of the sitting.
 * @param {Bench} bench
 * @param {Given} given
 * @param {number} now_us
 * @param {boolean} asks Whether flame and glow are to be asked about.
 * @returns {Face}
 */
export function face(bench, given, now_us, asks) {
  switch (bench.seen.state) {
    case "ready":
      return ready(given);
    case "on-specimen":
      return onSpecimen(bench, given, now_us);
    case "between":
      return between(bench, given, now_us);
    case "burning":
    case "glow":
    case "layer":
      return burning(bench, given, now_us);
    case "finished":
      return finished(bench, given, asks);
    case "spoilt":
      return spoilt(bench);
  }
}

/**
 * @param {Given} given
 * @returns {Face}
 */
function ready(given) {
  return {
    ...still("Ready", { does: "flame-on", words: "Flame on specimen" }),
    number: plain(given.application_s),
    unit: "s",
    bar: emptying(1, 0, given.application_s),
    foot: [{ does: "back-to-checks", words: "Back to checks" }],
  };
}

/**
 * @param {Bench} bench
 * @param {Given} given
 * @param {number} now_us
 * @returns {Face}
 */
function onSpecimen(bench, given, now_us) {
  const since_s = (now_us - (bench.seen.applications.at(-1)?.on ?? now_us)) / SECOND_US;
  const main = { does: /** @type {const} */ ("flame-removed"), words: "Flame removed" };
  const heading = `Flame on specimen${ofSeveral(bench)}`;
  return { ...still(heading, main), ...left(since_s, given.application_s), mark: true,
    foot: [WRONG, SPOILT] };
}

/**
 * @param {Bench} bench
 * @param {Given} given
 * @param {number} now_us
 * @returns {Face}
 */
function between(bench, given, now_us) {
  const { applications } = bench.seen;
  const since_s = (now_us - (applications.at(-1)?.removed ?? now_us)) / SECOND_US;
  const heading = `Between applications, ${applications.length} of ${bench.planned} done`;
  const main = { does: /** @type {const} */ ("flame-on"), words: "Flame on specimen" };
  return { ...still(heading, main), ...left(since_s, given.between_s), mark: true,
    foot: [WRONG, SPOILT] };
}

/**
 * @param {Bench} bench
 * @param {Given} given
 * @param {number} now_us
 * @returns {Face}
 */
function burning(bench, given, now_us) {
  const since_s = Math.max(0, (now_us - removal(bench)) / SECOND_US);
  const state = /** @type {"burning" | "glow" | "layer"} */ (bench.seen.state);
  /** @type {Record<typeof state, { heading: string, main: Action, also: Action[] }>} */
  const says = {
    burning: {
      heading: "Burning after removal",
      main: { does: "flames-out", words: "Flames out" },
      also: [NO_FLAME],
    },
    glow: {
      heading: "Glow after the flames",
      main: { does: "glow-out", words: "Glow out" },
      also: [NO_GLOW, { does: "burning-again", words: "Burning again" }],
    },
    layer: {
      heading: "Layer below still burning",
      main: { does: "layer-out", words: "Layer out" },
      also: [],
    },
  };
  const { heading, main, also } = says[state];
  const beside = since_s >= given.by_hand_after_s ? BY_HAND : null;
  // Four rare acts at most: where there are five, a specimen is spoilt after it has finished.
  const foot = [...also, ...(beside ? [] : [BY_HAND]), WRONG, SPOILT].slice(0, 4);
  return {
    ...still(heading, main),
    number: plain(Math.floor(since_s)),
    unit: "s",
    bar: filling(Math.floor(since_s), given.limit_s),
    mark: true,
    beside,
    foot,
    notes: late(bench, given).slice(-1),
  };
}

/**
 * @param {Bench} bench
 * @param {Given} given
 * @param {boolean} asks
 * @returns {Face}
 */
function finished(bench, given, asks) {
  const main = { does: /** @type {const} */ ("describe"), words: "Lights on, describe what you saw" };
  const { flames, glow } = bench.seen;
  const foot = [
    ...(flames === "none" ? [] : [NO_FLAME]),
    ...(glow === "none" ? [] : [NO_GLOW]),
    WRONG,
    SPOILT,
  ];
  return {
    ...still("Finished", main),
    lines: durations(bench),
    notes: late(bench, given),
    foot,
    asks: asks ? "Was there any flame or glow after removal?" : null,
  };
}

/**
 * @param {Bench} bench
 * @returns {Face}
 */
function spoilt(bench) {
  const main = { does: /** @type {const} */ ("say-what-happened"), words: "Say what happened" };
  return {
    ...still("Specimen spoilt", main),
    lines: durations(bench),
    foot: [{ does: "not-spoilt", words: "It was not spoilt" }],
  };
}

/**
 * @param {string} heading
 * @param {Action} main
 * @returns {Face}
 */
function still(heading, main) {
  return { heading, number: "", unit: "", bar: null, main, mark: false, beside: null, foot: [],
    lines: [], notes: [], asks: null };
}

/**
 * Counts down: seconds left, then `+1` where it is late.
 * @param {number} since_s
 * @param {number} planned_s
 */
function left(since_s, planned_s) {
  const over_s = Math.floor(Math.max(0, since_s - planned_s));
  const left_s = Math.max(0, Math.ceil(planned_s - since_s));
  const number = over_s > 0 ? `+${over_s}` : plain(Math.min(left_s, Math.ceil(planned_s)));
  const filled = planned_s > 0 ? Math.min(1, left_s / planned_s) : 0;
  const dotted = planned_s > 0 ? Math.min(1, over_s / planned_s) : 0;
  return { number, unit: "s", bar: emptying(filled, dotted, planned_s) };
}

/**
 * @param {number} filled
 * @param {number} dotted
 * @param {number} planned_s
 * @returns {Bar}
 */
function emptying(filled, dotted, planned_s) {
  return { filled, dotted, mark: null, ends: ["0", plain(planned_s)] };
}

/**
 * Counts up to the plan's limit, where the mark stands; without a limit there is no bar.
 * @param {number} since_s
 * @param {number | null} limit_s
 * @returns {Bar | null}
 */
function filling(since_s, limit_s) {
  if (limit_s === null || limit_s <= 0) return null;
  const ends = [0, 1, 2, 3].map((third) => plain(Math.round((limit_s * third) / 3)));
  return { filled: Math.min(1, since_s / limit_s), dotted: 0, mark: 1, ends };
}

/** @param {Bench} bench */
function removal(bench) {
  return bench.seen.applications.at(-1)?.removed ?? 0;
}

/** @param {Bench} bench */
function ofSeveral(bench) {
  const { length } = bench.seen.applications;
  return bench.planned > 1 ? `, ${length} of ${bench.planned}` : "";
}

/**
 * The durations as they stand, with tenths.
 * @param {Bench} bench
 * @returns {Line[]}
 */
export function durations(bench) {
  const { applications, flames, glow, layer } = bench.seen;
  const lines = applications
    .filter((one) => one.removed !== null)
    .map((one, place) => ({
      name: applications.length > 1 ? `Application ${place + 1}` : "Duration of application",
      value: tenths(/** @type {number} */ (one.removed) - one.on),
    }));
  if (applications.length < bench.planned || applications.at(-1)?.removed == null) return lines;
  const removed = removal(bench);
  const flamesEnd = at(flames) ?? removed;
  const last = Math.max(removed, ...[flames, glow, layer].map((end) => at(end) ?? removed));
  if (flames !== null) lines.push({ name: "Afterflame", value: ended(flames, removed) });
  if (glow !== null) lines.push({ name: "Afterglow", value: ended(glow, flamesEnd) });
  if (layer !== null) lines.push({ name: "Layer below", value: ended(layer, removed) });
  if (bench.seen.state === "finished") {
    lines.push({ name: "Duration of burning", value: tenths(last - removed) });
  }
  return lines;
}

/**
 * When flames or glowing ended.
 * @param {Ending} ending
 * @returns {number | null}
 */
function at(ending) {
  if (ending === null || ending === "none") return null;
  return "out" in ending ? ending.out : ending.by_hand;
}

/**
 * @param {Exclude<Ending, null>} ending
 * @param {number} from
 */
function ended(ending, from) {
  if (ending === "none") return `none (${tenths(0)})`;
  const value = tenths((at(ending) ?? from) - from);
  return "by_hand" in ending ? `${value}, put out by hand` : value;
}

/**
 * Removals off the plan, as facts, not judged.
 * @param {Bench} bench
 * @param {Given} given
 * @returns {string[]}
 */
export function late(bench, { application_s, tolerance_s }) {
  const within = tolerance_s === null ? "" : ` ± ${plain(tolerance_s)} s`;
  return bench.seen.applications.flatMap(({ on, removed }, place) => {
    if (removed === null) return [];
    const off_s = (removed - on) / SECOND_US - application_s;
    if (Math.abs(off_s) < 0.05) return [];
    const which = bench.planned > 1 ? `Application ${place + 1}: removed` : "Removed";
    const word = off_s > 0 ? "late" : "early";
    return [`${which} ${Math.abs(off_s).toFixed(1)} s ${word} (plan ${plain(application_s)} s${within})`];
  });
}

/**
 * How many marks there are; and when the last one was, where it has just been made.
 * @param {Bench} bench
 * @param {number} [at_us] Since the sitting began.
 */
export function marks({ seen }, at_us) {
  const { length } = seen.marks;
  const count = length === 0 ? "" : `${length} ${length === 1 ? "mark" : "marks"}`;
  if (at_us === undefined) return count;
  const at_s = ((at_us - (seen.applications[0]?.on ?? 0)) / SECOND_US).toFixed(1);
  return `${count}${length === 1 ? " " : ", the last "}at ${at_s} s`;
}

/** @param {number} microseconds */
export function tenths(microseconds) {
  return `${(Math.round(microseconds / 100_000) / 10).toFixed(1)} s`;
}

/** @param {number} value */
function plain(value) {
  return String(value);
}
