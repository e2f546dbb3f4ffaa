// @ts-check
/**
 * Measured curves on their way to a trial. A curve gets its identity here and is written to this browser's storage before it is sent, until the
 * program says that it has it: one whose answer was lost is sent again, and kept once.
 */

import { Trouble, ask } from './api.js';
import { identity } from './bench/outbox.js';

/** @typedef {{id: string, person: string, formula: string, trial: string, body: Record<string, any>}} Waiting */

/** Who is logged in on this page: what another person left waiting is not sent in this one's name. */
const person = document.querySelector('meta[name="levigate-person"]')?.getAttribute('content') ?? '';
const PLACE = 'levigate-curves';
const PATIENCE_MS = 5000;

/** Held here too, for a browser that keeps nothing, and for a curve too large for its storage. @type {Waiting[]} */
let held = [];
let keeps = true;

/** @returns {Waiting[]} */
function read() {
  if (!keeps) return held;
  try {
    const kept = JSON.parse(localStorage.getItem(PLACE) ?? '[]');
    return Array.isArray(kept) ? kept : [];
  } catch {
    return held;
  }
}

/** @param {(all: Waiting[]) => Waiting[]} change */
function write(change) {
  held = change(read());
  try {
    if (held.length) localStorage.setItem(PLACE, JSON.stringify(held));
    else localStorage.removeItem(PLACE);
    keeps = true;
  } catch {
    keeps = false;
  }
}

/** @param {Waiting} one */
async function send(one) {
  try {
    const kept = await ask('POST', `/api/trials/${one.trial}/curves`, one.body);
    write((all) => all.filter((other) => other.id !== one.id));
    return kept;
  } catch (error) {
    // What the program refused is for the person to mend; what it did not answer waits.
    if (!(error instanceof Trouble) || error.told.code !== 'no-answer') write((all) => all.filter((other) => other.id !== one.id));
    throw error;
  }
}

export class Curves extends EventTarget {
  constructor() {
    super();
    /** @type {number|undefined} */ this.timer = undefined;
    addEventListener('online', () => this.sendWaiting());
  }

  get waiting() {
    return read().filter((one) => one.person === person).length;
  }

  /** Whether what waits outlives this page. */
  get outlives() {
    return keeps;
  }

  /** Sends a curve; the same one pressed again while it waits is the one that waits. @param {string} formula @param {string} trial @param {Record<string, any>} said */
  async keep(formula, trial, said) {
    const same = (/** @type {Waiting} */ one) => {
      const { id: _id, at: _at, ...before } = one.body;
      return one.person === person && one.trial === trial && JSON.stringify(before) === JSON.stringify(said);
    };
    let one = read().find(same);
    if (!one) {
      const id = identity();
      one = { id, person, formula, trial, body: { ...said, id, at: new Date().toISOString() } };
      const fresh = one;
      write((all) => [...all, fresh]);
    }
    try {
      return await send(one);
    } finally {
      this.later();
    }
  }

  /** Sends what waits, the oldest first; the first that gets no answer ends it for now. */
  async sendWaiting() {
    clearTimeout(this.timer);
    for (const one of read().filter((other) => other.person === person)) {
      try {
        const kept = await send(one);
        this.dispatchEvent(new CustomEvent('kept', { detail: { kept, formula: one.formula } }));
      } catch (error) {
        if (!(error instanceof Trouble)) throw error;
        if (error.told.code === 'no-answer') break;
        this.dispatchEvent(new CustomEvent('refused', { detail: error.told }));
      }
    }
    this.later();
  }

  later() {
    clearTimeout(this.timer);
    if (this.waiting) this.timer = setTimeout(() => this.sendWaiting(), PATIENCE_MS);
  }
}
