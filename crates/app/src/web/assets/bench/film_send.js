// @ts-check
//! Films to the record: piece by piece, again and again until it says that it has the whole film.

/** @typedef {import("./film_store.js").Film} Film */
/** @typedef {import("./film_store.js").Piece} Piece */
/** @typedef {{ status: number, body: unknown }} Reply */
/**
 * What a sender needs of this device.
 * @typedef {object} Kept
 * @property {(film: Film, number: number) => Promise<Piece>} piece
 * @property {(film: Film, change: Partial<Film>) => Promise<void>} note
 * @property {(film: Film) => Promise<void>} forget
 */
/**
 * @typedef {object} Means
 * @property {(film: Film, number: number, piece: Piece) => Promise<Reply>} post
 *   Throws where no answer came.
 * @property {(film: Film) => Promise<Reply>} end Asks for the whole film: what is missing of it.
 * @property {(milliseconds: number) => Promise<unknown>} pause Ends early when the network is back.
 */

/** The first pause after a post without answer; it doubles up to the longest. */
const PAUSE_FIRST_MS = 500;
const PAUSE_LONGEST_MS = 8_000;

export class FilmSender {
  /**
   * @param {Kept} kept
   * @param {Means} means
   */
  constructor(kept, means) {
    this.kept = kept;
    this.means = means;
    /** @type {Promise<boolean> | null} */
    this.running = null;
  }

  /**
   * Sends what is not sent yet; runs once at a time.
   * @param {Film} film
   * @returns {Promise<boolean>} Whether the record has the whole film.
   */
  send(film) {
    this.running ??= this.#run(film).finally(() => {
      this.running = null;
    });
    return this.running;
  }

  /** @param {Film} film */
  async #run(film) {
    /** @type {number[]} */
    let missing = [];
    let pause_ms = PAUSE_FIRST_MS;
    while (film.refused === undefined) {
      const next = missing[0] ?? (film.sent < film.pieces ? film.sent + 1 : null);
      if (next === null && !film.ended) return false;
      const reply = next === null ? await this.#end(film) : await this.#piece(film, next);
      if (reply === null || later(reply.status)) {
        await this.means.pause(pause_ms);
        pause_ms = Math.min(pause_ms * 2, PAUSE_LONGEST_MS);
        continue;
      }
      pause_ms = PAUSE_FIRST_MS;
      if (reply.status !== 200) {
        await this.#note(film, { refused: words(reply) });
      } else if (next === null) {
        missing = /** @type {{ missing: number[] }} */ (reply.body).missing;
        if (missing.length === 0) {
          await this.kept.forget(film);
          return true;
        }
      } else if (next === missing[0]) {
        missing.shift();
      } else {
        await this.#note(film, { sent: next });
      }
    }
    return false;
  }

  /**
   * Notes how far it is. Where the disk does not take that, this page knows it all the same, and
   * the next one asks the record again.
   * @param {Film} film
   * @param {Partial<Film>} change
   */
  async #note(film, change) {
    Object.assign(film, change);
    await this.kept.note(film, change).catch(() => undefined);
  }

  /**
   * @param {Film} film
   * @param {number} number
   */
  async #piece(film, number) {
    const piece = await this.kept.piece(film, number);
    return this.means.post(film, number, piece).catch(() => null);
  }

  /** @param {Film} film */
  #end(film) {
    return this.means.end(film).catch(() => null);
  }
}

/** Whether to try again: the record does not answer, or a person must sign in first. */
/** @param {number} status */
function later(status) {
  return status >= 500 || [401, 408, 429].includes(status);
}

/** @param {Reply} reply */
function words({ status, body }) {
  const said = /** @type {{ title?: unknown } | null} */ (body)?.title;
  return typeof said === "string" ? said : `the record answered ${status}`;
}
