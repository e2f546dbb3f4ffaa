// @ts-check
/** Photos on their way to the program: too large for the browser's small storage, so they lie in its database until they have arrived. */

const NAME = 'levigate-bench-photos';
const STORE = 'photos';

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
const answer = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

/** @template T @param {IDBTransactionMode} mode @param {(store: IDBObjectStore) => IDBRequest<T>} act @returns {Promise<T>} */
async function inStore(mode, act) {
  const opened = indexedDB.open(NAME, 1);
  opened.onupgradeneeded = () => opened.result.createObjectStore(STORE);
  const database = await answer(opened);
  try {
    const change = database.transaction(STORE, mode);
    const written = new Promise((resolve, reject) => { change.oncomplete = resolve; change.onabort = () => reject(change.error); });
    const found = await answer(act(change.objectStore(STORE)));
    await written;
    return found;
  } finally {
    database.close();
  }
}

/** @param {string} key @param {string} photo in base 64 */
export const keepPhoto = (key, photo) => inStore('readwrite', (store) => store.put(photo, key));

/** The photo, or nothing where the browser has thrown it away. @param {string} key @returns {Promise<string|undefined>} */
export const photoOf = (key) => inStore('readonly', (store) => store.get(key)).catch(() => undefined);

/** @param {string} key */
export const dropPhoto = (key) => inStore('readwrite', (store) => store.delete(key)).catch(() => undefined);
