// @ts-check
//! This device: what it must have before the bench, looked at one by one.

import { read } from "../bench/clock.js";
import { ScreenOn, checks, clockOffset } from "../bench/device.js";
import { USUAL } from "../bench/settings.js";
import { Store } from "../bench/store.js";
import { write } from "../bench/view.js";
import { clockLine } from "./clock.js";
import { Hands, camera } from "./hands.js";
import { Lines, notReady } from "./lines.js";

const list = /** @type {HTMLElement} */ (document.querySelector("#device"));
const told = /** @type {HTMLElement} */ (document.querySelector("#told"));
const lines = new Lines(list);

async function look() {
  const store = await Store.open();
  const hands = new Hands(lines, store, await store.habits(USUAL));
  hands.begin();
  new ScreenOn((on) => lines.set({ name: "Screen stays on", stands: on ? "done" : "missing", words: "" }))
    .ask();
  await camera(lines);
  const offset = await clockOffset();
  const found = await checks(offset, null);
  for (const check of found) if (check.name !== "Clock") lines.set(check);
  lines.set(clockLine(offset, read(), Number(list.dataset.clockNotedSeconds)));
  if (!found.some(({ name }) => name === "Battery")) {
    lines.set({ name: "Battery", stands: "done", words: "this browser does not say; look at it" });
  }
  list.dataset.looked = "yes";
}

document.querySelector("#ready")?.addEventListener("click", (event) => {
  const open = notReady(lines.all());
  if (open === null) return;
  event.preventDefault();
  write(told, open);
  list.querySelector(/** @type {"li"} */ ("li:not(.done)"))?.focus();
});

await look().catch(() => {
  lines.set({ name: "Presses stay kept", stands: "missing", words: "this browser keeps nothing" });
  list.dataset.looked = "yes";
});
