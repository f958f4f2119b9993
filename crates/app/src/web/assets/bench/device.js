// @ts-check
//! What this device can do, asked of the browser: what stays on, what is kept, how full, how late.

import { counter, off, offset, rate, read } from "./clock.js";

/** @typedef {import("./clock.js").Measured} Measured */
/** @typedef {import("./clock.js").Offset} Offset */
/** @typedef {import("./clock.js").Rate} Rate */
/** `done`, still `open`, or `missing` with what follows from it. */
/** @typedef {{ name: string, stands: "done" | "open" | "missing", words: string }} Check */

/** A battery below this share that is not charging is too low to begin. */
const BATTERY_AT_LEAST = 0.15;
const ASK_CLOCK_WITHIN_MS = 2_000;
/** A counter that is off its rate by more is told of: 3 ms in 30 s. */
const RATE_AT_MOST_PPM = 100;
/** Where the offset that a rate is told from is kept, as long as the browser runs. */
const RATE = "clock-rate";

/** @returns {Check} */
function securePage() {
  return isSecureContext
    ? { name: "Secure page", stands: "done", words: "" }
    : {
        name: "Secure page",
        stands: "missing",
        words: "This device reached the tool without a certificate. Timing works. Film, "
          + "screen-stays-on and reload without network do not.",
      };
}

/**
 * Asks that the presses are not cleared away, and how much room there is.
 * @returns {Promise<Check[]>}
 */
async function room() {
  if (!navigator.storage?.estimate) return [];
  const lasting = await navigator.storage.persist?.().catch(() => false);
  const { quota = 0, usage = 0 } = await navigator.storage.estimate();
  const free = `${((quota - usage) / 1e9).toFixed(1)} GB`;
  return [
    { name: "Room", stands: quota - usage > 1e8 ? "done" : "missing", words: free },
    lasting
      ? { name: "Presses stay kept", stands: "done", words: "" }
      : { name: "Presses stay kept", stands: "done", words: "until they are sent" },
  ];
}

/**
 * The battery, where the browser tells of it.
 * @returns {Promise<(EventTarget & { level: number, charging: boolean }) | undefined>}
 */
async function power() {
  /** @type {{ getBattery?: () => Promise<EventTarget & { level: number, charging: boolean }> }} */
  const asked = /** @type {any} */ (navigator);
  return asked.getBattery?.().catch(() => undefined);
}

/**
 * Tells whenever the battery stands otherwise.
 * @param {() => void} tell
 */
export async function onPower(tell) {
  const state = await power();
  for (const kind of ["chargingchange", "levelchange"]) state?.addEventListener(kind, tell);
}

/** @returns {Promise<Check | null>} */
async function battery() {
  const state = await power();
  if (state === undefined) return null;
  const words = `${Math.round(state.level * 100)} %${state.charging ? ", charging" : ""}`;
  const low = state.level < BATTERY_AT_LEAST && !state.charging;
  return { name: "Battery", stands: low ? "missing" : "done", words };
}

/**
 * The record's clock, in microseconds.
 * @returns {Promise<number>}
 */
async function recordClock() {
  const reply = await fetch("/api/clock", {
    cache: "no-store",
    signal: AbortSignal.timeout(ASK_CLOCK_WITHIN_MS),
  });
  const { server_us } = /** @type {{ server_us: number }} */ (await reply.json());
  if (!Number.isSafeInteger(server_us)) throw new Error("the record's clock gives no microseconds");
  return server_us;
}

/**
 * The offset to the record's clock; nothing where no answer comes in time.
 * @param {number} [within_ms]
 * @returns {Promise<Offset | null>}
 */
export function clockOffset(within_ms = 5_000) {
  const measured = offset(recordClock, counter).catch(() => null);
  const late = new Promise((resolve) => setTimeout(() => resolve(null), within_ms));
  return /** @type {Promise<Offset | null>} */ (Promise.race([measured, late]));
}

/**
 * @param {Offset | null} measured
 * @param {import("./clock.js").Bounds | null} bounds
 * @returns {Check}
 */
function clockCheck(measured, bounds) {
  if (measured === null) return { name: "Clock", stands: "open", words: "not held against the record's" };
  const said = off(read(), measured, bounds);
  if (said !== null) return { name: "Clock", stands: "missing", words: said };
  return { name: "Clock", stands: "done", words: `± ${Math.ceil(measured.plus_minus_us / 1000)} ms` };
}

/**
 * The rate of this device's clock, told anew whenever enough time has passed since it was told last;
 * nothing before that.
 * @param {Offset} measured
 * @returns {Rate | null}
 */
function clockRate(measured) {
  const now = { ...measured, counter_ms: counter() };
  /** @type {{ since: Measured, told: Rate | null }} */
  const kept = JSON.parse(sessionStorage.getItem(RATE) ?? "null") ?? { since: now, told: null };
  const told = rate(kept.since, now);
  const next = told === null ? kept : { since: now, told };
  sessionStorage.setItem(RATE, JSON.stringify(next));
  return next.told;
}

/**
 * @param {Rate | null} found
 * @returns {Check | null}
 */
export function rateCheck(found) {
  if (found === null) return null;
  const { ppm, plus_minus_ppm } = found;
  const size = Math.round(Math.abs(ppm));
  const words = `${size} millionths too ${ppm < 0 ? "slow" : "fast"}, ± ${Math.ceil(plus_minus_ppm)}`;
  const off = Math.abs(ppm) - plus_minus_ppm > RATE_AT_MOST_PPM;
  return { name: "Rate of the clock", stands: off ? "missing" : "done", words };
}

/**
 * All that this device can tell of itself.
 * @param {Offset | null} measured
 * @param {import("./clock.js").Bounds | null} bounds How far the clocks may be apart.
 * @returns {Promise<Check[]>}
 */
export async function checks(measured, bounds) {
  const charge = await battery();
  const space = await room().catch(() => []);
  const runs = measured === null ? null : rateCheck(clockRate(measured));
  const told = [charge, clockCheck(measured, bounds), runs].filter((check) => check !== null);
  return [securePage(), ...space, ...told];
}

/** Keeps the screen on while it is wanted; asked again when the page comes back into sight. */
export class ScreenOn {
  /** @param {(on: boolean) => void} tell */
  constructor(tell) {
    this.tell = tell;
    this.wanted = false;
    document.addEventListener("visibilitychange", () => {
      if (this.wanted && document.visibilityState === "visible") this.ask();
    });
  }

  async ask() {
    this.wanted = true;
    try {
      await navigator.wakeLock.request("screen");
      this.tell(true);
    } catch {
      this.tell(false);
    }
  }
}
