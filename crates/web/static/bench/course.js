// @ts-check
/** The temperature of a batch over time beside its steps: the planned course, what was read, and what that means. */

import { Trouble, ask } from '../api.js';
import { h, prose } from '../dom.js';
import { fixed } from '../figures.js';
import { PlateView } from '../plate.js';

/** What the vessel is, remembered on this device for this batch. @param {string} batch */
const memory = (batch) => `levigate-vessel-${batch}`;

/** Log reductions beyond this are not told: nobody counts them. */
const MOST_TOLD = 12;

/** @param {any} outcome @param {number} digits */
const number = (outcome, digits) => (typeof outcome?.value === 'number' ? `${fixed(outcome.value, digits)} ${outcome.unit}` : '–');

/** @param {any} outcome @param {number} digits */
const between = (outcome, digits) => (typeof outcome?.low === 'number' && typeof outcome?.high === 'number' ? ` (${fixed(outcome.low, digits)} to ${fixed(outcome.high, digits)})` : '');

export class Course {
  /**
   * @param {any} batch as it was first told
   * @param {(body: Record<string, any>) => Promise<void>} send keeps an entry at once
   */
  constructor(batch, send) {
    this.id = batch.id;
    this.send = send;
    this.warms = batch.steps.some((/** @type {any} */ step) => ['heat', 'hold', 'cool'].includes(step.procedure?.does));
    /** @type {string|null} */ this.asked = null;
    this.plate = new PlateView();
    this.says = h('div', { class: 'course-says', role: 'status' });
    this.trouble = h('div', { class: 'field-trouble', role: 'alert', hidden: true });
    this.vessel = this.form();
    this.element = h('section', { class: 'course', 'aria-labelledby': 'course-name', hidden: true }, h('h2', { id: 'course-name' }, 'Temperature'), this.plate.element, this.says, this.trouble, this.vessel);
  }

  form() {
    const field = (/** @type {string} */ name, /** @type {string} */ label) => h('label', {}, label, h('input', { name, type: 'text', inputMode: 'decimal', autocomplete: 'off' }));
    this.choice = h('select', { name: 'vessel' }, h('option', { value: '' }, 'not named'));
    this.file = h('input', { type: 'file', name: 'log', accept: '.csv,.txt,text/csv,text/plain', id: 'course-log' });
    this.file.addEventListener('change', () => this.log());
    const form = h('form', { class: 'course-vessel', noValidate: true, onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); this.remember(); this.look(true); } },
      h('label', {}, 'Vessel', this.choice), field('heat_c', 'Jacket heats with, °C'), field('cool_c', 'Jacket cools with, °C'), field('rpm', 'Stirrer, rpm'), h('button', { class: 'verb', type: 'submit' }, 'Draw it so'));
    form.addEventListener('change', (/** @type {Event} */ event) => { if (event.target === this.choice) { this.remember(); this.look(true); } });
    return h('details', { class: 'course-more' }, h('summary', {}, 'Vessel, and the file of a logger'), form, h('p', { class: 'aside' }, 'Without a jacket it stands on a usual hot plate and the room cools it.'),
      h('p', { class: 'aside' }, 'The file of a logger: CSV with time and temperature. It is sent at once; it needs the program to answer.'), h('div', { class: 'course-log' }, h('label', {}, 'Its record began at', h('input', { name: 'began', type: 'datetime-local', step: '1' })), h('label', {}, 'File', this.file)));
  }

  /** @returns {Record<string, string>} */
  typed() {
    return Object.fromEntries(['vessel', 'heat_c', 'cool_c', 'rpm'].map((name) => [name, this.vessel.querySelector(`[name=${name}]`).value.trim()]));
  }

  remember() {
    try { localStorage.setItem(memory(this.id), JSON.stringify(this.typed())); } catch { /* it is asked again */ }
  }

  /** @param {Array<[string, string]>} vessels */
  offer(vessels) {
    if (this.choice.options.length > 1) return;
    this.choice.append(...vessels.map(([key, words]) => h('option', { value: key }, words)));
    try {
      for (const [name, value] of Object.entries(JSON.parse(localStorage.getItem(memory(this.id)) ?? '{}'))) this.vessel.querySelector(`[name=${name}]`).value = value;
    } catch { /* nothing was remembered */ }
  }

  /** Asks again where something was read since. @param {boolean|string} since */
  async look(since) {
    const key = `${since}`;
    if (since !== true && (key === this.asked || (!key && !this.warms))) return;
    this.asked = key;
    try {
      const first = this.choice.options.length <= 1;
      let view = await ask('GET', `/api/batches/${this.id}/temperatures?${new URLSearchParams(this.typed())}`);
      if (first) {
        this.offer(view.vessels);
        if (this.typed().vessel) view = await ask('GET', `/api/batches/${this.id}/temperatures?${new URLSearchParams(this.typed())}`);
      }
      this.trouble.hidden = true;
      this.draw(view);
    } catch (error) {
      // Without a connection the last drawing stays; entries queue as always.
      if (!(error instanceof Trouble)) return;
      if (!error.told || error.told.code === 'no-answer') return;
      this.trouble.hidden = false;
      this.trouble.replaceChildren(h('b', {}, error.told.what), ` ${error.told.why} ${error.told.what_now}`);
    }
  }

  /** @param {any} view */
  draw(view) {
    this.element.hidden = !view.plate;
    if (!view.plate) return;
    this.plate.update(view.plate, null);
    const organisms = (view.lethality?.organisms ?? []).filter((/** @type {any} */ one) => typeof one.log_reduction.value === 'number');
    const refused = (view.lethality?.organisms ?? []).filter((/** @type {any} */ one) => typeof one.log_reduction.value !== 'number');
    this.says.replaceChildren(
      ...(view.takes.length ? [h('p', {}, view.takes.map((/** @type {[string, any]} */ [name, takes]) => `${name}: ${typeof takes.value === 'number' ? `${number(takes, 0)}${between(takes, 0)}` : 'time not known'}`).join(' · '))] : []),
      ...view.held.map((/** @type {any} */ one) => h('p', {}, h('b', {}, `Held: ${number(one.kept, 1)}`), ` of ${one.words}.`)),
      ...(view.went_off || view.evaporates ? [h('p', {}, [view.went_off ? `Water that went off by the balance: ${number(view.went_off, 2)}` : '', view.evaporates ? `${view.went_off ? 'by' : 'Water that goes off by'} the model for the open vessel: ${number(view.evaporates, 1)}${between(view.evaporates, 1)}` : ''].filter(Boolean).join('; '), '.')] : []),
      ...(view.lethality ? [h('details', { class: 'course-microbes' }, h('summary', {}, 'What the record does to microbes'),
        h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, h('th', {}, 'Organism'), h('th', {}, 'Kind'), h('th', { class: 'figure' }, 'Log reduction'))), h('tbody', {}, ...organisms.map((/** @type {any} */ one) => h('tr', {}, h('td', {}, one.organism), h('td', {}, one.kind.replace('-', ' ')), h('td', { class: 'figure' }, `${one.log_reduction.value >= MOST_TOLD ? `${MOST_TOLD} or more` : `${fixed(one.log_reduction.value, 1)}${between(one.log_reduction, 1)}`}${one.extrapolated ? ', extrapolated' : ''}`))))),
        ...refused.map((/** @type {any} */ one) => h('p', { class: 'aside' }, `${one.organism}: ${one.log_reduction.refused}`)),
        ...view.lethality.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(note.text))))] : []),
      ...view.notes.map((/** @type {string} */ note) => h('p', { class: 'aside' }, prose(note))));
  }

  /** Keeps the record of a logger: read whole by the program, or refused with what is wrong. */
  async log() {
    const file = this.file.files?.[0];
    if (!file) return;
    const began = this.vessel.querySelector('[name=began]').value;
    if (!began) {
      this.trouble.hidden = false;
      this.trouble.replaceChildren(h('b', {}, 'When did the record begin?'), ' Its file has times of its own; where they lie in the batch is not in it. Say when it began, then choose the file again.');
      this.file.value = '';
      this.vessel.querySelector('[name=began]').focus();
      return;
    }
    try {
      await this.send({ did: 'temperature_log', text: await file.text(), note: file.name, at: new Date(began).toISOString() });
      this.trouble.hidden = true;
      this.look(true);
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      this.trouble.hidden = false;
      this.trouble.replaceChildren(h('b', {}, error.told?.what ?? 'It was not kept.'), ` ${error.told?.why ?? ''} ${error.told?.what_now ?? ''}`);
    }
    this.file.value = '';
  }
}
