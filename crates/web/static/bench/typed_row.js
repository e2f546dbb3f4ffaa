// @ts-check
/** One row of a filled sheet that is typed back: Enter goes on to the next field and keeps the row at its end, arrows go up and down. */

import { h, mark } from '../dom.js';

/**
 * @typedef {{name: string, label: string, class: string, more?: Record<string, any>}|null} Place a field of the row, or an empty cell
 * @typedef {{words: string, doubtful: boolean, last: any}} Stands what is kept of the row: in words, and the entry that can be taken back
 * @typedef {object} Row
 * @property {string} label number as on the sheet
 * @property {string} name what it is
 * @property {Place[]} places fields in the order they are typed
 * @property {string[]} heads heads of the columns of the fields
 * @property {string} pass field at which an empty row is passed over
 * @property {(values: Record<string, string>, row: RowView) => boolean} keep whether the row is done with
 * @property {(state: any) => {planned: string, stands: Stands}} told
 * @property {(entry: any) => void} undo
 */

/** Where the rows of all tables of the page stand. @type {RowView[]} */
export const rows = [];

/** @param {HTMLElement|undefined} field */
export function go(field) {
  if (!field) return;
  field.focus();
  if (field instanceof HTMLInputElement && field.type === 'text') field.select();
}

export class RowView {
  /** @param {Row} of @param {() => HTMLElement} after where it goes on behind the last row */
  constructor(of, after) {
    this.of = of;
    this.after = after;
    /** Figures that were asked about and stand as they are. */
    this.sure = '';
    /** @type {HTMLInputElement[]} */ this.fields = [];
    this.planned = h('td', { class: 'figure' });
    this.stands = h('td', { class: 'stands' });
    const cells = of.places.map((place, at) => {
      if (!place) return h('td', {});
      const field = h('input', { name: place.name, type: 'text', autocomplete: 'off', 'aria-label': `${of.label}, ${of.name}: ${place.label}`, ...place.more });
      this.fields.push(field);
      return h('td', { class: place.class, 'data-head': of.heads[at] }, field);
    });
    this.element = h('tr', {}, h('td', { class: 'n' }, of.label), h('th', { scope: 'row' }, of.name), this.planned, ...cells, this.stands);
    this.wrong = h('td', { colSpan: cells.length + 4 });
    this.below = h('tr', { class: 'row-told', hidden: true }, this.wrong);
    this.element.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => this.key(event));
    rows.push(this);
  }

  /** @param {string} name */
  field(name) {
    return this.fields.find((field) => field.name === name);
  }

  get values() {
    return Object.fromEntries(this.fields.map((field) => [field.name, field.value.trim()]));
  }

  /** @param {...(Node|string)} words nothing: what was told is taken away */
  tell(...words) {
    this.wrong.replaceChildren(...(words.length ? [h('div', { class: 'field-trouble', role: 'alert' }, ...words)] : []));
    this.below.hidden = words.length === 0;
    this.element.classList.toggle('has-told', words.length > 0);
  }

  /** @param {string} name @param {...(Node|string)} words */
  refuse(name, ...words) {
    const field = this.field(name);
    field?.setAttribute('aria-invalid', 'true');
    this.tell(...words);
    go(field);
    return false;
  }

  keep() {
    for (const field of this.fields) field.removeAttribute('aria-invalid');
    if (!this.of.keep(this.values, this)) return;
    this.sure = '';
    this.tell();
    go(rows[rows.indexOf(this) + 1]?.fields[0] ?? this.after());
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    const field = /** @type {HTMLInputElement} */ (event.target);
    const place = this.fields.indexOf(field);
    if (place < 0) return;
    if (event.key === 'Enter') {
      event.preventDefault();
      const last = place === this.fields.length - 1;
      // A figure that was asked about is answered where it stands.
      const nothing = field.name === this.of.pass && !this.typed;
      if (last || nothing || (this.sure !== '' && this.sure === this.figures)) this.keep();
      else go(this.fields[place + 1]);
    } else if (event.key === 'ArrowDown' || event.key === 'ArrowUp') {
      event.preventDefault();
      const other = rows[rows.indexOf(this) + (event.key === 'ArrowDown' ? 1 : -1)];
      go(other?.field(field.name) ?? other?.fields[0]);
    }
  }

  /** Whether anything is typed that is not printed on the sheet already. */
  get typed() {
    return this.fields.some((field) => field.value.trim() && field.name !== 'lot');
  }

  /** What a question about the figures is asked about. */
  get figures() {
    return [this.field('reading_1'), this.field('reading_2')].map((field) => field?.value.trim() ?? '').join('|');
  }

  /** @param {any} state @param {string} initials those of the whole sheet */
  update(state, initials) {
    const { planned, stands } = this.of.told(state);
    this.planned.textContent = planned;
    const own = this.field('initials');
    if (own) own.placeholder = initials;
    this.stands.replaceChildren(...(stands.words ? [mark(stands.doubtful ? 'change' : 'measured', 'shape'), ` ${stands.words}`] : []), ...(stands.last ? [h('button', { class: 'verb plain', type: 'button', 'aria-label': `Undo the last entry of ${this.of.name}`, onclick: () => { this.of.undo(stands.last); go(this.fields[0]); } }, 'Undo')] : []));
  }
}
