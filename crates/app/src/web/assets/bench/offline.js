// @ts-check
//! Keeps this page for a reload without network, in the version that runs now.

/** While this cache is there a specimen is open, and what it holds is not exchanged. */
const OPEN = "cinderbook-bench-open";

/** Puts the service worker at its place; over plain http there is none. */
export function serve() {
  navigator.serviceWorker?.register("/sw.js", { scope: "/" }).catch(() => undefined);
}

/** Keeps the page and all that it has loaded. */
export async function keepForReload() {
  if (!("caches" in globalThis)) return;
  try {
    const cache = await caches.open(OPEN);
    const loaded = performance.getEntriesByType("resource").map((entry) => new URL(entry.name));
    const own = loaded.filter((url) =>
      url.origin === location.origin && url.pathname.startsWith("/assets/"));
    const addresses = new Set(own.map((url) => url.href));
    const page = served().then((answer) => cache.put(location.href, answer));
    await Promise.all([page, ...[...addresses].map((address) => cache.add(address))]);
  } catch {
    // Without network or room a reload needs the network: the presses are kept in any case.
  }
}

/**
 * This page as it is served, without what stands before the flame: that names the part under test.
 * @returns {Promise<Response>}
 */
async function served() {
  const answer = await fetch(location.href);
  if (!answer.ok) throw new Error(`answered with ${answer.status}`);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  page.querySelector("#bench .checks")?.remove();
  const headers = new Headers(answer.headers);
  // Of the text as it came, and no more of this one.
  for (const name of ["content-encoding", "content-length"]) headers.delete(name);
  return new Response(`<!DOCTYPE html>${page.documentElement.outerHTML}`, { headers });
}

/** No specimen is open here any more: the next page comes from the server. */
export async function nothingOpen() {
  if ("caches" in globalThis) await caches.delete(OPEN).catch(() => false);
}
