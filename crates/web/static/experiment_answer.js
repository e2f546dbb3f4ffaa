// @ts-check
/** What the runs say: models with their terms, what they leave, figures across the parts, a blend that is asked about, the best one by the wishes. */

import { ask } from './api.js';
import { h, mark, prose } from './dom.js';
import { EntryForm } from './entry_form.js';
import { know } from './derivation.js';
import { number } from './number.js';
import { PlateView } from './plate.js';
import { SightView } from './experiment_surface.js';

const MODELS = [['', 'as planned'], ['data', 'the one the data speak for'], ['linear', 'linear'], ['quadratic', 'quadratic'], ['special-cubic', 'special cubic'], ['full-cubic', 'full cubic']];

/** @param {string} words @param {any} outcome @param {any} [how] */
const pair = (words, outcome, how = {}) => h('div', {}, h('dt', {}, words), h('dd', {}, number(outcome, words, how)));
/** A sentence with its stop. @param {string} text */
const sentence = (text) => prose(/[.!?]$/.test(text) ? text : `${text}.`).replace(/^[a-z]/, (letter) => letter.toUpperCase());

export class AnswerView {
  /** @param {any} experiment @param {(said: string) => Promise<void>} renew told when a check batch was begun */
  constructor(experiment, renew) {
    this.experiment = experiment;
    this.renewed = renew;
    this.asked = 0;
    this.model = h('select', { id: 'answer-model', onchange: () => this.ask() }, ...MODELS.map(([value, words]) => h('option', { value }, words)));
    this.told = h('div', { class: 'answer-told' });
    this.best = h('div', { class: 'best-told' });
    this.sight = new SightView(experiment, () => this.model.value);
    this.blendTold = h('div', { class: 'blend-told', 'aria-live': 'polite' });
    this.blend = this.blendForm();
    this.rest = h('div', { class: 'answer-leaf' }, this.sight.element, h('div', {}, this.best, this.blend.element, this.blendTold));
    this.element = h('div', {}, h('div', { class: 'trend-choice' }, h('div', { class: 'field' }, h('label', { htmlFor: 'answer-model' }, 'Model'), this.model)), this.rest, this.told);
  }

  blendForm() {
    const { typed } = this.experiment;
    const form = new EntryForm('What would another blend give?', { word: 'Ask the models', leave: () => {}, act: async () => {
      const asking = { model: this.model.value, percent: typed.parts.map((/** @type {any} */ _, /** @type {number} */ at) => form.value(`percent.${at}`)), settings: typed.settings.map((/** @type {any} */ _, /** @type {number} */ at) => form.value(`settings.${at}`)) };
      const told = await ask('POST', `/api/experiments/${this.experiment.id}/answer`, asking);
      this.blendTold.replaceChildren(predicted(told, told.asked.length - 1));
    } });
    form.element.classList.add('blend-form');
    form.body.append(...typed.parts.map((/** @type {any} */ part, /** @type {number} */ at) => form.text(`percent.${at}`, `${part.name}, %`, { width: 'short', numeric: true })), ...typed.settings.map((/** @type {any} */ one, /** @type {number} */ at) => form.text(`settings.${at}`, `${one.name}${one.unit ? `, ${one.unit}` : ''}`, { width: 'short', numeric: true })));
    form.verbs.replaceChildren(form.keep);
    return form;
  }

  /** @param {any} experiment */
  async renew(experiment) {
    this.experiment = experiment;
    this.sight.experiment = experiment;
    await this.ask();
  }

  async ask() {
    this.asked += 1;
    const mine = this.asked;
    const told = await ask('POST', `/api/experiments/${this.experiment.id}/answer`, { model: this.model.value });
    if (mine !== this.asked) return;
    know({ citations: told.sources });
    const { answer } = told;
    const refused = told.refused.map((/** @type {any} */ one) => h('p', { class: 'look-wrong' }, one.name ? h('b', {}, `${one.name}: `) : null, `${sentence(one.what)} ${sentence(one.what_now)}`));
    this.rest.hidden = !answer;
    this.told.replaceChildren(...refused, ...(answer ? answer.responses.map((/** @type {any} */ one, /** @type {number} */ at) => response(one, told.residuals[at])) : []), ...(answer ? answer.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(note.text))) : []));
    this.answered = told;
    this.best.replaceChildren(...(answer?.best ? this.bestSaid(answer.best) : []));
    if (answer) await this.sight.ask();
    if (mine === this.asked) this.element.dataset.told = String(mine);
  }

  /** @param {any} best */
  bestSaid(best) {
    const make = h('button', { class: 'verb main-verb', type: 'button', id: 'make-best', disabled: this.experiment.given_up, onclick: async () => {
      make.disabled = true;
      try {
        const parts = this.experiment.typed.parts.length;
        const levels = best.levels.map((/** @type {any} */ one) => one.value.value.toFixed(4));
        await ask('POST', `/api/experiments/${this.experiment.id}/runs`, { percent: levels.slice(0, parts), settings: levels.slice(parts) });
        await this.renewed('The check batch is begun; what is read of it stands against what the models expect.');
        document.querySelector('#checks tbody tr:last-child')?.scrollIntoView({ block: 'center' });
        /** @type {HTMLElement|null} */ (document.querySelector('#checks tbody tr:last-child'))?.focus({ preventScroll: true });
      } finally { make.disabled = false; }
    } }, 'Make this one to check');
    const heads = ['Reading', 'Mean expected', 'Next batch, 95 %', 'Wish met, 0 to 1'];
    return [h('h3', {}, 'The best blend by the wishes'), h('p', { class: 'lead-word' }, ...best.levels.flatMap((/** @type {any} */ one, /** @type {number} */ at) => [at ? ', ' : '', h('span', { class: 'nowrap' }, `${one.name} `, number(one.value, one.name, { most: 3, unit: false }), ` ${at < this.experiment.typed.parts.length ? '%' : this.experiment.typed.settings[at - this.experiment.typed.parts.length].unit}`)])),
      h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, ...heads.map((head, at) => h('th', { scope: 'col', class: at ? 'figure' : '' }, head)))), h('tbody', {}, ...best.wishes.map((/** @type {any} */ wish) => h('tr', {}, h('th', { scope: 'row' }, wish.name, wish.mean.unit ? h('span', { class: 'small' }, wish.mean.unit) : null), h('td', { class: 'figure' }, number(wish.mean, `Mean of ${wish.name}`, { unit: false })), h('td', { class: 'figure' }, limits(wish.next)), h('td', { class: 'figure' }, number(wish.met, `Wish for ${wish.name}`)))),
        h('tr', {}, h('th', { scope: 'row' }, 'together'), h('td', {}), h('td', {}), h('td', { class: 'figure' }, number(best.worth, 'All wishes together'))))),
      ...best.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(note.text))), h('div', { class: 'verbs' }, make)];
  }

  /** What the models expect of a check batch, and whether it holds. @param {string} name */
  ofCheck(name) {
    const at = this.answered?.asked.indexOf(name) ?? -1;
    return at < 0 || !this.answered.answer ? null : predicted(this.answered, at);
  }
}

/** What the models say of one blend. @param {any} told @param {number} at */
function predicted(told, at) {
  if (!told.answer) return h('p', { class: 'look-wrong' }, 'The runs do not tell it yet.');
  const rows = told.answer.responses.map((/** @type {any} */ one) => {
    const asked = one.asked[at];
    const verdict = asked.within === null || asked.within === undefined ? '' : asked.within ? 'within what was expected' : 'outside what was expected';
    return h('tr', {}, h('th', { scope: 'row' }, one.name), h('td', { class: 'figure' }, number(asked.mean, `Mean of ${one.name}`)), h('td', { class: 'figure' }, limits(asked.next)), h('td', { class: 'figure' }, asked.measured ? number(asked.measured, `${one.name} as read`) : ''), h('td', {}, verdict ? h('span', {}, mark(asked.within ? 'lot-released' : 'stop', 'shape'), ` ${verdict}`) : '', ...asked.next.notes.map((/** @type {any} */ note) => h('span', { class: 'small heed' }, prose(note.text)))));
  });
  return h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, ...['Reading', 'Mean', 'Next batch, 95 %', 'Read', ''].map((head, place) => h('th', { scope: 'col', class: place > 0 && place < 4 ? 'figure' : '' }, head)))), h('tbody', {}, ...rows));
}

/** @param {any} outcome */
function limits(outcome) {
  if (outcome.low === null || outcome.low === undefined) return 'no limits are known';
  const end = (/** @type {number} */ value, /** @type {string} */ words) => number({ ...outcome, value, low: null, high: null }, words, { unit: false });
  return h('span', { class: 'nowrap' }, end(outcome.low, 'From'), ' to ', end(outcome.high, 'To'));
}

/** A probability: very small ones only as that. @param {any} outcome */
function chance(outcome) {
  return outcome.value !== null && outcome.value < 0.001 ? { ...outcome, value: 0.001 } : outcome;
}

/** @param {any} one @param {any} plate */
function response(one, plate) {
  const view = new PlateView();
  if (plate) view.update(plate, null);
  const small = (/** @type {any} */ outcome) => outcome.value !== null && outcome.value < 0.001;
  const terms = h('table', { class: 'calm terms-table' }, h('thead', {}, h('tr', {}, ...['Term', 'Coefficient', 'Interval', 'By chance'].map((head, at) => h('th', { scope: 'col', class: at ? 'figure' : '' }, head)))),
    h('tbody', {}, ...one.terms.map((/** @type {any} */ term) => h('tr', {}, h('th', { scope: 'row' }, term.name), h('td', { class: 'figure' }, number(term.coefficient, term.name, { unit: false })), h('td', { class: 'figure' }, limits(term.coefficient)), h('td', { class: 'figure' }, term.chance ? h('span', {}, small(term.chance) ? 'below ' : '', number(chance(term.chance), `Chance of ${term.name}`)) : '')))));
  const { fit } = one;
  return h('section', { class: 'response', 'aria-label': one.name }, h('h3', {}, `${one.name}${one.unit ? `, ${one.unit}` : ''}`), h('p', {}, prose(one.words)),
    h('div', { class: 'trend-leaf' }, h('div', {}, terms, plate ? view.element : null), h('dl', { class: 'trend-pairs' }, pair('Scatter of a run', fit.scatter), pair('Scatter of repeats', fit.pure), h('div', {}, h('dt', {}, 'Misfit: chance'), h('dd', {}, small(fit.lack_of_fit) ? 'below ' : '', number(chance(fit.lack_of_fit), 'Misfit by chance'))), pair('Explained (R²)', fit.explained), pair('Explained, adjusted', fit.adjusted), pair('Foretold of runs left out (PRESS)', fit.foretold))),
    ...one.notes.map((/** @type {any} */ note) => h('p', { class: ['misfit', 'apart', 'foretells-little', 'alone'].includes(note.code) ? 'heed' : 'aside' }, prose(note.text))));
}
