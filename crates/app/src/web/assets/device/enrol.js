// @ts-check
//! This device is enrolled: its key signs, and the book is told the public half.

import { write } from "../bench/view.js";
import { keptOrMade, prove } from "./key.js";

const form = /** @type {HTMLFormElement} */ (document.querySelector("#enrol"));
const told = /** @type {HTMLElement} */ (document.querySelector("#enrol-told"));

form.hidden = false;
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const name = new FormData(form).get("name");
  write(told, "");
  const trouble = await enrol(String(name)).catch(() => "This browser makes no key, or the book did not answer.");
  if (trouble === null) location.reload();
  else write(told, trouble);
});

/**
 * @param {string} name
 * @returns {Promise<string | null>} What stands in the way.
 */
async function enrol(name) {
  const proof = await prove(await keptOrMade(), "enrol", name);
  const reply = await fetch("/api/device/enrol", {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ name, ...proof }),
  });
  if (reply.ok) return null;
  const said = /** @type {{ title?: string, detail?: string }} */ (await reply.json());
  const { title = "", detail = "" } = said;
  return `${title.charAt(0).toUpperCase()}${title.slice(1)}. ${detail}`.trim();
}
