// @ts-check
/** A number on the page: a button that opens how it came about. */

import { h, mark } from './dom.js';
import { interval, shown } from './figures.js';

/** @typedef {import('./figures.js').Outcome} Outcome */

/** @type {WeakMap<Element, {outcome: Outcome, label: string}>} */
export const behind = new WeakMap();

/** Words of the grades. @type {Record<string, string>} */
export const GRADES = {
  measured: 'measured',
  calibrated: 'calibrated',
  computed: 'computed',
  correlated: 'correlated',
  'rule-of-thumb': 'rule of thumb',
};

/**
 * @param {{aligned?: boolean, unit?: boolean}} [how]
 * @returns {HTMLButtonElement}
 */
export function numberButton(how = {}) {
  return h('button', { class: how.aligned ? 'num aligned' : 'num', type: 'button', tabIndex: how.aligned ? -1 : 0 },
    h('span', { class: 'value' }, h('span', { class: 'whole' }), h('span', { class: 'part' })),
    how.unit === false ? null : h('span', { class: 'unit' }),
  );
}

/**
 * Fills the button; touches the page only where something changed.
 * @param {HTMLButtonElement} button
 * @param {Outcome|null|undefined} outcome
 * @param {string} label
 * @param {{exact?: string|null, most?: number, least?: number}} [how]
 * @returns {string} the text shown
 */
export function setNumber(button, outcome, label, how = {}) {
  const parts = shown(outcome, how);
  const whole = /** @type {HTMLElement} */ (button.querySelector('.whole'));
  const part = /** @type {HTMLElement} */ (button.querySelector('.part'));
  const unit = button.querySelector('.unit');
  if (whole.textContent !== parts.whole) whole.textContent = parts.whole;
  if (part.textContent !== parts.part) part.textContent = parts.part;
  if (unit && unit.textContent !== parts.unit) unit.textContent = parts.unit;
  if (!outcome) {
    behind.delete(button);
    button.disabled = true;
    button.querySelector('.grade')?.remove();
    delete button.dataset.grade;
    button.setAttribute('aria-label', `${label}: nothing yet`);
    return parts.text;
  }
  button.disabled = false;
  behind.set(button, { outcome, label });
  button.classList.toggle('refused', outcome.value === null);
  if (button.dataset.grade !== outcome.grade) {
    button.dataset.grade = outcome.grade;
    button.querySelector('.grade')?.remove();
    button.append(mark(outcome.grade, 'grade'));
  }
  const word = GRADES[outcome.grade] ?? outcome.grade;
  const said = outcome.value === null ? outcome.refused ?? 'no value' : `${parts.text} ${parts.unit}`.trim();
  const where = interval(outcome);
  const spoken = `${label}: ${said}${where ? `, ${where}` : ''}, ${word}. Opens how it came about.`;
  if (button.getAttribute('aria-label') !== spoken) {
    button.setAttribute('aria-label', spoken);
    button.title = `${word}${where ? `, ${where}` : ''}`;
  }
  return parts.text;
}

/**
 * A number ready made.
 * @param {Outcome|null|undefined} outcome
 * @param {string} label
 * @param {{exact?: string|null, most?: number, least?: number, aligned?: boolean, unit?: boolean}} [how]
 */
export function number(outcome, label, how = {}) {
  const button = numberButton(how);
  setNumber(button, outcome, label, how);
  return button;
}
