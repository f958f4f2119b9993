// @ts-check
//! The bench's tones in the sound of films that are made here: found in noise, at any rate, with one
//! of them missing; and not found where there are none.
//!
//! Noise of −10 dB has ten times the mean power that a tone has while it sounds, within the band up
//! to 4 kHz: where a film has more samples a second its noise reaches further up, as loud there.

import assert from "node:assert/strict";
import test from "node:test";

import { CHIRPS, wave } from "../../crates/app/src/web/assets/bench/chirp.js";
import { TONES } from "../../crates/app/src/web/assets/bench/sound.js";
import { Fourier } from "../../crates/app/src/web/assets/fft.js";
import { find } from "../../crates/app/src/web/assets/film_tones.js";
import { numbers } from "./train.js";

/** @typedef {import("../../crates/app/src/web/assets/film_tones.js").Tone} Tone */

/** A frame of most phones' films. */
const FRAME_S = 0.033;
const NOISE_DB = -10;
const BAND_HZ = 4_000;
const LOUD = 0.05;

/** @type {readonly Tone[]} */
const PRESSED = [{ name: "flame-on", at_s: 0 }, { name: "flame-removed", at_s: 5.2 }];

/** A sound that is put together. */
class Sound {
  /** @param {number} rate @param {number} seconds */
  constructor(rate, seconds) {
    this.rate = rate;
    this.samples = new Float32Array(Math.round(rate * seconds));
  }

  /**
   * @param {ArrayLike<number>} wave
   * @param {number} at_s
   * @param {number} [loud]
   */
  add(wave, at_s, loud = LOUD) {
    const begin = Math.round(at_s * this.rate);
    for (let n = 0; n < wave.length; n += 1) {
      const at = begin + n;
      if (at >= 0 && at < this.samples.length) {
        this.samples[at] = (this.samples[at] ?? 0) + loud * (wave[n] ?? 0);
      }
    }
    return this;
  }

  /** @param {readonly Tone[]} tones @param {number} later_s */
  chirps(tones, later_s) {
    for (const { name, at_s } of tones) this.add(wave(CHIRPS[name], this.rate), at_s + later_s);
    return this;
  }

  /**
   * White noise so far below the tones, or above them.
   * @param {number} decibel
   * @param {() => number} next
   */
  noise(decibel, next) {
    const power = (LOUD ** 2 / 2) * 10 ** (-decibel / 10) * (this.rate / 2 / BAND_HZ);
    for (let n = 0; n < this.samples.length; n += 1) {
      // A sum of three has nearly the form of a bell; its variance is a quarter.
      const sum = next() + next() + next() - 1.5;
      this.samples[n] = (this.samples[n] ?? 0) + 2 * Math.sqrt(power) * sum;
    }
    return this;
  }
}

test("in noise of −10 dB every film is laid within a frame", async () => {
  const rates = [8_000, 16_000, 44_100, 48_000];
  const each = 25;
  let furthest_s = 0;
  for (const rate of rates) {
    for (let seed = 1; seed <= each; seed += 1) {
      const next = numbers(seed * 7919 + rate);
      const later_s = 0.5 + 3 * next();
      const { samples } = new Sound(rate, 10).chirps(PRESSED, later_s).noise(NOISE_DB, next);
      const found = await find(samples, rate, PRESSED);
      const off_s = Math.abs((found?.begins_s ?? Infinity) + later_s);
      assert.ok(off_s <= FRAME_S, `seed ${seed} at ${rate}: off by ${off_s} s`);
      assert.equal(found?.heard, 2, `seed ${seed} at ${rate}`);
      assert.ok((found?.apart_s ?? 1) <= FRAME_S, `seed ${seed} at ${rate}`);
      assert.ok((found?.second ?? 1) < 0.8 * (found?.best ?? 0), `seed ${seed} at ${rate}`);
      furthest_s = Math.max(furthest_s, off_s);
    }
  }
  console.log(`${each * rates.length} films in noise of ${NOISE_DB} dB: off by ${furthest_s.toFixed(4)} s at most`);
});

test("with one tone missing the film is still laid, and that is said", async () => {
  for (let seed = 1; seed <= 15; seed += 1) {
    for (const there of PRESSED) {
      const next = numbers(seed * 104_729);
      const later_s = 0.5 + 3 * next();
      const { samples } = new Sound(8_000, 12).chirps([there], later_s).noise(NOISE_DB, next);
      const found = await find(samples, 8_000, PRESSED);
      assert.deepEqual([found?.heard, found?.of, found?.apart_s], [1, 2, null], `seed ${seed}`);
      assert.ok(Math.abs((found?.begins_s ?? Infinity) + later_s) <= FRAME_S, `seed ${seed}`);
    }
  }
});

test("where there are no tones nothing is proposed", async () => {
  for (let seed = 1; seed <= 15; seed += 1) {
    const { samples } = new Sound(8_000, 30).noise(NOISE_DB, numbers(seed * 15_485_863));
    assert.equal(await find(samples, 8_000, PRESSED), null, `seed ${seed}`);
  }
  assert.equal(await find(new Float32Array(8_000 * 5), 8_000, PRESSED), null, "silence");
  assert.equal(await find(new Float32Array(100), 8_000, PRESSED), null, "too short");
  const { samples } = new Sound(8_000, 5).chirps(PRESSED, 0);
  assert.equal(await find(samples, 8_000, []), null, "nothing was pressed");
});

test("the bench's other sounds, an echo, a hum and another clock do not mislead", async () => {
  const rate = 8_000;
  const sound = new Sound(rate, 60).noise(0, numbers(4_711));
  const later_s = 7.3;
  // A clock that is 200 millionths fast, over a minute.
  const pressed = /** @type {Tone[]} */ ([
    { name: "flame-on", at_s: 0 }, { name: "flame-removed", at_s: 15.1 },
    { name: "flame-on", at_s: 30.2 }, { name: "flame-removed", at_s: 45.4 },
  ]);
  sound.chirps(pressed.map(({ name, at_s }) => ({ name, at_s: at_s * 1.0002 })), later_s);
  const echo = pressed.map(({ name, at_s }) => ({ name, at_s: at_s + 0.021 }));
  for (const { name, at_s } of echo) sound.add(wave(CHIRPS[name], rate), at_s + later_s, LOUD / 2);
  const others = Object.entries(TONES).filter(([kind]) => !(kind in CHIRPS));
  for (const [n, [, tones]] of others.entries()) {
    for (const at_s of [3 + 2 * n, 24 + 2 * n]) {
      for (const { after, lasts, from, to } of tones) {
        sound.add(wave({ lasts, from, to }, rate), at_s + after, 3 * LOUD);
      }
    }
  }
  sound.add(Float64Array.from({ length: 60 * rate }, (_, n) => Math.sin((2 * Math.PI * 100 * n) / rate)), 0, 1);
  const found = await find(sound.samples, rate, pressed);
  assert.deepEqual([found?.heard, found?.of], [4, 4]);
  assert.ok(Math.abs((found?.begins_s ?? Infinity) + later_s) <= FRAME_S, JSON.stringify(found));
});

test("a film of several applications alike that begins late is laid, with the doubt that is due", async () => {
  const pressed = /** @type {Tone[]} */ ([0, 1, 2, 3, 4].flatMap((n) => [
    { name: "flame-on", at_s: 30 * n }, { name: "flame-removed", at_s: 30 * n + 15 }]));
  const { samples } = new Sound(8_000, 70).chirps(pressed.slice(6), -85).noise(0, numbers(99));
  const found = await find(samples, 8_000, pressed);
  assert.equal(found?.heard, 4);
  assert.ok((found?.second ?? 0) > 0.8 * (found?.best ?? 1), JSON.stringify(found));
});

test("the transform is that of its definition, and its own inverse", () => {
  const next = numbers(12);
  const [real, imaginary] = [Float64Array.from({ length: 16 }, next), Float64Array.from({ length: 16 }, next)];
  const [x, y] = [real.slice(), imaginary.slice()];
  const fourier = new Fourier(16);
  fourier.forward(x, y);
  for (let k = 0; k < 16; k += 1) {
    let [u, v] = [0, 0];
    for (let n = 0; n < 16; n += 1) {
      const [c, s] = [Math.cos((2 * Math.PI * k * n) / 16), -Math.sin((2 * Math.PI * k * n) / 16)];
      u += (real[n] ?? 0) * c - (imaginary[n] ?? 0) * s;
      v += (real[n] ?? 0) * s + (imaginary[n] ?? 0) * c;
    }
    assert.ok(Math.hypot((x[k] ?? 0) - u, (y[k] ?? 0) - v) < 1e-12);
  }
  fourier.back(x, y);
  for (let n = 0; n < 16; n += 1) {
    assert.ok(Math.hypot((x[n] ?? 0) - (real[n] ?? 0), (y[n] ?? 0) - (imaginary[n] ?? 0)) < 1e-12);
  }
});
