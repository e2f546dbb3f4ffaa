// @ts-check
/** Two versions side by side: the lines, what follows from them, and which notes came and went. */

import { byId, h, pageData, prose } from './dom.js';
import { isOutcome } from './figures.js';
import { listen } from './derivation.js';
import { findingNote } from './margin.js';
import { number } from './number.js';
import { when } from './saving.js';

const { id, difference: d, versions } = pageData();
listen();

/** @param {any} version */
const headOf = (version) => h('th', { scope: 'col' }, h('a', { href: `/formulas/${id}?version=${version.version}` }, `Version ${version.version}`), h('div', {}, version.reason), h('div', { class: 'aside' }, when(version.saved)));
/** @param {any} value @param {string} label @param {string} [exact] */
const figure = (value, label, exact = '') => (isOutcome(value) ? number(value, label, { most: 4, exact: Number(exact) === value.value ? exact : null }) : '');
/** The digits of an amount as typed. @param {string} text */
const typed = (text) => /^([\d.]+) %$/.exec(text)?.[1] ?? '';
const same = d.lines.filter((/** @type {any} */ line) => line.change === 'same').length;

const select = (/** @type {number} */ chosen, /** @type {string} */ name) => h('select', { name, 'aria-label': name === 'left' ? 'Older version' : 'Newer version', onchange: (/** @type {Event} */ event) => /** @type {HTMLSelectElement} */ (event.target).form?.requestSubmit() }, ...versions.map((/** @type {any} */ one) => h('option', { value: one.version, selected: one.version === chosen }, `version ${one.version}`)));

byId('difference').append(
  h('form', { class: 'verbs compare', action: `/formulas/${id}/difference` }, 'Compare ', select(d.left.version, 'left'), ' with ', select(d.right.version, 'right')),
  h('section', { class: 'part' }, h('h2', {}, 'Lines'),
    h('table', { class: 'calm versus' }, h('thead', {}, h('tr', {}, h('th', {}, 'Raw material'), headOf(d.left), h('th', { class: 'figure' }, '% w/w'), headOf(d.right), h('th', { class: 'figure' }, '% w/w'), h('th', {}, ''))),
      h('tbody', {}, ...d.lines.map((/** @type {any} */ line) => h('tr', { class: line.change }, h('td', {}, h('span', { class: 'aside' }, line.phase ? `${line.phase} ` : ''), line.material), h('td', {}, line.left), h('td', { class: 'figure' }, figure(line.left_percent, line.material, typed(line.left))), h('td', { class: line.left !== line.right ? 'moved-cell' : '' }, line.right), h('td', { class: 'figure' }, figure(line.right_percent, line.material, typed(line.right))), h('td', {}, line.change === 'same' ? '' : line.change))))),
    h('p', { class: 'aside' }, `${same} of ${d.lines.length} lines are the same.`)),
  ...(d.steps.length ? [procedures()] : []),
  h('section', { class: 'part' }, h('h2', {}, 'What follows'),
    h('table', { class: 'calm versus' }, h('thead', {}, h('tr', {}, h('th', {}, 'Reading'), h('th', { class: 'figure' }, `Version ${d.left.version}`), h('th', { class: 'figure' }, `Version ${d.right.version}`))),
      h('tbody', {}, ...d.consequences.map((/** @type {any} */ one) => h('tr', {}, h('td', {}, one.name), h('td', { class: 'figure' }, figure(one.left, one.name)), h('td', { class: 'figure' }, figure(one.right, one.name))))))),
  notes(`New in version ${d.right.version}`, d.findings_new), notes(`Gone since version ${d.left.version}`, d.findings_gone));

/** @param {string} title @param {any[]} findings */
function notes(title, findings) {
  return h('section', { class: 'part' }, h('h2', {}, title), ...(findings.length ? findings.map((finding) => findingNote({ ...finding, concerns: finding.concerns ?? {} }, (index) => String(index + 1))) : [h('p', { class: 'aside' }, 'No notes.')]));
}

/** How it is made: only what is not the same, with the numbers of both. */
function procedures() {
  const changed = d.steps.filter((/** @type {any} */ step) => step.change !== 'same');
  const cell = (/** @type {number|null} */ number, /** @type {string} */ words, /** @type {string} */ mark) => h('td', { class: mark }, number === null ? '' : h('b', {}, `${number}. `), prose(words));
  return h('section', { class: 'part', id: 'steps' }, h('h2', {}, 'How it is made'),
    changed.length ? h('table', { class: 'calm versus' }, h('thead', {}, h('tr', {}, headOf(d.left), headOf(d.right), h('th', {}, ''))),
      h('tbody', {}, ...changed.map((/** @type {any} */ step) => h('tr', { class: step.change }, cell(step.left_number, step.left, ''), cell(step.right_number, step.right, step.left !== step.right ? 'moved-cell' : ''), h('td', {}, step.change))))) : null,
    h('p', { class: 'aside' }, `${d.steps.length - changed.length} of ${d.steps.length} steps are the same.`));
}
