// @ts-check
//! A disk that is full at any write of a film: the film stops, the presses stay, and the words
//! wait until nothing burns.

import assert from "node:assert/strict";
import test from "node:test";

import { FilmKeeping, NO_ROOM, saysOfFilm } from "../../crates/app/src/web/assets/bench/film_keep.js";
import { FilmSender } from "../../crates/app/src/web/assets/bench/film_send.js";
import { FilmStore, NAME } from "../../crates/app/src/web/assets/bench/film_store.js";
import { Store } from "../../crates/app/src/web/assets/bench/store.js";
import { Disk } from "./disk.js";

/** @typedef {import("../../crates/app/src/web/assets/bench/film_store.js").Film} Film */
/** @typedef {import("../../crates/app/src/web/assets/bench/state.js").State} State */
/** @typedef {import("./disk.js").Shows} Shows */

const PIECES = 6;
const ACTS = /** @type {const} */ (["flame-on", "flame-removed", "flames-out", "glow-out"]);

/** @returns {Film} */
function made() {
  const of = { plan: "7", specimen: "2", device: "d", sitting: "s", media: "video/webm" };
  return { film: "s-1", ...of, within_us: 1, pieces: 0, sent: 0, ended: false };
}

/**
 * Times a specimen while a film of it is recorded, on a disk that is full from the n-th write of
 * the film on.
 * @param {number} fullFrom
 * @param {Shows} shows
 */
async function timed(fullFrom, shows) {
  const disk = new Disk();
  disk.install();
  const database = disk.database(NAME);
  const films = await FilmStore.open();
  Object.assign(database, { fullFrom, shows });
  const presses = await Store.open();
  /** @type {number[]} */
  const record = [];
  const sender = new FilmSender(films, {
    post: async (_, number) => {
      record.push(number);
      return { status: 200, body: {} };
    },
    end: async ({ pieces }) => ({ status: 200, body: { missing: pieces > record.length ? [0] : [] } }),
    pause: async () => {},
  });
  /** @type {string[]} */
  const ended = [];
  const keeping = new FilmKeeping(films, {
    room: async () => true,
    sha256: async () => "hash",
    send: (film) => sender.send(film),
    ended: (why) => ended.push(why),
  });
  const on_its_way = [keeping.begin(async () => made())];
  for (let n = 1; n <= PIECES; n += 1) {
    on_its_way.push(keeping.piece(new Blob([`second ${n}`])));
    const act = ACTS[n - 1];
    if (act === undefined) continue;
    const press = { sequence: n, at_us: n * 1e6, wall: "2026-03-02T08:00:00Z", act };
    await presses.keep("s", { ...press, input: "switch" });
  }
  await Promise.all(on_its_way);
  await sender.running;
  const kept = await presses.presses("s");
  return { acts: kept.map(({ act }) => act), ended, record, writes: database.writes, films, keeping };
}

test("at a disk that is full at each write of a film the presses stay and the film stops", async () => {
  const whole = await timed(Infinity, "at the write");
  assert.deepEqual([whole.ended, whole.record], [[], [1, 2, 3, 4, 5, 6]]);
  // The film, then two writes for each piece, and one for each that was sent.
  assert.equal(whole.writes, 1 + 3 * PIECES);
  for (const shows of /** @type {const} */ (["at the write", "at the end"])) {
    for (let n = 1; n <= whole.writes; n += 1) {
      const { acts, ended, record, films, keeping } = await timed(n, shows);
      assert.deepEqual(acts, ACTS, `write ${n}, ${shows}`);
      const pieces = keeping.film?.pieces ?? 0;
      // Where the last write alone finds no room the film is whole.
      assert.deepEqual(ended, pieces === PIECES ? [] : [NO_ROOM], `write ${n}, ${shows}`);
      // What was kept before is there, and goes to the record.
      const there = await films.films();
      assert.equal(there[0]?.pieces ?? 0, pieces, `write ${n}, ${shows}`);
      for (let piece = 1; piece <= pieces; piece += 1) {
        const { bytes } = await films.piece(made(), piece);
        assert.equal(new TextDecoder().decode(bytes), `second ${piece}`);
      }
      assert.deepEqual(record, [1, 2, 3, 4, 5, 6].slice(0, pieces), `write ${n}, ${shows}`);
    }
  }
});

test("a film that ends for another reason keeps what was recorded before", async () => {
  const { keeping, ended } = await timed(Infinity, "at the write");
  keeping.end("the camera is gone");
  keeping.end("the browser ended it");
  await keeping.piece(new Blob(["the last"]));
  assert.deepEqual([ended, keeping.film?.pieces], [["the camera is gone"], PIECES + 1]);
});

test("what became of a film is said when nothing burns any more, and not before", () => {
  const burning = /** @type {State[]} */ (["ready", "on-specimen", "between", "burning", "glow", "layer"]);
  for (const state of burning) assert.equal(saysOfFilm(NO_ROOM, state), "");
  const words = "◆ No room left for film: free space on this device, or go without";
  for (const state of /** @type {State[]} */ (["finished", "spoilt"])) {
    assert.equal(saysOfFilm(NO_ROOM, state), words);
    assert.equal(saysOfFilm("the camera is gone", state), "◆ The film ended: the camera is gone");
    assert.equal(saysOfFilm(null, state), "");
  }
});
