// Works between the pages and the network. The server's /worker.js calls work;
// it stands at the top, since a worker's reach is the folder it comes from.
import * as keep from "./keep.js";
import * as send from "./send.js";

const FILES = "rimledger-files-"; // caches with embedded files, one a version

// work begins to listen. version names the embedded files, files are the
// addresses of those that the yard needs without a network.
export function work(version, files) {
  addEventListener("install", (event) => event.waitUntil(install(version, files)));
  addEventListener("activate", (event) => event.waitUntil(activate(version)));
  addEventListener("fetch", answer);
  addEventListener("sync", (event) => {
    if (event.tag === "send") event.waitUntil(send.all());
  });
}

async function install(version, files) {
  // A server with other files sends the browser on to those: they do not belong here.
  const requests = files.map((file) => new Request(file, { redirect: "error" }));
  await (await caches.open(FILES + version)).addAll(requests);

  // The page that is kept is to ask for these files from now on.
  await keep.renewOfflinePage().catch(() => {});
  await skipWaiting();
}

async function activate(version) {
  const kept = await keep.offlinePage();
  const isCurrent = !kept || (await kept.text()).includes(version);

  // A page that could not be renewed goes on with the files that it was built for.
  if (isCurrent) {
    const earlier = (await caches.keys()).filter((name) => name.startsWith(FILES) && name !== FILES + version);
    for (const name of earlier) await caches.delete(name);
  }
  await clients.claim();
}

function answer(event) {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;

  if (request.method === "POST" && url.pathname === "/sign-out") {
    event.respondWith(leave(request));
  } else if (request.method === "GET" && request.mode === "navigate") {
    event.respondWith(answerPage(request, url));
  } else if (request.method === "GET" && url.pathname.startsWith("/static/")) {
    event.respondWith(answerFile(request));
  }
}

const answerFile = async (request) => (await caches.match(request)) || fetch(request);

// answerPage asks the network. The yard's own addresses are answered by the kept page
// if the network does not; it draws itself from what the phone keeps.
async function answerPage(request, url) {
  const giveUp = new AbortController();
  const isDrawnHere = keep.isDrawnHere(url.pathname);
  const timer = isDrawnHere && setTimeout(() => giveUp.abort(), keep.PATIENCE);

  try {
    await keep.reportLeaving();
    const fetched = await fetch(request, { signal: giveUp.signal });
    const isAnswer = fetched.status < 500 || fetched.type === "opaqueredirect";
    return isAnswer || !isDrawnHere ? fetched : keptPage();
  } catch {
    return keptPage();
  } finally {
    clearTimeout(timer);
  }
}

// leave signs out, at once on this phone and as soon as can be at the server.
async function leave(request) {
  await keep.leave();
  try {
    const fetched = await fetch(request);
    await keep.left();
    return fetched;
  } catch {
    return nobodyPage();
  }
}

const keptPage = async () => (await keep.offlinePage()) || nobodyPage();

function nobodyPage() {
  const html = `<!doctype html>
<html lang="en-US">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>No network · Rimledger</title>
<h1>No network</h1>
<p>Nobody is signed in on this phone. Sign in once while there is a network;
from then on the yard works without one.</p>
<p><a href="/yard">Try again</a></p>
`;
  const headers = { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'none'" };
  return new Response(html, { status: 503, headers });
}
