// @ts-check
/** The plan of a study as a form: batches, packs, conditions with their pulls, attributes with their limits. One form for a new plan and for a changed one. */

import { EntryForm } from './entry_form.js';
import { h } from './dom.js';
import { echo } from './figures.js';

/**
 * @typedef {{name: string, trial: string}} Batch
 * @typedef {{id: string, name: string, version: number}} Trial
 */

let made = 0;

/** A text field without the form around it. @param {string} label @param {string} value @param {Record<string, any>} [how] */
function cell(label, value, how = {}) {
  made += 1;
  const id = `plan-${made}`;
  const input = h('input', { id, type: 'text', value, autocomplete: 'off', ...how });
  return { place: h('div', { class: `field ${how.width ?? ''}` }, h('label', { htmlFor: id }, label), input), input };
}

/** @param {string} label @param {boolean} on @param {(on: boolean) => void} changed */
function tick(label, on, changed) {
  const box = h('input', { type: 'checkbox', checked: on, onchange: () => changed(box.checked) });
  return { place: h('label', { class: 'plan-tick' }, box, h('span', {}, label)), box };
}

/** A group of the form. @param {string} title @param {string} hint @param {any[]} parts */
function group(title, hint, ...parts) {
  return h('fieldset', { class: 'plan-group' }, h('legend', {}, title), hint ? h('p', { class: 'hint' }, hint) : null, ...parts);
}

/** Rows that can be added to. @param {string} word @param {(value: any) => {row: HTMLElement, read: () => any}} make @param {any[]} values */
function rows(word, make, values) {
  /** @type {Array<() => any>} */ const readers = [];
  const place = h('div', { class: 'plan-rows' });
  const add = (/** @type {any} */ value) => { const { row, read } = make(value); readers.push(read); place.append(row); return row; };
  for (const value of values) add(value);
  const more = h('button', { class: 'verb plain', type: 'button', onclick: () => add(null).querySelector('input')?.focus() }, word);
  return { element: h('div', {}, place, more), read: () => readers.map((read) => read()).filter((value) => value && value.name.trim()) };
}

export class PlanForm {
  /**
   * @param {{practice: any, trials: Trial[], typed: any, title: string, word: string, leave: () => void, reason?: boolean, keep: (typed: any, reason: string) => Promise<void>}} of
   */
  constructor(of) {
    this.of = of;
    const { practice, typed } = of;
    const form = new EntryForm(of.title, { word: of.word, leave: of.leave, act: () => of.keep(this.typed(), form.value('reason')) });
    this.form = form;
    form.element.classList.add('plan-form');
    this.count = h('p', { class: 'plan-count', role: 'status' });
    this.batches = this.batchGroup(typed.batches);
    this.packs = rows('One more pack', (pack) => {
      const [name, fill, material] = [cell('Pack', pack?.name ?? ''), cell('Filled with', pack?.fill ?? '', { width: 'short' }), cell('Made of', pack?.material ?? '')];
      return { row: h('div', { class: 'plan-row' }, name.place, fill.place, material.place), read: () => ({ name: name.input.value, fill: fill.input.value, material: material.input.value }) };
    }, typed.packs);
    this.conditions = this.conditionGroup(practice.conditions, typed.conditions);
    this.attributes = this.attributeGroup(practice, typed.attributes);
    form.body.append(
      ...(of.reason ? [form.text('reason', 'Why the plan is changed', { width: 'whole', need: true, hint: 'The plan before stays, with the reason beside it.' })] : []),
      form.text('name', 'Name of the study', { width: 'wide', need: true, value: typed.name }), form.text('start', 'Start', { type: 'date', need: true, value: typed.start, hint: 'the day everything goes to its place' }),
      form.area('why', 'Why this study, these conditions, these limits', { value: typed.why, need: true, rows: 3 }),
      group('Batches', 'Three batches show how batches differ; one shows only itself.', this.batches.element), group('Packs', 'The pack it is sold in, and glass beside it.', this.packs.element),
      group('Conditions and pulls', 'Times count from the start, like 4, 8, 13 weeks, 6, 12 months. The start itself is read once for all.', this.conditions.element),
      group('What is read', 'A limit that is set before the readings is worth more than one after them.', this.attributes.element),
      group('Samples', '', h('div', { class: 'plan-row' }, form.text('units_per_pull', 'Packs opened at each pull', { width: 'short', numeric: true, value: typed.units_per_pull }), form.text('reserve_percent', 'Kept in reserve, %', { width: 'short', numeric: true, value: typed.reserve_percent }), form.text('wanted_months', 'Shelf life wanted, months', { width: 'short', numeric: true, value: typed.wanted_months })), this.count),
      form.area('note', 'Remark', { value: typed.note }));
    this.element = form.element;
    this.element.addEventListener('input', () => this.tell());
    this.element.addEventListener('change', () => this.tell());
    this.tell();
  }

  /** @param {Batch[]} chosen */
  batchGroup(chosen) {
    const ticks = this.of.trials.map((trial) => {
      const was = chosen.find((batch) => batch.trial === trial.id);
      const { place, box } = tick(`${trial.name}, version ${trial.version}`, Boolean(was), () => {});
      return { place, read: () => (box.checked ? { name: was?.name ?? trial.name, trial: trial.id } : null) };
    });
    const others = rows('A batch made elsewhere', (batch) => {
      const name = cell('Code of a batch made elsewhere', batch?.name ?? '');
      return { row: h('div', { class: 'plan-row' }, name.place), read: () => ({ name: name.input.value, trial: '' }) };
    }, chosen.filter((batch) => !batch.trial).concat(this.of.trials.length || chosen.length ? [] : [{ name: '', trial: '' }]));
    return { element: h('div', {}, h('div', { class: 'plan-ticks' }, ...ticks.map((one) => one.place)), others.element), read: () => [...ticks.map((one) => one.read()).filter(Boolean), ...others.read()] };
  }

  /** @param {any[]} offers @param {any[]} chosen */
  conditionGroup(offers, chosen) {
    const own = chosen.filter((one) => !offers.some((offer) => offer.name === one.name));
    const line = (/** @type {any} */ offer, /** @type {any} */ was) => {
      const pulls = cell('Pulls', was?.pulls ?? offer.pulls);
      const more = h('div', { class: 'plan-more', hidden: !was }, pulls.place, h('p', { class: 'hint' }, offer.words));
      const { place, box } = tick(offer.name, Boolean(was), (on) => { more.hidden = !on; });
      return { place: h('div', { class: 'plan-choice' }, place, more), read: () => (box.checked ? { name: offer.name, temperature_c: was?.temperature_c ?? offer.temperature_c, humidity_percent: was?.humidity_percent ?? offer.humidity_percent, role: was?.role ?? offer.role, words: was?.words ?? offer.words, pulls: pulls.input.value } : null) };
    };
    const ticks = offers.map((offer) => line(offer, chosen.find((one) => one.name === offer.name)));
    const others = rows('A condition of your own', (condition) => {
      const [name, temperature, pulls] = [cell('Condition', condition?.name ?? ''), cell('Temperature, °C', condition?.temperature_c ?? '', { width: 'short', inputMode: 'decimal' }), cell('Pulls', condition?.pulls ?? '')];
      made += 1;
      const role = h('select', { id: `plan-${made}` }, ...[['storage', 'where it is kept and sold'], ['cold', 'kept cold'], ['intermediate', 'between storage and accelerated'], ['accelerated', 'harsher, to see early'], ['stress', 'a stress without a law']].map(([value, words]) => h('option', { value, selected: value === (condition?.role ?? 'stress') }, words)));
      return { row: h('div', { class: 'plan-row' }, name.place, temperature.place, h('div', { class: 'field' }, h('label', { htmlFor: role.id }, 'It is for'), role), pulls.place), read: () => ({ name: name.input.value, temperature_c: temperature.input.value, humidity_percent: condition?.humidity_percent ?? '', role: role.value, words: condition?.words ?? '', pulls: pulls.input.value }) };
    }, own);
    return { element: h('div', {}, ...ticks.map((one) => one.place), others.element), read: () => [...ticks.map((one) => one.read()).filter(Boolean), ...others.read()] };
  }

  /** @param {any} practice @param {any[]} chosen */
  attributeGroup(practice, chosen) {
    const known = practice.attributes.filter((/** @type {any} */ offer) => offer.name !== 'Assay');
    const one = (/** @type {any} */ offer, /** @type {any} */ was) => {
      const name = offer.name === 'Assay' ? cell('Assay of', (was?.name ?? '').replace(/^Assay of /, '')) : null;
      const percent = offer.reads === 'percent-of-start' ? ', % of the start' : offer.reads === 'colour' ? ', distance' : offer.reads === 'scale' ? ', step' : '';
      const lower = offer.reads === 'colour' || offer.reads === 'scale' ? null : cell(`Least${percent}`, echo(was?.lower ?? offer.lower), { width: 'short', inputMode: 'decimal' });
      const upper = cell(`Most${percent}`, echo(was?.upper ?? offer.upper), { width: 'short', inputMode: 'decimal' });
      const unit = offer.reads === 'colour' || offer.reads === 'scale' || offer.name === 'pH' ? null : cell('Unit', was?.unit ?? offer.unit, { width: 'short' });
      const asks = (offer.asks ?? []).map((/** @type {string} */ word) => ({ word, ...cell(word[0].toUpperCase() + word.slice(1), was?.measured_at?.[word] ?? '', { width: 'short' }) }));
      const scale = practice.scales.find((/** @type {any} */ scale) => scale.key === offer.scale);
      const read = () => ({ name: name ? (name.input.value.trim() ? `Assay of ${name.input.value.trim()}` : '') : offer.name, reads: offer.reads, unit: unit?.input.value ?? '', lower: lower?.input.value ?? '', upper: upper.input.value, either_way: was?.either_way ?? offer.either_way, measured_at: Object.fromEntries(asks.map((/** @type {any} */ ask) => [ask.word, ask.input.value])), steps: was?.steps?.length ? was.steps : scale?.steps ?? [] });
      const fields = h('div', { class: 'plan-row' }, ...[name, unit, lower, upper, ...asks].filter(Boolean).map((/** @type {any} */ field) => field.place));
      const hint = scale ? h('p', { class: 'hint' }, scale.steps.map((/** @type {string} */ step, /** @type {number} */ at) => `${at} ${step}`).join('; ')) : offer.words ? h('p', { class: 'hint' }, offer.words) : null;
      return { fields: h('div', {}, fields, hint), read };
    };
    const assay = practice.attributes.find((/** @type {any} */ offer) => offer.name === 'Assay');
    const ticks = known.map((/** @type {any} */ offer) => {
      const was = chosen.find((/** @type {any} */ it) => it.name === offer.name);
      const { fields, read } = one(offer, was);
      const more = h('div', { class: 'plan-more', hidden: !was }, fields);
      const { place, box } = tick(offer.name, Boolean(was), (on) => { more.hidden = !on; });
      return { place: h('div', { class: 'plan-choice' }, place, more), read: () => (box.checked ? read() : null) };
    });
    const assays = rows('An assay', (was) => { const { fields, read } = one(assay, was); return { row: fields, read }; }, chosen.filter((it) => /^Assay/.test(it.name)));
    // What somebody named otherwise is kept as it is.
    const others = chosen.filter((it) => !/^Assay/.test(it.name) && !known.some((/** @type {any} */ offer) => offer.name === it.name));
    return { element: h('div', {}, ...ticks.map((/** @type {any} */ it) => it.place), assays.element), read: () => [...ticks.map((/** @type {any} */ it) => it.read()).filter(Boolean), ...assays.read(), ...others] };
  }

  /** How many packs that is, told while it is typed; the plan itself computes it again. */
  tell() {
    const typed = this.typed();
    const pulls = typed.conditions.reduce((/** @type {number} */ sum, /** @type {any} */ one) => sum + (one.pulls.match(/\d+/g) ?? []).length, 0);
    const each = typed.batches.length * typed.packs.length * (Number(typed.units_per_pull) || 1);
    const planned = each * (pulls + 1);
    const reserve = Math.ceil((planned * (Number(typed.reserve_percent.replace(',', '.')) || 0)) / 100);
    const text = planned ? `${planned + reserve} packs: ${each} at the start, ${each * pulls} at ${pulls} ${pulls === 1 ? 'pull' : 'pulls'}, ${reserve} in reserve.` : 'How many packs it takes is told as soon as there is a batch and a pack.';
    if (this.count.textContent !== text) this.count.textContent = text;
  }

  /** The plan as it is typed. */
  typed() {
    const value = (/** @type {string} */ name) => this.form.value(name);
    return { version: this.of.typed.version, name: value('name'), why: value('why'), start: value('start'), batches: this.batches.read(), packs: this.packs.read(), conditions: this.conditions.read(), attributes: this.attributes.read(), units_per_pull: value('units_per_pull'), reserve_percent: value('reserve_percent'), wanted_months: value('wanted_months'), note: value('note') };
  }
}
