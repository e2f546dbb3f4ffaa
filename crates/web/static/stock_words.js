// @ts-check
/** The states of a lot: a word, a shape and what it means. */

import { h, mark, prose } from './dom.js';
import { number } from './number.js';

/** @type {Record<string, {words: string, shape: string, says: string}>} */
export const STATUS = {
  quarantine: { words: 'in quarantine', shape: 'lot-waits', says: 'waits for a decision' },
  released: { words: 'released', shape: 'lot-released', says: 'may be used' },
  rejected: { words: 'rejected', shape: 'lot-rejected', says: 'may not be used' },
  used_up: { words: 'used up', shape: 'lot-used-up', says: 'nothing is left of it' },
};

/** What is left, in all its digits: it is summed up from what was typed, not measured anew. @param {any} outcome @param {string} label */
export function grams(outcome, label) {
  return number(outcome, label, { exact: outcome.value === null ? null : String(Number(outcome.value.toFixed(6))) });
}

/** When it ends, heavier where that is near. @param {any} lot */
export function until(lot) {
  if (!lot.until) return h('span', { class: 'aside' }, 'no day on file');
  const days = Number(/in (\d+) days?$/.exec(lot.until)?.[1] ?? (lot.until.endsWith('months') ? 99 : 0));
  return h('span', { class: days <= 30 ? 'until near' : 'until' }, prose(lot.until));
}

/** The state of a lot in a word and a shape. @param {string|null} status */
export function standing(status) {
  const known = STATUS[status ?? ''];
  return h('span', { class: `lot-state lot-state-${known ? status : 'undecided'}` }, mark(known?.shape ?? 'lot-undecided', 'shape'), known?.words ?? 'nothing decided yet');
}
