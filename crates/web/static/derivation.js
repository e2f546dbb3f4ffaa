// @ts-check
/** The panel that says how a number came about. */

import { byId, h, mark, prose } from './dom.js';
import { interval, plain, shown, unitOf } from './figures.js';
import { GRADES, behind } from './number.js';

/** @typedef {import('./figures.js').Outcome} Outcome */

/** @type {Record<string, string>} */
const GRADE_MEANS = {
  measured: 'read from an instrument, or typed by a person',
  calibrated: 'from a model fitted to this laboratory’s own measurements',
  computed: 'solved from constants and laws',
  correlated: 'from a published correlation',
  'rule-of-thumb': 'trade habit, or an estimate from few facts',
};

/** @type {Record<string, string>} */
let citations = {};
/** @type {((line: number) => void)} */
let goToLine = () => {};
/** @type {HTMLElement|null} */
let opener = null;

/**
 * @param {{citations?: Record<string, string>, goToLine?: (line: number) => void}} known
 */
export function know(known) {
  if (known.citations) citations = known.citations;
  if (known.goToLine) goToLine = known.goToLine;
}

/** Starts listening: any number anywhere opens. */
export function listen() {
  document.addEventListener('click', (event) => {
    const target = /** @type {Element} */ (event.target);
    const button = target.closest?.('button.num');
    if (button instanceof HTMLElement) {
      const found = behind.get(button);
      if (!found) return;
      if (opener === button) shut();
      else open(button, numberBody(found.label, found.outcome));
    } else if (opener && !target.closest?.('.derivation')) {
      shut(false);
    }
  });
  document.addEventListener('keydown', (event) => {
    if (event.key === 'Escape' && opener) {
      event.preventDefault();
      event.stopPropagation();
      shut();
    }
  }, true);
}

/** @param {boolean} [back] whether focus returns to the number */
export function shut(back = true) {
  const panel = byId('derivation');
  panel.hidden = true;
  opener?.setAttribute('aria-expanded', 'false');
  if (back) opener?.focus();
  opener = null;
}

/**
 * @param {HTMLElement} button
 * @param {Node[]} body
 */
export function open(button, body) {
  opener?.setAttribute('aria-expanded', 'false');
  opener = button;
  button.setAttribute('aria-expanded', 'true');
  const panel = byId('derivation');
  panel.replaceChildren(...body);
  panel.hidden = false;
  panel.tabIndex = -1;
  place(panel, button);
  panel.scrollTop = 0;
  panel.focus({ preventScroll: true });
}

/**
 * Beside the number: to its right when there is room, else to its left, never outside the window.
 * @param {HTMLElement} panel
 * @param {HTMLElement} button
 */
function place(panel, button) {
  const at = button.getBoundingClientRect();
  const size = panel.getBoundingClientRect();
  const wide = document.documentElement.clientWidth;
  const tall = window.innerHeight;
  let left = at.right + 14;
  if (left + size.width > wide - 12) left = at.left - size.width - 14;
  if (left < 12) left = Math.max(12, Math.min(at.left, wide - size.width - 12));
  const top = Math.max(12, Math.min(at.top - 24, tall - size.height - 16));
  panel.style.left = `${left + window.scrollX}px`;
  panel.style.top = `${top + window.scrollY}px`;
}

/**
 * @param {string} title
 * @returns {HTMLElement}
 */
function head(title) {
  return h('header', {}, h('h2', {}, title), h('button', { class: 'verb plain shut', type: 'button', onclick: () => shut() }, 'Close'));
}

/**
 * @param {string} label
 * @param {Outcome} outcome
 * @returns {Node[]}
 */
export function numberBody(label, outcome) {
  const text = shown(outcome, { most: 4 });
  /** @type {Node[]} */
  const body = [head(label)];
  if (outcome.value === null) body.push(h('p', {}, h('b', {}, 'No number. '), outcome.refused ?? 'It is not known.'));
  else body.push(h('p', { class: 'said' }, text.text, ' ', h('span', { class: 'unit' }, text.unit)));
  const where = interval(outcome);
  if (where) body.push(h('p', {}, `${where.charAt(0).toUpperCase()}${where.slice(1)}.`));
  body.push(h('p', { class: 'grade-line' }, mark(outcome.grade, 'grade'), h('span', {}, h('b', {}, GRADES[outcome.grade] ?? outcome.grade), ` ${GRADE_MEANS[outcome.grade] ?? ''}`)));
  body.push(h('p', {}, sentence(outcome.method)));
  if (outcome.equation) body.push(h('p', { class: 'equation' }, printed(outcome.equation)));
  if (outcome.inputs?.length) {
    body.push(h('h3', {}, 'What went in'), h('table', {}, ...outcome.inputs.map(inputRow)));
  }
  if (outcome.terms?.length) {
    body.push(h('h3', {}, 'What it is made of'), h('table', {}, ...outcome.terms.map((term) => row(term.name, `${plain(Number(term.value.toPrecision(2)))} ${unitOf(term.unit)}`))));
  }
  if (outcome.notes?.length) body.push(h('h3', {}, 'To know'), h('ul', {}, ...outcome.notes.map((note) => h('li', {}, note.text))));
  body.push(h('h3', {}, 'How far it holds'));
  body.push(h('p', {}, outcome.range ? sentence(outcome.range) : 'No range is stated.'));
  body.push(outcome.proof ? h('p', {}, 'Proved by: ', sentence(outcome.proof)) : h('p', {}, h('span', { class: 'unverified' }, 'Unverified'), ': no published or independent case proves this method here.'));
  body.push(...sourceList(outcome.sources ?? []));
  return body;
}

/** @param {any} finding @returns {Node[]} */
export function findingBody(finding) {
  /** @type {Node[]} */
  const body = [head('Why this note')];
  body.push(h('p', {}, h('b', {}, prose(finding.found))), h('p', {}, prose(finding.change)));
  body.push(h('h3', {}, 'Rule or model'), h('p', {}, sentence(finding.rule)));
  if (finding.numbers?.length) body.push(h('h3', {}, 'The numbers'), h('table', {}, ...finding.numbers.map(inputRow)));
  body.push(...sourceList(finding.sources ?? []));
  body.push(h('p', { class: 'aside' }, `Code ${finding.code}`));
  return body;
}

/** @param {{name: string, value?: number, unit: string, source?: string, text?: string}} input */
function inputRow(input) {
  const value = typeof input.value === 'number' ? `${plain(input.value)} ${unitOf(input.unit)}`.trim() : input.text ?? '';
  const line = /^line (\d+)/.exec(input.source ?? '');
  /** @type {Node|string} */
  let from = '';
  if (line) {
    from = h('button', { class: 'text-link', type: 'button', onclick: () => { shut(false); goToLine(Number(line[1]) - 1); } }, `line ${line[1]}`);
  } else if (input.source) {
    from = h('span', { class: 'aside', title: citations[input.source] ?? '' }, short(input.source));
  }
  return h('tr', {}, h('td', {}, input.name), h('td', { class: 'figure' }, value), h('td', {}, from));
}

/** @param {string} name @param {string} value */
function row(name, value) {
  return h('tr', {}, h('td', {}, name), h('td', { class: 'figure' }, value));
}

/** @param {string[]} keys @returns {Node[]} */
function sourceList(keys) {
  if (!keys.length) return [];
  return [h('h3', {}, keys.length === 1 ? 'Source' : 'Sources'), h('ul', {}, ...keys.map((key) => h('li', {}, citations[key] ?? short(key))))];
}

/** An equation with the signs of print. @param {string} text */
function printed(text) {
  return text.replace(/sqrt\(/g, '√(').replace(/\^2\b/g, '²').replace(/\^3\b/g, '³').replace(/\blog10\b/g, 'log₁₀').replace(/ \* /g, ' · ').replace(/(^|[ (=])-(?=[A-Za-z0-9(])/g, '$1−').replace(/ - /g, ' − ');
}

/** @param {string} key */
function short(key) {
  if (key === 'common-practice') return 'common practice, no publication';
  if (key === 'from-memory') return 'from memory, to be verified';
  return key;
}

/** @param {string} text */
function sentence(text) {
  if (!text) return '';
  // Symbols and units at the front keep their case.
  const first = /^[a-z][a-z]/.test(text) && !/^pH|^pKa|^log|^\S*[/_.]/.test(text) ? text.charAt(0).toUpperCase() + text.slice(1) : text;
  return /[.!?]$/.test(first) ? first : `${first}.`;
}
