// @ts-check
/** The verbs over the sheet: undo, save as a version with a reason, versions, difference; and what to do when another tab saved first. */

import { Trouble } from './api.js';
import { ask } from './api.js';
import { announce, byId, h, say } from './dom.js';

export class SavingView {
  /** @param {import('./session.js').Session} session */
  constructor(session) {
    this.session = session;
    this.undo = h('button', { class: 'verb plain', type: 'button', onclick: () => session.undo() }, 'Undo');
    this.redo = h('button', { class: 'verb plain', type: 'button', onclick: () => session.redo() }, 'Redo');
    this.kept = h('span', { class: 'kept', role: 'status' });
    this.save = h('button', { class: 'verb main-verb', type: 'button', 'aria-expanded': 'false', onclick: () => this.openSave() }, 'Save a version');
    this.versionsVerb = h('button', { class: 'verb', type: 'button', 'aria-expanded': 'false', onclick: () => this.toggleVersions() }, 'Versions');
    const id = session.id;
    byId('verbs').replaceChildren(
      h('div', {}, this.undo, this.redo, this.kept),
      h('div', {}, id ? h('a', { class: 'verb', href: `/formulas/${id}/batch-sheet`, onclick: (/** @type {Event} */ event) => this.leaveFor(event, `/formulas/${id}/batch-sheet`) }, 'Batch sheet') : null, id ? h('a', { class: 'verb', href: `/formulas/${id}/batch-sheet#papers`, onclick: (/** @type {Event} */ event) => this.leaveFor(event, `/formulas/${id}/batch-sheet#papers`) }, 'Specification, label') : null,
        id ? h('a', { class: 'verb', href: `/formulas/${id}/better`, onclick: (/** @type {Event} */ event) => this.leaveFor(event, `/formulas/${id}/better`) }, 'Find a better one') : null,
        id ? h('a', { class: 'verb', href: `/formulas/${id}/trials` }, 'Trials') : null,
        h('button', { class: 'verb', type: 'button', onclick: () => this.takeFile() }, 'Formula file'),
        id ? this.versionsVerb : null, session.lookingBack ? null : this.save));
    this.fold = h('div', {});
    byId('verbs').after(this.fold);
    session.addEventListener('kept', (event) => say(this.kept, /** @type {CustomEvent} */ (event).detail ? `Draft ${/** @type {CustomEvent} */ (event).detail}` : ''));
    this.update();
  }

  update() {
    const { session } = this;
    this.undo.disabled = !session.done.length;
    this.redo.disabled = !session.undone.length;
    const last = session.done[session.done.length - 1];
    const next = session.undone[session.undone.length - 1];
    this.undo.title = last ? `Undo: ${last.what} (Ctrl Z)` : '';
    this.redo.title = next ? `Redo: ${next.what} (Ctrl Y)` : '';
    say(this.save, session.id ? `Save as version ${session.newest + 1}` : 'Save the first version');
    if (!session.dirty && !this.kept.textContent) say(this.kept, session.id ? `Version ${session.base}, nothing changed` : 'A new sheet');
  }

  /** The batch sheet is made of what stands on the page, so the draft is kept first. @param {Event} event @param {string} href */
  async leaveFor(event, href) {
    if (!this.session.dirty || this.session.lookingBack) return;
    event.preventDefault();
    clearTimeout(this.session.keepTimer);
    if (await this.session.keep()) location.href = href;
  }

  async takeFile() {
    try {
      const { text } = await ask('POST', '/api/toml', { draft: this.session.draft });
      const url = URL.createObjectURL(new Blob([text], { type: 'application/toml' }));
      const name = (this.session.draft.product.name || 'formula').toLowerCase().replace(/[^a-z0-9]+/g, '-').replace(/^-|-$/g, '');
      h('a', { href: url, download: `${name}.toml` }).click();
      setTimeout(() => URL.revokeObjectURL(url), 10000);
    } catch (error) {
      if (error instanceof Trouble) notice(told(error.told), [], true);
    }
  }

  openSave(text = '') {
    if (this.fold.querySelector('form')) { this.shutFold(); return; }
    const { session } = this;
    const reason = h('input', { type: 'text', maxLength: 300, value: text, placeholder: session.id ? 'What changed and why: benzoate to 0.4 %, pH fell on the bench' : 'What this is: first idea from the brief' });
    const trouble = h('div', { class: 'field-trouble', role: 'alert', hidden: true });
    const form = h('form', { onsubmit: async (/** @type {Event} */ event) => {
      event.preventDefault();
      await this.send(reason.value, trouble);
    } }, h('label', {}, 'Reason for this version', reason), h('button', { class: 'verb main-verb', type: 'submit' }, session.id ? `Save as version ${session.newest + 1}` : 'Save'), h('button', { class: 'verb', type: 'button', onclick: () => this.shutFold() }, 'Not now'));
    this.fold.replaceChildren(h('section', { class: 'fold', 'aria-label': 'Save a version', onkeydown: (/** @type {KeyboardEvent} */ event) => { if (event.key === 'Escape') this.shutFold(); } }, form, trouble));
    this.save.setAttribute('aria-expanded', 'true');
    reason.focus();
  }

  shutFold() {
    this.fold.replaceChildren();
    this.save.setAttribute('aria-expanded', 'false');
    this.versionsVerb.setAttribute('aria-expanded', 'false');
    this.save.focus();
  }

  /** @param {string} reason @param {HTMLElement} trouble */
  async send(reason, trouble) {
    const { session } = this;
    try {
      const outcome = await session.save(reason);
      if (outcome.conflict) { this.conflict(outcome.conflict.newest, reason); return; }
      if (/** @type {any} */ (outcome).first) { location.href = `/formulas/${outcome.saved.id}`; return; }
      this.shutFold();
      this.update();
      announce(`Saved as version ${outcome.saved.version}.`);
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      trouble.hidden = false;
      trouble.replaceChildren(h('b', {}, error.told.what), ` ${error.told.why} ${error.told.what_now}`);
    }
  }

  /** Somebody saved first. Nothing is lost: the draft is kept, and the person chooses. @param {any} newest @param {string} reason */
  conflict(newest, reason) {
    const { session } = this;
    const began = session.base;
    session.newest = newest.version;
    this.fold.replaceChildren(h('section', { class: 'fold', role: 'alert', 'aria-label': 'Saved elsewhere first' },
      h('h2', {}, `Version ${newest.version} was saved while you were writing`),
      h('p', {}, `You began from version ${began}. ${newest.who ? `${newest.who} saved` : 'Another tab saved'} version ${newest.version}${newest.reason ? `: “${newest.reason}”` : ''}. Nothing of yours is lost: your draft is kept and still stands below.`),
      h('div', { class: 'verbs' },
        h('button', { class: 'verb main-verb', type: 'button', onclick: async () => {
          session.base = newest.version;
          this.fold.replaceChildren();
          this.openSave(reason);
          const trouble = /** @type {HTMLElement} */ (this.fold.querySelector('.field-trouble'));
          await this.send(reason, trouble);
        } }, `Save mine on top, as version ${newest.version + 1}`),
        h('a', { class: 'verb', href: `/formulas/${session.id}/difference?left=${began}&right=${newest.version}`, target: '_blank' }, `See what version ${newest.version} changed`),
        h('button', { class: 'verb', type: 'button', onclick: () => this.shutFold() }, 'Go on writing'))));
    this.update();
  }

  async toggleVersions() {
    if (this.versionsVerb.getAttribute('aria-expanded') === 'true') { this.shutFold(); return; }
    const { session } = this;
    try {
      const list = await ask('GET', `/api/formulas/${session.id}/versions`);
      const left = h('select', { 'aria-label': 'Older version' }, ...list.map((/** @type {any} */ one) => h('option', { value: one.version }, `version ${one.version}`)));
      const right = h('select', { 'aria-label': 'Newer version' }, ...list.map((/** @type {any} */ one) => h('option', { value: one.version }, `version ${one.version}`)));
      if (list[1]) left.value = list[1].version;
      this.fold.replaceChildren(h('section', { class: 'fold', 'aria-label': 'Versions' }, h('h2', {}, 'Versions'),
        h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, ...['', 'Reason', 'Saved', 'Code', ''].map((head) => h('th', { scope: 'col' }, head)))),
          h('tbody', {}, ...list.map((/** @type {any} */ one, /** @type {number} */ at) => h('tr', {}, h('td', { class: 'nowrap' }, h('a', { href: `/formulas/${session.id}?version=${one.version}` }, `version ${one.version}`)), h('td', {}, one.reason), h('td', { class: 'nowrap' }, when(one.saved), one.who ? `, ${one.who}` : ''), h('td', { class: 'nowrap aside' }, one.code),
            h('td', { class: 'nowrap' }, list[at + 1] ? h('a', { href: `/formulas/${session.id}/difference?left=${list[at + 1].version}&right=${one.version}` }, 'what changed') : ''))))),
        list.length > 1 ? h('div', { class: 'verbs compare' }, 'Compare ', left, ' with ', right, h('button', { class: 'verb', type: 'button', onclick: () => { location.href = `/formulas/${session.id}/difference?left=${left.value}&right=${right.value}`; } }, 'Side by side'), h('button', { class: 'verb plain', type: 'button', onclick: () => this.shutFold() }, 'Close')) : null));
      this.versionsVerb.setAttribute('aria-expanded', 'true');
    } catch (error) {
      if (error instanceof Trouble) notice(told(error.told), [], true);
    }
  }
}

/** A time as people write it, with the date in the order year, month, day. @param {string} iso */
export function when(iso) {
  const date = new Date(iso);
  if (Number.isNaN(date.getTime())) return iso;
  const two = (/** @type {number} */ value) => String(value).padStart(2, '0');
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())} ${two(date.getHours())}:${two(date.getMinutes())}`;
}

/** @param {import('./api.js').Told} trouble */
export function told(trouble) {
  return `${trouble.what} ${trouble.why} ${trouble.what_now}`;
}

/** @param {string} text @param {Array<[string, () => void]>} verbs @param {boolean} [grave] */
export function notice(text, verbs, grave = false) {
  const box = h('div', { class: grave ? 'grave' : '' }, h('p', {}, text), ...verbs.map(([word, act]) => h('button', { class: 'verb', type: 'button', onclick: () => { box.remove(); act(); } }, word)), h('button', { class: 'verb plain', type: 'button', onclick: () => box.remove() }, 'Close'));
  byId('notice').replaceChildren(box);
}
