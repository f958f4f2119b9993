// @ts-check
//! Numbers by chance, alike for the same seed.

/**
 * Marsaglia's xorshift with 32 bits (Journal of Statistical Software 8, 14, 2003).
 * @param {number} seed From 1.
 * @returns {() => number} The next number from 0 to below 1.
 */
export function numbers(seed) {
  let state = seed >>> 0;
  return () => {
    state ^= state << 13;
    state >>>= 0;
    state ^= state >>> 17;
    state ^= state << 5;
    state >>>= 0;
    return state / 2 ** 32;
  };
}
