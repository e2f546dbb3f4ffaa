// @ts-check
/** The trend of an attribute: chosen, drawn with its limits and confidence, and what follows from it in words. */

import { Trouble, ask } from './api.js';
import { h, prose } from './dom.js';
import { know } from './derivation.js';
import { number } from './number.js';
import { PlateView } from './plate.js';

/** What batches may share. @type {Record<string, string>} */
const MODELS = { one_line: 'The batches share one line.', one_slope: 'The batches share a slope, each at its own height.', own_lines: 'Every batch has a line of its own; the one that leaves first speaks for all.' };
/** @type {Record<string, string>} */
const ORDERS = { zero: 'the same amount each month', first: 'the same share each month', second: 'slower as it grows less' };

let made = 0;

export class TrendView {
  /** @param {any} study @param {() => void} changed told when another attribute, pack or condition is chosen */
  constructor(study, changed) {
    this.study = study;
    this.changed = changed;
    this.asked = 0;
    this.attribute = this.select('Attribute');
    this.condition = this.select('Condition');
    this.pack = this.select('Pack');
    this.plate = new PlateView();
    this.plate.element.hidden = true;
    this.told = h('div', { class: 'trend-told' });
    this.rates = new PlateView();
    this.rates.element.hidden = true;
    this.law = h('button', { class: 'verb', type: 'button', onclick: () => this.lossesAsked() }, 'Against temperature');
    this.shift = h('button', { class: 'verb', type: 'button', onclick: () => this.shiftAsked() }, 'What does the shift stand for');
    this.shiftTold = h('div', { class: 'shift-told' });
    this.lawTold = h('div', { class: 'trend-told' });
    this.element = h('div', {}, h('div', { class: 'trend-choice' }, this.attribute.place, this.condition.place, this.pack.place, this.law, this.shift), h('div', { class: 'trend-leaf' }, this.plate.element, this.told), h('div', { class: 'trend-leaf' }, this.rates.element, this.lawTold), this.shiftTold);
  }

  /** @param {string} label */
  select(label) {
    made += 1;
    const id = `trend-${made}`;
    const field = h('select', { id, onchange: () => { this.verbs(); this.forgetLaw(); this.changed(); this.ask(); } });
    return { field, place: h('div', { class: 'field' }, h('label', { htmlFor: id }, label), field) };
  }

  /** @param {any} select @param {string[]} names */
  fill(select, names) {
    const was = select.field.value;
    select.field.replaceChildren(...names.map((name) => h('option', { value: name }, name)));
    if (names.includes(was)) select.field.value = was;
    select.place.hidden = names.length < 2;
  }

  /** Chosen from outside. @param {{attribute?: string, condition?: string}} what */
  choose(what) {
    if (what.attribute) this.attribute.field.value = what.attribute;
    if (what.condition && [...this.condition.field.options].some((one) => one.value === what.condition)) this.condition.field.value = what.condition;
    this.changed();
    this.ask();
  }

  /** Whether a reading stands in the table below. @param {any} read */
  shows(read) {
    return read.attribute === this.attribute.field.value && read.pack === this.pack.field.value && (read.condition === this.condition.field.value || read.condition === 'start');
  }

  isContent() {
    const one = this.study.typed.attributes.find((/** @type {any} */ it) => it.name === this.attribute.field.value);
    return Boolean(one && one.reads === 'value' && /%|mg|g\/|mmol/.test(one.unit ?? '') && !/CFU/.test(one.unit));
  }

  forgetLaw() {
    this.rates.element.hidden = true;
    this.lawTold.replaceChildren();
    this.shiftTold.replaceChildren();
  }

  /** Which further questions can be asked of what is chosen. */
  verbs() {
    this.law.hidden = !this.isContent();
    this.shift.hidden = this.attribute.field.value.toLowerCase() !== 'ph';
  }

  async shiftAsked() {
    const answer = await ask('GET', `/api/studies/${this.study.id}/shift?${this.query()}`);
    know({ citations: answer.sources });
    this.shiftTold.replaceChildren(...shiftSaid(answer.shift));
  }

  /** @param {any} study */
  async renew(study) {
    this.study = study;
    this.fill(this.attribute, study.typed.attributes.map((/** @type {any} */ one) => one.name));
    this.fill(this.condition, study.typed.conditions.map((/** @type {any} */ one) => one.name));
    this.fill(this.pack, study.typed.packs.map((/** @type {any} */ one) => one.name));
    if (!this.asked) {
      // The condition it is kept and sold at comes first.
      const storage = study.typed.conditions.find((/** @type {any} */ one) => one.role === 'storage');
      if (storage) this.condition.field.value = storage.name;
    }
    this.verbs();
    this.changed();
    await this.ask();
  }

  query() {
    return new URLSearchParams({ attribute: this.attribute.field.value, pack: this.pack.field.value, condition: this.condition.field.value });
  }

  async ask() {
    this.asked += 1;
    const number = this.asked;
    let answer;
    try {
      answer = await ask('GET', `/api/studies/${this.study.id}/trend?${this.query()}`);
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      if (number === this.asked) { this.plate.element.hidden = true; this.told.replaceChildren(h('p', { class: 'heed' }, `${error.told.what} ${error.told.what_now}`)); }
      return;
    }
    if (number !== this.asked) return;
    know({ citations: answer.sources });
    this.plate.element.hidden = !answer.plate;
    if (answer.plate) this.plate.update(answer.plate, null);
    this.told.replaceChildren(...(answer.trend.answer ? said(answer.trend) : refused(answer.trend.refused)), ...answer.trend.notes.map((/** @type {string} */ note) => h('p', { class: 'aside' }, prose(note))));
  }

  async lossesAsked() {
    const answer = await ask('GET', `/api/studies/${this.study.id}/losses?${this.query()}`);
    know({ citations: answer.sources });
    this.rates.element.hidden = !answer.plate;
    if (answer.plate) this.rates.update(answer.plate, null);
    this.lawTold.replaceChildren(...(answer.losses.answer ? lawSaid(answer.losses.answer) : refused(answer.losses.refused)));
  }
}

/** Months as they are said: one month, two months. @param {any} outcome */
function months(outcome) {
  return outcome.unit === 'month' && outcome.value !== 1 ? { ...outcome, unit: 'months' } : outcome;
}

/** @param {any} why */
function refused(why) {
  return why ? [h('p', { class: 'lead-word' }, 'No line yet.'), h('p', {}, prose(why.what)), h('p', {}, prose(why.what_now))] : [];
}

/** What a pH that moved stands for. @param {any} told */
function shiftSaid(told) {
  if (!told.shift) return refused(told.refused);
  const { shift } = told;
  const acid = shift.acid.value !== null && shift.acid.value < 0 ? 'Base' : 'Acid';
  const amount = shift.acid.value === null ? shift.acid : { ...shift.acid, value: Math.abs(shift.acid.value), low: acid === 'Acid' ? shift.acid.low : -shift.acid.high, high: acid === 'Acid' ? shift.acid.high : -shift.acid.low };
  return [h('p', { class: 'lead-word' }, `${acid} that would have had to form in ${told.batch} by ${told.pull}: `, number(amount, `${acid} behind the shift`)),
    h('p', {}, 'pH ', number(shift.from, 'pH at the start'), ' to ', number(shift.to, 'pH at the last pull'), ', with a buffer of ', number(shift.capacity, 'Buffer capacity'), '.'),
    ...shift.acid.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(`${note.text}.`))),
    h('table', { class: 'calm causes' }, h('thead', {}, h('tr', {}, ...['What may stand behind it', 'What happens', 'What would tell it apart'].map((head) => h('th', { scope: 'col' }, head)))), h('tbody', {}, ...told.causes.map((/** @type {any} */ cause) => h('tr', {}, h('th', { scope: 'row' }, cause.name, cause.substances.length ? h('span', { class: 'small' }, cause.substances.map((/** @type {string} */ key) => key.replace(/-/g, ' ')).join(', ')) : null), h('td', {}, cause.words), h('td', {}, cause.apart)))))];
}

/** @param {any} trend */
function said(trend) {
  const answer = trend.answer;
  const pair = (/** @type {string} */ words, /** @type {any} */ outcome) => (outcome ? h('div', {}, h('dt', {}, words), h('dd', {}, number(months(outcome), words))) : null);
  const stated = !trend.sold ? h('p', { class: 'lead-word' }, 'At this condition a limit is reached after: ', number(months(answer.leaves), 'A limit is reached')) : answer.stated.value === null ? h('p', { class: 'lead-word' }, 'Nothing may be stated by these data.') : h('p', { class: 'lead-word' }, 'May be stated by these data: ', number(months(answer.stated), 'May be stated', { exact: String(answer.stated.value) }));
  return [stated,
    answer.wanted ? h('p', {}, `Wanted: ${answer.wanted.words}.`) : null,
    h('p', {}, answer.batches.length > 1 ? MODELS[answer.model] : 'One batch: how batches differ is not in these data.'),
    h('dl', { class: 'trend-pairs' }, trend.sold ? pair('Confidence limit reaches a limit', answer.leaves) : null, trend.sold ? pair('Data may be stretched to', answer.reach) : null, ...answer.batches.map((/** @type {any} */ one) => pair(answer.batches.length > 1 && answer.model === 'own_lines' ? `Change of ${one.batch}` : 'Change', one.slope)).filter((/** @type {any} */ _, /** @type {number} */ at) => at === 0 || answer.model === 'own_lines'), pair('Scatter of a reading', answer.scatter),
      pair('Slopes differ: chance', answer.slopes?.beyond), pair('Heights differ: chance', answer.heights?.beyond), answer.lack_of_fit.value === null ? null : pair('Off a straight line: chance', answer.lack_of_fit)),
    answer.furthest?.apart ? h('p', { class: 'heed' }, `One reading of ${answer.furthest.batch} stands apart from its line; look whether it was read right before anything is concluded.`) : null,
    ...answer.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(`${note.text}.`)))].filter((one) => one);
}

/** All laws side by side; the figure shows the one of the same share each month, which contents mostly follow. @param {any} answer */
function lawSaid(answer) {
  const law = answer.laws.find((/** @type {any} */ one) => one.order === 'first') ?? answer.laws[0];
  const pair = (/** @type {string} */ words, /** @type {any} */ outcome) => (outcome ? h('div', {}, h('dt', {}, words), h('dd', {}, number(months(outcome), words))) : null);
  return [h('p', { class: 'lead-word' }, `If it is lost by ${ORDERS[law.order] ?? law.order}:`),
    h('dl', { class: 'trend-pairs' }, pair('Activation energy', law.energy), pair('A bend such as this: chance', law.bend), ...law.stored.flatMap((/** @type {any} */ one) => [pair(`Time to the limit at ${Math.round(one.temperature.value)} °C`, one.time_to_limit), pair(`Faster by ten kelvin, from ${Math.round(one.temperature.value)} °C`, one.ten_kelvin)])),
    h('table', { class: 'calm laws-table' }, h('thead', {}, h('tr', {}, ...['Lost by', `Scatter, ${law.scatter.unit}`, 'Energy'].map((head, at) => h('th', { scope: 'col', class: at ? 'figure' : '' }, head)))), h('tbody', {}, ...answer.laws.map((/** @type {any} */ one) => h('tr', {}, h('th', { scope: 'row' }, ORDERS[one.order] ?? one.order), h('td', { class: 'figure' }, number(one.scatter, 'Scatter of a reading about the law')), h('td', { class: 'figure' }, number(one.energy, 'Activation energy')))))),
    ...answer.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(`${note.text}.`)))];
}
