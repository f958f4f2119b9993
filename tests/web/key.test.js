// @ts-check
//! What an enrolled device signs, and that its key cannot be taken out.

import assert from "node:assert/strict";
import test from "node:test";

import { prove } from "../../crates/app/src/web/assets/device/key.js";

test("a proof is a signature over what is done, where, the challenge, and of whom", async () => {
  const kind = { name: "ECDSA", namedCurve: "P-256" };
  const pair = await crypto.subtle.generateKey(kind, false, ["sign", "verify"]);
  /** @type {string[]} */
  const asked = [];
  Object.assign(globalThis, {
    location: { origin: "https://10.0.0.7:4160" },
    fetch: async (/** @type {string} */ address) => {
      asked.push(address);
      return new Response(JSON.stringify({ challenge: "1700000120.abcd" }));
    },
  });
  const proof = await prove({ own: pair.privateKey, key: "04ff" }, "sign-in", "Ana Ruiz");
  assert.deepEqual(asked, ["/api/device/challenge"], "no name and no key in an address");
  assert.deepEqual([proof.key, proof.challenge], ["04ff", "1700000120.abcd"]);
  assert.match(proof.signature, /^[0-9a-f]{128}$/);
  const text = "cinderbook sign-in\nhttps://10.0.0.7:4160\n1700000120.abcd\nAna Ruiz";
  const signature = Buffer.from(proof.signature, "hex");
  const right = { name: "ECDSA", hash: "SHA-256" };
  assert.ok(await crypto.subtle.verify(right, pair.publicKey, signature, new TextEncoder().encode(text)));
});
