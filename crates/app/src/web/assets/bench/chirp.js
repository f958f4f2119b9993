// @ts-check
//! The two tones that mark a film: one as the flame comes to the specimen, one as it goes. What
//! they are is said here alone: the bench sounds them, the specimen's page looks for them.

/** @typedef {"flame-on" | "flame-removed"} ChirpName */
/** A tone whose pitch moves evenly: its length in seconds, its pitch at begin and end in hertz. */
/** @typedef {{ lasts: number, from: number, to: number }} Chirp */

/**
 * Three tenths of a second over more than an octave: long enough to be found in noise, and never
 * mistaken for one another, for one rises and one falls.
 * @type {Readonly<Record<ChirpName, Chirp>>}
 */
export const CHIRPS = {
  "flame-on": { lasts: 0.3, from: 600, to: 1500 },
  "flame-removed": { lasts: 0.3, from: 1500, to: 600 },
};

/** Each tone of the bench swells so long, and dies away so long, in seconds. */
export const SWELLS_S = 0.005;
export const DIES_S = 0.01;

/**
 * The samples of a chirp as the bench sounds it, at full volume.
 * @param {Chirp} chirp
 * @param {number} rate Samples a second.
 * @param {number} [ahead] By how many turns its phase is ahead.
 */
export function wave({ lasts, from, to }, rate, ahead = 0) {
  return Float64Array.from({ length: Math.round(lasts * rate) }, (_, n) => {
    const at = n / rate;
    const turns = from * at + ((to - from) * at * at) / (2 * lasts) + ahead;
    const loud = Math.min(1, at / SWELLS_S, (lasts - at) / DIES_S);
    return loud * Math.sin(2 * Math.PI * turns);
  });
}
