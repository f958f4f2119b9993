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
  const trusted = await trusts();
  const what = trusted ? "sign-in trusted" : "sign-in";
  const proof = await prove(key, what, field("name").value);
  const shown = { ...proof, trusted: trusted ? "yes" : "" };
  for (const [name, value] of Object.entries(shown)) field(name).value = value;
}

/**
 * Whether this browser trusts the book's certificate. One that was let past its warning shows the pages, but
 * takes no worker from there.
 * @returns {Promise<boolean>}
 */
async function trusts() {
  const asked = navigator.serviceWorker?.register("/sw.js", { scope: "/" });
  return asked === undefined ? false : asked.then(() => true, () => false);
}

/** @param {string} name */
function field(name) {
  return /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
}

// Who comes back to the page signs in anew.
addEventListener("pageshow", () => {
  sent = false;
});
