// @ts-check
/** A raw material or grade of one's own: a form with least, typical and most of every constituent. */

import { Trouble, ask } from './api.js';
import { byId, h, pageData } from './dom.js';
import { canonical, echo } from './figures.js';

const card = pageData();
const record = card?.record ?? {};
const text = (/** @type {any} */ value) => (value === undefined || value === null ? '' : echo(String(value)));

/** @type {Record<string, HTMLInputElement|HTMLSelectElement>} */
const fields = {};
/** @param {string} name @param {string} label @param {string} value @param {string} [className] @param {boolean} [numeric] */
function field(name, label, value, className = '', numeric = false) {
  const input = h('input', { type: 'text', name, value, autocomplete: 'off', inputMode: numeric ? 'decimal' : 'text', data: numeric ? { numeric: '1' } : {} });
  fields[name] = input;
  return h('label', { class: className }, label, input);
}

/** @param {string} name @param {string} label @param {string} value @param {string[]} options */
function choice(name, label, value, options) {
  const select = h('select', { name }, ...options.map((option) => h('option', { value: option, selected: option === value }, option)));
  fields[name] = select;
  return h('label', {}, label, select);
}

const price = record.prices?.[record.prices.length - 1];
const rows = h('tbody', {});
/** @param {any} [given] */
function constituent(given = {}) {
  const cell = (/** @type {string} */ name, /** @type {string} */ label, /** @type {string} */ value, numeric = true) => h('td', { class: numeric ? 'figure' : '' }, h('input', { type: 'text', 'data-part': name, 'aria-label': label, value, autocomplete: 'off', inputMode: numeric ? 'decimal' : 'text' }));
  const row = h('tr', {}, cell('substance', 'Substance', given.substance ?? '', false), cell('min', 'Least, % w/w', text(given.min)), cell('typical', 'Typical, % w/w', text(given.typical)), cell('max', 'Most, % w/w', text(given.max)),
    h('td', {}, h('button', { class: 'verb plain', type: 'button', onclick: () => row.remove() }, 'Take out')));
  rows.append(row);
}
for (const part of record.constituents ?? [{}, { substance: 'water' }]) constituent(part);

const name = card ? (card.own ? card.hit.name : `${card.hit.name}, own grade`) : '';
const trouble = h('div', { class: 'field-trouble', role: 'alert', hidden: true });
const form = h('form', { class: 'form', onsubmit: send },
  h('fieldset', {}, h('legend', {}, 'Name'), field('name', 'Trade-neutral name with the grade', name, 'wide'), choice('form', 'Form', record.form ?? 'powder', ['powder', 'granules', 'liquid', 'solution', 'dispersion', 'paste', 'wax']), field('functions', 'Functions, separated by commas', (card?.hit.functions ?? []).join(', '), 'wide')),
  h('fieldset', {}, h('legend', {}, 'Composition'), h('p', {}, 'Percent w/w from the composition statement. The typical values sum to 100.'),
    h('table', {}, h('thead', {}, h('tr', {}, ...['Substance', 'least', 'typical', 'most', ''].map((head) => h('th', {}, head)))), rows),
    h('button', { class: 'verb', type: 'button', onclick: () => { constituent(); /** @type {HTMLInputElement|null} */ (rows.lastElementChild?.querySelector('input') ?? null)?.focus(); } }, 'Add a substance'),
    field('active', 'The assay speaks of', record.active ?? ''), field('balance', 'Fills up', record.balance ?? ''), field('composition_source', 'Where this comes from', card?.own ? record.composition_source ?? '' : '', 'wide')),
  h('fieldset', {}, h('legend', {}, 'Where it works'), field('ph_works_low', 'pH from', text(record.ph_works?.low), 'short', true), field('ph_works_high', 'to', text(record.ph_works?.high), 'short', true), field('heat_limit_c', 'Not above, °C', text(record.heat_limit_c?.value), 'short', true)),
  h('fieldset', {}, h('legend', {}, 'Price'), field('price_per_kg', 'Per kg', text(price?.per_kg), 'short', true), field('currency', 'Currency', price?.currency ?? 'EUR', 'short'), field('price_date', 'Date, year-month-day', price?.date ?? new Date().toISOString().slice(0, 10), ''), field('price_note', 'Supplier, order size', price?.note ?? '', 'wide')),
  trouble,
  h('div', { class: 'verbs' }, h('button', { class: 'verb main-verb', type: 'submit' }, 'Keep it on the shelf'), h('a', { class: 'verb', href: card ? `/materials/${card.hit.key}` : '/materials' }, 'Not now')));
byId('own').append(form);

/** @param {Event} event */
async function send(event) {
  event.preventDefault();
  const plainNumber = (/** @type {string} */ value) => canonical(value) ?? value;
  /** @type {Record<string, any>} */
  const material = { key: card?.own ? card.hit.key : '' };
  for (const [key, input] of Object.entries(fields)) material[key] = input.dataset.numeric ? plainNumber(input.value) : input.value;
  material.constituents = [...rows.children].map((row) => {
    /** @type {Record<string, string>} */
    const part = {};
    for (const input of row.querySelectorAll('input')) part[input.dataset.part ?? ''] = input.dataset.part === 'substance' ? input.value : plainNumber(input.value);
    return part;
  }).filter((part) => part.substance || part.typical);
  try {
    const kept = await ask('POST', '/api/materials', material);
    location.href = `/materials/${kept.hit.key}`;
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    trouble.hidden = false;
    trouble.replaceChildren(h('b', {}, error.told.what), ` ${error.told.why} ${error.told.what_now}`);
    for (const input of Object.values(fields)) input.removeAttribute('aria-invalid');
    const wrong = fields[error.told.place?.field ?? ''];
    wrong?.setAttribute('aria-invalid', 'true');
    (wrong ?? trouble).scrollIntoView({ block: 'center' });
    wrong?.focus();
  }
}
