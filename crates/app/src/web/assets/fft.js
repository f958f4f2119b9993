// @ts-check
//! The discrete Fourier transform of a power of two of complex numbers, in place.

/** Turns of one length: made once, used again and again. */
export class Fourier {
  /** @param {number} length A power of two. */
  constructor(length) {
    this.length = length;
    this.cosine = Float64Array.from({ length: length / 2 }, (_, n) => Math.cos((2 * Math.PI * n) / length));
    this.sine = Float64Array.from({ length: length / 2 }, (_, n) => -Math.sin((2 * Math.PI * n) / length));
    this.place = new Uint32Array(length);
    for (let n = 1, bit = length >> 1; n < length; n += 1) {
      this.place[n] = (/** @type {number} */ (this.place[n >> 1]) >> 1) | (n & 1 ? bit : 0);
    }
  }

  /**
   * To frequencies.
   * @param {Float64Array} real
   * @param {Float64Array} imaginary
   */
  forward(real, imaginary) {
    const { length, cosine, sine, place } = this;
    for (let n = 0; n < length; n += 1) {
      const other = at(place, n);
      if (other > n) {
        swap(real, n, other);
        swap(imaginary, n, other);
      }
    }
    for (let half = 1, step = length >> 1; half < length; half *= 2, step >>= 1) {
      for (let begin = 0; begin < length; begin += 2 * half) {
        for (let n = begin, turn = 0; n < begin + half; n += 1, turn += step) {
          const c = at(cosine, turn);
          const s = at(sine, turn);
          const x = at(real, n + half);
          const y = at(imaginary, n + half);
          const u = x * c - y * s;
          const v = x * s + y * c;
          real[n + half] = at(real, n) - u;
          imaginary[n + half] = at(imaginary, n) - v;
          real[n] = at(real, n) + u;
          imaginary[n] = at(imaginary, n) + v;
        }
      }
    }
  }

  /**
   * Back from frequencies.
   * @param {Float64Array} real
   * @param {Float64Array} imaginary
   */
  back(real, imaginary) {
    this.forward(imaginary, real);
    for (let n = 0; n < this.length; n += 1) {
      real[n] = at(real, n) / this.length;
      imaginary[n] = at(imaginary, n) / this.length;
    }
  }
}

/**
 * An element that is there.
 * @param {ArrayLike<number>} numbers
 * @param {number} n
 */
export function at(numbers, n) {
  return /** @type {number} */ (numbers[n]);
}

/**
 * @param {Float64Array} numbers
 * @param {number} n
 * @param {number} other
 */
function swap(numbers, n, other) {
  const held = at(numbers, n);
  numbers[n] = at(numbers, other);
  numbers[other] = held;
}
