"use strict";
/*
 * Keeps the field pages and every file they use, so that they open without signal.
 *
 * The server fills in the release: {version, pages, files}. Pages and their
 * scripts come from one release only; a new one waits until a page says "skip-waiting".
 */
const RELEASE = __RELEASE__;
const PREFIX = "sillbook-shell-";
const CACHE = PREFIX + RELEASE.version;
const OFFLINE = "/offline";
const PAGES = new Set(RELEASE.pages);
const FILES = new Set(RELEASE.files);

async function install() {
  const cache = await caches.open(CACHE);
  const wanted = [...RELEASE.pages, ...RELEASE.files];
  await cache.addAll(wanted.map((url) => new Request(url, { cache: "reload" })));
}

async function activate() {
  for (const name of await caches.keys()) {
    if (name.startsWith(PREFIX) && name !== CACHE) await caches.delete(name);
  }
  await self.clients.claim();
}

/** Look a path up in this release only; shells are the same whatever the query string. */
async function kept(path) {
  const cache = await caches.open(CACHE);
  return cache.match(path, { ignoreSearch: true, ignoreVary: true });
}

async function answer(request, path) {
  if (PAGES.has(path) || FILES.has(path)) return (await kept(path)) ?? fetch(request);
  try {
    return await fetch(request);
  } catch (error) {
    const page = request.mode === "navigate" ? await kept(OFFLINE) : null;
    if (page) return page;
    throw error;
  }
}

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("message", (event) => {
  if (event.data === "skip-waiting") self.skipWaiting();
});
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  const ours = PAGES.has(url.pathname) || FILES.has(url.pathname);
  if (ours || event.request.mode === "navigate") event.respondWith(answer(event.request, url.pathname));
});
