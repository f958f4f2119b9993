// @ts-check
//! A specimen that another device times: this one watches, until it takes over.

import { face } from "./face.js";
import { mainAct, replay } from "./state.js";
import { post } from "./sitting.js";
import { ask } from "./view.js";

/** @typedef {import("./face.js").Face} Face */
/** @typedef {import("./settings.js").Given} Given */
/** @typedef {import("./state.js").Press} Press */
/** @typedef {import("./state.js").Pressed} Pressed */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./store.js").Sitting} Sitting */
/** @typedef {import("./store.js").Store} Store */
/**
 * What the record has of a specimen at the bench.
 * @typedef {object} Held
 * @property {State} state
 * @property {{ sitting: string, device: string, who: string, since: string } | null} timekeeper
 * @property {Press[]} presses Those that count, on the clock of the first sitting.
 */

const ANSWER_WITHIN_MS = 2_000;
/** How often a device that watches asks. */
const WATCH_EVERY_MS = 1_000;
const DRAW_EVERY_MS = 100;
/** Why a device takes over, as it is recorded; the last answer goes on watching. */
const REASONS = ["The other device is lost", "The other device is doubtful", "Go on watching"];

/** @param {Given} given */
function address({ plan, specimen }) {
  return `/api/bench/${plan}/${specimen}`;
}

/**
 * What the record has; nothing where no answer comes.
 * @param {Given} given
 * @returns {Promise<Held | null>}
 */
export async function held(given) {
  try {
    const signal = AbortSignal.timeout(ANSWER_WITHIN_MS);
    const reply = await fetch(address(given), { cache: "no-store", signal });
    return reply.ok ? /** @type {Held} */ (await reply.json()) : null;
  } catch {
    return null;
  }
}

/**
 * Asks why, and takes the specimen over from the device that timed it.
 * @param {HTMLElement} root
 * @param {Given} given
 * @param {Store} store
 * @param {() => Promise<Sitting>} begin
 * @returns {Promise<Sitting | { trouble: string } | null>} The sitting that times from here on,
 *   what is in the way, or nothing where this device goes on watching.
 */
export async function takeOver(root, given, store, begin) {
  const answer = await ask(root, "Time it here instead? It is recorded, with why:", REASONS);
  const reason = REASONS[answer];
  if (answer === REASONS.length - 1 || reason === undefined) return null;
  const kept = await begin();
  const { device, sitting } = kept;
  const trouble = await asked(given, { device, sitting, reason });
  if (trouble === null) return kept;
  await store.note(sitting, { closed: true });
  return { trouble };
}

/**
 * Asks the record for it; what is in the way, in words, or nothing.
 * @param {Given} given
 * @param {{ device: string, sitting: string, reason: string }} who
 * @returns {Promise<string | null>}
 */
async function asked(given, who) {
  try {
    const { status, body } = await post(`${address(given)}/timekeeper`, who);
    if (status >= 200 && status < 300) return null;
    const said = /** @type {{ detail?: string } | null} */ (body)?.detail;
    return said ?? `the record answered ${status}`;
  } catch {
    return "no answer from the record: only the device that times can go on";
  }
}

/**
 * The presses so far on the clock of a sitting here: by the calendars of both devices.
 * @param {readonly Press[]} presses
 * @param {number} began_wall_ms This device's calendar when its sitting began.
 * @returns {Pressed[]}
 */
export function onOwnClock(presses, began_wall_ms) {
  const first = presses[0];
  if (first === undefined) return [];
  const shift_us = Math.round((Date.parse(first.wall) - began_wall_ms) * 1000) - first.at_us;
  return presses.map(({ act, at_us }) => ({ act, at_us: at_us + shift_us }));
}

/**
 * Shows what the other device has timed, and asks again and again.
 * @param {Given} given
 * @param {Held} record
 * @param {(face: Face, state: State, held: Held) => boolean} show Whether it goes on.
 */
export function watch(given, record, show) {
  let now = record;
  const draw = () => {
    const bench = replay(given.applications, now.presses);
    const [first] = now.presses;
    const began_ms = first === undefined ? Date.now() : Date.parse(first.wall) - first.at_us / 1000;
    const own = face(bench, given, (Date.now() - began_ms) * 1000, false);
    if (show(watchingFace(own, now, mainAct(bench) === null), bench.seen.state, now)) return;
    clearInterval(drawing);
    clearInterval(asking);
  };
  const drawing = setInterval(draw, DRAW_EVERY_MS);
  const asking = setInterval(async () => {
    now = (await held(given)) ?? now;
  }, WATCH_EVERY_MS);
  draw();
}

/**
 * The face of a device that watches: the same heading and number, one act.
 * @param {Face} face
 * @param {Held} held
 * @param {boolean} over Whether nothing is timed any more.
 * @returns {Face}
 */
function watchingFace(face, held, over) {
  const { who = "", since = "" } = held.timekeeper ?? {};
  const last_ms = Date.parse(held.presses.at(-1)?.wall ?? "");
  const ago = over || Number.isNaN(last_ms)
    ? "" : `, last press ${Math.max(0, Math.floor((Date.now() - last_ms) / 1000))} s ago`;
  const note = `Timed by ${who} on another device since ${since}${ago}: this device watches`;
  return {
    ...face,
    main: over ? face.main : { does: "take-over", words: "Time it here instead" },
    mark: false,
    beside: null,
    foot: [],
    asks: null,
    notes: [note, ...face.notes],
  };
}
