// @ts-check
//! Presses to the record: in batches, again and again until it says that they are kept there.

/** @typedef {import("./state.js").Press} Press */
/**
 * What a sender needs to know of a sitting and its presses.
 * @typedef {object} Outbox
 * @property {string} address Where batches are posted.
 * @property {string} device
 * @property {string} sitting
 * @property {() => number} keptTo
 * @property {(from: number) => Promise<Press[]>} from The presses kept here from a sequence on.
 * @property {(keptTo: number) => Promise<void>} noteKeptTo
 */
/** @typedef {{ status: number, body: unknown }} Reply */
/**
 * What may be said of the sending.
 * @typedef {object} Trouble
 * @property {"no-answer" | "sign-in" | "not-allowed" | "differs" | "not-understood"} kind
 * @property {string} words
 */
/**
 * @typedef {object} Means
 * @property {(address: string, body: unknown) => Promise<Reply>} post Throws where no answer came.
 * @property {(milliseconds: number) => Promise<boolean>} pause Ends early when the network is back:
 *   whether it is.
 * @property {(trouble: Trouble | null) => void} tell
 */

/** Presses in one batch at most. */
export const BATCH = 200;
/** The first pause after a post without answer; it doubles up to the longest. */
export const PAUSE_FIRST_MS = 250;
export const PAUSE_LONGEST_MS = 2_000;
/** How long to wait where a person must act first. */
export const PAUSE_FOR_PERSON_MS = 15_000;

export class Sender {
  /**
   * @param {Outbox} outbox
   * @param {Means} means
   */
  constructor(outbox, means) {
    this.outbox = outbox;
    this.means = means;
    /** @type {Trouble | null} */
    this.trouble = null;
    this.again = false;
    /** @type {Promise<void> | null} */
    this.running = null;
  }

  /**
   * Sends what is not sent yet. Called after each press; runs once at a time.
   * @returns {Promise<void>} Ends when all is sent, or the record has refused for good.
   */
  send() {
    this.again = true;
    this.running ??= this.#run().finally(() => {
      this.running = null;
    });
    return this.running;
  }

  async #run() {
    let pause_ms = PAUSE_FIRST_MS;
    while (this.again) {
      this.again = false;
      const presses = (await this.outbox.from(this.outbox.keptTo() + 1)).slice(0, BATCH);
      if (presses.length === 0) continue;
      const { trouble, moved } = await this.#batch(presses);
      this.#tell(trouble);
      if (trouble?.kind === "differs") return;
      if (moved) pause_ms = PAUSE_FIRST_MS;
      if (trouble !== null || !moved) {
        const person = trouble !== null && trouble.kind !== "no-answer";
        const back = await this.means.pause(person ? PAUSE_FOR_PERSON_MS : pause_ms);
        // Pauses grow while there is no network; one that is back begins anew.
        pause_ms = back ? PAUSE_FIRST_MS : Math.min(pause_ms * 2, PAUSE_LONGEST_MS);
      }
      this.again = true;
    }
  }

  /**
   * @param {Press[]} presses
   * @returns {Promise<{ trouble: Trouble | null, moved: boolean }>}
   */
  async #batch(presses) {
    const { address, device, sitting } = this.outbox;
    /** @type {Reply} */
    let reply;
    try {
      reply = await this.means.post(address, { device, sitting, presses });
    } catch {
      return { trouble: { kind: "no-answer", words: "" }, moved: false };
    }
    const trouble = refused(reply);
    if (trouble !== null) return { trouble, moved: false };
    const keptTo = /** @type {{ kept_to: number }} */ (reply.body).kept_to;
    const moved = keptTo > this.outbox.keptTo();
    if (moved) await this.outbox.noteKeptTo(keptTo);
    return { trouble: null, moved };
  }

  /** @param {Trouble | null} trouble */
  #tell(trouble) {
    if (trouble?.kind === this.trouble?.kind && trouble?.words === this.trouble?.words) return;
    this.trouble = trouble;
    this.means.tell(trouble);
  }
}

/**
 * Why a reply is no receipt; nothing where it is one.
 * @param {Reply} reply
 * @returns {Trouble | null}
 */
export function refused({ status, body }) {
  const said = detail(body);
  if (status === 200) {
    const keptTo = /** @type {{ kept_to?: unknown } | null} */ (body)?.kept_to;
    if (Number.isSafeInteger(keptTo)) return null;
    return { kind: "not-understood", words: "The answer of the record does not say up to where." };
  }
  if (status === 401) {
    return { kind: "sign-in", words: "Sign in again to send: the presses stay kept here." };
  }
  if (status === 403) {
    return { kind: "not-allowed", words: `Not sent: ${said || "you may not time this specimen"}.` };
  }
  if (status === 409) {
    return {
      kind: "differs",
      words: `Not sent: ${said || "the record has other presses under these numbers"}. `
        + "The presses stay kept here: tell the engineer.",
    };
  }
  if (status >= 500 || status === 408 || status === 429) return { kind: "no-answer", words: "" };
  return { kind: "not-understood", words: `Not sent: ${said || `the record answered ${status}`}.` };
}

/**
 * The words of a problem document, without the stop at their end.
 * @param {unknown} body
 */
function detail(body) {
  const words = /** @type {{ detail?: unknown } | null} */ (body)?.detail;
  return typeof words === "string" ? words.replace(/\.$/, "") : "";
}

/**
 * The line that says where the presses are.
 * @param {{ presses: number, keptTo: number, unsent: boolean, over: boolean }} now
 *   `unsent`: a post had no answer or was refused; `over`: nothing more is pressed.
 */
export function line({ presses, keptTo, unsent, over }) {
  if (presses === 0) return "";
  if (keptTo >= presses && over) return `All ${presses} sent`;
  if (unsent && keptTo < presses) return `Kept on this tablet: ${presses}, not sent yet`;
  return `All ${presses} presses kept`;
}
