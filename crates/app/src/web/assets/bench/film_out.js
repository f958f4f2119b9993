// @ts-check
//! Films that wait on this device, from any page: those that nobody records any more are sent.

import { FilmSender } from "./film_send.js";
import { FilmStore, NAME } from "./film_store.js";
import { pause } from "./sitting.js";

/** @typedef {import("./film_store.js").Film} Film */

const ANSWER_WITHIN_MS = 20_000;

/** The lock that a page holds while it records a film. */
/** @param {Film} film */
export function lockOf({ film }) {
  return `cinderbook-film-${film}`;
}

/** Sends the films that this device still has and no page records any more. */
export async function sendFilms() {
  // A device that never recorded a film gets no database.
  const known = await indexedDB.databases?.();
  if (!navigator.locks || !known?.some(({ name }) => name === NAME)) return;
  const store = await FilmStore.open();
  for (const film of await store.films()) {
    await navigator.locks.request(lockOf(film), { ifAvailable: true }, async (lock) => {
      if (lock === null) return;
      if (film.pieces === 0) return store.forget(film);
      await store.note(film, { ended: true });
      await new FilmSender(store, means).send(film);
    });
  }
}

/** @param {Film} film */
function addressOf({ plan, specimen, film }) {
  return `/api/bench/${plan}/${specimen}/films/${film}`;
}

/**
 * @param {string} address
 * @param {string} type
 * @param {BodyInit} body
 */
async function post(address, type, body) {
  const reply = await fetch(address, {
    method: "POST",
    headers: { "content-type": type },
    body,
    cache: "no-store",
    priority: "low",
    signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
  });
  /** @type {unknown} */
  const said = await reply.json().catch(() => null);
  return { status: reply.status, body: said };
}

/** @type {import("./film_send.js").Means} */
export const means = {
  post: (film, number, { bytes, sha256 }) =>
    post(`${addressOf(film)}/pieces/${number}?sha256=${sha256}`, "application/octet-stream", bytes),
  end: (film) => {
    const { device, within_us, media, pieces } = film;
    const whole = JSON.stringify({ device, within_us, media, pieces });
    return post(addressOf(film), "application/json", whole);
  },
  pause,
};
