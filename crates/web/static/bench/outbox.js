// @ts-check
/**
 * What was done at the bench on its way to the program. An entry gets its identity here, is written to this browser's storage before
 * anything else happens, and is sent until the program says that it has it; sending it twice does no harm.
 */

import { Trouble, ask, renewToken } from '../api.js';

import { dropPhoto, keepPhoto, photoOf } from './photos.js';

/**
 * @typedef {'entries'|'undo'|'readings'|'samples'} Route readings are of the trial, the others of the batch
 * @typedef {{key: string, person: string, route: Route, photo?: boolean, body: Record<string, any>}} Item person: who was logged in when it was typed; empty where nobody has to. photo: it lies beside, being too large for here
 * @typedef {Item & {told: import('../api.js').Told}} Refused
 * @typedef {{waiting: Item[], refused: Refused[], arrived: Item[]}} Held what arrived is held until it stands in what the program tells of the batch
 */

/** Who is logged in on this page. */
const person = document.querySelector('meta[name="levigate-person"]')?.getAttribute('content') ?? '';

const PATIENCE_MS = [1000, 2000, 4000, 8000, 15000];

/** An identity that nobody else makes. */
export function identity() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return [...bytes].map((byte, at) => `${[4, 6, 8, 10].includes(at) ? '-' : ''}${byte.toString(16).padStart(2, '0')}`).join('');
}

export class Outbox extends EventTarget {
  /** @param {string} batch @param {string} trial */
  constructor(batch, trial) {
    super();
    this.batch = batch;
    this.trial = trial;
    this.place = `levigate-bench-${batch}`;
    /** Held here too, for a browser that keeps nothing. @type {Held} */
    this.held = { waiting: [], refused: [], arrived: [] };
    this.keeps = true;
    this.tries = 0;
    this.sending = false;
    /** @type {number|undefined} */
    this.timer = undefined;
    addEventListener('online', () => this.send());
    addEventListener('storage', (event) => { if (event.key === this.place) this.changed(); });
  }

  /** @returns {Held} */
  read() {
    if (!this.keeps) return this.held;
    try {
      const kept = JSON.parse(localStorage.getItem(this.place) ?? 'null');
      const list = (/** @type {keyof Held} */ name) => (Array.isArray(kept?.[name]) ? kept[name] : []);
      return { waiting: list('waiting'), refused: list('refused'), arrived: list('arrived') };
    } catch {
      return this.held;
    }
  }

  /** @param {(kept: Held) => void} change */
  write(change) {
    const kept = this.read();
    change(kept);
    this.held = kept;
    try {
      if (kept.waiting.length || kept.refused.length || kept.arrived.length) localStorage.setItem(this.place, JSON.stringify(kept));
      else localStorage.removeItem(this.place);
      this.keeps = true;
    } catch {
      // Nothing can be stored: the entries live as long as the page, which says so.
      this.keeps = false;
    }
    this.changed();
  }

  changed() {
    this.dispatchEvent(new Event('changed'));
  }

  get waiting() {
    return this.read().waiting;
  }

  /** What somebody else typed on this device: it goes out under their name, once they are logged in, and holds up what was typed after it. */
  get ofOthers() {
    return this.waiting.filter((one) => one.person !== person);
  }

  get refused() {
    return this.read().refused;
  }

  /** @param {Route} route @param {Record<string, any>} body without its identity and time @returns {Item} */
  put(route, body) {
    const key = identity();
    return this.take({ key, person, route, body: { id: key, at: new Date().toISOString(), ...body } });
  }

  /** The same with a photo in base 64, which is kept before anything else happens. @param {Record<string, any>} body @param {string} photo */
  async putPhoto(body, photo) {
    const key = identity();
    const item = { key, person, route: /** @type {Route} */ ('entries'), photo: true, body: { id: key, at: new Date().toISOString(), ...body } };
    await keepPhoto(key, photo);
    return this.take(item);
  }

  /** @param {Item} item */
  take(item) {
    this.write((kept) => kept.waiting.push(item));
    this.send();
    return item;
  }

  /** Where an item is sent, and with what. @param {Item} item @returns {Promise<[string, Record<string, any>]>} */
  async packed(item) {
    const path = item.route === 'readings' ? `/api/trials/${this.trial}/readings` : `/api/batches/${this.batch}/${item.route}`;
    return [path, item.photo ? { ...item.body, photo: await photoOf(item.key) } : item.body];
  }

  /** Everything that may be missing in what the program last told of the batch. */
  get beside() {
    const { arrived, waiting } = this.read();
    return [...arrived, ...waiting];
  }

  get arrived() {
    return this.read().arrived;
  }

  /** Forgets what had arrived before the batch was asked for: it stands in the answer. @param {string[]} keys */
  settled(keys) {
    this.write((kept) => { kept.arrived = kept.arrived.filter((one) => !keys.includes(one.key)); });
  }

  /** Forgets one the program refused; the person has read why. @param {string} key */
  drop(key) {
    this.write((kept) => { kept.refused = kept.refused.filter((one) => one.key !== key); });
  }

  /** Sends what waits, in order, until one is not answered. */
  async send() {
    if (this.sending) return;
    this.sending = true;
    clearTimeout(this.timer);
    let sent = false;
    let renewed = false;
    try {
      for (let item = this.waiting[0]; item && item.person === person; item = this.waiting[0]) {
        const { key } = item;
        try {
          await ask('POST', ...await this.packed(item));
          this.write((kept) => {
            kept.waiting = kept.waiting.filter((one) => one.key !== key);
            kept.arrived.push(item);
          });
          if (item.photo) await dropPhoto(key);
          sent = true;
          this.tries = 0;
        } catch (error) {
          if (!(error instanceof Trouble)) throw error;
          if (error.told.code === 'old-page' && !renewed) {
            renewed = await renewToken();
            if (renewed) continue;
          }
          // What the program could not do now it may do later; only what is wrong with the entry itself is refused.
          if (['no-answer', 'old-page', 'unreadable'].includes(error.told.code) || [408, 429, 500, 502, 503, 504].includes(error.told.status ?? 0)) {
            this.later();
            break;
          }
          const { told } = error;
          this.write((kept) => {
            kept.refused.push(...kept.waiting.filter((one) => one.key === key).map((one) => ({ ...one, told })));
            kept.waiting = kept.waiting.filter((one) => one.key !== key);
          });
          sent = true;
        }
      }
    } finally {
      this.sending = false;
    }
    if (sent) this.dispatchEvent(new Event('sent'));
    this.changed();
  }

  later() {
    const wait = PATIENCE_MS[Math.min(this.tries, PATIENCE_MS.length - 1)];
    this.tries += 1;
    this.timer = setTimeout(() => this.send(), wait);
  }
}
