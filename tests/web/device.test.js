// @ts-check
//! What This device says of its clock, and of what is not in order.

import assert from "node:assert/strict";
import test from "node:test";

import { clockLine } from "../../crates/app/src/web/assets/device/clock.js";
import { WITHOUT, notReady, said } from "../../crates/app/src/web/assets/device/lines.js";

/** The book's clock is 1 000 s ahead of the counter. */
const offset = (plus_minus_us = 4_000) => ({ offset_us: 1_000_000_000, plus_minus_us });

test("the clock of the device is held against the book's, with its ±", () => {
  const now = (/** @type {number} */ wall_ms) => ({ counter_ms: 5_000, wall_ms });
  assert.deepEqual(clockLine(offset(), now(1_005_250), 2), {
    name: "Clock",
    stands: "done",
    words: "0.250 s ahead of the book's, ± 4 ms",
  });
  assert.equal(clockLine(offset(), now(1_003_000), 2).stands, "done");
  assert.deepEqual(clockLine(offset(), now(1_002_999), 2), {
    name: "Clock",
    stands: "missing",
    words: "2.001 s behind the book's, ± 4 ms",
  });
  assert.equal(clockLine(offset(500_000), now(1_005_000), 2).stands, "done");
  assert.equal(clockLine(offset(500_001), now(1_005_000), 2).stands, "missing");
  assert.equal(clockLine(null, now(1_005_000), 2).stands, "missing");
});

test("what is not in order is named, and nothing else", () => {
  /** @type {import("../../crates/app/src/web/assets/bench/device.js").Check[]} */
  const checks = [
    { name: "Room", stands: "done", words: "3.1 GB" },
    { name: "Sound", stands: "open", words: "" },
    { name: "Camera", stands: "missing", words: "not allowed" },
  ];
  assert.equal(notReady(checks), "Not in order yet: Sound, Camera.");
  assert.equal(notReady(checks.slice(0, 1)), null);
  assert.deepEqual(checks.map(said), [
    "Room: in order, 3.1 GB",
    "Sound: to do",
    "Camera: missing, not allowed",
  ]);
  assert.equal(said({ name: "Camera", stands: "done", words: WITHOUT }), "Camera: gone on without");
});
