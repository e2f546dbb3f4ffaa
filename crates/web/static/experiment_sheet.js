// @ts-check
/** The run sheet: what is made in which order, begun as trials, and what is read of it, entered where it stands. */

import { ask } from './api.js';
import { announce, h, mark } from './dom.js';
import { EntryForm } from './entry_form.js';
import { echo, fixed } from './figures.js';
import { number } from './number.js';
import { level } from './experiment_plan.js';

/** @param {any} read */
export const unitOf = (read) => (read.unit ? `, ${read.unit}` : '');

export class RunSheet {
  /** @param {{checks: boolean, renew: (said: string) => Promise<void>, correct: (read: any, opener: HTMLElement) => void}} how */
  constructor(how) {
    this.how = how;
    this.element = h('div', { class: 'run-sheet' });
    this.makePlace = h('div', { class: 'form-place' });
  }

  /** @param {any} experiment */
  draw(experiment) {
    this.experiment = experiment;
    const rows = this.how.checks ? experiment.checks : experiment.runs;
    const { typed } = experiment;
    const form = new EntryForm('', { word: 'Keep what was read', leave: () => {}, act: async () => {
      const values = rows.flatMap((/** @type {any} */ run) => typed.reads.map((/** @type {any} */ read) => ({ run: run.run, read: read.name, value: form.value(`${run.run} | ${read.name}`) })));
      const done = await ask('POST', `/api/experiments/${experiment.id}/readings`, { values });
      await this.how.renew(`${done.readings} ${done.readings === 1 ? 'reading is' : 'readings are'} kept.`);
    } });
    form.element.classList.add('sheet-form');
    form.element.setAttribute('aria-label', this.how.checks ? 'Check batches' : 'Run sheet');
    form.element.removeAttribute('aria-labelledby');
    form.element.querySelector('h3')?.remove();
    const blocks = rows.some((/** @type {any} */ run) => run.block);
    const head = [this.how.checks ? 'Batch' : 'Run', ...(blocks ? ['Block'] : []), ...typed.parts.map((/** @type {any} */ part) => `${part.name}, %`), ...typed.settings.map((/** @type {any} */ one) => `${one.name}${unitOf(one)}`), ...typed.reads.map((/** @type {any} */ read) => `${read.name}${unitOf(read)}`), 'Made'];
    const figures = 1 + (blocks ? 1 : 0) + typed.parts.length + typed.settings.length;
    const table = h('table', { class: 'calm runs-table' }, h('thead', {}, h('tr', {}, ...head.map((text, at) => h('th', { scope: 'col', class: at > 0 && at < figures ? 'figure' : '' }, text)))),
      h('tbody', {}, ...rows.map((/** @type {any} */ run, /** @type {number} */ at) => this.row(run, form, blocks, at > 0 && run.block !== rows[at - 1].block))));
    form.body.replaceChildren(h('div', { class: 'readings-leaf' }, table));
    const open = form.element.querySelector('input') && !experiment.given_up;
    form.verbs.replaceChildren(...(open ? [form.keep, h('span', { class: 'hint' }, 'Replicates with a semicolon between them. What is left empty can be entered later.')] : []));
    this.element.replaceChildren(rows.length ? form.element : h('p', { class: 'aside' }, 'No check batch yet.'), this.makePlace);
  }

  /** @param {any} run @param {EntryForm} form @param {boolean} blocks @param {boolean} newBlock */
  row(run, form, blocks, newBlock) {
    const { experiment } = this;
    const { typed } = experiment;
    const cells = typed.reads.map((/** @type {any} */ read, /** @type {number} */ at) => {
      const there = run.read[at];
      if (there) return h('td', { class: 'read-there' }, h('button', { class: 'verb plain read-button', type: 'button', 'aria-label': `${read.name} of ${this.called(run)}: ${echo(there.typed)}${unitOf(read)}. Correct it`, disabled: experiment.given_up, onclick: (/** @type {Event} */ event) => this.how.correct(there, /** @type {HTMLElement} */ (event.currentTarget)) }, there.typed.split('; ').map(echo).join('; ')), there.note ? h('span', { class: 'small' }, there.note) : null);
      if (experiment.given_up) return h('td', {}, '–');
      const place = form.text(`${run.run} | ${read.name}`, `${read.name} of ${this.called(run)}${unitOf(read)}`, { numeric: true, width: 'short' });
      return h('td', {}, place);
    });
    return h('tr', { id: `run-${run.run.replace(/\s/g, '-')}`, class: newBlock ? 'new-block' : '', tabIndex: -1 }, h('th', { scope: 'row' }, run.run), ...(blocks ? [h('td', { class: 'figure' }, String(run.block ?? ''))] : []),
      ...this.levels(run, 'percent'), ...this.levels(run, 'settings'), ...cells, h('td', { class: 'made-cell' }, this.made(run)));
  }

  /** Levels with so many decimals as their column needs. @param {any} run @param {'percent'|'settings'} what */
  levels(run, what) {
    const rows = this.how.checks ? this.experiment.checks : this.experiment.runs;
    return run[what].map((/** @type {string} */ text, /** @type {number} */ at) => {
      const digits = Math.max(...rows.map((/** @type {any} */ one) => (one[what][at].split('.')[1] ?? '').length));
      return h('td', { class: 'figure' }, fixed(Number(text), Math.min(digits, 4)));
    });
  }

  /** @param {any} run */
  called(run) {
    return this.how.checks ? run.run : `run ${run.run}`;
  }

  /** @param {any} run */
  made(run) {
    const { experiment } = this;
    if (run.batch) return run.batch.trial ? h('a', { href: `/formulas/${experiment.formula_id}/trials#trial-${run.batch.trial_number}` }, `trial ${run.batch.trial_number}`, h('span', { class: 'small' }, `version ${run.batch.version}`)) : h('span', {}, mark('lot-released', 'shape'), ' made');
    if (experiment.given_up) return '';
    const word = experiment.formula_id ? 'Begin' : 'Made';
    return h('button', { class: 'verb plain', type: 'button', 'aria-label': `${word} ${this.called(run)}`, onclick: (/** @type {Event} */ event) => this.begin(run, /** @type {HTMLElement} */ (event.currentTarget)) }, word);
  }

  /** @param {any} run @param {HTMLElement} opener */
  begin(run, opener) {
    const { experiment } = this;
    const leave = () => { this.makePlace.replaceChildren(); opener.focus(); };
    const blend = experiment.typed.parts.map((/** @type {any} */ part, /** @type {number} */ at) => `${part.name} ${level(run.percent[at])} %`).join(', ');
    const form = new EntryForm(`Run ${run.run}: ${blend}`, { word: experiment.formula_id ? 'Begin it as a trial' : 'It is made', leave, act: async () => {
      await ask('POST', `/api/experiments/${experiment.id}/runs`, { run: Number(run.run), size: form.value('size'), unit: form.value('unit'), made: form.value('made') });
      this.makePlace.replaceChildren();
      await this.how.renew(experiment.formula_id ? `Run ${run.run} is begun as a trial of a version with its percents.` : `Run ${run.run} is made.`);
      document.getElementById(`run-${run.run}`)?.focus();
    } });
    if (experiment.formula_id) form.body.append(form.text('size', 'Batch size', { width: 'short', numeric: true }), form.choice('unit', 'Unit', [['g', 'g'], ['kg', 'kg']]), form.text('made', 'Made on', { type: 'date', hint: 'today when empty' }));
    this.makePlace.replaceChildren(form.element);
    form.element.scrollIntoView({ block: 'nearest' });
    /** @type {HTMLElement} */ (form.element.querySelector('input') ?? form.keep).focus();
  }

  /** The sheet as a table that comes back as readings. */
  csv() {
    const { typed, runs } = this.experiment;
    const quote = (/** @type {string} */ cell) => (/[",\n;]/.test(cell) ? `"${cell.replace(/"/g, '""')}"` : cell);
    const named = (/** @type {any} */ one) => (one.unit ? `${one.name} (${one.unit})` : one.name);
    const head = ['run', 'block', ...typed.parts.map((/** @type {any} */ part) => `${part.name} (%)`), ...typed.settings.map(named), ...typed.reads.map(named), 'remark'];
    const rows = runs.map((/** @type {any} */ run) => [run.run, String(run.block ?? ''), ...run.percent, ...run.settings, ...run.read.map((/** @type {any} */ read) => read?.typed ?? ''), '']);
    return [head, ...rows].map((row) => row.map(quote).join(',')).join('\r\n');
  }
}

/** Gives a text as a file. @param {string} text @param {string} name */
export function take(text, name) {
  const url = URL.createObjectURL(new Blob([text], { type: 'text/csv' }));
  h('a', { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
  announce(`${name} is taken away.`);
}
