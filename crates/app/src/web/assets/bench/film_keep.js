// @ts-check
//! A film on its way to this device's disk. It gives way always: where a piece finds no room the
//! film ends, once, the presses go on, and the words wait until nothing burns any more.

/** @typedef {import("./film_store.js").Film} Film */
/** @typedef {import("./film_store.js").Piece} Piece */
/** @typedef {import("./state.js").State} State */
/**
 * What is needed of this device.
 * @typedef {object} Means
 * @property {(bytes: number) => Promise<boolean>} room Whether so much leaves room for presses.
 * @property {(bytes: ArrayBuffer) => Promise<string>} sha256
 * @property {(film: Film) => Promise<unknown>} send Sends what is kept.
 * @property {(why: string) => void} ended No further piece is kept.
 */

/** Why a film ends that finds no room. */
export const NO_ROOM = "no room";
/** Room is asked for every so many pieces. */
const LOOK_AT_ROOM_EVERY = 10;
/** A film ends after an hour. */
const PIECES_MOST = 3_600;

export class FilmKeeping {
  /**
   * @param {{ note: (film: Film, change: Partial<Film>) => Promise<void>,
   *   keep: (film: Film, piece: Piece) => Promise<void> }} store
   * @param {Means} means
   */
  constructor(store, means) {
    this.store = store;
    this.means = means;
    /** @type {Film | null} */
    this.film = null;
    this.over = false;
    this.full = false;
    /** Ends with what is on its way. */
    /** @type {Promise<void>} */
    this.kept = Promise.resolve();
  }

  /**
   * The film itself, before its first piece.
   * @param {() => Promise<Film>} made
   */
  begin(made) {
    return this.#next(async () => {
      const film = await made();
      await this.store.note(film, {});
      this.film = film;
    });
  }

  /** @param {Blob} data */
  piece(data) {
    return this.#next(() => this.#keep(data));
  }

  /** @param {() => Promise<void>} act */
  #next(act) {
    this.kept = this.kept.then(() => (this.full ? undefined : act())).catch(() => this.end(NO_ROOM));
    return this.kept;
  }

  /**
   * Keeps a piece, then sends it.
   * @param {Blob} data
   */
  async #keep(data) {
    const { film, means } = this;
    if (film === null || data.size === 0) return;
    if (film.pieces % LOOK_AT_ROOM_EVERY === 0 && !(await means.room(data.size))) {
      return this.end(NO_ROOM);
    }
    const bytes = await data.arrayBuffer();
    await this.store.keep(film, { bytes, sha256: await means.sha256(bytes) });
    void means.send(film).catch(() => undefined);
    if (film.pieces >= PIECES_MOST) this.end("it has lasted for an hour");
  }

  /**
   * Ends it. What was recorded before is still kept, but where there is no room.
   * @param {string} why
   */
  end(why) {
    this.full ||= why === NO_ROOM;
    if (this.over) return;
    this.over = true;
    this.means.ended(why);
  }
}

/**
 * What is said of a film that ended by itself: nothing while something burns, for nobody could do
 * anything about it.
 * @param {string | null} why
 * @param {State} state
 */
export function saysOfFilm(why, state) {
  if (why === null || (state !== "finished" && state !== "spoilt")) return "";
  return why === NO_ROOM
    ? "◆ No room left for film: free space on this device, or go without"
    : `◆ The film ended: ${why}`;
}
