// @ts-check
//! A photograph before the flame: taken or chosen at its line of the list, and sent at once. It is
//! not shown here, for a picture lights the room; it stands on the specimen's page.

import { make, write } from "./view.js";

/** @typedef {import("./settings.js").Given} Given */

const SENT_WITHIN_MS = 60_000;

/**
 * Gives the line its button.
 * @param {HTMLElement} root
 * @param {Given} given
 */
export function photoLine(root, given) {
  const line = root.querySelector('li[data-name="Photo before the flame"]');
  const [sign, words] = line?.querySelectorAll("span") ?? [];
  if (!line || !sign || !words) return;
  const picture = make("input", { type: "file", accept: "image/*", capture: "environment", hidden: "" });
  const button = make("button", { type: "button" }, "Take a photo");
  const say = (/** @type {"done" | "open" | "missing"} */ stands, /** @type {string} */ said) => {
    line.className = stands;
    write(sign, stands === "done" ? "✓" : stands === "missing" ? "◆" : "○");
    write(words, `Photo before the flame: ${said}`);
  };
  button.addEventListener("click", () => picture.click());
  picture.addEventListener("change", async () => {
    const [file] = picture.files ?? [];
    if (file === undefined) return;
    say("open", "being sent");
    const { photos, trouble } = await sent(given, file);
    // The same picture may be chosen again after a trouble.
    picture.value = "";
    if (trouble === undefined) say("done", `${photos} kept`);
    else say("missing", `not kept: ${trouble}`);
  });
  line.append(make("span", { class: "choices" }, button), picture);
}

/**
 * Sends a photograph: how many there are then, else why it is not kept.
 * @param {Given} given
 * @param {File} file
 * @returns {Promise<{ photos?: number, trouble?: string }>}
 */
async function sent({ plan, specimen }, file) {
  const address = `/api/bench/${plan}/${specimen}/photos?name=${encodeURIComponent(file.name)}`;
  const reply = await fetch(address, {
    method: "POST",
    headers: { "content-type": "application/octet-stream" },
    body: file,
    signal: AbortSignal.timeout(SENT_WITHIN_MS),
  }).catch(() => null);
  if (reply === null) return { trouble: "the record does not answer. Take it again when it does" };
  /** @type {{ photos?: number, title?: string }} */
  const said = await reply.json().catch(() => ({}));
  if (reply.ok) return { photos: said.photos ?? 1 };
  return { trouble: said.title ?? `the record answered ${reply.status}` };
}
