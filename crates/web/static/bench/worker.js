// @ts-check
// The worker of the bench pages: the newest page is asked for, and the kept one is shown where nobody answers. Questions and entries
// never go through here; the page itself keeps what waits to be sent.

const KEPT_PAGES = 'levigate-bench';
const PATIENCE_MS = 4000;

/** The scope of a worker, which the types of a page do not know. @type {any} */
const worker = self;

worker.addEventListener('install', () => worker.skipWaiting());
worker.addEventListener('activate', (/** @type {any} */ event) => event.waitUntil(worker.clients.claim()));

/** A page or file from the program, kept for later; the kept one where it does not come. @param {Request} request */
async function newest(request) {
  const kept = await caches.open(KEPT_PAGES);
  const late = new Promise((_, refuse) => { setTimeout(() => refuse(new Error('late')), PATIENCE_MS); });
  try {
    const answer = await Promise.race([fetch(request), late]);
    // Sent away to the login: what is kept was another's to see.
    if (answer.type === 'opaqueredirect' || answer.status === 401) await caches.delete(KEPT_PAGES);
    else if (answer.ok && !answer.redirected) await kept.put(request, answer.clone());
    return answer;
  } catch (error) {
    const before = await kept.match(request, { ignoreSearch: true });
    if (before) return before;
    if (request.mode !== 'navigate') throw error;
    return new Response('<!doctype html><meta charset="utf-8"><title>Levigate</title><p>This page was not opened on this device before, and the program does not answer.</p><p><a href="/batches">Batches</a></p>', { status: 503, headers: { 'Content-Type': 'text/html; charset=utf-8' } });
  }
}

worker.addEventListener('fetch', (/** @type {any} */ event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== 'GET' || origin !== location.origin) return;
  // A document is made anew each time, and is no page of the bench.
  if (pathname.includes('/papers/')) return;
  if (pathname.startsWith('/batches') || pathname.startsWith('/static/')) event.respondWith(newest(request));
});
