// @ts-check
/** The columns of a measured table: what each was taken for, in which unit, and why; every choice can be changed. */

import { h } from './dom.js';
import { shownNumber } from './plate.js';

/** @typedef {{word: string, words: string, units: string[]}} Meaning */

/** Meanings that need to know the spindle. */
const OF_A_SPINDLE = ['speed', 'reading', 'dial-viscosity'];

/** The cells of a pasted text, as far as a page can tell; only to show what stands in a column. @param {string} text */
export function cellsOf(text) {
  const lines = text.split(/\r?\n/).filter((line) => line.trim());
  const separator = ['\t', ';', ','].find((sign) => lines.length > 1 && lines[lines.length - 1].includes(sign));
  return lines.slice(0, 60).map((line) => line.split(separator ?? /\s+/).map((cell) => cell.trim()));
}

/**
 * The columns of a table that could not be understood, so that they can be named.
 * @param {string} text @param {Array<{name: string, meaning: string, unit: string}>} chosen
 */
export function bareColumns(text, chosen) {
  const cells = cellsOf(text);
  const most = Math.max(0, ...cells.slice(-3).map((row) => row.length));
  if (most < 2 || most > 40) return [];
  const heading = cells.find((row) => row.length === most && row.some((cell) => /[a-z]/i.test(cell)));
  return Array.from({ length: most }, (_, at) => {
    const said = chosen.find((one) => one.name === `#${at + 1}`);
    return { column: at + 1, name: heading?.[at] ?? '', meaning: said?.meaning ?? 'unused', unit: said?.unit ?? '', factor: null, why: said ? 'as you say' : '', sure: true };
  });
}

/**
 * @param {any} answer
 * @param {{meanings: Meaning[], cells: string[][], asked: any, choose: (change: Record<string, any>) => void}} with_
 * @returns {{content: HTMLElement[], notes: HTMLElement[]}}
 */
export function columnsTable(answer, { meanings, cells, asked, choose }) {
  const change = (/** @type {any} */ column, /** @type {{meaning?: string, unit?: string}} */ to) => {
    const name = `#${column.column}`;
    const now = { name, meaning: column.meaning, unit: to.meaning ? '' : column.unit, ...to };
    // Where nothing was understood every column that is named counts; the others are not used.
    choose({ columns: [...asked.columns.filter((/** @type {any} */ one) => one.name !== name), now], model: '' });
  };
  const rows = answer.columns.map((/** @type {any} */ one) => {
    const name = one.name || `column ${one.column}`;
    const units = meanings.find((meaning) => meaning.word === one.meaning)?.units ?? [];
    const first = cells.filter((row) => row.length >= one.column && /^[−-]?[\d.,]/.test(row[one.column - 1])).slice(0, 3).map((row) => row[one.column - 1]);
    return h('tr', { class: one.meaning === 'unused' ? 'unused' : '' },
      h('th', { scope: 'row' }, name, first.length ? h('span', { class: 'small aside' }, `${first.join('  ')} …`) : null),
      h('td', {}, h('select', { 'aria-label': `What ${name} holds`, onchange: (/** @type {Event} */ event) => change(one, { meaning: /** @type {HTMLSelectElement} */ (event.target).value }) },
        ...meanings.map((meaning) => h('option', { value: meaning.word, selected: meaning.word === one.meaning }, meaning.words)))),
      h('td', {}, units.length ? h('select', { 'aria-label': `Unit of ${name}`, onchange: (/** @type {Event} */ event) => change(one, { unit: /** @type {HTMLSelectElement} */ (event.target).value }) },
        ...(one.unit ? [] : [h('option', { value: '', selected: true }, 'as written')]), ...units.map((unit) => h('option', { value: unit, selected: unit === one.unit }, printed(unit)))) : h('span', { class: 'aside' }, 'none')),
      h('td', {}, factorWords(one, units)));
  });
  const spindle = answer.columns.some((/** @type {any} */ one) => OF_A_SPINDLE.includes(one.meaning)) || (answer.troubles ?? []).some((/** @type {any} */ one) => /spindle/.test(one.code));
  const input = h('input', { type: 'text', id: 'spindle', value: asked.spindle, autocomplete: 'off', onchange: () => choose({ spindle: input.value.trim() }) });
  const content = [h('div', { class: 'wide-table' }, h('table', { class: 'calm columns-table' },
    h('thead', {}, h('tr', {}, ...['Column', 'holds', 'unit', 'taken as'].map((cell) => h('th', { scope: 'col' }, cell)))), h('tbody', {}, ...rows)))];
  if (spindle) content.push(h('div', { class: 'field wide spindle' }, h('label', { htmlFor: 'spindle' }, 'Spindle and full-scale torque'), input, h('span', { class: 'hint' }, 'such as “disc, 27 mm, 700 uN.m”: a dial shows no viscosity until the spindle is known')));
  const left = answer.left_out;
  if (left?.count) content.push(h('details', { class: 'part' }, h('summary', {}, `${left.count} ${left.count === 1 ? 'row was' : 'rows were'} left out`), h('ul', { class: 'remarks' },
    ...left.by_reason.map((/** @type {any} */ one) => h('li', {}, `${one.count}: ${one.why}`)), ...left.first.slice(0, 20).map((/** @type {any} */ one) => h('li', {}, `line ${one.line}${one.name ? `, ${one.name}` : ''}: “${one.text}”, ${one.why}`)))));
  const note = (/** @type {string} */ key, /** @type {string} */ text, /** @type {string} */ weight) => h('div', { class: 'note' }, h('p', { class: 'key' }, key), h('p', { class: weight }, text));
  const notes = [
    ...(answer.to_confirm ?? []).map((/** @type {string} */ text) => note('to confirm', text, 'found')),
    ...answer.columns.filter((/** @type {any} */ one) => one.why && one.meaning !== 'unused').map((/** @type {any} */ one) => note(one.name || `column ${one.column}`, `${one.why.charAt(0).toUpperCase()}${one.why.slice(1)}.`, one.sure ? 'change' : 'found')),
    ...(answer.remarks ?? []).map((/** @type {string} */ text) => note('to know', text, 'change')),
  ];
  return { content, notes };
}

/** What a value becomes. @param {any} column @param {string[]} units */
function factorWords(column, units) {
  if (column.meaning === 'unused') return h('span', { class: 'aside' }, 'not used');
  if (column.factor === null || column.factor === undefined || !units.length) return '';
  return column.factor === 1 ? `${printed(units[0])}, as it stands` : `${shownNumber(String(Number(column.factor.toPrecision(4))))} × the number, ${printed(units[0])}`;
}

/** A unit as it is printed. @param {string} unit */
export function printed(unit) {
  return unit.replace(/\b(m?Pa|N|dyn|mN|uN|nN) (s|m|cm)\b/, '$1·$2').replace(/^u/, 'µ').replace(/^C$/, '°C').replace(/^F$/, '°F').replace('cm2', 'cm²');
}
