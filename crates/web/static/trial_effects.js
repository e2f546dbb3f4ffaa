// @ts-check
/** What lies between two trials: everything that differs, and what that did to each reading beside what was read. */

import { h } from './dom.js';
import { decimalsKnown, fixed, unitOf } from './figures.js';
import { number } from './number.js';
import { rowsOf, takeRows } from './take_table.js';

/** @typedef {import('./figures.js').Outcome} Outcome */

/** The ends of an interval behind its number. @param {Outcome} outcome */
export function bounds(outcome) {
  if (typeof outcome.low !== 'number' || typeof outcome.high !== 'number') return '';
  const decimals = Math.abs(outcome.high) >= 100 ? 0 : Math.max(1, decimalsKnown(outcome));
  // Of thousands only three figures are ever known.
  const known = (/** @type {number} */ end) => (Math.abs(end) >= 1000 ? Number(end.toPrecision(3)) : end);
  return ` (${fixed(known(outcome.low), decimals)} to ${fixed(known(outcome.high), decimals)}${outcome.unit ? ` ${unitOf(outcome.unit)}` : ''})`;
}

const title = (/** @type {string} */ name) => (/^.[A-Z]/.test(name) ? name : name.charAt(0).toUpperCase() + name.slice(1));

/** A change: with its sign, or as a factor. @param {Outcome|undefined} outcome @param {string} name @param {any} told @param {any} [more] */
function change(outcome, name, told, more = {}) {
  if (!outcome) return h('td', { class: 'figure', ...more }, h('span', { class: 'aside' }, '–'));
  const sign = told.scale === 'factor' ? '× ' : (outcome.value ?? 0) > 0 ? '+' : '';
  return h('td', { class: 'figure', ...more }, sign, number(outcome, `${name}: ${told.scale === 'factor' ? 'factor on' : 'change of'} the ${told.name}`, { most: 3, least: 2 }), h('span', { class: 'aside bounds' }, bounds(outcome)));
}

/** Two pairs of trials may stand on one page. @param {any} told @param {any} of */
const anchor = (told, of) => `effects-${told.left}-${told.right}-${of.key}`;

/** Whether a difference does anything to a reading, or may. @param {any} told @param {Outcome} effect */
function moves(told, effect) {
  const nothing = told.scale === 'factor' ? 1 : 0;
  return [effect.value, effect.low, effect.high].some((end) => typeof end === 'number' && Math.abs(end - nothing) > 5e-5);
}

/** How what was read stands to what is explained. @param {any} told */
function stands(told) {
  if (told.refused) return 'not told';
  const rest = told.unexplained;
  if (!rest) return 'not read';
  const nothing = told.scale === 'factor' ? 1 : 0;
  if (rest.low > nothing) return '▲ more than explained';
  if (rest.high < nothing) return '▼ less than explained';
  return '● agrees';
}

/** @param {any} told what the server told of two trials */
function differs(told) {
  return h('table', { class: 'calm differs' }, h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Found to differ'), h('th', { scope: 'col' }, `trial ${told.left}`), h('th', { scope: 'col' }, `trial ${told.right}`))),
    h('tbody', {}, ...told.differs.map((/** @type {any} */ one) => h('tr', {}, h('th', { scope: 'row' }, one.what), h('td', {}, one.was || '–'), h('td', {}, one.now || '–')))));
}

/** @param {any} told */
function overview(told) {
  const heads = ['Reading', `trial ${told.left}, expected`, `trial ${told.right}, expected`, 'explained', 'read', 'unexplained', ''];
  const one = (/** @type {any} */ of) => {
    if (of.refused) return h('tr', {}, h('th', { scope: 'row' }, title(of.name)), h('td', { colSpan: 6 }, `Nothing can be told: ${of.refused}.`));
    return h('tr', {}, h('th', { scope: 'row' }, h('a', { href: `#${anchor(told, of)}` }, title(of.name))),
      ...of.predicted.map((/** @type {Outcome} */ expected, /** @type {number} */ at) => h('td', { class: 'figure' }, number(expected, `${of.name}, expected of trial ${at ? told.right : told.left}`, { most: 4 }))),
      change(of.explained, 'explained', of), change(of.measured, 'read', of), change(of.unexplained, 'unexplained', of), h('td', { class: 'stands' }, stands(of)));
  };
  return h('table', { class: 'calm overview' }, h('thead', {}, h('tr', {}, ...heads.map((head, at) => h('th', { scope: 'col', class: at > 0 && at < 6 ? 'figure' : '' }, head)))), h('tbody', {}, ...told.attributes.map(one)));
}

/** One reading: what each difference did to it. @param {any} of @param {any} told @param {boolean} open */
function attribute(of, told, open) {
  if (of.refused) return null;
  const [moving, still] = [of.differences.filter((/** @type {any} */ one) => moves(of, one.effect)), of.differences.filter((/** @type {any} */ one) => !moves(of, one.effect))];
  const row = (/** @type {string} */ name, /** @type {any} */ outcome) => (outcome ? h('tr', {}, h('th', { scope: 'row', colSpan: 3 }, name), change(outcome, name, of)) : null);
  const read = of.readings.some(Boolean) ? h('p', { class: 'aside' }, `Read: ${of.readings[0] ?? 'nothing'} on trial ${told.left}, ${of.readings[1] ?? 'nothing'} on trial ${told.right}.`) : null;
  return h('details', { class: 'effects-of', id: anchor(told, of), open },
    h('summary', {}, h('b', {}, title(of.name)), h('span', { class: 'aside' }, of.conditions)),
    h('p', { class: 'found' }, of.say), read,
    moving.length ? h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Differs'), h('th', { scope: 'col' }, `trial ${told.left}`), h('th', { scope: 'col' }, `trial ${told.right}`), h('th', { class: 'figure', scope: 'col' }, of.scale === 'factor' ? `Factor on the ${of.name}` : `Change of the ${of.name}`))),
      h('tbody', {}, ...moving.map((/** @type {any} */ one) => h('tr', {}, h('td', {}, one.what), h('td', {}, one.was || '–'), h('td', {}, one.now || '–'), change(one.effect, one.what, of)))),
      h('tfoot', {}, row('Explained together', of.explained), row('Read', of.measured), row('Unexplained', of.unexplained))) : null,
    still.length ? h('p', { class: 'aside' }, `Did nothing to it: ${still.map((/** @type {any} */ one) => one.what).join('; ')}.`) : null,
    ...(of.measured ? of.not_computed : []).map((/** @type {any} */ one) => h('p', {}, h('b', {}, one.what), `: ${one.was || 'nothing written'}, then ${one.now || 'nothing written'}. Not computed: ${one.why}.`)),
    of.next ? h('p', { class: 'found' }, h('b', {}, 'The next trial. '), of.next) : null);
}

/** @param {any} told @returns {HTMLElement[]} */
export function effectsTold(told) {
  const same = h('p', { class: 'found' }, 'Nothing is found to differ: lines, lots, weights and making are the same.');
  if (told.refused) return [told.differs.length ? differs(told) : same, h('p', { class: 'found' }, `What the differences did cannot be told: ${told.refused}.`)];
  // What was read on both is what a person came for; the pH stands first in any case.
  const open = (/** @type {any} */ of) => of.key === 'ph' || Boolean(of.measured);
  return [told.differs.length ? differs(told) : same, h('div', { class: 'wide-table' }, overview(told)), ...told.attributes.map((/** @type {any} */ of) => attribute(of, told, open(of))).filter(Boolean)];
}

/** Fills a section of a page with two trials and ways to take it along. @param {HTMLElement} place @param {any} told @param {string} formula @param {string} heading */
export function setBetween(place, told, formula, heading = 'h2') {
  const parts = effectsTold(told);
  const take = () => {
    const tables = /** @type {HTMLTableElement[]} */ ([...place.querySelectorAll('table')]);
    takeRows(tables.flatMap((table, at) => [...(at ? [['']] : []), ...rowsOf(table)]), `trial-${told.left}-to-${told.right}`);
  };
  place.replaceChildren(
    h('div', { class: 'between-head' }, h(heading, {}, `From trial ${told.left} to trial ${told.right}`),
      h('div', { class: 'verbs' }, h('button', { class: 'verb plain', type: 'button', onclick: take }, 'CSV'), h('a', { class: 'verb plain', href: `/formulas/${formula}/trials/difference.xlsx?left=${told.left}&right=${told.right}` }, 'XLSX'), h('a', { class: 'verb plain', href: `/formulas/${formula}/trials/difference.pdf?left=${told.left}&right=${told.right}` }, 'PDF'))),
    ...parts);
  for (const link of place.querySelectorAll('.overview a')) {
    link.addEventListener('click', () => {
      const goal = /** @type {HTMLDetailsElement|null} */ (document.getElementById((link.getAttribute('href') ?? '').slice(1)));
      if (goal) goal.open = true;
    });
  }
}
