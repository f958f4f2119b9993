// @ts-check
//! What this device keeps: each press on its disk before anything is shown, and what was sent.

/** @typedef {import("./state.js").Press} Press */
/** @typedef {import("./state.js").Pressed} Pressed */
/** @typedef {import("./clock.js").Reading} Reading */
/** @typedef {import("./clock.js").Offset} Offset */
/** @typedef {import("./settings.js").Habits} Habits */
/** @typedef {import("../device/key.js").Key} Key */
/**
 * One specimen opened on one device by one person.
 * @typedef {object} Sitting
 * @property {string} sitting 16 random bytes as hex.
 * @property {string} device 16 random bytes as hex.
 * @property {string} plan
 * @property {string} specimen
 * @property {number} began_ms On the device's counter.
 * @property {string} began RFC 3339, the device's wall clock.
 * @property {number} kept_to Up to here the record has the presses.
 * @property {boolean} closed Whether the specimen was left for good on this device.
 * @property {Reading} seen The clocks when the page was last alive.
 * @property {Offset | null} offset To the record's clock, as last measured.
 * @property {Pressed[]} inherited Presses of the device that timed before, on this one's clock.
 */

/** The name of the database. */
export const NAME = "cinderbook-bench";

export class Store {
  /** @param {IDBDatabase} database */
  constructor(database) {
    this.database = database;
  }

  /** @returns {Promise<Store>} */
  static async open() {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("device");
      asked.result.createObjectStore("sittings", { keyPath: "sitting" });
      asked.result.createObjectStore("presses", { keyPath: ["sitting", "sequence"] });
    };
    return new Store(await answer(asked));
  }

  /**
   * This device's own mark, made once.
   * @returns {Promise<string>}
   */
  async device() {
    const known = await this.#get("device", "id");
    if (typeof known === "string") return known;
    const made = randomHex();
    await this.#put("device", made, "id");
    return made;
  }

  /**
   * @param {Habits} usual
   * @returns {Promise<Habits>}
   */
  async habits(usual) {
    return { ...usual, ...(await this.#get("device", "habits")) };
  }

  /** @param {Habits} habits */
  async setHabits(habits) {
    await this.#put("device", habits, "habits");
  }

  /**
   * The key by which the book knows this device.
   * @returns {Promise<Key | null>}
   */
  async key() {
    return (await this.#get("device", "key")) ?? null;
  }

  /** @param {Key} key */
  async setKey(key) {
    await this.#put("device", key, "key");
  }

  /**
   * Opens a specimen on this device.
   * @param {{ plan: string, specimen: string, began_ms: number, seen: Reading }} what
   * @returns {Promise<Sitting>}
   */
  async begin(what) {
    /** @type {Sitting} */
    const sitting = {
      ...what,
      sitting: randomHex(),
      device: await this.device(),
      began: new Date(what.seen.wall_ms).toISOString(),
      kept_to: 0,
      closed: false,
      offset: null,
      inherited: [],
    };
    await this.#put("sittings", sitting);
    return sitting;
  }

  /**
   * All sittings, the latest first.
   * @returns {Promise<Sitting[]>}
   */
  async sittings() {
    const store = this.database.transaction("sittings").objectStore("sittings");
    /** @type {Sitting[]} */
    const all = await answer(store.getAll());
    return all.sort((one, other) => other.began.localeCompare(one.began));
  }

  /**
   * The sitting of this specimen that is still open here.
   * @param {string} plan
   * @param {string} specimen
   * @returns {Promise<Sitting | null>}
   */
  async openSitting(plan, specimen) {
    const all = await this.sittings();
    const here = all.find(
      (one) => one.plan === plan && one.specimen === specimen && !one.closed,
    );
    return here ?? null;
  }

  /**
   * Changes what is kept about a sitting.
   * @param {string} sitting
   * @param {Partial<Sitting>} change
   */
  async note(sitting, change) {
    const transaction = this.database.transaction("sittings", "readwrite");
    const store = transaction.objectStore("sittings");
    const known = await answer(store.get(sitting));
    if (known !== undefined) store.put({ ...known, ...change });
    await done(transaction);
  }

  /**
   * Keeps a press on the disk. Only then may it be shown.
   * @param {string} sitting
   * @param {Press} press
   */
  async keep(sitting, press) {
    const strict = { durability: /** @type {const} */ ("strict") };
    const transaction = this.database.transaction("presses", "readwrite", strict);
    transaction.objectStore("presses").add({ sitting, ...press });
    await done(transaction);
  }

  /**
   * The presses of a sitting in their order, from a sequence on.
   * @param {string} sitting
   * @param {number} from
   * @returns {Promise<Press[]>}
   */
  async presses(sitting, from = 1) {
    const range = IDBKeyRange.bound([sitting, from], [sitting, Infinity]);
    const store = this.database.transaction("presses").objectStore("presses");
    const rows = await answer(store.getAll(range));
    return rows.map(({ sitting: _, ...press }) => press);
  }

  /**
   * @param {string} store
   * @param {string} key
   */
  #get(store, key) {
    return answer(this.database.transaction(store).objectStore(store).get(key));
  }

  /**
   * @param {string} store
   * @param {unknown} value
   * @param {string} [key]
   */
  async #put(store, value, key) {
    const transaction = this.database.transaction(store, "readwrite", { durability: "strict" });
    transaction.objectStore(store).put(value, key);
    await done(transaction);
  }
}

/** 16 random bytes as hex; also where the page came over plain http. */
export function randomHex() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * @template T
 * @param {IDBRequest<T>} request
 * @returns {Promise<T>}
 */
export function answer(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/**
 * @param {IDBTransaction} transaction
 * @returns {Promise<void>}
 */
export function done(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
  });
}
