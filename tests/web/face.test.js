// @ts-check
//! What is heard when, and that the page says the durations as they are.

import assert from "node:assert/strict";
import test from "node:test";

import { durations, face, late } from "../../crates/app/src/web/assets/bench/face.js";
import { given } from "../../crates/app/src/web/assets/bench/settings.js";
import { TONES, ahead } from "../../crates/app/src/web/assets/bench/sound.js";
import { asks, replay } from "../../crates/app/src/web/assets/bench/state.js";

/** @typedef {import("../../crates/app/src/web/assets/bench/state.js").Act} Act */

const plan = { application_s: 30, between_s: 15, limit_s: 30, soft_ticks: false };

/**
 * @param {number} planned
 * @param {[number, Act][]} presses
 */
function bench(planned, presses) {
  return replay(planned, presses.map(([seconds, act]) => ({ at_us: Math.round(seconds * 1e6), act })));
}

/** @param {Record<string, string>} data */
function page(data = {}) {
  return given({ plan: "7", specimen: "2", applicationSeconds: "30", limitSeconds: "30", ...data });
}

test("at flame on specimen: three ticks, then the long tone at the planned end", () => {
  const planned = ahead(bench(1, [[2, "flame-on"]]), plan);
  assert.deepEqual(planned, [
    { at: 29e6, kind: "tick" },
    { at: 30e6, kind: "tick" },
    { at: 31e6, kind: "tick" },
    { at: 32e6, kind: "long-tone" },
  ]);
});

test("after removal: silence, then one low note at the plan's limit", () => {
  const burning = bench(1, [[0, "flame-on"], [30.2, "flame-removed"], [35, "mark"]]);
  assert.deepEqual(ahead(burning, plan), [{ at: 60.2e6, kind: "low-note" }]);
  assert.deepEqual(ahead(burning, { ...plan, limit_s: 15 }), [{ at: 45.2e6, kind: "low-note" }]);
  assert.deepEqual(ahead(burning, { ...plan, limit_s: null }), []);
  const soft = ahead(burning, { ...plan, soft_ticks: true }).filter(({ kind }) => kind === "soft-tick");
  assert.deepEqual(soft.map(({ at }) => at), [40.2e6, 50.2e6]);
});

test("a removal that was wrong brings the countdown back; between applications it counts too", () => {
  const wrong = bench(1, [[0, "flame-on"], [12, "flame-removed"], [13, "last-press-wrong"]]);
  assert.equal(ahead(wrong, plan).at(-1)?.at, 30e6);
  const between = bench(5, [[0, "flame-on"], [15, "flame-removed"]]);
  assert.deepEqual(ahead(between, plan).map(({ at }) => at), [27e6, 28e6, 29e6, 30e6]);
  assert.deepEqual(ahead(bench(1, [[0, "flame-on"], [4, "specimen-spoilt"]]), plan), []);
});

test("every sound lies between 600 and 1500 Hz and lasts 0.6 s at most in one tone", () => {
  for (const [kind, tones] of Object.entries(TONES)) {
    for (const { from, to, lasts } of tones) {
      assert.ok(Math.min(from, to) >= 600 && Math.max(from, to) <= 1500, kind);
      assert.ok(lasts <= 0.6, kind);
    }
  }
});

test("before removal the number goes down and the bar empties; after it both go up", () => {
  const on = bench(1, [[0, "flame-on"]]);
  const shown = (/** @type {number} */ seconds) => face(on, page(), seconds * 1e6, false);
  assert.deepEqual([0.2, 27, 29.5, 30.5, 31.2].map((at) => shown(at).number), ["30", "3", "1", "0", "+1"]);
  assert.equal(shown(15).bar?.filled, 0.5);
  const burning = bench(1, [[0, "flame-on"], [30, "flame-removed"]]);
  const after = face(burning, page(), 42.9e6, false);
  assert.equal(after.number, "12");
  assert.equal(after.bar?.filled, 0.4);
  assert.equal(after.beside, null);
  assert.equal(face(burning, page(), 91e6, false).beside?.does, "put-out-by-hand");
});

test("the durations of the story: 30.2, 11.5, 2.3 and 13.8 s", () => {
  const done = bench(1, [[0, "flame-on"], [30.2, "flame-removed"], [41.7, "flames-out"], [44, "glow-out"]]);
  assert.deepEqual(durations(done).map(({ name, value }) => `${name} ${value}`), [
    "Duration of application 30.2 s",
    "Afterflame 11.5 s",
    "Afterglow 2.3 s",
    "Duration of burning 13.8 s",
  ]);
  assert.deepEqual(late(done, page({ toleranceSeconds: "1" })), ["Removed 0.2 s late (plan 30 s ± 1 s)"]);
});

test("two quick presses are asked about; no to both gives none", () => {
  const quick = bench(1, [[0, "flame-on"], [30, "flame-removed"], [30.6, "flames-out"], [31.2, "glow-out"]]);
  assert.ok(asks(quick));
  assert.equal(face(quick, page(), 32e6, asks(quick)).asks, "Was there any flame or glow after removal?");
  const none = bench(1, [[0, "flame-on"], [30, "flame-removed"], [30.6, "flames-out"],
    [31.2, "glow-out"], [40, "no-flame"], [40.3, "no-glow"]]);
  assert.ok(!asks(none));
  assert.equal(durations(none).at(-1)?.value, "0.0 s");
});
