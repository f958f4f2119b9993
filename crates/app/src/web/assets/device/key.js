// @ts-check
//! The key by which the book knows this device. It is made here, kept here, and cannot be taken out.

import { Store } from "../bench/store.js";

/**
 * @typedef {object} Key
 * @property {CryptoKey} own Signs; the browser gives it to nobody.
 * @property {string} key Its public half, as hexadecimal digits.
 */
/**
 * What shows that it is this device.
 * @typedef {{ key: string, challenge: string, signature: string }} Proof
 */

const CURVE = { name: "ECDSA", namedCurve: "P-256" };
const SIGNING = { name: "ECDSA", hash: "SHA-256" };

/** @param {ArrayBuffer} bytes */
function hex(bytes) {
  return Array.from(new Uint8Array(bytes), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * The key of this device, where it has one.
 * @returns {Promise<Key | null>}
 */
export async function kept() {
  return (await Store.open()).key();
}

/**
 * The key of this device; a new one where it has none. It is kept before it is shown to anybody.
 * @returns {Promise<Key>}
 */
export async function keptOrMade() {
  const store = await Store.open();
  const known = await store.key();
  if (known !== null) return known;
  const pair = await crypto.subtle.generateKey(CURVE, false, ["sign", "verify"]);
  const made = { own: pair.privateKey, key: hex(await crypto.subtle.exportKey("raw", pair.publicKey)) };
  await store.setKey(made);
  return made;
}

/**
 * Signs a fresh challenge.
 * @param {Key} key
 * @param {"sign-in" | "sign-in trusted" | "enrol"} what What is done,
 * @param {string} of and by whom, or with what.
 * @returns {Promise<Proof>}
 */
export async function prove(key, what, of) {
  const reply = await fetch("/api/device/challenge", { cache: "no-store" });
  const { challenge } = /** @type {{ challenge: string }} */ (await reply.json());
  const text = ["cinderbook " + what, location.origin, challenge, of].join("\n");
  const signed = await crypto.subtle.sign(SIGNING, key.own, new TextEncoder().encode(text));
  return { key: key.key, challenge, signature: hex(signed) };
}
