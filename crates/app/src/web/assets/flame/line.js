// @ts-check
//! A curve as the steps of a path: gaps stay open.

/**
 * A reading.
 * @typedef {object} Spot
 * @property {number} s Seconds since the flame was put on.
 * @property {number} celsius
 */
/**
 * Where a picture's axes lie.
 * @typedef {object} Axes
 * @property {number} from
 * @property {number} to
 * @property {number} warmest
 * @property {number} left
 * @property {number} right
 * @property {number} top
 * @property {number} bottom
 */

/** A pause this many times the usual step is drawn as a gap. */
const GAP_STEPS = 5;

/**
 * The axes that a picture tells; nothing where it tells none.
 * @param {SVGSVGElement | null} picture
 * @returns {Axes | null}
 */
export function within(picture) {
  const numbers = (picture?.dataset["axes"] ?? "").split(" ").map(Number);
  const [from, to, warmest, left, right, top, bottom] = numbers;
  if (from === undefined || to === undefined || warmest === undefined) return null;
  if (left === undefined || right === undefined || top === undefined || bottom === undefined) return null;
  return { from, to, warmest, left, right, top, bottom };
}

/**
 * Where a reading stands.
 * @param {Spot} spot
 * @param {Axes} axes
 */
function place({ s, celsius }, { from, to, warmest, left, right, top, bottom }) {
  const held = Math.min(Math.max(celsius, 0), warmest);
  return {
    x: left + ((s - from) / (to - from)) * (right - left),
    y: bottom - (held / warmest) * (bottom - top),
  };
}

/**
 * Where the last reading stands that is drawn; nothing where none is.
 * @param {Spot[]} spots
 * @param {Axes} axes
 */
export function end(spots, axes) {
  const last = spots.filter(({ s }) => s >= axes.from && s <= axes.to).at(-1);
  return last ? place(last, axes) : null;
}

/**
 * The line through readings.
 * @param {Spot[]} spots
 * @param {Axes} axes
 * @returns {string}
 */
export function line(spots, axes) {
  const { from, to } = axes;
  const shown = spots.filter(({ s }) => s >= from && s <= to);
  const [first, last] = [shown[0], shown.at(-1)];
  if (!first || !last) return "";
  const usual = (last.s - first.s) / Math.max(shown.length - 1, 1);
  let before = -Infinity;
  return shown
    .map((spot) => {
      const step = spot.s - before > GAP_STEPS * usual ? "M" : "L";
      before = spot.s;
      const { x, y } = place(spot, axes);
      return `${step}${x.toFixed(1)} ${y.toFixed(1)}`;
    })
    .join("");
}
