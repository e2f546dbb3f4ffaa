// @ts-check
/** Opening a batch again without a connection: a worker keeps the pages of the bench and what they need on this device. */

/** Where the worker keeps them; logging out empties it. */
export const KEPT_PAGES = 'levigate-bench';

/** Under which name a batch as it was last told is kept. */
export const KEPT_BATCHES = 'levigate-batch-';

/** Browsers allow it only where nobody can listen in: on this machine, or under TLS with a certificate the device trusts. */
export async function workAlone() {
  if (!('serviceWorker' in navigator) || !isSecureContext) return;
  try {
    await navigator.serviceWorker.register('/batches/worker.js', { scope: '/batches' });
  } catch {
    // The page that is open goes on by itself; only opening it anew needs the program.
  }
}

/** Forgets pages and batches, for the next person at this device. What waits to be sent stays. */
export async function forgetPages() {
  try {
    for (const name of Object.keys(localStorage).filter((one) => one.startsWith(KEPT_BATCHES))) localStorage.removeItem(name);
  } catch {
    // Where nothing can be stored nothing was.
  }
  if ('caches' in globalThis) await caches.delete(KEPT_PAGES);
}
