// @ts-check
/** Notes beside the lines they are about: aligned to the row, stacked without collision, tied to it when pushed down. */

import { h, mark, s } from './dom.js';
import { findingBody, open } from './derivation.js';
import { number } from './number.js';

const GAP = 14;
const narrow = window.matchMedia('(max-width: 75rem)');

/**
 * @typedef {object} Note
 * @property {number|null} line position in the assessment, or null
 * @property {string} anchor id of the row or phase it stands beside
 * @property {HTMLElement} element
 */

/**
 * @param {any} finding
 * @param {(index: number) => string} numberOf the number of a line on the sheet
 * @param {string} [about] what it is about, where it is not a line
 * @returns {HTMLElement}
 */
export function findingNote(finding, numberOf, about = '') {
  const lines = finding.concerns.lines ?? [];
  const key = lines.length ? `line ${lines.map(numberOf).join(', ')}` : about;
  return h('div', { class: 'note', data: { code: finding.code } },
    h('p', {}, h('span', { class: `gravity gravity-${finding.gravity}` }, mark(finding.gravity, 'shape'), finding.gravity), ' ', h('span', { class: 'key' }, key)),
    h('p', { class: 'found' }, finding.found),
    h('p', { class: 'change' }, finding.change, ' ', whyButton(finding)));
}

/** @param {any} finding */
export function whyButton(finding) {
  return h('button', { class: 'why', type: 'button', onclick: (/** @type {Event} */ event) => {
    event.stopPropagation();
    open(/** @type {HTMLElement} */ (event.currentTarget), findingBody(finding));
  } }, 'why');
}

/**
 * A reading pencilled beside a line: no gravity, only what it comes to.
 * @param {any} outcome @param {string} label @param {string} words
 */
export function readingNote(outcome, label, words) {
  return h('div', { class: 'note reading' }, h('p', {}, number(outcome, label), ` ${words}`));
}

/**
 * Puts the notes in the margin, or under their rows where there is no room for a margin.
 * @param {HTMLElement} margin @param {Note[]} notes @param {Map<string, HTMLElement>} rows
 */
export function placeNotes(margin, notes, rows) {
  for (const slot of document.querySelectorAll('.slot')) slot.replaceChildren();
  const below = narrow.matches || window.matchMedia('print').matches;
  if (below) {
    margin.replaceChildren();
    for (const note of notes) {
      const row = rows.get(note.anchor);
      const slot = row?.querySelector('.slot');
      note.element.style.top = '';
      slot?.append(note.element);
    }
    margin.style.height = '';
    return;
  }
  const ties = s('svg', { class: 'ties', 'aria-hidden': 'true' });
  margin.replaceChildren(ties, ...notes.map((note) => note.element));
  const origin = margin.getBoundingClientRect().top;
  const wanted = notes.map((note) => {
    const row = rows.get(note.anchor);
    const target = row?.querySelector('.row, .phase-head') ?? row;
    return target ? target.getBoundingClientRect().top - origin + 10 : 0;
  });
  const heights = notes.map((note) => note.element.offsetHeight);
  const tops = stack(wanted, heights);
  let floor = 0;
  notes.forEach((note, index) => {
    const top = tops[index];
    floor = top + heights[index];
    note.element.style.top = `${top}px`;
    const from = wanted[index] + 14;
    const to = top + 11;
    const path = Math.abs(to - from) < 3 ? `M2 ${to}H26` : `M2 ${from}H8L16 ${to}H26`;
    ties.append(s('path', { d: path }));
  });
  margin.style.height = `${floor + GAP}px`;
}

/**
 * Places each block as near to where it belongs as the others allow (least squares with a fixed order): blocks that would
 * touch are joined into a run that sits at the mean of its members' wishes, so that a crowd spreads up as well as down.
 * @param {number[]} wanted @param {number[]} heights
 * @returns {number[]}
 */
export function stack(wanted, heights) {
  /** @type {Array<{first: number, count: number, offset: number, height: number, wish: number, top: number}>} */
  const runs = [];
  wanted.forEach((want, index) => {
    runs.push({ first: index, count: 1, offset: 0, height: heights[index] + GAP, wish: want, top: Math.max(4, want) });
    while (runs.length > 1) {
      const last = runs[runs.length - 1];
      const before = runs[runs.length - 2];
      if (before.top + before.height <= last.top) break;
      runs.pop();
      // Every wish is restated as a wish for the top of the joined run.
      const sum = before.wish * before.count + (last.wish - before.height) * last.count;
      before.count += last.count;
      before.wish = sum / before.count;
      before.height += last.height;
      before.top = Math.max(4, before.wish);
    }
  });
  /** @type {number[]} */
  const tops = [];
  for (const run of runs) {
    let top = run.top;
    for (let index = run.first; index < run.first + run.count; index += 1) {
      tops[index] = top;
      top += heights[index] + GAP;
    }
  }
  return tops;
}

/** @param {() => void} again */
export function onMarginChange(again) {
  narrow.addEventListener('change', again);
  window.matchMedia('print').addEventListener('change', again);
  window.addEventListener('beforeprint', again);
  window.addEventListener('afterprint', again);
}
