// @ts-check
/** Notes beside the lines they are about: aligned to the row, stacked without collision, tied to it when pushed down. */

import { h, mark, prose, s } from './dom.js';
import { findingBody, open } from './derivation.js';
import { echo, isOutcome, plain } from './figures.js';
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
 * @param {any[]} [others] findings that say the same of other lines
 * @returns {HTMLElement}
 */
export function findingNote(finding, numberOf, about = '', others = []) {
  const lines = [...new Set([finding, ...others].flatMap((one) => one.concerns.lines ?? []))];
  const key = lines.length ? `${lines.length > 1 ? 'lines' : 'line'} ${lines.map(numberOf).join(', ')}` : about;
  const brief = finding.gravity === 'know' || finding.gravity === 'check';
  const why = whyButton(finding);
  return h('div', { class: `note${brief ? ' brief' : ''}`, data: { code: finding.code } },
    h('p', {}, h('span', { class: `gravity gravity-${finding.gravity}` }, mark(finding.gravity, 'shape'), finding.gravity), ' ', h('span', { class: 'key' }, key)),
    h('p', { class: 'found' }, prose(finding.found), brief ? ' ' : '', brief ? why : ''),
    brief ? null : h('p', { class: 'change' }, prose(finding.change), ' ', why),
    others.length ? h('details', {}, h('summary', {}, `and ${others.length} more like it`), ...others.map((one) => h('p', { class: 'found' }, prose(one.found), ' ', whyButton(one)))) : null);
}

/** What the bench can settle later stands behind what the chemistry says, within one gravity. */
const LATER = ['weighs-badly', 'price-missing', 'over-the-cost-ceiling', 'certificate-missing'];
const WEIGHT = ['stop', 'change', 'check', 'know'];

/** @param {any[]} findings */
export function gravestFirst(findings) {
  const rank = (/** @type {any} */ one) => WEIGHT.indexOf(one.gravity) * 10 + LATER.indexOf(one.code) + 1;
  return findings.map((one, at) => ({ one, at })).sort((a, b) => rank(a.one) - rank(b.one) || a.at - b.at).map((pair) => pair.one);
}

/**
 * Findings that say the same of many lines become one note: the gravest speaks, the others wait behind it.
 * @param {any[]} findings
 * @returns {any[][]}
 */
export function alike(findings) {
  /** @type {Map<string, any[]>} */
  const groups = new Map();
  for (const finding of findings) {
    const key = `${finding.code}|${finding.gravity}`;
    groups.set(key, [...(groups.get(key) ?? []), finding]);
  }
  return findings.flatMap((finding) => {
    const group = groups.get(`${finding.code}|${finding.gravity}`) ?? [finding];
    if (group.length < 3) return [[finding]];
    return group[0] === finding ? [group] : [];
  });
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

/** A number with its band as plain words. @param {any} outcome */
export function banded(outcome) {
  const ends = typeof outcome.low === 'number' && typeof outcome.high === 'number' ? ` (${plain(outcome.low, outcome)} to ${plain(outcome.high, outcome)})` : '';
  return `${plain(outcome.value, outcome)}${ends}${outcome.unit ? ` ${outcome.unit}` : ''}`;
}

/**
 * The pH with what trials taught, beside what the papers alone say.
 * @param {any} taught @param {string} formula
 */
export function taughtNote(taught, formula) {
  const [lesson] = taught.numbers.filter((/** @type {any} */ one) => one.differs);
  return h('div', { class: 'note reading', data: { code: 'taught-ph' } }, h('p', {}, 'pH ', number(taught.taught, 'pH with what trials taught', { least: 2 }), ` as a reading would show it, learned from ${taught.from}; ${banded(taught.untaught)} from the papers alone. `, lesson ? `${prose(lesson.words)} ` : '', h('a', { href: `/formulas/${formula}/predictions` }, 'how well we predict')));
}

/**
 * The viscosity as the brief speaks of it, with what is wanted.
 * @param {any} flow @param {{viscosity_low: string, viscosity_high: string}} target
 */
export function flowNote(flow, target) {
  const { at_brief: read } = flow;
  const celsius = isOutcome(flow.temperature_c) ? flow.temperature_c.value : flow.temperature_c;
  const ends = typeof read.low === 'number' && typeof read.high === 'number' ? ` (${plain(read.low, read)} to ${plain(read.high, read)})` : '';
  const wanted = target.viscosity_low && target.viscosity_high ? `; wanted ${echo(target.viscosity_low)} to ${echo(target.viscosity_high)}` : '';
  return h('div', { class: 'note reading' }, h('p', {}, number(read, 'Viscosity as the brief speaks of it'), `${ends}: ${flow.condition}, ${echo(String(celsius))} °C${wanted}. `, h('a', { href: '#plate-flow' }, 'flow curve')));
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
    const target = row?.querySelector('.row, .phase-head, .row-like') ?? row;
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
