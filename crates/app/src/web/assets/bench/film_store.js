// @ts-check
//! Films on their way: the pieces of each, kept on this device until the record has the whole film.

import { answer, done } from "./store.js";

/**
 * A film recorded here.
 * @typedef {object} Film
 * @property {string} film Its name: the sitting and when in it the film begins.
 * @property {string} plan
 * @property {string} specimen
 * @property {string} device
 * @property {string} sitting
 * @property {number} within_us How far off its begin may be.
 * @property {string} media Such as `video/webm`.
 * @property {number} pieces How many pieces are kept here.
 * @property {number} sent Up to here the record has them.
 * @property {boolean} ended Whether no further piece comes.
 * @property {string} [refused] Why the record does not take it.
 */
/** One second of a film. */
/** @typedef {{ bytes: ArrayBuffer, sha256: string }} Piece */

/** The name of the database. It is not that of the presses: a film never stands in their way. */
export const NAME = "cinderbook-film";

export class FilmStore {
  /** @param {IDBDatabase} database */
  constructor(database) {
    this.database = database;
  }

  /** @returns {Promise<FilmStore>} */
  static async open() {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("films", { keyPath: "film" });
      asked.result.createObjectStore("pieces");
    };
    return new FilmStore(await answer(asked));
  }

  /** @returns {Promise<Film[]>} */
  films() {
    return answer(this.database.transaction("films").objectStore("films").getAll());
  }

  /**
   * Keeps what has changed of a film.
   * @param {Film} film
   * @param {Partial<Film>} change
   */
  async note(film, change) {
    Object.assign(film, change);
    const transaction = this.database.transaction("films", "readwrite");
    const store = transaction.objectStore("films");
    // A piece may be on its way to the disk: what is there counts, but for the change.
    const known = await answer(store.get(film.film));
    store.put({ ...(known ?? film), ...change });
    await done(transaction);
  }

  /**
   * Keeps the next piece of a film.
   * @param {Film} film
   * @param {Piece} piece
   */
  async keep(film, piece) {
    const pieces = film.pieces + 1;
    const transaction = this.database.transaction(["films", "pieces"], "readwrite");
    transaction.objectStore("pieces").add(piece, [film.film, pieces]);
    const store = transaction.objectStore("films");
    store.put({ ...(await answer(store.get(film.film))), pieces });
    await done(transaction);
    film.pieces = pieces;
  }

  /**
   * @param {Film} film
   * @param {number} number
   * @returns {Promise<Piece>}
   */
  piece(film, number) {
    const pieces = this.database.transaction("pieces").objectStore("pieces");
    return answer(pieces.get([film.film, number]));
  }

  /** The record has the whole film: nothing of it stays here. */
  /** @param {Film} film */
  async forget(film) {
    const transaction = this.database.transaction(["films", "pieces"], "readwrite");
    const all = IDBKeyRange.bound([film.film, 0], [film.film, Infinity]);
    transaction.objectStore("pieces").delete(all);
    transaction.objectStore("films").delete(film.film);
    await done(transaction);
  }
}
