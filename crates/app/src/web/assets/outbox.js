// @ts-check
//! On every other page: sends presses and films that this device still has, and says where presses
//! wait long.

import { sendFilms } from "./bench/film_out.js";
import { sendOthers } from "./bench/sitting.js";
import { NAME, Store } from "./bench/store.js";

/** Presses that are not sent for longer are told of on every page. */
const TOLD_AFTER_MS = 3_600_000;

/** How many presses wait, and since when the oldest does. */
/** @param {Store} store */
async function waiting(store) {
  let count = 0;
  let since_ms = Date.now();
  for (const kept of await store.sittings()) {
    for (const press of await store.presses(kept.sitting, kept.kept_to + 1)) {
      count += 1;
      since_ms = Math.min(since_ms, Date.parse(press.wall));
    }
  }
  return { count, since_ms };
}

async function send() {
  // A device that never was at a bench gets no database.
  const known = await indexedDB.databases?.();
  if (known !== undefined && !known.some(({ name }) => name === NAME)) return;
  const store = await Store.open();
  const { count, since_ms } = await waiting(store);
  if (count === 0) return;
  await sendOthers(store, null);
  if (Date.now() - since_ms < TOLD_AFTER_MS) return;
  const line = document.createElement("p");
  line.setAttribute("role", "status");
  line.textContent = `Kept on this device: ${count}, not sent yet`;
  document.querySelector("main")?.prepend(line);
}

await send();
await sendFilms().catch(() => undefined);
