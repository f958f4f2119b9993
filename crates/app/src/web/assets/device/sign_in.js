// @ts-check
//! Sign in on an enrolled device: its key signs beside the password. Without a key nothing is done.

import { kept, prove } from "./key.js";

const form = /** @type {HTMLFormElement} */ (document.querySelector("#sign-in"));
let sent = false;

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  if (sent) return;
  sent = true;
  await fillIn().catch(() => undefined);
  form.submit();
});

/** Where it does not come about, the sign-in is on no enrolled device, and the pages say so. */
async function fillIn() {
  const key = await kept();
  if (key === null) return;
  const proof = await prove(key, "sign-in", field("name").value);
  for (const [name, value] of Object.entries(proof)) field(name).value = value;
}

/** @param {string} name */
function field(name) {
  return /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
}

// Who comes back to the page signs in anew.
addEventListener("pageshow", () => {
  sent = false;
});
