/*
 * Keeps the field pages and every file they use, so that they open without signal.
 *
 * The server fills in the release: {version, pages, files}. Pages and their
 * scripts come from one release only; a new one waits until a page says "skip-waiting".
 *
 * A sign-out made without signal goes to the office before any page is asked of it: see
 * field/presence.js for what the phone keeps of it.
 */
const RELEASE = __RELEASE__;
const PREFIX = "sillbook-shell-";
const CACHE = PREFIX + RELEASE.version;
const OFFLINE = "/offline";
const PAGES = new Set(RELEASE.pages);
const FILES = new Set(RELEASE.files);
const SIGN_OUT = "/sign-out";
const SIGNED_OUT = "signed_out";

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

let opened = null;

/**
 * Look a path up in this release only; shells are the same whatever the query string, which is
 * left off before: a look-up that passes over it goes through all that is kept, file by file.
 */
async function kept(path) {
  opened ??= caches.open(CACHE);
  return (await opened).match(path, { ignoreVary: true });
}

const asked = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/** Work on the phone's kept values; null on a browser that keeps none. */
async function withKept(mode, work) {
  const opening = indexedDB.open("sillbook");
  opening.onupgradeneeded = () => opening.transaction.abort(); // nothing here: leave it so
  const db = await asked(opening).catch(() => null);
  if (!db) return null;
  try {
    if (!db.objectStoreNames.contains("kept")) return null;
    const tx = db.transaction("kept", mode, { durability: "strict" });
    const done = new Promise((resolve, reject) => {
      tx.oncomplete = resolve;
      tx.onabort = () => reject(tx.error);
    });
    const answer = await work(tx.objectStore("kept"));
    await done;
    return answer;
  } finally {
    db.close();
  }
}

/** Write that the person of this phone has signed out; kept until somebody signs in. */
const keepSignOut = () =>
  withKept("readwrite", async (store) => {
    const pack = await asked(store.get("pack"));
    if (!pack || (await asked(store.get(SIGNED_OUT)))) return;
    const { id, name } = pack.person;
    await asked(
      store.put(
        {
          by: id,
          name,
          sign_in: pack.sign_in ?? null,
          at: new Date().toISOString(),
          pending: true,
        },
        SIGNED_OUT,
      ),
    );
  });

const markTold = () =>
  withKept("readwrite", async (store) => {
    const said = await asked(store.get(SIGNED_OUT));
    if (said) await asked(store.put({ ...said, pending: false }, SIGNED_OUT));
  });

const tellTabs = () => new BroadcastChannel("sillbook").postMessage("person");

/** False while the office has not heard of a sign-out made here. */
async function signOutIsTold() {
  const said = await withKept("readonly", (store) => asked(store.get(SIGNED_OUT)));
  if (!said?.pending) return true;
  const of = said.sign_in ? `?of=${said.sign_in}` : "";
  const answer = await fetch(`${SIGN_OUT}${of}`, {
    method: "POST",
    credentials: "same-origin",
    redirect: "manual",
    headers: { Accept: "application/json" },
  }).catch(() => null);
  const words = answer?.status === 200 ? await answer.json().catch(() => null) : null;
  if (words?.signed_out !== true) return false;
  await markTold();
  return true;
}

/** "Sign out" tapped on any page: it holds on this phone even when the office is not reached. */
async function signOut(request) {
  await keepSignOut();
  tellTabs();
  // whoever answers this, only the office's own word, asked for before the next page, counts
  return (await fetch(request).catch(() => null)) ?? Response.redirect("/field", 303);
}

async function answer(request, path) {
  if (PAGES.has(path) || FILES.has(path)) return (await kept(path)) ?? fetch(request);
  try {
    if (!(await signOutIsTold())) throw new TypeError("the office has not heard of the sign-out");
    return await fetch(request);
  } catch (error) {
    const page = request.mode === "navigate" ? await kept(OFFLINE) : null;
    if (page) return page;
    throw error;
  }
}

/** What the field pages ask for themselves, minding a sign-out; and what holds nobody's data. */
const FREE = /^\/(sync|pack|sign-out|static\/.*|kept\/.*|manifest\.webmanifest|sw\.js)$/;

self.addEventListener("install", (event) => {
  // where the browser can, files come from what is kept without waking this worker
  const files = { condition: { urlPattern: "/static/*" }, source: { cacheName: CACHE } };
  event.waitUntil(Promise.all([install(), event.addRoutes?.(files)]));
});
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("message", (event) => {
  if (event.data === "skip-waiting") self.skipWaiting();
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && request.mode === "navigate" && url.pathname === SIGN_OUT) {
    event.respondWith(signOut(request));
    return;
  }
  const ours = PAGES.has(url.pathname) || FILES.has(url.pathname);
  if (ours ? request.method === "GET" : !FREE.test(url.pathname))
    event.respondWith(answer(request, url.pathname));
});
