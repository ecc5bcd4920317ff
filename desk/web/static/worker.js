// The phone's page opens without a network too: as the desk last gave it, to keep what is spoken until there is one.
"use strict";

const NAME = "phone";
const PATIENCE = 4000;
const PARTS = ["/phone", ...["phone.css", "phone.js", "light.js", "desk.js", "hands.js", "mic.js", "keep.js", "sending.js", "readback.js", "speak.js", "upload.js"].map((one) => `/static/${one}`)];

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(PARTS)));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { pathname } = new URL(event.request.url);
  if (event.request.method === "GET" && PARTS.includes(pathname)) event.respondWith(given(event.request, pathname));
});

/** Give it as the desk has it now; as it was, where the desk does not answer, or knows this phone no more. */
async function given(request, path) {
  const cache = await caches.open(NAME);
  const stop = new AbortController();
  setTimeout(() => stop.abort(), PATIENCE);
  try {
    const answer = await fetch(request, { signal: stop.signal });
    if (answer.ok) {
      cache.put(path, answer.clone());
      return answer;
    }
    return (await cache.match(path)) ?? answer;
  } catch (problem) {
    const was = await cache.match(path);
    if (was) return was;
    throw problem;
  }
}
