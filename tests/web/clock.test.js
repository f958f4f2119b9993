// @ts-check
//! Sleep and steps of the wall clock are found; the offset's ± is half the shortest round trip.

import assert from "node:assert/strict";
import test from "node:test";

import { acrossRestart, doubt, off, offset, ranOn, rate } from "../../crates/app/src/web/assets/bench/clock.js";
import { rateCheck } from "../../crates/app/src/web/assets/bench/device.js";
import { onOwnClock } from "../../crates/app/src/web/assets/bench/watching.js";
import { USUAL, bounds } from "../../crates/app/src/web/assets/bench/settings.js";
import { meant, teachable } from "../../crates/app/src/web/assets/bench/keys.js";

const before = { counter_ms: 1_000, wall_ms: 5_000 };

/** @param {number} counter @param {number} wall */
const later = (counter, wall) => ({ counter_ms: 1_000 + counter, wall_ms: 5_000 + wall });

test("a step, a sleep and a page that stood still are told, each with its words", () => {
  assert.equal(doubt(before, later(250, 250), true), null);
  assert.equal(doubt(before, later(250, 749), true), null);
  assert.match(doubt(before, later(250, 3_600_250), true)?.note ?? "", /\+3600\.0 s/);
  assert.match(doubt(before, later(250, -3_599_750), true)?.note ?? "", /−3600\.0 s: durations do not/);
  assert.match(doubt(before, later(4_000, 4_000), true)?.note ?? "", /stood still for 4\.0 s: ± 0\.01 s/);
  assert.equal(doubt(before, later(4_000, 4_000), false), null);
});

test("the offset comes from the shortest of eight round trips", async () => {
  const trips = [40, 12, 30, 8, 50, 22, 9, 31];
  let now_ms = 1_000;
  let trip = 0;
  const found = await offset(async () => {
    const length = trips[trip] ?? 0;
    trip += 1;
    now_ms += length / 2;
    const server_us = (now_ms + 500) * 1000;
    now_ms += length / 2;
    return server_us;
  }, () => now_ms);
  assert.equal(trip, 8);
  assert.deepEqual(found, { offset_us: 500_000, plus_minus_us: 4_000 });
});

test("the rate of a device's clock is told from offsets ten minutes apart", () => {
  const first = { offset_us: 500_000, plus_minus_us: 4_000, counter_ms: 1_000 };
  const after = (/** @type {number} */ gained_us, /** @type {number} */ ms) =>
    rate(first, { offset_us: 500_000 + gained_us, plus_minus_us: 2_000, counter_ms: 1_000 + ms });
  assert.equal(after(0, 599_999), null);
  assert.deepEqual(after(72_000, 600_000), { ppm: -120, plus_minus_ppm: 10 });
  assert.deepEqual(rateCheck(after(72_000, 600_000)), {
    name: "Rate of the clock",
    stands: "missing",
    words: "120 millionths too slow, ± 10",
  });
  assert.equal(rateCheck(after(-60_000, 600_000))?.stands, "done", "within its ±");
  assert.equal(rateCheck(null), null);
});

test("across a restart the ± comes from both offsets, or is what may pass unseen", () => {
  assert.equal(acrossRestart(null, null), 0.5);
  const one = { offset_us: 10_000, plus_minus_us: 4_000 };
  assert.equal(acrossRestart(one, { offset_us: 13_000, plus_minus_us: 5_000 }), 0.012);
});

test("a step is told from a sleep where the record's clock can be asked", () => {
  const step = doubt(before, later(250, 3_600_250), true);
  assert.ok(step);
  const one = { offset_us: 10_000, plus_minus_us: 4_000 };
  assert.match(ranOn(step, one, { offset_us: 30_000, plus_minus_us: 5_000 }) ?? "", /durations do not use it/);
  assert.equal(ranOn(step, one, { offset_us: 3_600_010_000, plus_minus_us: 5_000 }), null);
  assert.equal(ranOn(step, one, null), null);
  assert.equal(ranOn(step, null, one), null);
  const still = doubt(before, later(4_000, 4_000), true);
  assert.equal(ranOn(still ?? step, one, one), null);
});

test("what another device timed comes on the own clock by the calendars of both", () => {
  const wall = "2026-11-25T12:00:10.000Z";
  const input = /** @type {const} */ ("switch");
  const first = { sequence: 1, at_us: 4_000_000, wall, act: /** @type {const} */ ("flame-on"), input };
  const second = { ...first, sequence: 2, at_us: 34_200_000, act: /** @type {const} */ ("flame-removed") };
  const began = Date.parse("2026-11-25T12:00:50.000Z");
  assert.deepEqual(onOwnClock([first, second], began), [
    { act: "flame-on", at_us: -40_000_000 },
    { act: "flame-removed", at_us: -9_800_000 },
  ]);
  assert.deepEqual(onOwnClock([], began), []);
});

/** @param {string} key @param {object} more */
function key(key, more = {}) {
  return { key, code: key, repeat: false, shiftKey: false, ctrlKey: false, altKey: false, metaKey: false, ...more };
}

test("keys mean what the list says; letters can be switched off; a presenter's others do nothing", () => {
  const on = USUAL;
  const off = { ...USUAL, letters: false };
  assert.deepEqual(meant(key("PageDown"), "burning", off), { meant: "main", input: "switch" });
  assert.deepEqual(meant(key("PageUp"), "burning", off), { meant: "mark", input: "switch" });
  assert.equal(meant(key("d"), "burning", on)?.meant, "drop");
  assert.equal(meant(key("d"), "burning", off), null);
  assert.equal(meant(key("n"), "glow", on)?.meant, "no-glow");
  assert.equal(meant(key("B"), "burning", on)?.meant, "burning-drop");
  for (const swallowed of ["b", ".", "F5", "Escape", "?"]) {
    assert.equal(meant(key(swallowed), "burning", on)?.meant, "nothing", swallowed);
  }
  assert.equal(meant(key("Escape"), "ready", on)?.meant, "leave");
  assert.equal(meant(key(" "), "burning", on), null);
  const taught = { ...USUAL, taught: { key: "KeyV" } };
  assert.deepEqual(meant(key("v", { code: "KeyV" }), "burning", taught), { meant: "main", input: "switch" });
  assert.ok(teachable(key("F13")) && !teachable(key("Tab")));
});

test("a calendar that is off the record's is noted from 2 s on, and is doubtful from 5 min on", () => {
  const bounds = { noted_s: 2, wrong_s: 300 };
  // The record's clock is 4 s ahead of the counter, as is the calendar of `before`.
  const offset = { offset_us: 4_000_000, plus_minus_us: 20_000 };
  /** @param {number} ms */
  const said = (ms) => off({ ...before, wall_ms: before.wall_ms + ms }, offset, bounds);
  assert.equal(said(2_000), null);
  assert.equal(said(-2_000), null);
  assert.equal(said(2_100), "the clock of this device is 2.1 s ahead of the record's: durations do not use it");
  assert.match(said(-300_000) ?? "", /300\.0 s behind the record's: durations/);
  assert.equal(said(-300_100), "the clock of this device is 300.1 s behind the record's, ± 0.02 s");
  assert.equal(off(before, null, bounds), null);
  assert.equal(off({ ...before, wall_ms: 9e9 }, offset, null), null);
});

test("the bounds of the clocks come with the page, or are not there", () => {
  assert.deepEqual(bounds("2 300"), { noted_s: 2, wrong_s: 300 });
  assert.equal(bounds(undefined), null);
});
