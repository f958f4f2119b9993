// @ts-check
//! Listens to a film of a specimen: its sound is unpacked by the browser, here alone, and the
//! bench's tones are looked for in it. What it finds is a proposal.

import { find } from "./film_tones.js";

/** @typedef {import("./film_tones.js").Tone} Tone */
/** @typedef {import("./film_tones.js").Found} Found */
/**
 * What the page knows of a film and of its specimen.
 * @typedef {object} Known
 * @property {string} address
 * @property {number} bytes
 * @property {number} lasts_s How long it is; not finite where nothing says so.
 * @property {number} sound_begins_s When in it its sound begins.
 * @property {readonly Tone[]} tones What the bench gave.
 */

/** The whole film is held while it is listened to. */
const MEGABYTES_MOST = 300;
/** So are its samples, all of them. */
const MINUTES_MOST = 10;
/** So many samples a second are asked for. Browsers that have no less give more. */
const RATE = 8_000;
const BY_HAND = "Look for the picture in which the flame is removed, and set the place by hand.";

/**
 * Where a film lies by its sound; else why that is not told, in words.
 * @param {Known} film
 * @returns {Promise<Found | string>}
 */
export async function listen(film) {
  const megabytes = Math.ceil(film.bytes / 1e6);
  if (megabytes > MEGABYTES_MOST) {
    return `The film has ${megabytes} MB. A film is listened to up to ${MEGABYTES_MOST} MB. ${BY_HAND}`;
  }
  const long = (/** @type {number} */ seconds) => `The film lasts ${Math.ceil(seconds / 60)} minutes. `
    + `A film is listened to up to ${MINUTES_MOST} minutes. ${BY_HAND}`;
  if (film.lasts_s > MINUTES_MOST * 60) return long(film.lasts_s);
  const bytes = await whole(film.address);
  if (bytes === null) return "The film did not come. Try again when the connection is back.";
  const sound = await unpacked(bytes);
  if (sound === null) return `This browser finds no sound in the film. ${BY_HAND}`;
  if (sound.duration > MINUTES_MOST * 60) return long(sound.duration);
  const rest = () => /** @type {Promise<void>} */ (new Promise((resolve) => setTimeout(resolve)));
  const found = await find(oneChannel(sound), sound.sampleRate, film.tones, rest);
  if (found === null) return `The bench's tones are not heard in its sound. ${BY_HAND}`;
  return { ...found, begins_s: found.begins_s - film.sound_begins_s };
}

/** @param {string} address */
async function whole(address) {
  const reply = await fetch(address).catch(() => null);
  return reply?.ok ? reply.arrayBuffer().catch(() => null) : null;
}

/**
 * The sound of a film, as few samples a second as this browser gives.
 * @param {ArrayBuffer} bytes
 * @returns {Promise<AudioBuffer | null>}
 */
async function unpacked(bytes) {
  const context = [RATE, 44_100].reduce((/** @type {OfflineAudioContext | null} */ made, rate) => {
    if (made !== null) return made;
    try {
      return new OfflineAudioContext(1, 1, rate);
    } catch {
      return null;
    }
  }, null);
  const sound = await context?.decodeAudioData(bytes).catch(() => null);
  return sound && sound.length > 0 ? sound : null;
}

/**
 * All channels as one.
 * @param {AudioBuffer} sound
 */
function oneChannel(sound) {
  const one = sound.getChannelData(0);
  for (let channel = 1; channel < sound.numberOfChannels; channel += 1) {
    const other = sound.getChannelData(channel);
    for (let n = 0; n < one.length; n += 1) one[n] = (one[n] ?? 0) + (other[n] ?? 0);
  }
  return one;
}
