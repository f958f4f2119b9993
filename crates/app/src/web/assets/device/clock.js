// @ts-check
//! How far the clock of this device is from the book's, by the offset that round trips gave.

/** @typedef {import("../bench/clock.js").Offset} Offset */
/** @typedef {import("../bench/clock.js").Reading} Reading */
/** @typedef {import("../bench/device.js").Check} Check */

/** An offset known no better than this says little. */
const PLUS_MINUS_AT_MOST_MS = 500;

/**
 * @param {Offset | null} offset
 * @param {Reading} now
 * @param {number} noted_s Further apart, the calendar of one of them is wrong.
 * @returns {Check}
 */
export function clockLine(offset, now, noted_s) {
  const name = "Clock";
  if (offset === null) return { name, stands: "missing", words: "the book did not answer in time" };
  const book_ms = now.counter_ms + offset.offset_us / 1000;
  const ahead_ms = now.wall_ms - book_ms;
  const plus_minus_ms = Math.ceil(offset.plus_minus_us / 1000);
  const words = `${apart(ahead_ms)}, ± ${plus_minus_ms} ms`;
  const good = Math.abs(ahead_ms) <= noted_s * 1000 && plus_minus_ms <= PLUS_MINUS_AT_MOST_MS;
  return { name, stands: good ? "done" : "missing", words };
}

/** @param {number} ahead_ms */
function apart(ahead_ms) {
  const seconds = Math.abs(ahead_ms) / 1000;
  return `${seconds.toFixed(3)} s ${ahead_ms < 0 ? "behind" : "ahead of"} the book's`;
}
