// @ts-check
//! A disk for the tests: the browser's database in memory, as far as the bench uses it, which is
//! full from a given write on.

/** How a full disk shows: at the write, or as the whole of it is to be kept. */
/** @typedef {"at the write" | "at the end"} Shows */
/**
 * A request as the browser has it.
 * @typedef {object} Request
 * @property {unknown} result
 * @property {Error | null} error
 * @property {(() => void) | null} onsuccess
 * @property {(() => void) | null} onerror
 * @property {(() => void) | null} [onupgradeneeded]
 */

const FULL = () => Object.assign(new Error("no room"), { name: "QuotaExceededError" });

/** One device. */
export class Disk {
  constructor() {
    /** @type {Map<string, Database>} */
    this.databases = new Map();
  }

  /** Puts it where the scripts look for the browser's. */
  install() {
    Object.assign(globalThis, {
      indexedDB: { open: (/** @type {string} */ name) => this.open(name) },
      IDBKeyRange: { bound: (/** @type {unknown} */ from, /** @type {unknown} */ to) => ({ from, to }) },
    });
  }

  /** @param {string} name */
  database(name) {
    const known = this.databases.get(name) ?? new Database();
    this.databases.set(name, known);
    return known;
  }

  /** @param {string} name */
  open(name) {
    const database = this.database(name);
    /** @type {Request} */
    const request = { result: database, error: null, onsuccess: null, onerror: null, onupgradeneeded: null };
    setImmediate(() => {
      if (database.stores.size === 0) request.onupgradeneeded?.();
      request.onsuccess?.();
    });
    return request;
  }
}

/** One database. */
class Database {
  constructor() {
    /** @type {Map<string, { keyPath: string | string[] | null, rows: Map<string, [unknown, any]> }>} */
    this.stores = new Map();
    this.writes = 0;
    this.fullFrom = Infinity;
    /** @type {Shows} */
    this.shows = "at the write";
    /** Transactions, the first of which is at work: one after the other, as the browser has it. */
    /** @type {Transaction[]} */
    this.line = [];
  }

  /** @param {string} name @param {{ keyPath?: string | string[] }} [how] */
  createObjectStore(name, { keyPath } = {}) {
    this.stores.set(name, { keyPath: keyPath ?? null, rows: new Map() });
  }

  /** @param {string | string[]} _names */
  transaction(_names) {
    const transaction = new Transaction(this);
    this.line.push(transaction);
    return transaction;
  }
}

/** Writes are there at once, and taken back where it is not kept. */
class Transaction {
  /** @param {Database} database */
  constructor(database) {
    this.database = database;
    this.waiting = 0;
    /** What is asked before its turn has come. */
    /** @type {(() => void)[]} */
    this.asked = [];
    /** @type {(() => void)[]} */
    this.undo = [];
    /** @type {Error | null} */
    this.error = null;
    /** @type {Error | null} */
    this.fullAtEnd = null;
    this.over = false;
    /** @type {(() => void) | null} */
    this.oncomplete = null;
    /** @type {(() => void) | null} */
    this.onabort = null;
    this.onerror = null;
  }

  /** @param {string} name */
  objectStore(name) {
    const store = this.database.stores.get(name);
    if (store === undefined) throw new Error(`there is no store ${name}`);
    const { keyPath, rows } = store;
    const keyOf = (/** @type {any} */ row, /** @type {unknown} */ key) =>
      keyPath === null ? key : Array.isArray(keyPath) ? keyPath.map((part) => row[part]) : row[keyPath];
    const put = (/** @type {any} */ row, /** @type {unknown} */ given, /** @type {boolean} */ anew) => {
      const key = keyOf(row, given);
      const named = JSON.stringify(key);
      if (anew && rows.has(named)) throw Object.assign(new Error("there already"), { name: "ConstraintError" });
      this.#write(rows, named, [key, structuredClone(row)]);
    };
    const within = (/** @type {unknown} */ key, /** @type {any} */ range) =>
      range === undefined || (order(key, range.from) >= 0 && order(key, range.to) <= 0);
    return {
      put: (/** @type {any} */ row, /** @type {unknown} */ key) => this.#ask(() => put(row, key, false)),
      add: (/** @type {any} */ row, /** @type {unknown} */ key) => this.#ask(() => put(row, key, true)),
      get: (/** @type {unknown} */ key) =>
        this.#ask(() => structuredClone(rows.get(JSON.stringify(key))?.[1])),
      getAll: (/** @type {any} */ range) => this.#ask(() =>
        [...rows.values()].filter(([key]) => within(key, range))
          .sort(([one], [other]) => order(one, other)).map(([, row]) => structuredClone(row))),
      delete: (/** @type {any} */ range) => this.#ask(() => {
        const gone = typeof range === "string" ? { from: range, to: range } : range;
        for (const [named, [key]] of [...rows]) if (within(key, gone)) this.#write(rows, named, null);
      }),
    };
  }

  /**
   * @param {Map<string, [unknown, any]>} rows
   * @param {string} named
   * @param {[unknown, any] | null} row
   */
  #write(rows, named, row) {
    const { database } = this;
    database.writes += 1;
    if (database.writes >= database.fullFrom) {
      if (database.shows === "at the write") throw FULL();
      this.fullAtEnd = FULL();
    }
    const before = rows.get(named);
    this.undo.push(() => (before === undefined ? rows.delete(named) : rows.set(named, before)));
    if (row === null) rows.delete(named);
    else rows.set(named, row);
  }

  /** @param {() => unknown} act */
  #ask(act) {
    if (this.over) throw new Error("the transaction is over");
    /** @type {Request} */
    const request = { result: undefined, error: null, onsuccess: null, onerror: null };
    this.waiting += 1;
    const answer = () => setImmediate(() => {
      try {
        if (this.error !== null) throw this.error;
        request.result = act();
        request.onsuccess?.();
      } catch (cause) {
        request.error = /** @type {Error} */ (cause);
        request.onerror?.();
        this.error ??= request.error;
      }
      this.waiting -= 1;
      setImmediate(() => this.#settle());
    });
    if (this.database.line[0] === this) answer();
    else this.asked.push(answer);
    return request;
  }

  /** Its turn has come. */
  begin() {
    for (const answer of this.asked.splice(0)) answer();
    setImmediate(() => this.#settle());
  }

  #settle() {
    if (this.over || this.waiting > 0) return;
    this.over = true;
    this.error ??= this.fullAtEnd;
    if (this.error !== null) for (const undo of this.undo.reverse()) undo();
    this.database.line.shift();
    this.database.line[0]?.begin();
    if (this.error === null) this.oncomplete?.();
    else this.onabort?.();
  }
}

/**
 * The order of keys: texts, numbers, and lists of them.
 * @param {any} one
 * @param {any} other
 * @returns {number}
 */
function order(one, other) {
  if (!Array.isArray(one)) return one < other ? -1 : one > other ? 1 : 0;
  for (let n = 0; n < one.length; n += 1) {
    const found = order(one[n], other[n]);
    if (found !== 0) return found;
  }
  return 0;
}
