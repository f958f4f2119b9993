// @ts-check
//! The curve at the block: drawn to its scale, with its gaps left open.

import assert from "node:assert/strict";
import test from "node:test";

import { end, line } from "../../crates/app/src/web/assets/flame/line.js";

const axes = { from: 0, to: 40, warmest: 800, left: 0, right: 400, top: 0, bottom: 800 };

test("a reading stands where its time and its temperature say", () => {
  assert.equal(line([{ s: 0, celsius: 20 }, { s: 10, celsius: 300 }], axes), "M0.0 780.0L100.0 500.0");
  assert.equal(line([], axes), "");
});

test("what lies outside of the picture is not drawn, and too warm is held at its edge", () => {
  const spots = [{ s: -1, celsius: 20 }, { s: 1, celsius: 900 }, { s: 41, celsius: 20 }];
  assert.equal(line(spots, axes), "M10.0 0.0");
});

test("a gap is left open", () => {
  const spots = Array.from({ length: 40 }, (_, at) => ({ s: at / 10, celsius: 100 }));
  const gap = spots.filter(({ s }) => s < 1 || s > 2.5);
  assert.equal(line(spots, axes).split("M").length - 1, 1);
  assert.equal(line(gap, axes).split("M").length - 1, 2);
});

test("the name of a curve stands where its last drawn reading is", () => {
  const spots = [{ s: 0, celsius: 20 }, { s: 10, celsius: 300 }, { s: 41, celsius: 500 }];
  assert.deepEqual(end(spots, axes), { x: 100, y: 500 });
  assert.equal(end([], axes), null);
});
