// @ts-check
//! A specimen is open in one tab of a device: two would give their presses the same numbers.

import { make, onPressDown } from "./view.js";

/** @typedef {import("./settings.js").Given} Given */

/** A page that goes, as at a reload, lets go of its specimen within this time. */
const LETS_GO_WITHIN_MS = 1_000;

/** @param {Given} given */
const name = ({ plan, specimen }) => `specimen ${plan}/${specimen}`;

/**
 * Whether the specimen is open in this tab alone; the tab then has it for as long as it stands.
 * @param {Given} given
 * @returns {Promise<boolean>}
 */
export function alone(given) {
  return new Promise((resolve) => {
    if (!navigator.locks) return resolve(true);
    const signal = AbortSignal.timeout(LETS_GO_WITHIN_MS);
    const keep = () => {
      resolve(true);
      return new Promise(() => {});
    };
    navigator.locks.request(name(given), { signal }, keep).catch(() => resolve(false));
  });
}

/**
 * Says that another tab has the specimen; it opens here as soon as that one lets go.
 * @param {HTMLElement} root
 * @param {Given} given
 */
export function elsewhere(root, given) {
  const back = make("button", { type: "button", class: "main" }, "Back to the list");
  onPressDown(back, () => location.assign(given.links.leave));
  root.dataset.state = "elsewhere";
  root.replaceChildren(make("div", { class: "page before" },
    make("div", { class: "top" }, make("p", { class: "what" }, `Specimen ${given.specimen}`)),
    make("div", { class: "middle" }, make("h1", {}, "Open in another tab"),
      make("p", { role: "status" }, "Another tab of this device has this specimen: go on there. "
        + "It opens here when that tab is closed.")),
    make("div", { class: "actions" }, back)));
  back.focus({ preventScroll: true });
  void navigator.locks.request(name(given), () => location.reload());
}
