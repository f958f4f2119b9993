// @ts-check
//! The states of the bench by the cases that the program itself must meet too.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { after, asks, begin, logged, mainAct, replay, tooSoon } from "../../crates/app/src/web/assets/bench/state.js";
import { numbers } from "./train.js";

/** @typedef {import("../../crates/app/src/web/assets/bench/state.js").Act} Act */
/** @typedef {import("../../crates/app/src/web/assets/bench/state.js").Ending} Ending */

const cases = JSON.parse(
  readFileSync(new URL("../../crates/trial/tests/cases/bench.json", import.meta.url), "utf8"),
);

/** @param {[number, Act][]} presses */
function log(presses) {
  return presses.map(([seconds, act]) => ({ at_us: Math.round(seconds * 1e6), act }));
}

for (const one of cases) {
  test(one.name, () => {
    const bench = replay(one.applications, log(one.presses));
    const zero = bench.seen.applications[0]?.on ?? 0;
    const seconds = (/** @type {number} */ at) => (at - zero) / 1e6;
    /** @param {Ending} end */
    const ending = (end) => {
      if (end === null || end === "none") return end;
      return "out" in end ? { out: seconds(end.out) } : { by_hand: seconds(end.by_hand) };
    };
    const { state, applications, flames, glow, layer } = bench.seen;
    assert.deepEqual({
      name: one.name,
      applications: one.applications,
      presses: one.presses,
      state,
      on_removed: applications.map(({ on, removed }) =>
        [seconds(on), removed === null ? null : seconds(removed)]),
      flames: ending(flames),
      glow: ending(glow),
      layer: ending(layer),
      marks: bench.seen.marks.map(({ at, kind }) => [seconds(at), kind]),
      withdrawn: [...bench.withdrawn].sort((one, other) => one - other),
      ignored: bench.ignored,
      asks_about_flame_and_glow: asks(bench),
    }, one);
  });
}

test("a press is logged as ignored exactly where the log would ignore it", () => {
  for (const one of cases) {
    let bench = begin(one.applications);
    log(one.presses).forEach((press, place) => {
      const ignored = logged(bench, press) === "ignored";
      bench = after(bench, press);
      assert.equal(bench.ignored.includes(place), ignored, `${one.name}, press ${place}`);
    });
  }
});

test("10 000 trains of bounces: one change of state for each real press", () => {
  for (let seed = 1; seed <= 10_000; seed += 1) {
    const next = numbers(seed);
    let bench = begin(1);
    let at_us = 0;
    for (const state of ["on-specimen", "burning", "glow", "finished"]) {
      at_us += 1_000_000 + Math.floor(next() * 30e6);
      const real_us = at_us;
      const bounces = Math.floor(next() * 4);
      for (let bounce = 0; bounce <= bounces; bounce += 1) {
        bench = after(bench, { at_us, act: mainAct(bench) ?? "ignored" });
        at_us = Math.min(at_us + Math.floor(next() * 100_000), real_us + 299_999);
      }
      assert.equal(bench.seen.state, state, `seed ${seed}`);
    }
  }
});

test("too soon is told from out of place", () => {
  const removed = replay(1, log([[0, "flame-on"], [30, "flame-removed"]]));
  assert.ok(tooSoon(removed, { act: "flames-out", at_us: 30_200_000 }));
  assert.ok(!tooSoon(removed, { act: "flames-out", at_us: 31_000_000 }));
  assert.ok(!tooSoon(removed, { act: "glow-out", at_us: 30_200_000 }));
});
