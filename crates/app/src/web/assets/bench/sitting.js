// @ts-check
//! One specimen opened on this device: presses decided at once, kept before shown, then sent.

import { after, logged, replay, tooSoon } from "./state.js";
import { Sender, line } from "./send.js";

/** @typedef {import("./state.js").Act} Act */
/** @typedef {import("./state.js").Bench} Bench */
/** @typedef {import("./state.js").Input} Input */
/** @typedef {import("./state.js").Press} Press */
/** @typedef {import("./store.js").Store} Store */
/** @typedef {import("./store.js").Sitting} Kept */
/** @typedef {import("./send.js").Trouble} Trouble */
/** A press before it is decided: when on the counter, by what, and words where there are some. */
/** @typedef {{ act: Act, at_ms: number, input: Input, note?: string }} Asked */
/**
 * What the page does when something has come about.
 * @typedef {object} Tell
 * @property {(press: Press) => void} shown A press is kept: show and sound it.
 * @property {(kept: boolean) => void} keeps Whether the device keeps presses.
 * @property {() => void} sending The line about keeping and sending may be another.
 */

export class Sitting {
  /**
   * @param {Store} store
   * @param {Kept} kept
   * @param {number} planned Applications.
   * @param {Press[]} log What is kept of it already.
   * @param {Tell} tell
   */
  constructor(store, kept, planned, log, tell) {
    this.store = store;
    this.kept = kept;
    this.log = log;
    this.tell = tell;
    /** What all presses mean, those on their way to the disk too. */
    this.decided = replay(planned, [...kept.inherited, ...log]);
    /** What is shown: the presses that are kept. */
    this.shown = this.decided;
    /** @type {Press[]} */
    this.waiting = [];
    /** @type {Promise<void>} */
    this.keeping = Promise.resolve();
    /** @type {Trouble | null} */
    this.trouble = null;
    this.wasUnsent = false;
    this.sender = sender(this);
  }

  /** @param {number} at_ms On the counter. */
  at_us(at_ms) {
    return Math.max(0, Math.round((at_ms - this.kept.began_ms) * 1000));
  }

  /**
   * Takes a press: what it is, is decided now; it is shown as soon as it is on the disk.
   * @param {Asked} asked
   * @returns {Promise<void>} Ends when it is shown.
   */
  press({ act, at_ms, input, note }) {
    const at_us = this.at_us(at_ms);
    const what = logged(this.decided, { act, at_us });
    const soon = tooSoon(this.decided, { act, at_us }) ? "came too soon" : "does nothing here";
    const words = what === act ? note : (note ?? `${act} ${soon}`);
    const ago_ms = performance.timeOrigin + performance.now() - at_ms;
    /** @type {Press} */
    const press = {
      sequence: this.pressed + 1,
      at_us,
      wall: new Date(Date.now() - ago_ms).toISOString(),
      act: what,
      input,
      ...(words === undefined ? {} : { note: words }),
    };
    this.decided = after(this.decided, press);
    this.waiting.push(press);
    this.keeping = this.keeping.then(() => this.#keep(press));
    return this.keeping;
  }

  /**
   * Keeps what waits, then shows it. A press that the disk refuses is shown and sent all the
   * same, with the alarm; the disk is tried again with the next one.
   * @param {Press} press
   */
  async #keep(press) {
    try {
      while (this.waiting[0] !== undefined) {
        await this.store.keep(this.kept.sitting, this.waiting[0]);
        this.waiting.shift();
      }
      this.tell.keeps(true);
    } catch {
      this.tell.keeps(false);
    }
    if (this.log.length < press.sequence) {
      this.log.push(press);
      this.shown = after(this.shown, press);
    }
    this.tell.shown(press);
    this.send();
  }

  /** How many presses were made here, those on their way to the disk too. */
  get pressed() {
    return this.decided.count - this.kept.inherited.length;
  }

  send() {
    return this.sender.send();
  }

  /** Whether the record has all presses. */
  get sent() {
    return this.kept.kept_to >= this.pressed;
  }

  /** Where the presses are, in words. */
  get line() {
    const unsent = this.trouble !== null && !this.sent;
    this.wasUnsent ||= unsent;
    const { state } = this.shown.seen;
    const over = this.wasUnsent || state === "finished" || state === "spoilt";
    return line({ presses: this.log.length, keptTo: this.kept.kept_to, unsent, over });
  }

  /** @param {Partial<Kept>} change */
  async note(change) {
    Object.assign(this.kept, change);
    await this.store.note(this.kept.sitting, change).catch(() => this.tell.keeps(false));
  }
}

/**
 * Sends the presses of other specimens that this device still has.
 * @param {Store} store
 * @param {Kept | null} open The sitting that sends by itself.
 */
export async function sendOthers(store, open) {
  const quiet = { shown: () => {}, keeps: () => {}, sending: () => {} };
  for (const kept of await store.sittings()) {
    if (kept.sitting === open?.sitting) continue;
    const log = await store.presses(kept.sitting);
    if (log.length > kept.kept_to) void new Sitting(store, kept, 1, log, quiet).send();
  }
}

/** @param {Sitting} sitting */
function sender(sitting) {
  const { plan, specimen } = sitting.kept;
  return new Sender(
    {
      address: `/api/bench/${plan}/${specimen}/presses`,
      device: sitting.kept.device,
      sitting: sitting.kept.sitting,
      keptTo: () => sitting.kept.kept_to,
      from: async (from) => sitting.log.slice(from - 1),
      noteKeptTo: async (kept_to) => {
        await sitting.note({ kept_to });
        sitting.tell.sending();
      },
    },
    {
      post,
      pause,
      tell: (trouble) => {
        sitting.trouble = trouble;
        sitting.tell.sending();
      },
    },
  );
}

/** A post without answer for longer is sent again; the record passes over what it has. */
const ANSWER_WITHIN_MS = 5_000;

/**
 * @param {string} address
 * @param {unknown} body
 */
export async function post(address, body) {
  const reply = await fetch(address, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
    cache: "no-store",
    signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
  });
  /** @type {unknown} */
  const said = await reply.json().catch(() => null);
  return { status: reply.status, body: said };
}

/**
 * Waits, but not when the network comes back or the page is looked at again.
 * @param {number} milliseconds
 * @returns {Promise<boolean>} Whether the network came back.
 */
export function pause(milliseconds) {
  return new Promise((resolve) => {
    /** @param {{ type: string } | void} event */
    const end = (event) => {
      clearTimeout(timer);
      removeEventListener("online", end);
      removeEventListener("focus", end);
      resolve(event?.type === "online");
    };
    const timer = setTimeout(end, milliseconds);
    addEventListener("online", end);
    addEventListener("focus", end);
  });
}
