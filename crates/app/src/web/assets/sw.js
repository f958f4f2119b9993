// @ts-check
//! While a specimen is open at the bench, its page and its parts come from what was kept when it
//! was opened: a reload needs no network, and no version is exchanged under a burning specimen.

const OPEN = "cinderbook-bench-open";
const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

worker.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  const ours = url.origin === worker.location.origin && request.method === "GET";
  const bench = request.mode === "navigate" && url.pathname.startsWith("/bench");
  if (ours && (bench || url.pathname.startsWith("/assets/"))) event.respondWith(answer(request));
});

/**
 * What was kept while a specimen is open, else the network.
 * @param {Request} request
 * @returns {Promise<Response>}
 */
async function answer(request) {
  // Asked for by name first: opening a cache would make it.
  if (await caches.has(OPEN)) {
    const cache = await caches.open(OPEN);
    const kept = await cache.match(request, { ignoreVary: true });
    if (kept !== undefined) return kept;
  }
  return fetch(request);
}
