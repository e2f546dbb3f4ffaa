// @ts-check
/** Counts of a finished product: plates on the sheet, what they say in the margin. Answered while typing; kept only as readings of a trial. */

import { Trouble, ask } from './api.js';
import { announce, byId, h, pageData, prose } from './dom.js';
import { know, listen } from './derivation.js';
import { identity } from './bench/outbox.js';
import { EntryForm } from './entry_form.js';
import { number } from './number.js';

let page = pageData();

/** What an answer says, in words and with a shape. @type {Record<string, [string, string]>} */
const SAYS = { within: ['within', '✓'], within_tolerance: ['within the tolerance of a count', '≈'], cannot_say: ['cannot say', '?'], out: ['out', '✕'] };
const USUAL = ['1:10', '1:100'];
const WAIT_MS = 350;
const KEPT = `levigate-counts-${page.formula}`;

listen();

/** @param {string} says */
const word = (says) => h('span', { class: `says says-${says.replace('_', '-')}` }, h('span', { 'aria-hidden': 'true' }, `${SAYS[says][1]} `), SAYS[says][0]);

const form = new EntryForm('What was counted', { word: 'Hold against the limit', act: answer, leave: () => {} });
form.verbs.lastElementChild?.remove();

/** A field in a table, its fault below it. @param {string} name @param {string} label @param {any} field */
function cell(name, label, field) {
  field.name = name;
  field.setAttribute('aria-label', label);
  const place = h('div', { class: 'grid-cell' }, field, h('div', { class: 'field-trouble', id: `cell-${name.replace(/\./g, '-')}`, hidden: true }));
  form.fields.set(name, { field, place });
  return h('td', {}, place);
}

const text = (/** @type {string} */ value, /** @type {boolean} */ numeric) => h('input', { type: 'text', value, autocomplete: 'off', spellcheck: false, inputMode: numeric ? 'decimal' : undefined });

/** Plates of one kind. @param {[string, string]} plating @param {number} at */
function plates([key, words], at) {
  return h('div', { class: 'wide-table count-grid' }, h('table', { class: 'plate-counts', data: { of: key } },
    h('caption', {}, words),
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Dilution'), h('th', { scope: 'col' }, 'Colonies, a number for each plate'))),
    h('tbody', {}, ...USUAL.map((dilution, row) => h('tr', {},
      cell(`counts.${at}.rows.${row}.dilution`, `Dilution ${row + 1}, ${words}`, text(dilution, false)),
      cell(`counts.${at}.rows.${row}.colonies`, `Colonies at dilution ${row + 1}, ${words}`, text('', true)))))));
}

/** @param {any} organism @param {number} at */
function looked(organism, at) {
  return h('tr', {}, h('th', { scope: 'row' }, organism.organism),
    cell(`looked.${at}.answer`, `${organism.organism}: what was found`, h('select', {}, ...[['', 'not looked for'], ['not-found', 'not found'], ['found', 'found']].map(([value, words]) => h('option', { value }, words)))),
    cell(`looked.${at}.in_g`, `${organism.organism}: in how many grams`, text('1', true)));
}

const organisms = page.reading.organisms.map((/** @type {any} */ one) => one.organism);

form.body.append(
  form.text('title', 'Batch or sample', { width: 'whole', hint: 'QL-2611-04, three days after filling' }),
  ...page.platings.map(plates),
  h('div', { class: 'wide-table count-grid' }, h('table', {}, h('caption', {}, 'Organisms that must not be there'),
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Organism'), h('th', { scope: 'col' }, 'Looked for'), h('th', { scope: 'col' }, 'In g'))),
    h('tbody', {}, ...page.reading.organisms.map(looked)))),
  form.text('water', 'Count of the water, CFU/mL', { numeric: true, hint: '40, or <10 where nothing was found above ten' }),
  form.text('fill_c', 'Filled at, °C', { numeric: true, width: 'short' }));

/** What stands in the form. */
function typed() {
  const value = (/** @type {string} */ name) => form.value(name);
  return {
    title: value('title'),
    counts: page.platings.map((/** @type {[string, string]} */ [key], /** @type {number} */ at) => ({ of: key, rows: USUAL.map((_, row) => ({ dilution: value(`counts.${at}.rows.${row}.dilution`), colonies: value(`counts.${at}.rows.${row}.colonies`) })) })),
    looked: organisms.map((/** @type {string} */ organism, /** @type {number} */ at) => ({ organism, answer: value(`looked.${at}.answer`), in_g: value(`looked.${at}.in_g`) })),
    water: value('water'),
    fill_c: value('fill_c'),
  };
}

/** Typed numbers stay in this tab until it is closed. */
function remember() {
  try {
    sessionStorage.setItem(KEPT, JSON.stringify([...form.fields].map(([name, { field }]) => [name, field.value])));
  } catch {
    // A browser that keeps nothing loses nothing but this convenience.
  }
}

function recall() {
  try {
    for (const [name, value] of JSON.parse(sessionStorage.getItem(KEPT) ?? '[]')) {
      const one = form.fields.get(name);
      if (one) one.field.value = value;
    }
  } catch {
    sessionStorage.removeItem(KEPT);
  }
}

/** @type {AbortController|null} */ let asking = null;

async function answer() {
  asking?.abort();
  const mine = new AbortController();
  asking = mine;
  try {
    page = await ask('POST', `/api/formulas/${page.formula}/microbes`, typed(), mine.signal);
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') return;
    throw error;
  }
  draw();
  announce(page.reading.verdict);
}

/** The answer that stands is not of what stands in the form: it says so, and why. @param {any} error */
function behind(error) {
  if (!(error instanceof Trouble)) throw error;
  const told = byId('first').querySelector('.behind') ?? h('p', { class: 'change behind' });
  told.replaceChildren(h('b', {}, 'Not of what is typed now: '), error.told.what);
  byId('first').append(told);
}

let waiting = 0;
form.element.addEventListener('input', () => {
  remember();
  clearTimeout(waiting);
  // What is only half typed may be wrong; it is told when the person asks.
  waiting = window.setTimeout(() => { form.calm(); answer().catch(behind); }, WAIT_MS);
});

function counts() {
  const { reading } = page;
  if (!reading.counts.length) return null;
  return h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': 'Counts' }, h('table', { class: 'calm counted' },
    h('caption', {}, 'Counts, CFU/g; limits are those of counting alone'),
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, ''), h('th', { scope: 'col', class: 'figure' }, 'As it is written'), h('th', { scope: 'col', class: 'figure' }, 'Count'))),
    h('tbody', {}, ...reading.counts.map((/** @type {any} */ one) => h('tr', {}, h('th', { scope: 'row' }, prose(one.of)), h('td', { class: 'figure' }, one.written), h('td', { class: 'figure' }, number(one.count, one.of, { most: 3 })))),
      h('tr', {}, h('th', { scope: 'row' }, 'Together'), h('td', {}, word(reading.total_says)), h('td', { class: 'figure' }, number(reading.total, 'bacteria and fungi together', { most: 3 }))))));
}

function brings() {
  const { brings: one } = page.reading;
  if (!one) return null;
  return h('div', {}, h('h2', {}, 'What comes in'), h('p', { class: 'aside' }, 'Before anything dies or grows.'),
    h('ul', { class: 'plain-list' }, ...one.parts.map((/** @type {[string, any]} */ [name, outcome]) => h('li', {}, `${name}: `, number(outcome, `what ${name} brings`, { most: 2 }))), h('li', {}, 'Of the limit: ', number(one.of_the_limit, 'of the limit', { most: 2 }))));
}

function lowRisk() {
  const { low_risk: list } = page.reading;
  if (!list) return null;
  const has = (/** @type {any} */ item) => (item.met === true ? ['has it', '✓'] : item.met === false ? ['has it not', '–'] : ['not known', '?']);
  return h('div', {}, h('h2', {}, 'Of low risk by itself?'), h('p', {}, prose(list.verdict)),
    h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': 'Properties of low risk' }, h('table', { class: 'calm' }, h('caption', {}, 'Properties of ISO 29621'), h('tbody', {}, ...list.items.map((/** @type {any} */ item) => h('tr', {}, h('th', { scope: 'row' }, prose(item.text)), h('td', {}, h('span', { 'aria-hidden': 'true' }, `${has(item)[1]} `), has(item)[0])))))));
}

/** Readings of a trial: what stays of the counts. */
function keep() {
  const { reading } = page;
  if (!reading.counts.length || !page.trials.length) return null;
  const trial = h('select', { id: 'keep-trial' }, ...page.trials.map((/** @type {[string, number, number]} */ [id, shown, version]) => h('option', { value: id }, `trial ${shown}, version ${version}`)));
  const told = h('p', { class: 'field-trouble', role: 'alert', hidden: true });
  // Sent again after a slip of the line, a reading is kept once.
  const ids = reading.counts.map(() => identity());
  const act = async () => {
    told.hidden = true;
    button.disabled = true;
    try {
      for (const [at, one] of reading.counts.entries()) await ask('POST', `/api/trials/${trial.value}/readings`, { id: ids[at], quantity: `count of ${one.of}`, value: one.written, unit: 'CFU/g', note: reading.title });
      announce('The counts are kept with the trial.');
      button.replaceWith(h('p', { class: 'entered' }, 'Kept as readings of the trial.'));
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      button.disabled = false;
      told.hidden = false;
      told.replaceChildren(h('b', {}, error.told.what), ` ${error.told.why} ${error.told.what_now}`);
    }
  };
  const button = h('button', { class: 'verb', type: 'button', onclick: act }, 'Keep the counts with it');
  return h('div', { class: 'verbs keep-counts' }, h('label', { htmlFor: 'keep-trial' }, 'Made in '), trial, button, told);
}

function draw() {
  const { reading } = page;
  know({ citations: page.sources });
  byId('first').replaceChildren(h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, h('span', { 'aria-hidden': 'true' }, `${SAYS[reading.says][1]} `), prose(reading.verdict)), h('p', { class: 'change' }, `${prose(reading.class)}: at most `, number(reading.limit, 'limit of the class', { most: 2 }), '.'));
  byId('margin').replaceChildren(
    h('ul', {}, h('li', {}, 'Together: ', word(reading.total_says), `, ${reading.total_words}`), ...reading.organisms.map((/** @type {any} */ one) => h('li', {}, h('i', {}, one.organism), ': ', word(one.says), one.words ? `, ${one.words}` : ''))),
    h('details', {}, h('summary', {}, 'What must be known'), ...reading.notes.map((/** @type {any} */ note) => h('p', { class: 'change' }, prose(note.text)))));
  byId('answer').replaceChildren(...[counts(), keep(), brings(), lowRisk()].filter((one) => one !== null));
}

byId('typed').append(form.element);
draw();
recall();
if (sessionStorage.getItem(KEPT)) answer().catch(behind);
