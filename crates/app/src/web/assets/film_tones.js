// @ts-check
//! Finds the bench's two tones in the sound of a film, and where the film lies by them: a matched
//! filter for each tone, then the place at which most of what was pressed is heard.

import { CHIRPS, wave } from "./bench/chirp.js";
import { Fourier, at } from "./fft.js";

/** @typedef {import("./bench/chirp.js").ChirpName} ChirpName */
/** A tone that the bench gave, in seconds from the first flame. */
/** @typedef {{ name: ChirpName, at_s: number }} Tone */
/** Where a tone may begin in the film, and how alike it is there: from 0 to 1. */
/** @typedef {{ at_s: number, like: number }} Place */
/**
 * A tone as it is looked for: its frequencies, the sum of its squares, where it was found.
 * @typedef {object} Sought
 * @property {ChirpName} name
 * @property {Float64Array} real
 * @property {Float64Array} imaginary
 * @property {number} power
 * @property {Place[]} places
 */
/**
 * Where the film lies by its sound.
 * @typedef {object} Found
 * @property {number} begins_s When the film begins, in seconds from the first flame.
 * @property {number} heard So many tones are heard there.
 * @property {number} of So many the bench gave.
 * @property {number} likeness How alike those that are heard are, on average.
 * @property {number} best How much speaks for this place, from 0 to 1.
 * @property {number} second How much speaks for the next best place.
 * @property {number | null} apart_s By how much the tones' distances differ from those of the
 *   presses; nothing where one tone alone is heard.
 */

/** Sound is thinned to as few samples as this: the tones lie below a quarter of it. */
const RATE_LEAST = 8_000;
/** What lies outside of the tones' own pitches is left out, gently from here to there, in hertz. */
const BAND = { out: 400, from: 500, to: 1_600, gone: 1_700 };
/** The edges of a block hold what comes round from its other end. */
const EDGE_S = 0.03;
/** So alike a tone counts as heard. In noise alone likeness reaches 0.2 in ten minutes of film. */
const HEARD_AT_LEAST = 0.28;
/** Less alike is not looked at. */
const LOOKED_AT_FROM = 0.15;
/** Two places of one tone are so far from one another at least, in seconds. */
const PLACES_APART_S = 0.05;
/** The bench may sound a press so much later or sooner than another. */
const LOOSE_S = 0.1;
/** Another place for the film is one that differs by more than this. */
const OTHER_PLACE_S = 0.5;
/** Silence: no microphone is quieter, and nothing is divided by nothing. */
const SILENCE = 1e-10;
/** The page is let go on after so many blocks. */
const BLOCKS_AT_ONCE = 8;

/**
 * Finds where a film lies.
 * @param {Float32Array} samples Its sound.
 * @param {number} rate Samples a second.
 * @param {readonly Tone[]} tones What the bench gave, in order.
 * @param {() => Promise<void>} [rest] Lets the page go on.
 * @returns {Promise<Found | null>} Nothing where no tone is heard.
 */
export async function find(samples, rate, tones, rest = async () => {}) {
  const factor = Math.max(1, Math.floor(rate / RATE_LEAST));
  const filter = new Filter(rate / factor, [...new Set(tones.map(({ name }) => name))]);
  const places = await filter.places(thinned(samples, factor), rest);
  return lie(tones, places);
}

/**
 * Each so many samples as one.
 * @param {Float32Array} samples
 * @param {number} factor
 */
function thinned(samples, factor) {
  if (factor === 1) return samples;
  const thin = new Float32Array(Math.floor(samples.length / factor));
  for (let n = 0; n < thin.length; n += 1) {
    let sum = 0;
    for (let part = n * factor; part < (n + 1) * factor; part += 1) sum += at(samples, part);
    thin[n] = sum / factor;
  }
  return thin;
}

/** Matched filters, block by block. */
class Filter {
  /**
   * @param {number} rate
   * @param {ChirpName[]} names
   */
  constructor(rate, names) {
    this.rate = rate;
    this.edge = Math.ceil(EDGE_S * rate);
    this.lasts = Math.max(...Object.values(CHIRPS).map(({ lasts }) => Math.round(lasts * rate)));
    const block = 2 ** Math.ceil(Math.log2(4 * this.lasts + 2 * this.edge));
    this.step = block - this.lasts - 2 * this.edge;
    this.fourier = new Fourier(block);
    this.band = Float64Array.from({ length: block }, (_, n) => passes((Math.min(n, block - n) * rate) / block));
    this.sought = names.map((name) => this.#sought(name));
  }

  /**
   * @param {ChirpName} name
   * @returns {Sought}
   */
  #sought(name) {
    const { length } = this.fourier;
    const [real, imaginary] = [new Float64Array(length), new Float64Array(length)];
    // A wave and the same a quarter of a turn behind: whatever the phase in the film is.
    real.set(wave(CHIRPS[name], this.rate, 1 / 4));
    imaginary.set(wave(CHIRPS[name], this.rate));
    const power = real.reduce((sum, it) => sum + it * it, 0);
    this.fourier.forward(real, imaginary);
    return { name, real, imaginary, power, places: [] };
  }

  /**
   * Where each tone may begin.
   * @param {Float32Array} samples
   * @param {() => Promise<void>} rest
   * @returns {Promise<Map<ChirpName, Place[]>>}
   */
  async places(samples, rest) {
    const { fourier, edge } = this;
    const [real, imaginary] = [new Float64Array(fourier.length), new Float64Array(fourier.length)];
    let blocks = 0;
    for (let begin = 0; begin + this.lasts <= samples.length; begin += this.step) {
      real.fill(0);
      imaginary.fill(0);
      const from = Math.max(0, begin - edge);
      real.set(samples.subarray(from, begin - edge + fourier.length), from - (begin - edge));
      fourier.forward(real, imaginary);
      for (let n = 0; n < fourier.length; n += 1) {
        real[n] = at(real, n) * at(this.band, n);
        imaginary[n] = at(imaginary, n) * at(this.band, n);
      }
      const energy = this.#energy(real, imaginary);
      const fits = Math.min(this.step, samples.length - this.lasts - begin + 1);
      for (const sought of this.sought) this.#look(sought, { real, imaginary, energy, begin, fits });
      blocks += 1;
      if (blocks % BLOCKS_AT_ONCE === 0) await rest();
    }
    return new Map(this.sought.map(({ name, places }) => [name, places]));
  }

  /**
   * The sum of the squares up to each sample of a block.
   * @param {Float64Array} real
   * @param {Float64Array} imaginary
   */
  #energy(real, imaginary) {
    const [sound, rest] = [real.slice(), imaginary.slice()];
    this.fourier.back(sound, rest);
    const energy = new Float64Array(sound.length + 1);
    for (let n = 0; n < sound.length; n += 1) energy[n + 1] = at(energy, n) + at(sound, n) ** 2;
    return energy;
  }

  /**
   * Looks for a tone in a block.
   * @param {Sought} sought
   * @param {{ real: Float64Array, imaginary: Float64Array, energy: Float64Array, begin: number,
   *   fits: number }} block
   */
  #look({ real, imaginary, power, places }, block) {
    const { length } = this.fourier;
    const [like, turned] = [new Float64Array(length), new Float64Array(length)];
    for (let n = 0; n < length; n += 1) {
      const x = at(block.real, n);
      const y = at(block.imaginary, n);
      like[n] = x * at(real, n) + y * at(imaginary, n);
      turned[n] = y * at(real, n) - x * at(imaginary, n);
    }
    this.fourier.back(like, turned);
    const silence = SILENCE * this.lasts;
    for (let n = 0; n < block.fits; n += 1) {
      const from = n + this.edge;
      const energy = at(block.energy, from + this.lasts) - at(block.energy, from);
      const found = Math.hypot(at(like, from), at(turned, from)) / Math.sqrt(Math.max(energy, silence) * power);
      if (found >= LOOKED_AT_FROM) note(places, { at_s: (block.begin + n) / this.rate, like: found });
    }
  }
}

/**
 * How much of a pitch is let through.
 * @param {number} hertz
 */
function passes(hertz) {
  const up = (hertz - BAND.out) / (BAND.from - BAND.out);
  const down = (BAND.gone - hertz) / (BAND.gone - BAND.to);
  const share = Math.min(1, Math.max(0, Math.min(up, down)));
  return (1 - Math.cos(Math.PI * share)) / 2;
}

/**
 * Notes a place, or the better of two that are one.
 * @param {Place[]} places
 * @param {Place} place
 */
function note(places, place) {
  const last = places.at(-1);
  if (last === undefined || place.at_s - last.at_s > PLACES_APART_S) places.push(place);
  else if (place.like > last.like) places[places.length - 1] = place;
}

/**
 * Where the film lies by the places of its tones.
 * @param {readonly Tone[]} tones
 * @param {Map<ChirpName, Place[]>} places
 * @returns {Found | null}
 */
function lie(tones, places) {
  const all = tones.flatMap((tone) =>
    (places.get(tone.name) ?? []).map((place) => place.at_s - tone.at_s));
  const speaks = all.map((later_s) => {
    const near = tones.map((tone) => nearest(places.get(tone.name) ?? [], tone.at_s + later_s));
    return { later_s, near, sum: near.reduce((sum, place) => sum + (place?.like ?? 0), 0) };
  });
  const best = speaks.reduce((most, it) => (it.sum > (most?.sum ?? 0) ? it : most), speaks[0]);
  if (best === undefined) return null;
  const heard = best.near.flatMap((place, n) =>
    place !== null && place.like >= HEARD_AT_LEAST
      ? [{ like: place.like, later_s: place.at_s - /** @type {Tone} */ (tones[n]).at_s }]
      : []);
  if (heard.length === 0) return null;
  const later = heard.map(({ later_s }) => later_s);
  const mean = (/** @type {number[]} */ numbers) =>
    numbers.reduce((sum, it) => sum + it, 0) / numbers.length;
  const later_s = mean(later);
  const second = speaks.reduce((most, it) =>
    Math.abs(it.later_s - later_s) > OTHER_PLACE_S ? Math.max(most, it.sum) : most, 0);
  return {
    begins_s: -later_s,
    heard: heard.length,
    of: tones.length,
    likeness: mean(heard.map(({ like }) => like)),
    best: best.sum / tones.length,
    second: second / tones.length,
    apart_s: heard.length > 1 ? Math.max(...later) - Math.min(...later) : null,
  };
}

/**
 * The most alike of the places about a time.
 * @param {readonly Place[]} places In order.
 * @param {number} about_s
 */
function nearest(places, about_s) {
  let [low, high] = [0, places.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (/** @type {Place} */ (places[middle]).at_s < about_s - LOOSE_S) low = middle + 1;
    else high = middle;
  }
  /** @type {Place | null} */
  let most = null;
  for (let n = low; n < places.length; n += 1) {
    const place = /** @type {Place} */ (places[n]);
    if (place.at_s > about_s + LOOSE_S) break;
    if (place.like > (most?.like ?? 0)) most = place;
  }
  return most;
}
