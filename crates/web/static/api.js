// @ts-check
/** Asking the server. Trouble comes back in the server's own words: what, why, what now. */

/** @typedef {{code: string, what: string, why: string, what_now: string, place?: {line?: number, column?: number, field?: string}, status?: number}} Told status: that of the answer, where there was one */

export class Trouble extends Error {
  /** @param {Told} told */
  constructor(told) {
    super(told.what);
    this.told = told;
  }
}

let token = document.querySelector('meta[name="levigate-token"]')?.getAttribute('content') ?? '';

/** Logins on this page so far: what was asked before the last one, and refused after it, is only asked again. */
let logins = 0;

/**
 * Asks; where the session has ended in between, the person logs in on the page as it stands, and it is asked again.
 * @param {string} method
 * @param {string} path
 * @param {unknown} [body]
 * @param {AbortSignal} [signal]
 * @returns {Promise<any>}
 */
export async function ask(method, path, body, signal) {
  const before = logins;
  try {
    return await askOnce(method, path, body, signal);
  } catch (error) {
    if (!(error instanceof Trouble) || error.told.code !== 'log-in') throw error;
    if (before === logins) {
      const { logInAgain } = await import('./log_in_again.js');
      await logInAgain();
      logins += 1;
    }
    signal?.throwIfAborted();
    return askOnce(method, path, body, signal);
  }
}

/**
 * Takes up the token of the program that answers now: it is a new one after each start, and a page that has work waiting goes on with it.
 * @param {string} [where] a page of the program
 * @returns {Promise<boolean>} whether there is another one
 */
export async function renewToken(where = location.href) {
  try {
    const page = new DOMParser().parseFromString(await (await fetch(where, { credentials: 'same-origin' })).text(), 'text/html');
    const fresh = page.querySelector('meta[name="levigate-token"]')?.getAttribute('content') ?? '';
    const another = fresh !== '' && fresh !== token;
    if (another) token = fresh;
    return another;
  } catch {
    return false;
  }
}

/**
 * @param {string} method
 * @param {string} path
 * @param {unknown} [body]
 * @param {AbortSignal} [signal]
 * @returns {Promise<any>}
 */
export async function askOnce(method, path, body, signal) {
  /** @type {RequestInit} */
  const request = { method, signal, credentials: 'same-origin', headers: { 'X-Levigate-Token': token } };
  if (body !== undefined) {
    request.body = JSON.stringify(body);
    request.headers = { ...request.headers, 'Content-Type': 'application/json' };
  }
  let answer;
  try {
    answer = await fetch(path, request);
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') throw error;
    throw new Trouble({
      code: 'no-answer',
      what: 'The program does not answer.',
      why: 'It may have been closed.',
      what_now: 'Start it again. What you typed is still on this page; it is sent again with the next change.',
    });
  }
  if (answer.ok) return answer.json();
  let told;
  try {
    told = await answer.json();
  } catch {
    told = { code: 'unreadable', what: 'The answer could not be read.', why: `Status ${answer.status}.`, what_now: 'Reload the page.' };
  }
  throw new Trouble({ ...told, status: answer.status });
}
