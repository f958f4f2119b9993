// @ts-check
//! The page of a sitting at the block: it follows what the server reads, and keeps nothing itself.

import { end, line, within } from "./line.js";

/** @typedef {import("./line.js").Spot} Spot */
/**
 * What is new at the block.
 * @typedef {object} Tick
 * @property {number} sitting
 * @property {string} stage
 * @property {string} heading
 * @property {string} block
 * @property {string} slope
 * @property {string} lasts
 * @property {string} trouble
 * @property {number} heatings How many have ended.
 * @property {number} from The place of the first of the readings in the heating at work.
 * @property {Spot[]} spots
 */

/** @type {Spot[]} */
let spots = [];
let refreshing = false;
/** A form is on its way: the page that it leads to comes by itself. */
let leaving = false;

/**
 * Puts words where they belong, if they are others.
 * @param {string} place
 * @param {string} words
 */
function say(place, words) {
  const element = document.querySelector(`[data-say="${place}"]`);
  if (element && element.textContent !== words) element.textContent = words;
}

/** Draws anew what depends on the stage, by the page that the server makes of it. */
async function refresh() {
  if (refreshing || leaving) return;
  refreshing = true;
  try {
    // Nobody asked for it: that lengthens no session.
    const answer = await fetch(`${location.pathname}?by=itself`);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const [live, fresh] = [document.getElementById("live"), page.getElementById("live")];
    if (leaving) return;
    if (!live || !fresh) {
      location.reload();
      return;
    }
    const focused = live.contains(document.activeElement) ? document.activeElement?.id : "";
    live.replaceWith(document.adoptNode(fresh));
    if (focused) document.getElementById(focused)?.focus();
    draw();
  } catch {
    // The network is gone: the events begin again by themselves, and with them this.
  } finally {
    refreshing = false;
  }
}

function draw() {
  const path = document.getElementById("growing");
  const axes = path && within(path.closest("svg"));
  if (!path || !axes) return;
  path.setAttribute("d", line(spots, axes));
  const [name, last] = [document.getElementById("growing-name"), end(spots, axes)];
  if (!name || !last) return;
  name.setAttribute("x", (last.x + 6).toFixed(1));
  name.setAttribute("y", (last.y + 20).toFixed(1));
}

/** @param {Tick} tick */
function take(tick) {
  if (tick.from < spots.length) spots.length = tick.from;
  spots.push(...tick.spots);
  const { sitting, stage, heatings } = document.getElementById("live")?.dataset ?? {};
  if (String(tick.sitting) !== sitting || tick.stage !== stage || String(tick.heatings) !== heatings) {
    void refresh();
  }
  say("heading", tick.heading);
  say("block", tick.block);
  say("slope", tick.slope);
  say("lasts", tick.lasts);
  say("trouble", tick.trouble);
  draw();
}

addEventListener("submit", () => {
  leaving = true;
});
const events = new EventSource("/api/flame/run/events");
events.addEventListener("message", (event) => take(JSON.parse(event.data)));
events.addEventListener("open", () => {
  // Told from the beginning again.
  spots = [];
});
