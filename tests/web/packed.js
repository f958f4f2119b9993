// @ts-check
//! Prints how many bytes all scripts of the pages are, each packed by gzip as it is sent.

import { readdirSync, readFileSync } from "node:fs";
import { gzipSync } from "node:zlib";

const folder = new URL("../../crates/app/src/web/assets/", import.meta.url);

/**
 * @param {URL} below
 * @returns {number}
 */
function packed(below) {
  return readdirSync(below, { withFileTypes: true })
    .map((entry) => {
      if (entry.isDirectory()) return packed(new URL(`${entry.name}/`, below));
      return entry.name.endsWith(".js") ? gzipSync(readFileSync(new URL(entry.name, below))).length : 0;
    })
    .reduce((sum, bytes) => sum + bytes, 0);
}

console.log(packed(folder));
