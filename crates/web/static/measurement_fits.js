// @ts-check
/** The models fitted to a curve, or the laws to a recovery: ranked, one taken and why, another chosen and what that means. */

import { h } from './dom.js';
import { canonical, echo, fixed } from './figures.js';
import { number } from './number.js';

/** Models shown before the others are opened. */
const SHOWN = 4;

/** What to look at first. @param {any} answer */
export function first(answer) {
  if (!answer) return [h('h2', {}, 'Begin here'), h('p', { class: 'found' }, 'Paste the columns of a flow curve, or drop its file on the page.'), h('p', { class: 'change' }, 'A pair of shear rate and viscosity or stress is enough, from three points on; ten over three decades say much more.')];
  const { curve } = answer;
  if (!curve && answer.troubles?.length) return [h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, answer.troubles[0].what), h('p', { class: 'change' }, answer.troubles[0].what_now)];
  if (!curve) return [h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, 'The columns do not make a flow curve yet.'), h('p', { class: 'change' }, 'Say beside each column what it holds: a shear rate with a viscosity or a stress, or a speed with what the spindle showed.')];
  if (answer.to_confirm?.length) return [h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, answer.to_confirm[0]), h('p', { class: 'change' }, 'Confirm it or change it beside the column before you trust what follows.')];
  if (!curve.shown) return [h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, 'No model can be fitted.'), h('p', { class: 'change' }, (curve.without ?? []).map((/** @type {any} */ one) => `${one.name}: ${one.why}`).join('; '))];
  const unsettled = curve.shown.parameters.filter((/** @type {any} */ one) => one.not_settled);
  return [h('h2', {}, 'Look at this first'),
    h('p', { class: 'found' }, `${curve.shown.name} describes ${curve.points} ${curve.kind === 'recovery' ? 'readings' : 'points'} within ${percent(curve.shown.root_mean_square)}.`),
    h('p', { class: 'change' }, unsettled.length ? `The ${curve.kind === 'recovery' ? 'readings' : 'points'} do not settle its ${unsettled.map((/** @type {any} */ one) => one.words).join(' and its ')}.` : `All of its ${curve.kind === 'recovery' ? 'constants are settled by the readings' : 'parameters are settled by the points'}.`)];
}

/** Why this model, pencilled beside the curve. @param {any} read */
export function reasons(read) {
  const { shown, taken } = read;
  if (!shown) return [];
  const notes = [h('div', { class: 'note' }, h('p', { class: 'key' }, shown.model === taken?.model ? 'taken' : 'chosen'),
    h('p', { class: 'found' }, shown.model === taken?.model ? `${shown.name}: ${taken.why}.` : consequence(read)),
    h('dl', { class: 'pairs' }, ...shown.parameters.map((/** @type {any} */ one) => h('div', {}, h('dt', {}, one.words), h('dd', {}, number(one.estimate, `${one.words} of ${shown.name}`, {}))))))];
  if (read.says?.length && shown.model === taken?.model) notes.push(h('div', { class: 'note' }, h('p', { class: 'key' }, 'what it says'),
    h('dl', { class: 'pairs' }, ...read.says.map((/** @type {any} */ one) => h('div', {}, h('dt', {}, one.words), h('dd', {}, number(one.estimate, one.words, {})))))));
  for (const one of shown.parameters) if (one.not_settled) notes.push(h('div', { class: 'note' }, h('p', { class: 'key' }, 'not settled'), h('p', { class: 'found' }, `${upper(one.words)}: ${one.not_settled}.`)));
  return notes;
}

/** What it means to take another model than the one the points speak for. @param {any} read */
export function consequence(read) {
  const { shown, taken, models } = read;
  const best = models.find((/** @type {any} */ one) => one.model === taken?.model);
  if (!shown || !best || shown.model === best.model) return '';
  const more = shown.aicc !== null && best.aicc !== null ? shown.aicc - best.aicc : null;
  const speaks = more === null ? 'The criterion cannot be computed for it' : more < 2 ? 'The points cannot tell the two apart' : more < 10 ? 'The points speak less for it' : 'The points speak against it';
  return `${shown.name} instead of ${best.name}. ${speaks}${more === null ? '' : ` (AICc ${more < 0 ? 'lower' : 'higher'} by ${echo(Math.abs(more).toFixed(1))})`}; it leaves ${percent(shown.root_mean_square)} instead of ${percent(best.root_mean_square)}.`;
}

/**
 * @param {any} answer @param {any} asked @param {(change: Record<string, any>) => void} choose
 * @returns {{content: HTMLElement[], notes: HTMLElement[]}}
 */
export function fitsTable(answer, asked, choose) {
  const { curve } = answer;
  const over = curve.kind === 'recovery';
  const best = Math.min(...curve.models.map((/** @type {any} */ one) => one.aicc ?? Infinity));
  const row = (/** @type {any} */ one) => {
    const chosen = one.model === curve.shown?.model;
    const id = `model-${one.model}`;
    return h('tr', { class: chosen ? 'chosen' : '' },
      h('th', { scope: 'row' }, h('label', { class: 'model-choice' }, h('input', { type: 'radio', name: 'model', id, value: one.model, checked: chosen, onchange: () => choose({ model: one.model === curve.taken?.model ? '' : one.model }) }), one.name, one.model === curve.taken?.model ? h('span', { class: 'aside' }, ' taken') : null)),
      h('td', {}, ...one.parameters.map((/** @type {any} */ p) => h('span', { class: `parameter${p.not_settled ? ' unsettled' : ''}` }, `${p.words} `, number(p.estimate, `${p.words} of ${one.name}`, {}), p.not_settled ? h('span', { class: 'aside' }, ' not settled') : null))),
      h('td', { class: 'figure' }, percent(one.root_mean_square)),
      h('td', { class: 'figure' }, one.aicc === null || one.aicc === undefined ? '–' : one.aicc - best < 0.05 ? 'lowest' : `+${fixed(one.aicc - best, 1)}`));
  };
  // The ones that follow the points, and the one that is chosen; the others wait behind them.
  const near = curve.models.filter((/** @type {any} */ one, /** @type {number} */ at) => at < SHOWN || one.model === curve.shown?.model);
  const far = curve.models.filter((/** @type {any} */ one) => !near.includes(one));
  const table = (/** @type {any[]} */ list) => h('div', { class: 'wide-table' }, h('table', { class: 'calm fits-table' },
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, over ? 'Law' : 'Model'), h('th', { scope: 'col' }, over ? 'Constants' : 'Parameters'), h('th', { scope: 'col', class: 'figure' }, 'leaves'), h('th', { scope: 'col', class: 'figure' }, 'AICc'))), h('tbody', {}, ...list.map(row))));
  const others = far.length ? h('details', { class: 'part' }, h('summary', {}, `${far.length} more that follow the points less well`), table(far)) : null;
  const without = curve.without?.length ? h('p', { class: 'hint' }, `Not fitted: ${curve.without.map((/** @type {any} */ one) => `${one.name} (${one.why})`).join('; ')}.`) : null;
  const notes = [h('div', { class: 'note' }, h('p', { class: 'change' }, `AICc weighs how well a ${over ? 'law follows the readings against how many constants' : 'model follows the points against how many parameters'} it needs; lower is better, and less than 2 apart is a tie. The simplest of those that tie is taken.`))];
  const against = consequence(curve);
  if (against) notes.unshift(h('div', { class: 'note' }, h('p', { class: 'key' }, 'what it means'), h('p', { class: 'found', role: 'status' }, against), h('button', { class: 'why', type: 'button', onclick: () => choose({ model: '' }) }, over ? 'Take the one the readings speak for' : 'Take the one the points speak for')));
  return { content: /** @type {HTMLElement[]} */ ([controls(curve, asked, choose), table(near), others, without].filter(Boolean)), notes };
}

/** How residuals are weighed, and the shear rates that are fitted. @param {any} curve @param {any} asked @param {(change: Record<string, any>) => void} choose */
function controls(curve, asked, choose) {
  if (curve.kind === 'recovery') {
    const input = h('input', { type: 'text', inputMode: 'decimal', autocomplete: 'off', class: 'figure-field', 'aria-label': 'When the strong shear ended, s on the clock of the table', value: echo(asked.ended), placeholder: 'as shown',
      onchange: () => { const value = input.value.trim(); choose({ ended: canonical(value) ?? value }); } });
    return h('p', { class: 'sentence fit-controls' }, 'Every reading counts by its relative distance. The strong shear ended at ', input, ' s on the clock of the table.');
  }
  const end = (/** @type {'from'|'to'} */ name, /** @type {string} */ label) => {
    const input = h('input', { type: 'text', inputMode: 'decimal', autocomplete: 'off', class: 'figure-field', 'aria-label': label, value: echo(asked[name]), placeholder: echo(String(curve.window?.[name] ?? '')),
      onchange: () => { const value = input.value.trim(); choose({ [name]: canonical(value) ?? value }); } });
    return input;
  };
  return h('p', { class: 'sentence fit-controls' }, 'Every point counts ',
    h('select', { 'aria-label': 'How residuals are weighed', onchange: (/** @type {Event} */ event) => choose({ weights: /** @type {HTMLSelectElement} */ (event.target).value }) },
      h('option', { value: 'log', selected: asked.weights === 'log' }, 'by its relative distance'), h('option', { value: 'linear', selected: asked.weights === 'linear' }, 'by its distance in Pa')),
    ', fitted from ', end('from', 'Lowest shear rate that is fitted, 1/s'), ' to ', end('to', 'Highest shear rate that is fitted, 1/s'), ' 1/s.');
}

/** A root mean square of logarithmic residuals in percent. @param {number} rms */
function percent(rms) {
  const value = 100 * rms;
  return `${fixed(value, value < 10 ? 1 : 0)}\u00a0%`;
}

/** @param {string} text */
function upper(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
