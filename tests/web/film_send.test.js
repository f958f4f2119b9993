// @ts-check
//! Trains of cut, doubled and reordered pieces: the record ends with each film whole, once.

import assert from "node:assert/strict";
import test from "node:test";

import { FilmSender } from "../../crates/app/src/web/assets/bench/film_send.js";
import { numbers } from "./train.js";

/** @typedef {import("../../crates/app/src/web/assets/bench/film_store.js").Film} Film */
/** @typedef {import("../../crates/app/src/web/assets/bench/film_store.js").Piece} Piece */

const TRAINS = 1_000;

/** A record as the contract says: alike is passed over, other is refused, what is missing is told. */
class Record {
  constructor() {
    /** @type {Map<number, string>} */
    this.pieces = new Map();
    this.films = 0;
  }

  /** @param {number} number @param {Piece} piece */
  take(number, { sha256 }) {
    const known = this.pieces.get(number);
    if (known !== undefined && known !== sha256) return { status: 409, body: { title: "differs" } };
    this.pieces.set(number, sha256);
    return { status: 200, body: { kept: number } };
  }

  /** @param {number} pieces */
  end(pieces) {
    const missing = [];
    for (let number = 1; number <= pieces; number += 1) {
      if (!this.pieces.has(number)) missing.push(number);
    }
    if (missing.length === 0) this.films = 1;
    return { status: 200, body: { missing } };
  }
}

/** @param {number} pieces @returns {Film} */
function film(pieces) {
  const of = { plan: "7", specimen: "2", device: "d", sitting: "s", media: "video/webm" };
  return { film: "s-1", ...of, within_us: 1, pieces, sent: 0, ended: false };
}

/** A device: its film is all there, or grows. */
/** @param {Film} film */
function device(film) {
  const left = { film: /** @type {Film | null} */ (film) };
  return {
    left,
    kept: {
      piece: async (/** @type {Film} */ _, /** @type {number} */ number) =>
        ({ bytes: new ArrayBuffer(1), sha256: `hash of ${number}` }),
      note: async (/** @type {Film} */ film, /** @type {Partial<Film>} */ change) => {
        Object.assign(film, change);
      },
      forget: async () => {
        left.film = null;
      },
    },
  };
}

test("a film comes whole over any line", async () => {
  for (let train = 1; train <= TRAINS; train += 1) {
    const next = numbers(train);
    const record = new Record();
    const own = film(0);
    const { left, kept } = device(own);
    /** @type {[number, Piece][]} */
    const late = [];
    const sender = new FilmSender(kept, {
      post: async (_, number, piece) => {
        const fate = next();
        if (fate < 0.2) throw new Error("cut before it came");
        if (fate < 0.3) {
          late.push([number, piece]);
          throw new Error("held up on the way");
        }
        if (fate < 0.4) return { status: 503, body: null };
        const held = fate < 0.5 ? late.pop() : undefined;
        if (held !== undefined) record.take(...held);
        const reply = record.take(number, piece);
        if (fate > 0.9) record.take(number, piece);
        // A record that was put back from a copy has lost what it had said it had.
        if (fate > 0.85 && record.films === 0) record.pieces.delete(1 + Math.floor(next() * number));
        if (fate > 0.7) throw new Error("the reply was cut");
        return reply;
      },
      end: async ({ pieces }) => {
        if (next() < 0.3) throw new Error("cut");
        return record.end(pieces);
      },
      pause: async () => {},
    });
    const pieces = 1 + Math.floor(next() * 9);
    for (let piece = 1; piece <= pieces; piece += 1) {
      own.pieces = piece;
      void sender.send(own);
      if (next() < 0.5) await sender.running;
    }
    await sender.running;
    own.ended = true;
    assert.equal(await sender.send(own), true, `train ${train}`);
    assert.deepEqual([record.films, record.pieces.size, left.film], [1, pieces, null], `train ${train}`);
  }
});

test("a film that the record does not take stays, with the reason", async () => {
  const own = { ...film(2), ended: true };
  const { left, kept } = device(own);
  let asked = 0;
  const refused = async () => {
    asked += 1;
    return { status: 409, body: { title: "piece 1 is there and differs" } };
  };
  const sender = new FilmSender(kept, { post: refused, end: refused, pause: async () => {} });
  assert.equal(await sender.send(own), false);
  assert.equal(await sender.send(own), false);
  assert.deepEqual([asked, own.refused, left.film], [1, "piece 1 is there and differs", own]);
});
