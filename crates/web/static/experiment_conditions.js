// @ts-check
/** What must hold of parts together, as rows of a form: a sum that is at least or at most so much, a part that is at most so many times another. */

import { h } from './dom.js';
import { canonical, echo } from './figures.js';

/** @typedef {{key: string, name: string}} Chosen a part that moves, by the key of its row and its name */
/** @typedef {{key: string, place: HTMLElement, parts: HTMLElement, ticked: Set<string>, one: any, other: any, shown: string}} Row */

const KINDS = [['least', 'together at least'], ['most', 'together at most'], ['times', 'at most N times another']];

let made = 0;

/** How a kept condition was typed, by its factors; nothing where no row of the form says it. @param {number[]} factors */
function kindOf(factors) {
  const not = factors.filter((factor) => factor !== 0);
  if (not.length === 2 && not.filter((factor) => factor === -1).length === 1 && not.some((factor) => factor > 0)) return 'times';
  if (not.length && not.every((factor) => factor === 1)) return 'least';
  return not.length && not.every((factor) => factor === -1) ? 'most' : '';
}

export class Conditions {
  /** @param {import('./entry_form.js').EntryForm} form @param {() => Chosen[]} chosen the parts that move, in their order @param {any[]} typed what was typed before */
  constructor(form, chosen, typed) {
    this.form = form;
    this.chosen = chosen;
    this.before = typed;
    /** @type {Row[]} */ this.rows = [];
    /** What no row of the form says stays as it is. @type {any[]} */ this.others = [];
    this.place = h('div', { class: 'plan-rows' });
  }

  /** Rows of what was typed before, once the parts are there. */
  recall() {
    for (const one of this.before) {
      const factors = one.factors.map(Number);
      if (kindOf(factors)) this.add({ ...one, factors });
      else this.others.push(one);
    }
  }

  /** @param {any} was */
  add(was) {
    made += 1;
    const { form } = this;
    const key = `condition ${made}`;
    const parts = this.chosen();
    const kind = was ? kindOf(was.factors) : 'least';
    const given = was ? { least: was.least_percent, most: String(-Number(was.least_percent)), times: String(Math.max(...was.factors)) }[/** @type {'least'|'most'|'times'} */ (kind)] : '';
    const choose = (/** @type {string} */ what, /** @type {string} */ label) => form.choice(`${key}.${what}`, label, [['', 'choose']], {});
    const ticks = h('div', { class: 'condition-parts', role: 'group', 'aria-label': 'Which parts' });
    const place = h('div', { class: 'plan-row condition-row' }, form.choice(`${key}.kind`, 'Of the parts', /** @type {any} */ (KINDS), { value: kind }), ticks, choose('one', 'This'), form.text(`${key}.amount`, 'Percent, or times', { width: 'short', numeric: true, value: echo(given) }), choose('other', 'of this'),
      h('button', { class: 'verb plain', type: 'button', onclick: () => { this.rows = this.rows.filter((row) => row.key !== key); place.remove(); form.element.dispatchEvent(new Event('change')); } }, 'Leave it out'));
    const named = (/** @type {(factor: number) => boolean} */ which) => (was ? parts.filter((_, at) => which(was.factors[at])).map((part) => part.key) : []);
    const row = { key, place, parts: ticks, ticked: new Set(kind === 'times' ? [] : named((factor) => factor !== 0)), one: kind === 'times' ? named((factor) => factor < 0)[0] : '', other: kind === 'times' ? named((factor) => factor > 0)[0] : '', shown: '-' };
    this.rows.push(row);
    this.place.append(place);
    this.show();
    return place;
  }

  /** Names in the rows those parts that move now. */
  show() {
    const parts = this.chosen();
    for (const row of this.rows) {
      const times = this.form.field(`${row.key}.kind`).value === 'times';
      row.parts.hidden = times;
      for (const what of ['one', 'other']) this.form.place(`${row.key}.${what}`).hidden = !times;
      // What is there already keeps its place and the focus.
      const shown = parts.map((part) => `${part.key} ${part.name}`).join('\n');
      if (row.shown === shown) continue;
      row.shown = shown;
      row.parts.replaceChildren(...parts.map((part) => h('label', { class: 'plan-tick' }, h('input', { type: 'checkbox', checked: row.ticked.has(part.key), onchange: (/** @type {any} */ event) => { if (event.target.checked) row.ticked.add(part.key); else row.ticked.delete(part.key); } }), h('span', {}, part.name))));
      for (const what of /** @type {Array<'one'|'other'>} */ (['one', 'other'])) {
        const field = this.form.field(`${row.key}.${what}`);
        const now = field.value || row[what];
        field.replaceChildren(h('option', { value: '' }, 'choose'), ...parts.map((part) => h('option', { value: part.key, selected: part.key === now }, part.name)));
        field.onchange = () => { row[what] = field.value; };
      }
    }
  }

  /** Rows that say something. */
  said() {
    return this.rows.filter((row) => this.form.value(`${row.key}.amount`).trim() || row.ticked.size || row.one || row.other);
  }

  /** As the server reads them: a factor for every part that moves, and the least of their sum. */
  typed() {
    const parts = this.chosen();
    const rows = this.said().map((row) => {
      const kind = this.form.field(`${row.key}.kind`).value;
      const text = this.form.value(`${row.key}.amount`);
      const amount = canonical(text) ?? text;
      const factor = (/** @type {string} */ key) => {
        if (kind !== 'times') return row.ticked.has(key) ? (kind === 'least' ? '1' : '-1') : '0';
        return key === row.one ? '-1' : key === row.other ? amount : '0';
      };
      const least = kind === 'times' ? '0' : kind === 'least' || !amount.trim() ? amount : amount.startsWith('-') ? amount.slice(1) : `-${amount}`;
      return { factors: parts.map((part) => factor(part.key)), least_percent: least };
    });
    return [...rows, ...this.others];
  }

  /** The field a complaint about the condition so numbered belongs to. @param {number} at */
  fieldOf(at) {
    const row = this.said()[at];
    return row ? `${row.key}.amount` : undefined;
  }
}
