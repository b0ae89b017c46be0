// Keeps the pages and their last answers, so that they stay readable when the connection is gone.
// Answers always come fresh while hivemon can be reached; kept ones say when they were made.

const SHELL = "hivemon-shell-2";
const ANSWERS = "hivemon-answers-1";
const FILES = [
  "/",
  "/app.js",
  "/look.css",
  "/style/print.css",
  "/icon.svg",
  "/manifest.webmanifest",
  "/vendor/uplot/uPlot.iife.min.js",
];
const MOST = 120; // answers kept; the oldest go

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches
      .open(SHELL)
      .then((cache) => cache.addAll(FILES))
      .then(() => self.skipWaiting()),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) =>
        Promise.all(names.filter((name) => name !== SHELL && name !== ANSWERS).map((name) => caches.delete(name))),
      )
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin || address.pathname.startsWith("/guest/")) return;
  if (address.pathname === "/api/v1/changes" || address.pathname === "/api/v1/session") return;
  if (address.pathname.startsWith("/api/")) event.respondWith(answer(request));
  else event.respondWith(file(request));
});

async function file(request) {
  const key = request.mode === "navigate" ? "/" : request;
  try {
    const fresh = await fetch(request);
    if (fresh.ok) (await caches.open(SHELL)).put(key, fresh.clone());
    return fresh;
  } catch (error) {
    const kept = await caches.match(key, { cacheName: SHELL });
    if (kept) return kept;
    throw error;
  }
}

async function answer(request) {
  const cache = await caches.open(ANSWERS);
  try {
    const fresh = await fetch(request);
    if (fresh.ok) await keep(cache, request, fresh.clone());
    return fresh;
  } catch (error) {
    const kept = await near(cache, request);
    if (kept) return kept;
    throw error;
  }
}

async function keep(cache, request, response) {
  const headers = new Headers(response.headers);
  headers.set("x-kept-since", String(Date.now()));
  await cache.put(plain(request.url), new Response(await response.blob(), { status: 200, headers }));
  const names = await cache.keys();
  for (const old of names.slice(0, Math.max(names.length - MOST, 0))) await cache.delete(old);
}

// A curve asked for anew rarely has the same span: the last one kept of the same quantity will do.
function near(cache, request) {
  return cache.match(plain(request.url));
}

function plain(url) {
  const address = new URL(url);
  return address.pathname.includes("/curves/") ? address.pathname : address.pathname + address.search;
}
