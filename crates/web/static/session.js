// @ts-check
/** One sitting at the sheet: the draft, what was done to it, what follows from it. Undo goes back to the first keystroke. */

import { Trouble, ask } from './api.js';
import { completed } from './draft.js';

/** @typedef {import('./draft.js').Draft} Draft */

const KEEP_AFTER_MS = 250;
const FRAME_MS = 16;
const NEW_DRAFT_KEY = 'levigate-new-draft';

export class Session extends EventTarget {
  /** @param {any} data */
  constructor(data) {
    super();
    /** @type {string} */ this.id = data.id;
    /** @type {number} */ this.base = data.kept ? data.kept.base : data.version;
    /** @type {number} */ this.newest = data.version;
    /** @type {Draft} */ this.draft = completed(structuredClone(data.kept ? data.kept.draft : data.draft));
    /** @type {Draft} */ this.savedDraft = completed(structuredClone(data.draft));
    /** @type {any} */ this.judgement = data.judgement;
    /** @type {boolean} */ this.lookingBack = data.looking_back;
    /** @type {Array<{what: string, before: string}>} */ this.done = [];
    /** @type {Array<{what: string, before: string}>} */ this.undone = [];
    this.openKey = '';
    this.dirty = Boolean(data.kept);
    this.keptAt = '';
    /** When the draft was kept that this tab knows of; empty for none. @type {string} */ this.knownDraft = data.kept?.kept_at ?? '';
    /** @type {Promise<boolean>} */ this.keeping = Promise.resolve(true);
    this.number = 0;
    /** @type {AbortController|null} */ this.asking = null;
    this.frame = 0;
    this.askedAt = 0;
    this.keepTimer = 0;
    this.stale = false;
  }

  /** @param {string} name @param {any} [detail] */
  tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  /**
   * Changes the draft. Changes with the same key one after another are one step for undo.
   * @param {string} what in words, for undo
   * @param {string} key
   * @param {(draft: Draft) => void} alter
   */
  change(what, key, alter) {
    if (this.lookingBack) return;
    const before = JSON.stringify(this.draft);
    alter(this.draft);
    if (JSON.stringify(this.draft) === before) return;
    const merge = key !== '' && key === this.openKey;
    if (!merge) {
      this.done.push({ what, before });
      if (this.done.length > 500) this.done.shift();
    }
    this.openKey = key;
    this.undone = [];
    this.after(!merge);
  }

  /** Ends the step being typed, so that the next change is a step of its own. */
  settle() {
    const named = this.openKey.endsWith('.material');
    this.openKey = '';
    if (named) this.assessSoon();
  }

  /** The draft to be judged: a raw material whose name is still being typed is not on the sheet yet. */
  judged() {
    if (!this.openKey.endsWith('.material')) return this.draft;
    const id = this.openKey.slice(0, -'.material'.length);
    return { ...this.draft, phases: this.draft.phases.map((phase) => ({ ...phase, lines: phase.lines.filter((line) => line.id !== id) })) };
  }

  undo() { this.travel(this.done, this.undone, 'Undone'); }

  redo() { this.travel(this.undone, this.done, 'Done again'); }

  /** @param {Array<{what: string, before: string}>} from @param {Array<{what: string, before: string}>} to @param {string} word */
  travel(from, to, word) {
    const step = from.pop();
    if (!step) return;
    to.push({ what: step.what, before: JSON.stringify(this.draft) });
    this.draft = JSON.parse(step.before);
    this.openKey = '';
    this.after(true);
    this.tell('travelled', `${word}: ${step.what}`);
  }

  /** @param {boolean} newStep */
  after(newStep) {
    this.dirty = true;
    this.tell('draft', { newStep });
    this.assessSoon();
    clearTimeout(this.keepTimer);
    this.keepTimer = window.setTimeout(() => this.keep(), KEEP_AFTER_MS);
  }

  /** Asks at once, at most once a frame; a newer change takes the place of an older question. */
  assessSoon() {
    if (this.frame) return;
    const now = performance.now();
    if (now - this.askedAt > FRAME_MS) {
      this.askedAt = now;
      queueMicrotask(() => this.assess());
      return;
    }
    this.frame = requestAnimationFrame(() => {
      this.frame = 0;
      this.askedAt = performance.now();
      this.assess();
    });
  }

  async assess() {
    this.asking?.abort();
    const asking = new AbortController();
    this.asking = asking;
    this.number += 1;
    const mine = this.number;
    try {
      const judgement = await ask('POST', '/api/assess', { formula: this.id, draft: this.judged() }, asking.signal);
      if (mine !== this.number) return;
      // Without an assessment the last one stays, marked as the one before the mistake.
      this.stale = !judgement.assessment;
      this.judgement = judgement.assessment ? judgement : { ...this.judgement, remarks: judgement.remarks };
      this.tell('judged');
    } catch (error) {
      if (error instanceof Trouble && mine === this.number) this.tell('trouble', error.told);
    }
  }

  /** The figures, or only one of them, as each is looked at. @param {Record<string, import('./plate.js').Look>} looks @param {string} [only] */
  async figures(looks, only = '') {
    return ask('POST', '/api/figures', { draft: this.judged(), formula: this.id, looks, only });
  }

  /** What its flow means in use. @param {Record<string, number>} sizes */
  async inUse(sizes) {
    return ask('POST', '/api/in-use', { formula: this.id, draft: this.judged(), sizes });
  }

  /** How it is made. */
  async procedure() {
    return ask('POST', '/api/procedure', { formula: this.id, draft: this.judged() });
  }

  /** How sure a batch of it is. @param {Record<string, any>} asked */
  async sure(asked) {
    return ask('POST', '/api/sure', { formula: this.id, draft: this.judged(), asked });
  }

  /** To the plant. @param {string} text the question as a file; empty for the vessels alone */
  async scale(text) {
    return ask('POST', '/api/scale', { formula: this.id, draft: this.judged(), text });
  }

  /** The level of a thickener that gives a viscosity. @param {string} line id of its line @param {number} mpaS */
  async level(line, mpaS) {
    return ask('POST', '/api/level', { formula: this.id, draft: this.judged(), line, mpa_s: mpaS });
  }

  /** Keeps the draft; one after another, so that this tab never meets itself. @param {boolean} [over] whether a draft of another tab is written over @returns {Promise<boolean>} whether it is kept */
  keep(over = false) {
    const next = this.keeping.then(() => this.keepNow(over));
    this.keeping = next;
    return next;
  }

  /** @param {boolean} over */
  async keepNow(over) {
    if (this.lookingBack) return true;
    if (!this.id) {
      try { localStorage.setItem(NEW_DRAFT_KEY, JSON.stringify(this.draft)); } catch { /* The page itself still has it. */ }
      this.tell('kept', 'in this browser until its first version is saved');
      return true;
    }
    try {
      const outcome = await ask('PUT', `/api/formulas/${this.id}/draft`, { draft: this.draft, base: this.base, after: over ? null : this.knownDraft });
      if (outcome.elsewhere) {
        this.tell('kept', 'not kept: another tab has one');
        this.tell('elsewhere', outcome.elsewhere.kept_at);
        return false;
      }
      this.knownDraft = outcome.kept.kept_at;
      this.keptAt = new Date().toLocaleTimeString([], { hour: '2-digit', minute: '2-digit', hour12: false });
      this.tell('kept', `kept at ${this.keptAt}`);
      return true;
    } catch (error) {
      if (error instanceof Trouble) this.tell('trouble', error.told);
      return false;
    }
  }

  /** Goes back to the newest version and drops the kept draft. */
  async discard() {
    this.change('go back to the saved version', '', (draft) => { Object.assign(draft, structuredClone(this.savedDraft)); });
    clearTimeout(this.keepTimer);
    if (this.id) await ask('DELETE', `/api/formulas/${this.id}/draft`);
    this.knownDraft = '';
    this.dirty = false;
    this.base = this.newest;
    this.tell('kept', '');
  }

  /**
   * @param {string} reason
   * @returns {Promise<{saved?: any, conflict?: any}>}
   */
  async save(reason) {
    clearTimeout(this.keepTimer);
    if (!this.id) {
      const saved = await ask('POST', '/api/formulas', { draft: this.draft, reason });
      try { localStorage.removeItem(NEW_DRAFT_KEY); } catch { /* Nothing was kept there. */ }
      return { saved, /** @type {any} */ ...{ first: true } };
    }
    const outcome = await ask('POST', `/api/formulas/${this.id}/versions`, { draft: this.draft, reason, base: this.base });
    if (outcome.saved) {
      this.base = outcome.saved.version;
      this.newest = outcome.saved.version;
      this.savedDraft = structuredClone(this.draft);
      this.knownDraft = '';
      this.dirty = false;
      this.tell('kept', `saved as version ${outcome.saved.version}`);
    } else {
      await this.keep();
    }
    return outcome;
  }
}

/** A new formula that was being written when the browser closed. @returns {Draft|null} */
export function forgottenDraft() {
  try {
    const text = localStorage.getItem(NEW_DRAFT_KEY);
    return text ? JSON.parse(text) : null;
  } catch {
    return null;
  }
}
