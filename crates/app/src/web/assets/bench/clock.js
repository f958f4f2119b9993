// @ts-check
//! When a press was: the event's own stamp on this device's counter, never a clock read later.
//! Sleep and steps of the wall clock are found; the offset to the record's clock has its ±.

/** The counter and the wall clock of the device, read together, in milliseconds. */
/** @typedef {{ counter_ms: number, wall_ms: number }} Reading */
/** Where the record's clock stands against the counter, and how far off that may be. */
/** @typedef {{ offset_us: number, plus_minus_us: number }} Offset */
/** An offset, and when on the counter it was measured. */
/** @typedef {Offset & { counter_ms: number }} Measured */
/** How much faster the counter runs, and how far off that may be, in parts of a million. */
/** @typedef {{ ppm: number, plus_minus_ppm: number }} Rate */
/** From where on the time of day of a device is noted, and from where on it is wrong. */
/** @typedef {{ noted_s: number, wrong_s: number }} Bounds */
/**
 * Something that makes the time doubtful.
 * @typedef {object} Doubt
 * @property {"disagree" | "stood-still"} kind
 * @property {number} seconds How far, or how long.
 * @property {string} note In words, with the ± that follows.
 */

/** Counter and wall clock may part by this much between two readings. */
export const PART_AT_MOST_MS = 500;
/** A visible page that is silent for longer stood still. */
export const STANDS_AFTER_MS = 3_000;
/** A counter whose rate is told from offsets this far apart at least. */
export const RATE_AFTER_MS = 600_000;
/** How often the two clocks are held against each other. */
export const LOOK_EVERY_MS = 250;
/** Round trips behind one offset. */
export const TRIPS = 8;

/** The device's counter now. One clock across the reloads of one run of the browser. */
export function counter() {
  return performance.timeOrigin + performance.now();
}

/**
 * The stamp that the event brought along, on the same counter.
 * @param {{ timeStamp: number }} event
 */
export function stamp(event) {
  return performance.timeOrigin + event.timeStamp;
}

/** @returns {Reading} */
export function read() {
  return { counter_ms: counter(), wall_ms: Date.now() };
}

/**
 * What the time from one reading to the next shows.
 * @param {Reading} before
 * @param {Reading} now
 * @param {boolean} visible Whether the page was in sight all the while.
 * @returns {Doubt | null}
 */
export function doubt(before, now, visible) {
  const counted_ms = now.counter_ms - before.counter_ms;
  const apart_ms = now.wall_ms - before.wall_ms - counted_ms;
  const seconds = apart_ms / 1000;
  if (Math.abs(apart_ms) > PART_AT_MOST_MS) {
    const words =
      apart_ms > 0
        ? `this device slept or its clock moved by ${signed(seconds)} s: ± ${plain(seconds)} s`
        : moved(seconds);
    return { kind: "disagree", seconds, note: words };
  }
  if (visible && counted_ms > STANDS_AFTER_MS) {
    const still = counted_ms / 1000;
    const within = Math.max(0.01, Math.abs(seconds));
    const note = `this page stood still for ${plain(still)} s: ± ${within.toFixed(2)} s`;
    return { kind: "stood-still", seconds: still, note };
  }
  return null;
}

/**
 * Looks at the clocks again and again, and tells each doubt once.
 * @param {(doubt: Doubt) => void} tell
 * @returns {() => void} Ends it.
 */
export function watch(tell) {
  let before = read();
  let seen = document.visibilityState === "visible";
  const hidden = () => {
    seen = false;
  };
  const look = () => {
    const now = read();
    const found = doubt(before, now, seen);
    before = now;
    seen = document.visibilityState === "visible";
    if (found !== null) tell(found);
  };
  document.addEventListener("visibilitychange", hidden);
  const timer = setInterval(look, LOOK_EVERY_MS);
  return () => {
    clearInterval(timer);
    document.removeEventListener("visibilitychange", hidden);
  };
}

/**
 * The offset of the record's clock, by round trips: the shortest one counts, ± half of it.
 * @param {() => Promise<number>} ask The record's clock, in microseconds.
 * @param {() => number} count The counter, in milliseconds.
 * @returns {Promise<Offset>}
 */
export async function offset(ask, count = counter) {
  /** @type {Offset | null} */
  let best = null;
  for (let trip = 0; trip < TRIPS; trip += 1) {
    const sent = count();
    const server_us = await ask();
    const came = count();
    const plus_minus_us = Math.ceil(((came - sent) * 1000) / 2);
    if (best === null || plus_minus_us < best.plus_minus_us) {
      const middle_us = ((sent + came) / 2) * 1000;
      best = { offset_us: Math.round(server_us - middle_us), plus_minus_us };
    }
  }
  return /** @type {Offset} */ (best);
}

/**
 * By how much the counter runs faster than the record's clock, in parts of a million, with its ±;
 * nothing where the offsets were measured too soon after each other to tell.
 * @param {Measured} before
 * @param {Measured} now
 * @returns {Rate | null}
 */
export function rate(before, now) {
  const lasting_ms = now.counter_ms - before.counter_ms;
  if (lasting_ms < RATE_AFTER_MS) return null;
  // The record's clock gains on a counter that is slow.
  const ppm = ((before.offset_us - now.offset_us) * 1000) / lasting_ms;
  return { ppm, plus_minus_ppm: ((before.plus_minus_us + now.plus_minus_us) * 1000) / lasting_ms };
}

/**
 * The ± of times on both sides of a restart of the browser, which only the wall clock bridges:
 * from the two offsets to the record's clock where both are known, else what we let pass as no step.
 * @param {Offset | null} before
 * @param {Offset | null} now
 * @returns {number} Seconds.
 */
export function acrossRestart(before, now) {
  if (before === null || now === null) return PART_AT_MOST_MS / 1000;
  const moved_us = Math.abs(now.offset_us - before.offset_us);
  return (moved_us + before.plus_minus_us + now.plus_minus_us) / 1_000_000;
}

/**
 * What is said of clocks that part where the record's clock shows that the counter ran on: then
 * only the calendar of this device was moved. Nothing where it does not show that.
 * @param {Doubt} found
 * @param {Offset | null} before
 * @param {Offset | null} now
 * @returns {string | null}
 */
export function ranOn({ kind, seconds }, before, now) {
  if (kind !== "disagree" || before === null || now === null) return null;
  return acrossRestart(before, now) * 1000 > PART_AT_MOST_MS ? null : moved(seconds);
}

/**
 * What is said of a device whose time of day is off the record's; nothing where it is not. What is
 * wrong has a ±, so that a reviewer accepts it first.
 * @param {Reading} seen
 * @param {Offset | null} offset
 * @param {Bounds | null} bounds
 * @returns {string | null}
 */
export function off(seen, offset, bounds) {
  if (offset === null || bounds === null) return null;
  const ahead_s = (seen.wall_ms - seen.counter_ms) / 1000 - offset.offset_us / 1_000_000;
  if (Math.abs(ahead_s) <= bounds.noted_s) return null;
  const which = ahead_s > 0 ? "ahead of" : "behind";
  const words = `the clock of this device is ${plain(ahead_s)} s ${which} the record's`;
  if (Math.abs(ahead_s) <= bounds.wrong_s) return `${words}: durations do not use it`;
  return `${words}, ± ${(offset.plus_minus_us / 1_000_000).toFixed(2)} s`;
}

/** @param {number} seconds */
function moved(seconds) {
  return `the clock of this device moved by ${signed(seconds)} s: durations do not use it`;
}

/** @param {number} seconds */
function signed(seconds) {
  return `${seconds < 0 ? "−" : "+"}${plain(seconds)}`;
}

/** @param {number} seconds */
function plain(seconds) {
  return Math.abs(seconds).toFixed(1);
}
