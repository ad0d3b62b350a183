// Works between the pages and the network. The server puts two constants in
// front: VERSION, a digest of the embedded files, and FILES, their addresses.
"use strict";
const [KEEP, SEND] = ["keep.js", "send.js"].map((name) => FILES.find((f) => f.includes("/" + name)));
importScripts(KEEP, SEND);

const FIXED = "rimledger-files-" + VERSION; // the same for everybody

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(FIXED).then((c) => c.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("rimledger-files-") && name !== FIXED) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("sync", (event) => {
  if (event.tag === "send") event.waitUntil(send.all());
});

// The yard's own addresses are answered by the kept page if the network does
// not; it draws itself from what the phone keeps.
const kept = async () => (await (await caches.open(keep.CACHE)).match("/yard")) || unknown();
const unknown = () => new Response("<!doctype html><html lang=\"en-US\"><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><title>No network · Rimledger</title><h1>No network</h1><p>Nobody is signed in on this phone. Sign in once while there is a network; from then on the yard works without one.</p><p><a href=\"/yard\">Try again</a></p>",
  { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'none'" } });

const page = async (request) => {
  const giveUp = new AbortController();
  const usable = keep.works(new URL(request.url).pathname);
  const timer = usable && setTimeout(() => giveUp.abort(), keep.PATIENCE);
  try {
    await keep.left();
    const answer = await fetch(request, { signal: giveUp.signal });
    if (answer.status < 500 || answer.type === "opaqueredirect") return answer;
    return usable ? kept() : answer;
  } catch {
    return kept();
  } finally {
    clearTimeout(timer);
  }
};

const leave = async (request) => {
  await keep.leave();
  try {
    const answer = await fetch(request);
    await keep.drop("about", "leaving");
    return answer;
  } catch {
    return unknown();
  }
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST" && url.pathname === "/sign-out") event.respondWith(leave(request));
  if (request.method !== "GET") return;
  if (request.mode === "navigate") event.respondWith(page(request));
  else if (url.searchParams.get("v") === VERSION) event.respondWith(caches.match(request).then((hit) => hit || fetch(request)));
});
