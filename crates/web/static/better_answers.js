// @ts-check
/** What was found, beside what is: levels, aims, wishes and readings in one table; what binds; which findings come and go. */

import { csvVerb, fileName } from './csv.js';
import { h, mark, prose } from './dom.js';
import { fixed, plain, unitOf } from './figures.js';
import { number } from './number.js';

/** What happened to a line, in a sign and in words. @type {Record<string, [string, string]>} */
const WHAT = { moved: ['', 'moved'], 'taken out': ['−', 'taken out'], 'taken in': ['+', 'taken in'], kept: ['', ''], solved: ['', ''], remainder: ['', ''], out: ['', 'out'] };

/** A level without zeros that say nothing. @param {number} value */
const level = (value) => fixed(value, 3).replace(/([.,]\d*?)0+$/, '$1').replace(/[.,]$/, '');

/** Digits of a value that stands beside others of the same model: what they share of its error does not part them. @param {any} outcome */
export const compared = (outcome) => (outcome.value === null ? null : String(Number(outcome.value.toPrecision(3))));

/** @param {any} reading @param {number[]} chosen places of the answers that are shown */
function columns(reading, chosen) {
  const before = reading.before ? [{ words: 'As it is', answer: reading.before, place: -1 }] : [];
  return [...before, ...chosen.map((place, at) => ({ words: reading.conflict ? 'Nearest' : chosen.length > 1 ? (at ? `Another, ${at + 1}` : 'Best found') : reading.front ? `Point ${place + 1}` : 'Best found', answer: reading.answers[place], place }))];
}

/** @param {any} own @param {any} before a line of an answer, and the same line as it is */
function levelCell(own, before) {
  const changed = own.what === 'moved' || own.what.startsWith('taken') || (before && Math.abs(own.percent.value - before.percent.value) > 5e-7);
  const change = before && changed ? own.percent.value - before.percent.value : 0;
  const said = WHAT[own.what]?.[1] ?? '';
  return h('td', { class: `figure${changed && own.what !== 'remainder' && own.what !== 'solved' ? ' moved-cell' : ''}` },
    number(own.percent, `${own.material}, percent`, { unit: false, exact: level(own.percent.value) }),
    change ? h('span', { class: 'small' }, `${change > 0 ? '+' : '−'}${level(Math.abs(change))}`) : null,
    said && said !== 'moved' ? h('span', { class: 'small' }, said) : null);
}

/** @param {any} wish */
function wishCell(wish) {
  const [shape, words] = !wish.kept ? ['stop', 'missed'] : wish.unsure ? ['check', 'kept, but its interval reaches beyond'] : ['', ''];
  return h('td', { class: 'figure' }, number(wish.reading, wish.wish), words ? h('span', { class: `small ${shape === 'stop' ? 'missed' : ''}` }, mark(shape, 'shape'), ` ${words}`) : null);
}

/** @param {any} outcome */
function ends(outcome) {
  const { low, high } = outcome;
  return typeof low === 'number' && typeof high === 'number' && low !== high ? h('span', { class: 'small' }, `${plain(low, outcome)} to ${plain(high, outcome)}`) : null;
}

/**
 * @param {any} found reading and drafts
 * @param {number[]} chosen places of the answers that are shown
 * @param {(place: number) => void} take
 */
export function answersTable(found, chosen, take) {
  const { reading: all } = found;
  const shown = columns(all, chosen);
  const group = (/** @type {string} */ words) => h('tr', { class: 'group-row' }, h('th', { scope: 'colgroup', colSpan: shown.length + 1 }, words));
  const row = (/** @type {string} */ name, /** @type {string} */ unit, /** @type {Array<any>} */ cells) => h('tr', {}, h('th', { scope: 'row' }, name, unit ? h('span', { class: 'small' }, unitOf(unit)) : null), ...cells);
  const outcome = (/** @type {any} */ one, /** @type {string} */ label, /** @type {string|null} */ exact = null) => h('td', { class: 'figure' }, number(one, label, { unit: false, exact }), ends(one));
  const first = shown[0].answer;
  const unitOfAll = (/** @type {(answer: any) => any} */ of) => shown.map((one) => of(one.answer)?.unit).find(Boolean) ?? '';
  return h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': 'What was found' }, h('table', { class: 'calm answers-table' },
    h('caption', { class: 'visually-hidden' }, 'Percent of the product as supplied, aims, wishes and readings, as it is and as found'),
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, ''), ...shown.map((one) => h('th', { scope: 'col', class: 'figure' }, h('span', { class: 'column-name' }, one.words), one.place >= 0 ? h('button', { class: 'verb take', type: 'button', 'aria-label': `Put it on the sheet: ${one.words}`, onclick: () => take(one.place) }, 'Put it on the sheet') : null)))),
    h('tbody', {}, group('Aim'), ...all.aims.map((/** @type {string} */ name, /** @type {number} */ at) => row(name, unitOfAll((answer) => answer.aims[at]), shown.map((one) => outcome(one.answer.aims[at], name, compared(one.answer.aims[at]))))),
      group('Levels, % w/w as supplied'), ...first.lines.map((/** @type {any} */ line, /** @type {number} */ at) => row(line.material, '', shown.map((one) => levelCell(one.answer.lines[at], one.place < 0 ? null : all.before?.lines[at])))),
      first.wishes.length ? group('Wishes') : null, ...first.wishes.map((/** @type {any} */ wish, /** @type {number} */ at) => row(prose(wish.wish), '', shown.map((one) => wishCell(one.answer.wishes[at])))),
      group('What follows'), ...first.readings.map((/** @type {any} */ one, /** @type {number} */ at) => row(one.name === 'pH' ? 'pH' : prose(one.name), unitOfAll((answer) => answer.readings[at].reading), shown.map((column) => outcome(column.answer.readings[at].reading, one.name)))))));
}

/** The table as rows of text. @param {any} all @param {number[]} chosen */
export function answersRows(all, chosen) {
  const shown = columns(all, chosen);
  const text = (/** @type {any} */ one) => (one.value === null ? '' : String(Number(one.value.toPrecision(8))));
  const first = shown[0].answer;
  return [['', 'unit', ...shown.map((one) => one.words)],
    ...all.aims.map((/** @type {string} */ name, /** @type {number} */ at) => [name, first.aims[at].unit, ...shown.map((one) => text(one.answer.aims[at]))]),
    ...first.lines.map((/** @type {any} */ line, /** @type {number} */ at) => [line.material, '% w/w', ...shown.map((one) => text(one.answer.lines[at].percent))]),
    ...first.wishes.map((/** @type {any} */ wish, /** @type {number} */ at) => [wish.wish, wish.reading.unit, ...shown.map((one) => text(one.answer.wishes[at].reading))]),
    ...first.readings.map((/** @type {any} */ one, /** @type {number} */ at) => [one.name, one.reading.unit, ...shown.map((column) => text(column.answer.readings[at].reading))])];
}

/** @param {string} title @param {any[]} findings @param {string} none */
function findings(title, findings, none) {
  return h('div', { class: 'came-and-went' }, h('h3', {}, title), ...(findings.length ? findings.map((one) => h('p', { class: 'brief' }, h('span', { class: `gravity gravity-${one.gravity}` }, mark(one.gravity, 'shape'), one.gravity), ` ${prose(one.found)}`)) : [h('p', { class: 'aside' }, none)]));
}

/** What comes and goes with one answer. @param {any} answer @param {string} of */
export function findingsOf(answer, of) {
  return h('div', { class: 'both-findings' }, findings(`Findings that go${of}`, answer.lost, 'None goes.'), findings(`Findings that come${of}`, answer.gained, 'None comes.'));
}

/** One aim: the answers, what binds, what must be known. @param {any} found @param {(place: number) => void} take */
export function answersOf(found, take) {
  const { reading: all } = found;
  const chosen = all.answers.map((/** @type {any} */ _, /** @type {number} */ place) => place);
  const best = all.answers[0];
  return h('section', { class: 'better-found', 'aria-labelledby': 'found-name' },
    h('h2', { id: 'found-name', tabIndex: -1 }, all.conflict ? 'Not all of it can be had' : 'What was found'),
    all.conflict ? h('p', { class: 'lead-word' }, prose(all.conflict.words)) : null,
    all.conflict && best ? h('p', {}, 'Below stands the formula that is nearest to all wishes.') : null,
    ...all.answers.slice(1).map((/** @type {any} */ one, /** @type {number} */ at) => h('p', {}, h('b', {}, `Another, ${at + 2}: `), one.words)),
    best ? answersTable(found, chosen, take) : null,
    best ? h('div', { class: 'verbs' }, csvVerb('The table as CSV', fileName(all.product, 'better.csv'), () => answersRows(all, chosen))) : null,
    best ? findingsOf(best, all.answers.length > 1 ? ' with the best' : '') : null,
    all.conflict ? null : h('div', { class: 'binds' }, h('h3', {}, 'What holds it back'), ...(all.binds.length ? [h('p', { class: 'hint' }, 'Each limit was moved and the answer sought again.'), h('ul', {}, ...all.binds.map((/** @type {any} */ one) => h('li', {}, `${prose(one.words)}.`)))] : [h('p', { class: 'aside' }, 'No limit near the answer holds the aim back.')])),
    mind(all));
}

/** @param {any} all */
export function mind(all) {
  return h('div', { class: 'mind' }, h('h3', {}, 'Mind'), h('p', { class: 'aside' }, `${all.read.value} formulas were solved. A wish speaks of the value; where its interval reaches beyond the limit, that is said.`), ...all.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(note.text))));
}
