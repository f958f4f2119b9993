// @ts-check
//! What the page is given with the specimen, and what this device is set to.

/**
 * What the page gives, from the data attributes of `<main id="bench">`.
 * @typedef {object} Given
 * @property {string} plan
 * @property {string} specimen
 * @property {string} specimens How many there are.
 * @property {number} applications
 * @property {number} application_s Planned duration of application.
 * @property {number | null} tolerance_s
 * @property {number} between_s Planned time between two applications.
 * @property {number | null} limit_s The plan's limit for the duration of burning.
 * @property {number} by_hand_after_s From here on "Put out by hand" stands beside the main action.
 * @property {import("./clock.js").Bounds | null} clocks How far the clocks may be apart.
 * @property {string} person Who is signed in.
 * @property {boolean} made_up
 * @property {string | null} not_ready Why the flame may not begin, in words.
 * @property {{ checks: string, describe: string, spoilt: string, leave: string }} links
 */
/** @typedef {{ key: string } | { button: number } | null} Taught */
/**
 * What this device is set to.
 * @typedef {object} Habits
 * @property {boolean} left_handed
 * @property {boolean} letters Whether single letters act.
 * @property {boolean} soft_ticks One soft tick each 10 s while it burns.
 * @property {number} volume From 0 to 1.
 * @property {Taught} taught The switch that was taught by pressing it.
 */

/** @type {Habits} */
export const USUAL = {
  left_handed: false,
  letters: true,
  soft_ticks: false,
  volume: 0.8,
  taught: null,
};

/**
 * @param {DOMStringMap} data
 * @returns {Given}
 */
export function given(data) {
  const plan = words(data, "plan");
  const specimen = words(data, "specimen");
  const own = `/specimens/${plan}-${specimen}`;
  return {
    plan,
    specimen,
    specimens: data.specimens ?? "",
    applications: number(data, "applications", 1),
    application_s: number(data, "applicationSeconds", null),
    tolerance_s: data.toleranceSeconds ? number(data, "toleranceSeconds", null) : null,
    between_s: number(data, "betweenSeconds", 0),
    limit_s: data.limitSeconds ? number(data, "limitSeconds", null) : null,
    by_hand_after_s: number(data, "byHandAfterSeconds", 60),
    clocks: bounds(data.clockSeconds),
    person: data.person ?? "",
    made_up: data.madeUp === "yes",
    not_ready: data.notReady ? data.notReady : null,
    links: {
      checks: data.checksHref ?? own,
      describe: data.describeHref ?? `${own}/describe`,
      spoilt: data.spoiltHref ?? `${own}/spoilt`,
      leave: data.leaveHref ?? "/",
    },
  };
}

/**
 * From where on a clock is noted and is wrong; nothing where the page holds no device's against its own.
 * @param {string | undefined} text
 * @returns {import("./clock.js").Bounds | null}
 */
export function bounds(text) {
  const [noted_s = NaN, wrong_s = NaN] = (text ?? "").split(" ").map(Number);
  return text ? { noted_s, wrong_s } : null;
}

/**
 * @param {DOMStringMap} data
 * @param {string} name
 */
function words(data, name) {
  const value = data[name];
  if (!value) throw new Error(`the page does not say data-${name}`);
  return value;
}

/**
 * @param {DOMStringMap} data
 * @param {string} name
 * @param {number | null} usual
 * @returns {number}
 */
function number(data, name, usual) {
  const text = data[name];
  const value = text ? Number(text) : usual;
  if (value === null || !Number.isFinite(value) || value < 0) {
    throw new Error(`${name} of the page is ${text ?? "not given"}, not a number from 0 on`);
  }
  return value;
}
