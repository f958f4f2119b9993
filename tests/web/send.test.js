// @ts-check
//! Trains of cut, replayed, doubled and reordered batches: the record ends with each press once.

import assert from "node:assert/strict";
import test from "node:test";

import { BATCH, Sender, line, refused } from "../../crates/app/src/web/assets/bench/send.js";
import { numbers } from "./train.js";

/** @typedef {import("../../crates/app/src/web/assets/bench/state.js").Press} Press */
/** @typedef {{ device: string, sitting: string, presses: Press[] }} Batch */

const TRAINS = 1_000;

/** A record as the contract says: alike is passed over, other is refused, a gap waits. */
class Record {
  constructor() {
    /** @type {Press[]} */
    this.log = [];
  }

  /** @param {Batch} batch */
  take({ presses }) {
    const differs = presses.some((press) => {
      const known = this.log[press.sequence - 1];
      return known !== undefined && JSON.stringify(known) !== JSON.stringify(press);
    });
    if (differs) return { status: 409, body: { detail: "press 1 is there and differs" } };
    for (const press of [...presses].sort((one, other) => one.sequence - other.sequence)) {
      if (press.sequence === this.log.length + 1) this.log.push(structuredClone(press));
    }
    return { status: 200, body: { kept_to: this.log.length, state: "burning" } };
  }
}

/** @param {number} sequence @returns {Press} */
function press(sequence) {
  const wall = "2026-11-25T12:00:00.123Z";
  return { sequence, at_us: sequence * 1_234_567, wall, act: "mark", input: "key" };
}

/**
 * A device that sends to a record over a bad line.
 * @param {Record} record
 * @param {() => number} next Numbers by chance.
 */
function device(record, next) {
  /** @type {Press[]} */
  const log = [];
  /** @type {Batch[]} */
  const late = [];
  let keptTo = 0;
  const sender = new Sender(
    {
      address: "/api/bench/7/2/presses",
      device: "d",
      sitting: "s",
      keptTo: () => keptTo,
      from: async (from) => log.slice(from - 1),
      noteKeptTo: async (to) => {
        keptTo = to;
      },
    },
    {
      post: async (_, body) => {
        const batch = structuredClone(/** @type {Batch} */ (body));
        const fate = next();
        if (fate < 0.2) throw new Error("cut before it came");
        if (fate < 0.35) {
          late.push(batch);
          throw new Error("held up on the way");
        }
        if (fate < 0.45) batch.presses.sort(() => next() - 0.5);
        if (fate < 0.55) batch.presses = batch.presses.filter(() => next() < 0.7);
        if (fate < 0.65 && late.length > 0) {
          record.take(/** @type {Batch} */ (late.splice(Math.floor(next() * late.length), 1)[0]));
        }
        const reply = record.take(batch);
        if (fate > 0.9) record.take(batch);
        if (fate > 0.8) throw new Error("the reply was cut");
        return reply;
      },
      pause: async () => false,
      tell: () => {},
    },
  );
  return { log, late, sender, keptTo: () => keptTo };
}

test(`${TRAINS} trains end in the same log`, async () => {
  for (let seed = 1; seed <= TRAINS; seed += 1) {
    const next = numbers(seed);
    const record = new Record();
    const one = device(record, next);
    const count = 1 + Math.floor(next() * 30);
    for (let sequence = 1; sequence <= count; sequence += 1) {
      one.log.push(press(sequence));
      if (next() < 0.5) void one.sender.send();
      if (next() < 0.3) await one.sender.running;
    }
    await one.sender.send();
    for (const batch of one.late) record.take(batch);
    assert.deepEqual(record.log, one.log, `seed ${seed}`);
    assert.equal(one.keptTo(), count, `seed ${seed}`);
  }
});

test("a long log goes in batches", async () => {
  const record = new Record();
  const one = device(record, () => 0.7);
  for (let sequence = 1; sequence <= 2 * BATCH + 1; sequence += 1) one.log.push(press(sequence));
  await one.sender.send();
  assert.deepEqual(record.log, one.log);
});

test("pauses grow while there is no network, and begin anew when it is back", async () => {
  const one = device(new Record(), () => 0.7);
  const { post } = one.sender.means;
  /** @type {number[]} */
  const pauses = [];
  one.sender.means.post = async (address, body) => {
    if (pauses.length < 7) throw new Error("no network");
    return post(address, body);
  };
  one.sender.means.pause = async (milliseconds) => {
    pauses.push(milliseconds);
    return pauses.length === 5;
  };
  one.log.push(press(1));
  await one.sender.send();
  assert.deepEqual(pauses, [250, 500, 1000, 2000, 2000, 250, 500]);
});

test("a press that differs in the record is told, and not tried for ever", async () => {
  const record = new Record();
  record.log.push({ ...press(1), act: "drop" });
  const one = device(record, () => 0.7);
  /** @type {string[]} */
  const told = [];
  one.sender.means.tell = (trouble) => told.push(trouble?.words ?? "");
  one.log.push(press(1));
  await one.sender.send();
  assert.equal(record.log[0]?.act, "drop");
  assert.equal(told.length, 1);
  assert.match(told[0] ?? "", /press 1 is there and differs\. The presses stay kept here/);
});

test("each refusal says what to do; only a number of presses is a receipt", () => {
  assert.equal(refused({ status: 200, body: { kept_to: 3 } }), null);
  assert.equal(refused({ status: 200, body: null })?.kind, "not-understood");
  assert.match(refused({ status: 401, body: null })?.words ?? "", /Sign in again/);
  assert.match(refused({ status: 403, body: { detail: "x may not time." } })?.words ?? "", /x may not time\.$/);
  assert.equal(refused({ status: 503, body: null })?.kind, "no-answer");
});

test("the line says where the presses are", () => {
  const six = { presses: 6, keptTo: 6, unsent: false, over: false };
  assert.equal(line(six), "All 6 presses kept");
  assert.equal(line({ ...six, keptTo: 2, unsent: true }), "Kept on this tablet: 6, not sent yet");
  assert.equal(line({ ...six, over: true }), "All 6 sent");
  assert.equal(line({ ...six, presses: 0, keptTo: 0 }), "");
});
