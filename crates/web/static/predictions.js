// @ts-check
/** How well trials were foretold: attribute by attribute a figure, its table and what it comes to; below it what trials taught. */

import { byId, h, pageData, prose } from './dom.js';
import { listen } from './derivation.js';
import { plain } from './figures.js';
import { number } from './number.js';
import { PlateView } from './plate.js';
import { day } from './trial_view.js';

const told = pageData();
listen();

const many = !told.formula_id;

/** @param {any} entry */
const trialOf = (entry) => h('a', { href: `/formulas/${entry.formula_id}/trials#trial-${entry.trial}` }, many ? `${entry.formula}, trial ${entry.trial}` : `Trial ${entry.trial}`);

/** The ends of a band. @param {any} outcome */
const ends = (outcome) => `${plain(outcome.low, outcome)} to ${plain(outcome.high, outcome)}`.replaceAll('-', '−');

/** A number with its band. @param {any} outcome @param {string} label @param {{most?: number, least?: number}} [how] */
const banded = (outcome, label, how = {}) => (outcome ? [number(outcome, label, how), outcome.low !== null && outcome.high !== null ? h('span', { class: 'aside bounds' }, ` ${ends(outcome)}`) : null] : [h('span', { class: 'aside' }, '–')]);

/** @param {any} entry */
function inBand(entry) {
  if (entry.inside === null) return h('span', { class: 'aside' }, 'no band');
  return h('span', {}, h('span', { 'aria-hidden': 'true' }, entry.inside ? '○ ' : '■ '), entry.inside ? 'inside' : 'outside');
}

/** @param {any} outcome @param {string} label @param {any} how */
const signed = (outcome, label, how) => (outcome ? [outcome.value > 0 ? '+' : '', number(outcome, label, how)] : ['']);

/** The table of an attribute. @param {any} attribute */
function table(attribute) {
  const ph = attribute.name === 'pH';
  const how = ph ? { least: 2, most: 2 } : {};
  const untaught = attribute.entries.some((/** @type {any} */ entry) => entry.untaught) && !told.untaught;
  const heads = [['Trial', ''], ['Read as', ''], ['Foretold', 'figure'], ...(untaught ? [['Nothing learned', 'figure']] : []), ['Read', 'figure'], ['Error', 'figure'], ['In its band', '']];
  const row = (/** @type {any} */ entry) => h('tr', {},
    h('th', { scope: 'row' }, trialOf(entry), h('span', { class: 'small' }, day(entry.made))),
    h('td', {}, entry.how),
    h('td', { class: 'figure' }, ...banded(entry.foretold, `${attribute.name} foretold, trial ${entry.trial}`, how)),
    untaught ? h('td', { class: 'figure' }, ...banded(entry.untaught, `${attribute.name}, nothing learned, trial ${entry.trial}`, how)) : null,
    h('td', { class: 'figure' }, entry.read ? number(entry.read, `${attribute.name} read, trial ${entry.trial}`, how) : '–'),
    h('td', { class: 'figure' }, ...signed(entry.error, `${attribute.name}, read less foretold, trial ${entry.trial}`, how)),
    h('td', {}, entry.error ? inBand(entry) : h('span', { class: 'aside' }, 'not compared'), entry.words ? h('span', { class: 'small' }, prose(entry.words)) : null));
  return h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': `${attribute.name}, reading by reading` }, h('table', { class: 'calm foretold-table' },
    h('caption', { class: 'visually-hidden' }, `${attribute.name}: each reading beside what was foretold`),
    h('thead', {}, h('tr', {}, ...heads.map(([head, kind]) => h('th', { scope: 'col', class: kind }, head)))),
    h('tbody', {}, ...attribute.entries.map(row))));
}

/** @param {any} attribute @param {number} at */
function section(attribute, at) {
  const plate = told.plates[at];
  let figure = null;
  if (plate) {
    const view = new PlateView();
    view.update(plate, null);
    figure = view.element;
  }
  const pairs = [['Mean error', attribute.mean_error], ['The same, nothing learned', attribute.mean_error_untaught], ['In their bands', attribute.inside]].filter(([, outcome]) => outcome);
  return h('section', { class: 'foretold', 'aria-labelledby': `attribute-${at}` },
    h('h2', { id: `attribute-${at}` }, attribute.name),
    h('p', { class: 'aside' }, `Foretold by ${attribute.by}.`),
    h('p', { class: 'lead-word' }, prose(attribute.say)),
    pairs.length ? h('dl', { class: 'pairs error-pairs' }, ...pairs.map(([name, outcome]) => h('div', {}, h('dt', {}, name), h('dd', {}, number(outcome, `${attribute.name}: ${String(name).toLowerCase()}`, outcome === attribute.inside ? { exact: String(Math.round(outcome.value)) } : {}), outcome.low === null ? null : h('span', { class: 'aside bounds' }, ` ${ends(outcome)}`))))) : null,
    figure, table(attribute));
}

/** What the next making of a formula is expected to read. @param {any} next */
function ahead(next) {
  const row = (/** @type {string} */ name, /** @type {any} */ taught, /** @type {any} */ untaught, /** @type {any} */ how) => h('tr', {}, h('th', { scope: 'row' }, name), h('td', { class: 'figure' }, ...banded(taught, `${name}, with what trials taught`, how)), h('td', { class: 'figure' }, ...banded(untaught, `${name}, from the papers alone`, how)));
  return h('section', { class: 'foretold', 'aria-labelledby': 'ahead' }, h('h2', { id: 'ahead' }, 'The newest version'),
    h('p', { class: 'aside' }, `Learned from ${next.from}; as a reading would show it, neat at 25 °C.`),
    h('table', { class: 'calm ahead-table' }, h('thead', {}, h('tr', {}, h('td', {}), h('th', { scope: 'col', class: 'figure' }, 'With what trials taught'), h('th', { scope: 'col', class: 'figure' }, 'From the papers alone'))),
      h('tbody', {}, row('pH', next.taught, next.untaught, { least: 2, most: 2 }), ...next.amounts.map((/** @type {any} */ one) => row(`${one.name}, to its pH`, one.taught, one.untaught, {})))));
}

/** What trials taught about hidden numbers. */
function taught() {
  const { ph_numbers: numbers, flow_numbers: flow } = told;
  if (!numbers.length && !flow.length) return null;
  const rows = [
    ...numbers.map((/** @type {any} */ one) => [`${one.of}${one.lot ? `, lot ${one.lot}` : ''}${one.what ? `: ${one.what}` : ''}`, one.before, one.after, one.words]),
    ...flow.map((/** @type {any} */ one) => [`${one.of}: ${one.number}`, one.before, one.after, `From ${one.from.join(', ')}.`]),
  ];
  return h('section', { class: 'foretold', 'aria-labelledby': 'taught' }, h('h2', { id: 'taught' }, 'What trials taught'),
    h('p', { class: 'aside' }, 'Told anew from the readings each time, never kept: a reading struck out disappears from it. Numbers of the pH are differences from what the papers say.'),
    h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': 'What trials taught, number by number' }, h('table', { class: 'calm taught-table' },
      h('thead', {}, h('tr', {}, ...[['Number', ''], ['Before', 'figure'], ['Now', 'figure'], ['In words', '']].map(([head, kind]) => h('th', { scope: 'col', class: kind }, head)))),
      h('tbody', {}, ...rows.map(([name, before, after, words]) => h('tr', {}, h('th', { scope: 'row' }, name), h('td', { class: 'figure' }, ...banded(before, `${name}, before`)), h('td', { class: 'figure' }, ...banded(after, `${name}, now`)), h('td', {}, prose(words))))))));
}

const here = new URL(location.href);
const other = told.untaught ? here.pathname : `${here.pathname}?without`;
const aside = h('p', { class: 'set-aside' }, h('a', { class: 'verb', href: other, id: 'set-aside' }, told.untaught ? 'With what trials taught' : 'Without what trials taught'));
const empty = !told.attributes.length;
byId('predictions').replaceChildren(...[
  h('p', { class: 'found-first', id: 'say' }, prose(told.say)),
  empty ? h('p', {}, many ? h('a', { class: 'verb main-verb', href: '/formulas' }, 'Choose a formula and begin a trial') : h('a', { class: 'verb main-verb', href: `/formulas/${told.formula_id}/trials` }, 'Begin a trial')) : aside,
  ...told.attributes.map(section), told.next_ph ? ahead(told.next_ph) : null, taught(),
].filter((part) => part !== null));
