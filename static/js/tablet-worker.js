// Keeps the floor's pages on the tablet: the queue and the shells of "Now", so that work goes on without a link. The
// network comes first; what is kept answers only when it does not. self.FLOOR comes from the address of this worker.
const PAGES = "floor-pages";
const FILES = "floor-files";
const FRESH_MS = 10 * 60 * 1000; // a page fetched ahead is not fetched again before
const QUEUE = /^\/floor\/[-\w]+\/$/;
const STEP = /^\/floor\/[-\w]+\/shell\/[^/]+\/$/;
const SIGN_IN = /^\/floor\/[-\w]+\/sign-in\//;
const SIGN_OUT = /^\/floor\/[-\w]+\/sign-out\/$/;
const HASHED = /\.[0-9a-f]{12}\.\w+$/;
const KEPT_AT = "X-Floor-Kept-At";
let generation = 0; // rises when pages are forgotten; what was asked for before is not kept then

const sleep = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
const key = (url) => new URL(url, self.location).pathname;
const isPage = (path) => QUEUE.test(path) || STEP.test(path);

async function forget() {
  generation += 1;
  await caches.delete(PAGES);
}

async function keepFiles(html) {
  const files = await caches.open(FILES);
  for (const [, address] of html.matchAll(/(?:src|href)="([^"]+)"/g)) {
    if (address.startsWith(self.FLOOR.files) && !(await files.match(address))) await files.add(address).catch(() => {});
  }
}

async function keepPage(path, answer, asked) {
  if (answer.status !== 200 || answer.redirected || asked !== generation) return;
  const html = await answer.text();
  if (!html.includes(" data-worker=")) return; // not a page of somebody who is signed in
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  headers.set(KEPT_AT, new Date().toISOString());
  await keepFiles(html); // first: a page without its scripts is of no use
  if (asked !== generation) return;
  await (await caches.open(PAGES)).put(path, new Response(html, { headers }));
  if (asked !== generation) await forget();
}

// A kept page says of itself when it was kept.
async function keptPage(path) {
  const kept = await (await caches.open(PAGES)).match(path);
  if (!kept) return null;
  const html = await kept.text();
  const mark = `<html data-kept-at="${kept.headers.get(KEPT_AT)}" `;
  return new Response(html.replace("<html ", mark), { headers: kept.headers });
}

function noLink() {
  const headers = { "Content-Type": "text/html; charset=utf-8", "Cache-Control": "no-store" };
  return new Response(self.FLOOR.noLink, { status: 503, headers });
}

async function page(event, path) {
  const kept = isPage(path) ? await keptPage(path) : null;
  const asked = generation;
  const asking = fetch(event.request);
  asking.catch(() => {}); // also when nobody waits for it any more
  try {
    const answer = await (kept ? Promise.race([asking, sleep(self.FLOOR.patienceMs)]) : asking);
    if (!answer || (kept && answer.status >= 500)) return kept;
    // Nobody is signed in, somebody else is about to be, or this is no tablet of the shop any more.
    if ((SIGN_IN.test(path) && answer.ok) || answer.status === 403) await forget();
    if (isPage(path) && !new URL(event.request.url).search) event.waitUntil(keepPage(path, answer.clone(), asked));
    return answer;
  } catch {
    return kept ?? noLink();
  }
}

// Forms that are not kept: they need the link, and say so without it.
async function sent(event, path) {
  if (SIGN_IN.test(path) || SIGN_OUT.test(path)) await forget();
  try {
    return await fetch(event.request);
  } catch {
    return noLink();
  }
}

async function file(event, path) {
  const files = await caches.open(FILES);
  const kept = await files.match(event.request);
  if (kept && HASHED.test(path)) return kept;
  try {
    const answer = await fetch(event.request);
    if (answer.ok) event.waitUntil(files.put(event.request, answer.clone()));
    return answer;
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}

// Pages that may be needed, one after the other, without haste.
async function ahead(paths) {
  const asked = generation;
  const pages = await caches.open(PAGES);
  const age = (kept) => Date.now() - Date.parse(kept?.headers.get(KEPT_AT) ?? 0);
  const wanted = new Set(paths);
  for (const { url } of await pages.keys()) {
    if (STEP.test(key(url)) && !wanted.has(key(url)) && age(await pages.match(url)) > FRESH_MS) await pages.delete(url);
  }
  for (const path of paths.filter(isPage)) {
    if (STEP.test(path) && age(await pages.match(path)) < FRESH_MS) continue;
    if (asked !== generation) return;
    const answer = await fetch(path, { headers: { "X-Ahead": "1" }, redirect: "manual" }).catch(() => null);
    if (!answer) return;
    if (answer.type === "opaqueredirect" || answer.status === 403) {
      await forget(); // the server asks who is there, or who this is
      return;
    }
    await keepPage(path, answer, asked);
    await sleep(100);
  }
}

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(keepFiles(self.FLOOR.noLink));
});

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
  if (Array.isArray(event.data?.ahead)) event.waitUntil(ahead(event.data.ahead));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    event.respondWith(request.method === "GET" ? page(event, url.pathname) : sent(event, url.pathname));
  } else if (request.method === "GET" && url.pathname.startsWith(self.FLOOR.files)) {
    event.respondWith(file(event, url.pathname));
  }
});
