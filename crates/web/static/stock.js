// @ts-check
/** The lots on the shelf: found by typing, looked at by what may be done with them, the one to take first marked. */

import { byId, h, mark, pageData, prose, say } from './dom.js';
import { listen } from './derivation.js';
import { STATUS, grams, standing, until } from './stock_words.js';

/** @type {any[]} */
const lots = pageData();
const input = /** @type {HTMLInputElement} */ (byId('words'));
const here = new URL(location.href);

/** What may be looked at: key, words, which lots. @type {Array<[string, string, (lot: any) => boolean]>} */
const STATES = [
  ['shelf', 'All but those used up', (lot) => lot.status !== 'used_up'],
  ['usable', 'May be taken', (lot) => lot.usable],
  ['quarantine', 'Wait for a decision', (lot) => lot.status === 'quarantine' || !lot.status],
  ['rejected', 'Rejected', (lot) => lot.status === 'rejected'],
  ['heed', 'Something speaks against them', (lot) => !lot.usable && lot.status !== 'used_up'],
  ['used_up', 'Used up', (lot) => lot.status === 'used_up'],
];

const plain = (/** @type {string} */ text) => text.normalize('NFKD').replace(/\p{M}/gu, '').toLowerCase();
const said = new Map(lots.map((lot) => [lot.id, plain([lot.material_name, lot.material, lot.code, lot.supplier, lot.location, lot.note].filter(Boolean).join(' '))]));

const states = /** @type {HTMLElement} */ (document.querySelector('.states'));
for (const [key, words, of] of STATES) {
  states.append(h('label', { class: 'state-choice' }, h('input', { type: 'radio', name: 'state', value: key, checked: key === (here.searchParams.get('state') ?? 'shelf') }), words, h('span', { class: 'aside' }, ` ${lots.filter(of).length}`)));
}
if (!states.querySelector('input:checked')) /** @type {HTMLInputElement} */ (states.querySelector('input')).checked = true;
const state = () => /** @type {HTMLInputElement} */ (states.querySelector('input:checked')).value;

/** @param {any} lot @param {number} many how many lots of the raw material are shown; none where the row of another names it */
function row(lot, many) {
  const named = (/** @type {string} */ name, /** @type {any[]} */ ...parts) => h('td', {}, h('span', { class: 'cell-name' }, `${name} `), ...parts);
  return h('tr', { id: `lot-${lot.id}` },
    many ? h('th', { scope: 'rowgroup', rowSpan: many, class: 'of-material' }, h('a', { href: `/materials/${lot.material}` }, lot.material_name)) : null,
    h('td', {}, h('a', { class: 'lot-code', href: `/lots/${lot.id}` }, lot.code), lot.supplier ? h('span', { class: 'small' }, lot.supplier) : null,
      lot.first ? h('span', { class: 'use-first' }, mark('lot-first', 'shape'), 'use this one first') : null),
    h('td', {}, standing(lot.status), ...lot.against.filter((/** @type {string} */ text) => text !== `It is ${STATUS[lot.status]?.words}.`).map((/** @type {string} */ text) => h('span', { class: 'heed' }, prose(text)))),
    h('td', { class: 'figure' }, h('span', { class: 'cell-name' }, 'Left '), lot.left.value === null ? h('span', { class: 'aside' }, 'not on file') : grams(lot.left, `Left of lot ${lot.code}`)),
    h('td', {}, until(lot), ...[['expires', lot.expiry], ['test again', lot.retest]].filter(([, day]) => day).map(([word, day]) => h('span', { class: 'small' }, `${word} ${day}`))),
    named('Stands', lot.location ? lot.location : h('span', { class: 'aside' }, 'not noted')));
}

function draw() {
  const words = plain(input.value).split(/\s+/).filter(Boolean);
  const of = STATES.find(([key]) => key === state())?.[2] ?? (() => true);
  const shown = lots.filter((lot) => of(lot) && words.every((word) => said.get(lot.id)?.includes(word)));
  /** @type {Map<string, any[]>} */
  const groups = new Map();
  for (const lot of shown) groups.set(lot.material, [...(groups.get(lot.material) ?? []), lot]);
  const heads = ['Raw material', 'Lot', 'State', 'Left', 'Until', 'Stands'];
  byId('lots').replaceChildren(shown.length ? h('table', { class: 'calm stack stock-table' }, h('thead', {}, h('tr', {}, ...heads.map((head) => h('th', { scope: 'col', class: head === 'Left' ? 'figure' : '' }, head)))),
    ...[...groups.values()].map((group) => h('tbody', {}, ...group.map((lot, at) => row(lot, at ? 0 : group.length))))) : nothing());
  const searched = input.value.trim();
  say(byId('count'), `${shown.length} ${shown.length === 1 ? 'lot' : 'lots'} of ${groups.size} ${groups.size === 1 ? 'raw material' : 'raw materials'}${searched ? `, found for “${searched}”` : ''}`);
  const asked = new URLSearchParams();
  if (searched) asked.set('words', searched);
  if (state() !== 'shelf') asked.set('state', state());
  history.replaceState(null, '', `/lots${asked.size ? `?${asked}` : ''}`);
}

function nothing() {
  if (lots.length) return h('p', { class: 'aside' }, 'No lot is like that. Type less, or look at another state.');
  return h('div', { class: 'empty' }, h('h2', {}, 'No lot on file yet'), h('p', {}, 'A lot is one delivery of a raw material: its code on the drum, what its certificate says, how much came, until when it keeps. Open a raw material and add a lot there, or bring in a sheet of your stock.'));
}

/** What should be looked at first. */
function firstThing() {
  const gone = lots.filter((lot) => lot.status !== 'used_up' && lot.until.startsWith('expired'));
  const wait = lots.filter((lot) => lot.status === 'quarantine' || !lot.status);
  const codes = (/** @type {any[]} */ some) => `${some.slice(0, 3).map((lot) => lot.code).join(', ')}${some.length > 3 ? ` and ${some.length - 3} more` : ''}`;
  if (gone.length) return `Expired and not decided about: ${codes(gone)}.`;
  if (wait.length) return `${wait.length === 1 ? 'One lot waits' : `${wait.length} lots wait`} for a decision: ${codes(wait)}.`;
  const next = lots.filter((lot) => lot.usable && (lot.expiry || lot.retest)).sort((a, b) => String(a.expiry ?? a.retest).localeCompare(String(b.expiry ?? b.retest)))[0];
  return next ? `Nothing waits. Next to come to its day: ${next.code} of ${next.material_name}, ${next.until}.` : 'What stands on the shelf, and which lot to take first.';
}

/** Arrows go from the field into the list and through it; Escape comes back. @param {KeyboardEvent} event */
function walk(event) {
  const links = [...document.querySelectorAll('#lots a.lot-code')];
  const at = links.indexOf(/** @type {Element} */ (document.activeElement));
  const inField = document.activeElement === input;
  if (event.key === 'ArrowDown' && (inField || at >= 0)) {
    event.preventDefault();
    /** @type {HTMLElement} */ (links[Math.min(at + 1, links.length - 1)])?.focus();
  } else if (event.key === 'ArrowUp' && at >= 0) {
    event.preventDefault();
    (at ? /** @type {HTMLElement} */ (links[at - 1]) : input).focus();
  } else if (event.key === 'Escape' && at >= 0 && byId('derivation').hidden) {
    input.focus();
    input.select();
  } else if (event.key === 'Enter' && inField) {
    event.preventDefault();
    if (links.length === 1) /** @type {HTMLElement} */ (links[0]).click();
    else /** @type {HTMLElement|undefined} */ (links[0])?.focus();
  }
}

listen();
input.value = here.searchParams.get('words') ?? '';
say(byId('first'), firstThing());
input.addEventListener('input', draw);
states.addEventListener('change', draw);
document.addEventListener('keydown', walk);
byId('seek').addEventListener('submit', (event) => event.preventDefault());
draw();
if (!input.value) input.focus({ preventScroll: true });
