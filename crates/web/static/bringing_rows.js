// @ts-check
/** What will be made of a table, row by row: what is not understood first, with a field to type what is meant. */

import { h } from './dom.js';
import { SITES, TYPES } from './draft.js';

/** Rows that are shown at once where nothing is wrong with them. */
const SHOWN = 40;

const FATES = /** @type {Record<string, {word: string, sign: string}>} */ ({
  made: { word: 'made', sign: '+' },
  there: { word: 'on file', sign: '=' },
  'passed-over': { word: 'no entry', sign: '·' },
  'left-out': { word: 'left out', sign: '−' },
  'not-understood': { word: 'not understood', sign: '?' },
});

/** @typedef {{asked: any, answerWith: (change: Record<string, any>) => void, change?: (line: number, column: number, text: string) => void}} Hands */

/**
 * The head of a formula: its name, what it is, and what the amounts add up to.
 * @param {any} answer
 * @param {Hands} hands
 */
export function formulaHead(answer, { answerWith, change }) {
  const { formula } = answer;
  if (!formula) return null;
  const field = (/** @type {string} */ id, /** @type {string} */ label, /** @type {string} */ value, /** @type {string} */ hint = '') => h('div', { class: 'field wide' }, h('label', { htmlFor: `formula-${id}` }, label), h('input', { id: `formula-${id}`, value, onchange: (/** @type {Event} */ event) => answerWith({ [id]: /** @type {HTMLInputElement} */ (event.target).value }) }), hint ? h('span', { class: 'hint' }, hint) : null);
  const choice = (/** @type {string} */ id, /** @type {string} */ label, /** @type {string} */ value, /** @type {string[]} */ words) => h('div', { class: 'field short' }, h('label', { htmlFor: `formula-${id}` }, label), h('select', { id: `formula-${id}`, onchange: (/** @type {Event} */ event) => answerWith({ [id]: /** @type {HTMLSelectElement} */ (event.target).value }) }, ...[...words, ...(words.includes(value) ? [] : [value])].map((word) => h('option', { value: word, selected: word === value }, word))));
  return h('div', { class: 'formula-head' },
    h('div', { class: 'entry-fields' }, field('name', 'Name', formula.name, `from ${formula.name_from}`), choice('type', 'Type', formula.type, TYPES), choice('site', 'Site', formula.site, SITES),
      h('label', { class: 'choice' }, h('input', { type: 'checkbox', id: 'formula-rinse', checked: !formula.leave_on, onchange: (/** @type {Event} */ event) => answerWith({ rinse_off: /** @type {HTMLInputElement} */ (event.target).checked }) }), 'rinsed off')),
    h('p', { class: 'sum-words' }, formula.sum_words, formula.fill ? h('button', { class: 'verb offer', type: 'button', onclick: () => change?.(formula.fill.line, formula.fill.column, formula.fill.text) }, 'Let the water fill up to 100') : null),
    formula.becomes ? h('p', { class: 'aside' }, formula.becomes) : null);
}

/**
 * Names that are not on file, each with what it may mean.
 * @param {any} answer
 * @param {Hands} hands
 */
export function namesTable(answer, { asked, answerWith }) {
  if (!answer.unknown.length) return null;
  const set = (/** @type {string} */ name, /** @type {string} */ picked) => {
    const picks = { ...asked.picks };
    if (picked) picks[name] = picked;
    else delete picks[name];
    answerWith({ picks });
  };
  const open = answer.unknown.filter((/** @type {any} */ one) => !one.picked && one.offers.length);
  const like = asked.what === 'material';
  const prefix = like ? 'like:' : '';
  const takeAll = () => {
    const picks = { ...asked.picks };
    for (const one of open) picks[one.name] = `${prefix}${one.offers[0].key}`;
    answerWith({ picks });
  };
  const rows = answer.unknown.map((/** @type {any} */ one, /** @type {number} */ at) => {
    const picked = one.picked.replace(/^like:/, '');
    const known = one.offers.find((/** @type {any} */ offer) => offer.key === picked);
    const kind = one.picked && !one.picked.startsWith('like:') ? '' : prefix;
    const select = h('select', { id: `name-${at}`, 'aria-label': `${one.name} means`, onchange: () => set(one.name, select.value === '' ? '' : select.value) },
      h('option', { value: '', selected: !picked }, asked.what === 'formula' ? 'stays as it stands' : 'not picked yet'),
      ...one.offers.map((/** @type {any} */ offer) => h('option', { value: `${kind}${offer.key}`, selected: offer.key === picked }, `${like && kind ? 'new, like ' : ''}${offer.name} (${offer.why})`)),
      picked && !known ? h('option', { value: one.picked, selected: true }, `${kind ? 'new, like ' : ''}${picked}`) : null);
    const other = h('input', { id: `name-other-${at}`, 'aria-label': `Another raw material for ${one.name}`, placeholder: 'another: name, INCI or CAS', onchange: () => { if (other.value.trim()) set(one.name, `${kind}${other.value.trim()}`); } });
    const same = like ? h('label', { class: 'choice small' }, h('input', { type: 'checkbox', id: `name-same-${at}`, checked: Boolean(one.picked) && !kind, disabled: !picked, onchange: (/** @type {Event} */ event) => set(one.name, `${/** @type {HTMLInputElement} */ (event.target).checked ? '' : 'like:'}${picked}`) }), 'it is that one, not a grade of its own') : null;
    return h('tr', {}, h('th', { scope: 'row' }, one.name), h('td', { class: 'aside' }, `row ${one.lines.slice(0, 4).join(', ')}${one.lines.length > 4 ? ` and ${one.lines.length - 4} more` : ''}`), h('td', { class: 'picking' }, select, other, same));
  });
  return h('div', { class: 'names' }, h('h3', {}, answer.unknown.length === 1 ? 'One name is not on file' : `${answer.unknown.length} names are not on file`),
    h('p', { class: 'aside' }, like ? 'A new raw material takes its composition from the one it is like; hold that against its document.' : 'Another grade has another assay, so nothing is taken for it without you.'),
    open.length > 1 ? h('button', { class: 'verb', type: 'button', id: 'take-all', onclick: takeAll }, `Take the first candidate for all ${open.length}`) : null,
    h('table', { class: 'calm' }, h('tbody', {}, ...rows)));
}

/**
 * @param {any} answer
 * @param {Hands} hands
 */
export function rowsTable(answer, hands) {
  const wrong = answer.rows.filter((/** @type {any} */ row) => row.fate === 'not-understood');
  const others = answer.rows.filter((/** @type {any} */ row) => row.fate !== 'not-understood');
  const body = (/** @type {any[]} */ rows) => h('table', { class: 'calm rows-read' }, h('thead', {}, h('tr', {}, ...['Row', '', 'Becomes'].map((text, at) => h('th', { scope: 'col', class: at ? '' : 'figure' }, text)))), h('tbody', {}, ...rows.map((row) => rowOf(row, hands))));
  const first = others.slice(0, SHOWN);
  const rest = others.slice(SHOWN);
  return h('div', { class: 'rows' },
    wrong.length ? h('div', { class: 'not-understood' }, h('h3', {}, wrong.length === 1 ? 'One row is not understood' : `${wrong.length} rows are not understood`), body(wrong)) : null,
    first.length ? body(first) : null,
    rest.length ? h('details', {}, h('summary', {}, `${rest.length} rows more`), body(rest)) : null);
}

/**
 * @param {any} row
 * @param {Hands} hands
 */
function rowOf(row, { asked, answerWith, change }) {
  const fate = FATES[row.fate] ?? FATES.made;
  const leftOut = asked.leave_out.includes(row.line);
  const leave = () => answerWith({ leave_out: leftOut ? asked.leave_out.filter((/** @type {number} */ line) => line !== row.line) : [...asked.leave_out, row.line] });
  const mine = asked.changed.filter((/** @type {any} */ one) => one.line === row.line);
  return h('tr', { class: `fate-${row.fate}` },
    h('td', { class: 'figure' }, String(row.line)),
    h('td', { class: 'fate' }, h('span', { class: 'sign', 'aria-hidden': 'true' }, fate.sign), fate.word),
    h('td', {}, h('span', { class: 'words' }, row.words),
      ...row.troubles.map((/** @type {any} */ one) => troubleOf(row.line, one, change)),
      ...row.notes.map((/** @type {string} */ text) => h('p', { class: 'row-note' }, text)),
      mine.length ? h('p', { class: 'row-note' }, `Typed here: ${mine.map((/** @type {any} */ one) => `“${one.text}”`).join(', ')}. `, h('button', { class: 'verb plain small-verb', type: 'button', onclick: () => answerWith({ changed: asked.changed.filter((/** @type {any} */ one) => one.line !== row.line) }) }, 'As it was')) : null,
      row.fate === 'not-understood' || leftOut ? h('button', { class: 'verb plain small-verb', type: 'button', id: `leave-${row.line}`, onclick: leave }, leftOut ? 'Take it in again' : 'Leave this row out') : null));
}

/**
 * @param {number} line
 * @param {any} one
 * @param {((line: number, column: number, text: string) => void) | undefined} change
 */
function troubleOf(line, one, change) {
  const id = `cell-${line}-${one.column}`;
  const input = one.column > 0 && change ? h('input', { id, value: one.text, 'aria-label': `${one.name} of row ${line}`, onchange: () => change(line, one.column, input.value) }) : null;
  return h('div', { class: 'field-trouble' }, h('b', {}, `${one.name}: `), `${sentence(one.what)} ${sentence(one.what_now)}`,
    h('div', { class: 'mend' }, input, ...(change && one.column > 0 ? one.offers.map((/** @type {string} */ text) => h('button', { class: 'verb offer', type: 'button', onclick: () => change(line, one.column, text) }, text)) : [])));
}

/** @param {string} text */
function sentence(text) {
  const first = text.charAt(0);
  return `${/^[a-z][a-z ]/.test(text) ? first.toUpperCase() : first}${text.slice(1)}${/[.?!]$/.test(text) ? '' : '.'}`;
}
