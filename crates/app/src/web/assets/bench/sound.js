// @ts-check
//! What is heard: a plan of sounds on the counter, played ahead on the audio clock.
//! Told apart by rhythm first; between the first second after removal and the limit it is silent.

import { CHIRPS, DIES_S, SWELLS_S } from "./chirp.js";

/** @typedef {import("./state.js").Bench} Bench */
/**
 * @typedef {import("./chirp.js").ChirpName | "tick" | "long-tone" | "click" | "two-clicks"
 *   | "low-note" | "dull-double" | "low-high-pairs" | "two-rising" | "soft-tick"} Kind
 */
/** A sound and when, in microseconds since the sitting began. */
/** @typedef {{ at: number, kind: Kind }} Planned */
/** One tone: from, length, pitch at its begin and end; seconds and hertz. */
/** @typedef {{ after: number, lasts: number, from: number, to: number, loud: number }} Tone */

const SECOND_US = 1_000_000;
/** Ticks before the end of an application, in seconds. */
const TICKS_BEFORE = [3, 2, 1];
/** A sound that is later than this is left out rather than played late. */
const LATE_AT_MOST_S = 0.05;
/** A loudspeaker that is later than this is told of. */
export const LOUDSPEAKER_LATE_S = 0.1;
/** Doubtful time is sounded again after this long, until it is acknowledged. */
export const DOUBT_EVERY_MS = 5_000;

/**
 * @param {number} after
 * @param {number} lasts
 * @param {number} from
 * @param {number} [to]
 * @param {number} [loud]
 * @returns {Tone}
 */
const tone = (after, lasts, from, to = from, loud = 1) => ({ after, lasts, from, to, loud });

/**
 * A tone that marks a film.
 * @param {import("./chirp.js").Chirp} chirp
 * @returns {Tone}
 */
const marking = ({ lasts, from, to }) => tone(0, lasts, from, to);

/** @type {Readonly<Record<Kind, readonly Tone[]>>} */
export const TONES = {
  "flame-on": [marking(CHIRPS["flame-on"])],
  "flame-removed": [marking(CHIRPS["flame-removed"])],
  "tick": [tone(0, 0.08, 1000)],
  "long-tone": [tone(0, 0.4, 1500, 1200)],
  "click": [tone(0, 0.06, 1200)],
  "two-clicks": [tone(0, 0.06, 1200), tone(0.12, 0.06, 1200)],
  "low-note": [tone(0, 0.6, 700)],
  "dull-double": [tone(0, 0.09, 600), tone(0.15, 0.09, 600)],
  "low-high-pairs": [0, 0.3, 0.6].flatMap((at) => [
    tone(at, 0.08, 700),
    tone(at + 0.1, 0.08, 1400),
  ]),
  "two-rising": [tone(0, 0.15, 900), tone(0.2, 0.2, 1300)],
  "soft-tick": [tone(0, 0.05, 1000, 1000, 0.3)],
};

/**
 * All sounds that the state has ahead of it.
 * @param {Bench} bench
 * @param {{ application_s: number, between_s: number, limit_s: number | null,
 *   soft_ticks: boolean }} plan
 * @returns {Planned[]}
 */
export function ahead(bench, plan) {
  const last = bench.seen.applications.at(-1);
  if (last === undefined) return [];
  switch (bench.seen.state) {
    case "on-specimen":
      return countdown(last.on, plan.application_s);
    case "between":
      return last.removed === null ? [] : countdown(last.removed, plan.between_s);
    case "burning":
    case "glow":
    case "layer":
      return last.removed === null ? [] : burning(last.removed, plan.limit_s, plan.soft_ticks);
    default:
      return [];
  }
}

/**
 * Three ticks, then the long tone.
 * @param {number} from
 * @param {number} seconds
 * @returns {Planned[]}
 */
function countdown(from, seconds) {
  const zero = from + seconds * SECOND_US;
  const ticks = TICKS_BEFORE.filter((before) => before < seconds);
  return [
    ...ticks.map((before) => ({ at: zero - before * SECOND_US, kind: /** @type {Kind} */ ("tick") })),
    { at: zero, kind: "long-tone" },
  ];
}

/**
 * The low note at the limit, and soft ticks before it where they are asked for.
 * @param {number} removed
 * @param {number | null} limit_s
 * @param {boolean} soft_ticks
 * @returns {Planned[]}
 */
function burning(removed, limit_s, soft_ticks) {
  /** @type {Planned[]} */
  const planned = [];
  if (soft_ticks) {
    for (let second = 10; second < (limit_s ?? 61); second += 10) {
      planned.push({ at: removed + second * SECOND_US, kind: "soft-tick" });
    }
  }
  if (limit_s !== null) planned.push({ at: removed + limit_s * SECOND_US, kind: "low-note" });
  return planned;
}

/**
 * The sound that answers a kept press.
 * @param {import("./state.js").Act} act
 * @param {import("./state.js").State} state
 * @returns {Kind}
 */
export function answerTo(act, state) {
  if (act === "flame-on" || act === "flame-removed") return act;
  if (act === "specimen-spoilt") return "low-note";
  return state === "finished" ? "two-rising" : "click";
}

/** Plays what is planned. The plan can be read: `planned`, and what was answered at once: `played`. */
export class Sound {
  /** @param {number} volume From 0 to 1. */
  constructor(volume) {
    this.volume = volume;
    /** @type {Planned[]} */
    this.planned = [];
    /** @type {Planned[]} */
    this.played = [];
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {AudioScheduledSourceNode[]} */
    this.sources = [];
    /** Where a film takes the sounds from. */
    /** @type {MediaStreamAudioDestinationNode | null} */
    this.filmed = null;
  }

  /** Begins to sound; works inside a press alone. Nothing is thrown where there is no sound. */
  async wake() {
    try {
      const session = /** @type {{ audioSession?: { type: string } }} */ (navigator).audioSession;
      if (session) session.type = "playback";
      this.context ??= new AudioContext({ latencyHint: "interactive" });
      if (this.context.state !== "running") await this.context.resume();
    } catch {
      this.context = null;
    }
    return this.context?.state === "running";
  }

  /** What is heard, for a film; nothing where nothing sounds yet. */
  track() {
    if (this.context?.state !== "running") return null;
    if (this.filmed === null) {
      this.filmed = new MediaStreamAudioDestinationNode(this.context);
      // Silence too must be said, or the film waits for the first sound.
      const silence = new ConstantSourceNode(this.context, { offset: 0 });
      silence.connect(this.filmed);
      silence.start();
    }
    return this.filmed.stream.getAudioTracks()[0] ?? null;
  }

  /** By how much the loudspeaker is late, in seconds. */
  get late_s() {
    return this.context?.outputLatency ?? 0;
  }

  /**
   * Three ticks from now on, to be heard before a session; whether anything could sound.
   * @param {number} now_ms On the counter.
   */
  async ticks(now_ms) {
    if (!(await this.wake())) return false;
    this.plan([0.1, 1.1, 2.1].map((s) => ({ at: s * SECOND_US, kind: "tick" })), now_ms);
    return true;
  }

  /**
   * Plays at once, and remembers it.
   * @param {Kind} kind
   * @param {number} at Microseconds since the sitting began.
   */
  now(kind, at) {
    this.played.push({ at, kind });
    if (this.context) this.#play(kind, this.context.currentTime);
  }

  /**
   * Replaces all that is planned. What lies behind is left out.
   * @param {Planned[]} planned
   * @param {number} began_ms The begin of the sitting on the counter.
   */
  plan(planned, began_ms) {
    for (const source of this.sources) source.stop();
    this.sources = [];
    this.planned = planned;
    if (this.context === null || this.context.state !== "running") return;
    for (const { at, kind } of planned) {
      const when = audioTime(this.context, began_ms + at / 1000);
      if (when < this.context.currentTime - LATE_AT_MOST_S) continue;
      this.sources.push(...this.#play(kind, when));
    }
  }

  /**
   * @param {Kind} kind
   * @param {number} when On the audio clock.
   * @returns {AudioScheduledSourceNode[]}
   */
  #play(kind, when) {
    const context = /** @type {AudioContext} */ (this.context);
    return TONES[kind].map((tone) => {
      const [begins, ends] = [when + tone.after, when + tone.after + tone.lasts];
      const source = new OscillatorNode(context, { frequency: tone.from });
      const gain = new GainNode(context, { gain: 0 });
      source.frequency.setValueAtTime(tone.from, Math.max(0, begins));
      source.frequency.linearRampToValueAtTime(tone.to, ends);
      gain.gain.setValueAtTime(0, Math.max(0, begins));
      gain.gain.linearRampToValueAtTime(this.volume * tone.loud, begins + SWELLS_S);
      gain.gain.setValueAtTime(this.volume * tone.loud, ends - DIES_S);
      gain.gain.linearRampToValueAtTime(0, ends);
      source.connect(gain).connect(context.destination);
      if (this.filmed !== null) gain.connect(this.filmed);
      source.start(Math.max(0, begins));
      source.stop(ends);
      return source;
    });
  }
}

/**
 * The audio clock when the counter shows `counter_ms`, so that it is heard then.
 * @param {AudioContext} context
 * @param {number} counter_ms
 */
function audioTime(context, counter_ms) {
  const page_ms = counter_ms - performance.timeOrigin;
  const { contextTime, performanceTime } = context.getOutputTimestamp();
  if (contextTime && performanceTime) return contextTime + (page_ms - performanceTime) / 1000;
  return context.currentTime + (page_ms - performance.now()) / 1000;
}
