// @ts-check
/** The plan of an experiment as a form: what moves and how far, settings, what is read and wished, and while it is typed what its runs would be. */

import { Trouble, ask } from './api.js';
import { EntryForm } from './entry_form.js';
import { Conditions } from './experiment_conditions.js';
import { h, prose } from './dom.js';
import { canonical, echo, fixed } from './figures.js';
import { number } from './number.js';
import { PlateView } from './plate.js';

/** @typedef {{key: string, place: HTMLElement, line: number|null, name: string, chosen: () => boolean, now: string, remove?: () => void}} Part */

const MODELS = [['linear', 'linear: each part by itself'], ['quadratic', 'quadratic: and every two together'], ['special-cubic', 'special cubic: and every three'], ['full-cubic', 'full cubic: and which way two lean']];
const PROCESSES = [['linear', 'each setting by itself'], ['pairs', 'and every two together'], ['quadratic', 'and every one squared']];
const WISHES = [['', 'nothing wished'], ['larger', 'as much as can be'], ['smaller', 'as little as can be'], ['target', 'near a target']];
const READINGS = ['pH', 'Viscosity', 'Yield stress', 'Density', 'Turbidity', 'Foam height', 'Tack', 'Spreading', 'Absorption time'];

/** How long nothing is typed before the runs are chosen, ms. */
const PAUSE = 350;

let made = 0;

export class ExperimentForm {
  /** @param {{ground: any, typed: any, title: string, word: string, held: boolean, reason?: boolean, leave: () => void, keep: (typed: any, reason: string) => Promise<void>}} of held: the runs are made already, so only what is read and wished may change */
  constructor(of) {
    this.of = of;
    const { typed } = of;
    const form = new EntryForm(of.title, { word: of.word, leave: of.leave, act: () => of.keep(this.typed(), form.value('reason')) });
    this.form = form;
    form.element.classList.add('plan-form', 'experiment-form');
    const tell = form.tell.bind(form);
    form.tell = (told) => tell({ ...told, place: { ...told.place, field: this.fieldOf(told.place?.field ?? '') } });
    /** @type {Part[]} */ this.parts = [];
    /** @type {string[]} */ this.settings = [];
    /** @type {string[]} */ this.reads = [];
    this.asked = 0;
    this.partRows = h('div', { class: 'mix-rows' });
    this.settingRows = h('div', { class: 'plan-rows' });
    this.readRows = h('div', { class: 'plan-rows' });
    this.told = h('div', { class: 'look-told', 'aria-live': 'polite' });
    this.plate = new PlateView();
    this.plate.element.hidden = true;
    form.body.append(...(of.reason ? [form.text('reason', 'Why the plan is changed', { width: 'whole', need: true, hint: 'The plan before stays, with the reason beside it.' })] : []),
      form.text('name', 'Name of the experiment', { width: 'wide', need: true, value: typed.name }), form.area('why', 'What it shall tell', { value: typed.why }));
    const total = form.text('total_percent', 'The parts make together, %', { width: 'short', numeric: true, value: echo(typed.total_percent) });
    const partsGroup = this.group('parts', of.ground.formula ? 'Lines that may move' : 'Parts', of.ground.formula ? 'Tick a line and say how far it may go, percent of the product. What one gives up another takes; lines that are not ticked stay as they are.' : 'What one gives up another takes.', this.partRows, h('div', { class: 'plan-row' }, total, of.ground.formula ? null : this.more('One more part', () => this.addPart(null))));
    this.conditions = new Conditions(form, () => this.chosen().map((part) => ({ key: part.key, name: part.name || this.form.value(`${part.key}.name`) })), typed.conditions ?? []);
    const conditionsGroup = this.group('conditions', 'What must hold of them together', 'Only where something must: two of them together at least 3 %, one at most twice the other.', this.conditions.place, this.more('A condition', () => this.conditions.add(null)));
    const settingsGroup = this.group('settings', 'Settings of the process', 'Only where they are varied on purpose: stirring, temperature, time.', this.settingRows, this.more('A setting', () => this.addSetting(null)));
    const readsGroup = this.group('reads', 'What is read of every run', 'A wish says what is worth nothing and what is as good as it gets; by wishes the best blend is sought.', this.readRows, this.more('One more reading', () => this.addRead(null)));
    const choose = (/** @type {string} */ name, /** @type {string} */ label, /** @type {any} */ options, /** @type {string} */ value) => form.choice(name, label, options, { value });
    this.process = choose('process', 'Terms of the settings', PROCESSES, typed.process);
    this.joined = choose('joined', 'Settings act', [['added', 'the same on every blend'], ['crossed', 'differently on every blend']], typed.joined);
    const count = (/** @type {string} */ name, /** @type {string} */ label, /** @type {string} */ hint = '') => form.text(name, label, { width: 'short', numeric: true, value: typed[name], hint });
    const runsGroup = this.group('runs', 'Runs', '', h('div', { class: 'plan-row' }, choose('model', 'Model to settle', MODELS, typed.model || 'quadratic'), choose('goal', 'Chosen for', [['terms', 'terms settled best (D)'], ['predictions', 'predictions settled best (I)']], typed.goal), this.process, this.joined),
      h('div', { class: 'plan-row' }, count('runs', 'Runs, all together'), count('middles', 'Middle, times'), count('repeats', 'Made twice'), count('blocks', 'Blocks (days)'), count('seed', 'Seed')), h('div', { class: 'look-leaf' }, this.told, this.plate.element));
    form.body.append(partsGroup, conditionsGroup, settingsGroup, readsGroup, runsGroup, form.area('note', 'Remark', { value: typed.note }));
    for (const line of of.ground.formula ? of.ground.lines : []) this.addLine(line, typed.parts.find((/** @type {any} */ part) => part.line === line.line));
    if (!of.ground.formula) for (const part of typed.parts.length ? typed.parts : [null, null, null]) this.addPart(part);
    this.conditions.recall();
    for (const one of typed.settings) this.addSetting(one);
    for (const one of typed.reads.length ? typed.reads : [null]) this.addRead(one);
    // Runs that were begun stay: what they are is not asked again.
    if (of.held) for (const group of [partsGroup, conditionsGroup, settingsGroup, runsGroup]) group.hidden = true;
    form.field('total_percent').addEventListener('input', () => { this.ownTotal = true; });
    this.ownTotal = Boolean(typed.total_percent);
    this.element = form.element;
    for (const kind of ['input', 'change']) this.element.addEventListener(kind, () => this.changed());
    this.changed(0);
  }

  /** @param {string} key @param {string} title @param {string} hint @param {any[]} parts */
  group(key, title, hint, ...parts) {
    return h('fieldset', { class: 'plan-group', data: { group: key } }, h('legend', {}, title), hint ? h('p', { class: 'hint' }, hint) : null, ...parts);
  }

  /** @param {string} word @param {() => HTMLElement} add */
  more(word, add) {
    return h('button', { class: 'verb plain', type: 'button', onclick: () => { add().querySelector('input')?.focus(); this.changed(); } }, word);
  }

  /** A line of the formula. @param {any} line @param {any} was */
  addLine(line, was) {
    const key = `line ${line.line}`;
    const box = h('input', { type: 'checkbox', checked: Boolean(was), 'aria-label': `${line.material} may move`, onchange: () => show() });
    const least = this.form.text(`${key}.least`, 'Least, %', { width: 'short', numeric: true, value: echo(was?.least ?? '') });
    const most = this.form.text(`${key}.most`, 'Most, %', { width: 'short', numeric: true, value: echo(was?.most ?? '') });
    const now = line.percent ? `${echo(line.percent)} %${line.rest ? ', takes up the rest' : ''}` : line.rest ? 'takes up the rest' : '';
    const place = h('div', { class: 'mix-row' }, h('label', { class: 'plan-tick' }, box, h('span', {}, line.material)), h('span', { class: 'mix-now' }, now), least, most);
    const show = () => { for (const one of [least, most]) one.hidden = !box.checked; };
    show();
    this.partRows.append(place);
    this.parts.push({ key, place, line: line.line, name: line.material, now: line.percent, chosen: () => box.checked });
    return place;
  }

  /** A freely named part. @param {any} was */
  addPart(was) {
    made += 1;
    const key = `part ${made}`;
    const place = h('div', { class: 'plan-row' }, this.form.text(`${key}.name`, 'Part', { value: was?.name ?? '' }), this.form.text(`${key}.least`, 'Least, %', { width: 'short', numeric: true, value: echo(was?.least ?? '') }), this.form.text(`${key}.most`, 'Most, %', { width: 'short', numeric: true, value: echo(was?.most ?? '') }));
    this.partRows.append(place);
    this.parts.push({ key, place, line: null, name: '', now: '', chosen: () => this.form.value(`${key}.name`).trim() !== '' });
    return place;
  }

  /** @param {any} was */
  addSetting(was) {
    made += 1;
    const key = `setting ${made}`;
    const place = h('div', { class: 'plan-row' }, this.form.text(`${key}.name`, 'Setting', { value: was?.name ?? '' }), this.form.text(`${key}.unit`, 'Unit', { width: 'short', value: was?.unit ?? '' }), this.form.text(`${key}.low`, 'From', { width: 'short', numeric: true, value: echo(was?.low ?? '') }), this.form.text(`${key}.high`, 'To', { width: 'short', numeric: true, value: echo(was?.high ?? '') }));
    this.settingRows.append(place);
    this.settings.push(key);
    return place;
  }

  /** @param {any} was */
  addRead(was) {
    made += 1;
    const key = `read ${made}`;
    const { form } = this;
    const wish = form.choice(`${key}.wish`, 'Wished', /** @type {any} */ (WISHES), { value: was?.wish ?? '' });
    const ends = ['low', 'target', 'high'].map((end) => form.text(`${key}.${end}`, { low: 'Nothing below', target: 'Target', high: 'Nothing above' }[end] ?? '', { width: 'short', numeric: true, value: echo(was?.[end] ?? '') }));
    const show = () => { const word = form.field(`${key}.wish`).value; ends[0].hidden = !['larger', 'target'].includes(word); ends[1].hidden = !word; ends[2].hidden = !['smaller', 'target'].includes(word); };
    form.field(`${key}.wish`).addEventListener('change', show);
    show();
    const place = h('div', { class: 'plan-row' }, form.text(`${key}.name`, 'Reading', { value: was?.name ?? '', list: READINGS }), form.text(`${key}.unit`, 'Unit', { width: 'short', value: was?.unit ?? '' }), wish, ...ends);
    this.readRows.append(place);
    this.reads.push(key);
    return place;
  }

  /** The field of the form that the server speaks of. @param {string} field */
  fieldOf(field) {
    const [list, at, what] = field.split('.');
    if (list === 'conditions') return this.conditions.fieldOf(Number(at)) ?? field;
    const key = list === 'parts' ? this.chosen()[Number(at)]?.key : list === 'settings' ? this.namedSettings()[Number(at)] : list === 'reads' ? this.reads[Number(at)] : undefined;
    if (key && what) return `${key}.${what}`;
    return list === 'reads' && this.reads[0] ? `${this.reads[0]}.name` : field;
  }

  chosen() { return this.parts.filter((part) => part.chosen()); }
  namedSettings() { return this.settings.filter((key) => ['name', 'low', 'high'].some((what) => this.form.value(`${key}.${what}`).trim())); }

  /** @param {number} [pause] */
  changed(pause = PAUSE) {
    const settings = this.namedSettings().length > 0;
    this.process.hidden = !settings;
    this.conditions.show();
    this.joined.hidden = !settings;
    if (!this.ownTotal && this.of.ground.formula) {
      const numbers = this.chosen().map((part) => Number(part.now));
      const sum = numbers.every((one) => Number.isFinite(one)) ? numbers.reduce((all, one) => all + one, 0) : 0;
      this.form.field('total_percent').value = sum > 0 ? echo(String(Number(sum.toFixed(6)))) : '';
    }
    if (this.of.held) return;
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => this.look(), pause);
  }

  /** What the runs would be. */
  async look() {
    this.asked += 1;
    const mine = this.asked;
    if (this.chosen().length < 2) {
      this.say(h('p', { class: 'aside' }, 'As soon as two parts have their least and most, the runs are chosen here: how many the model needs, how well they settle it, where they lie.'));
      this.plate.element.hidden = true;
      return;
    }
    let told;
    try {
      told = await ask('POST', '/api/experiments/look', this.typed());
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      if (mine === this.asked) this.say(h('p', { class: 'heed' }, `${error.told.what} ${error.told.what_now}`));
      return;
    }
    if (mine !== this.asked) return;
    const whole = (/** @type {any} */ outcome) => String(outcome.value);
    const needed = told.terms ? h('p', { class: 'plan-count' }, `The model has ${whole(told.terms)} terms; ${whole(told.advised)} runs or more leave something to tell scatter by.`) : null;
    this.plate.element.hidden = !told.plate;
    if (told.plate) this.plate.update(told.plate, null);
    if (!told.plan) {
      const first = told.wrong[0];
      this.say(needed, first ? h('p', { class: 'look-wrong' }, `Not yet: ${first.what} ${first.what_now}`) : null);
      return;
    }
    const { plan } = told;
    const pair = (/** @type {string} */ words, /** @type {any} */ outcome, /** @type {any} */ how = {}) => (outcome ? h('div', {}, h('dt', {}, words), h('dd', {}, number(outcome, words, how))) : null);
    this.say(needed, h('p', { class: 'lead-word' }, `${plan.runs.length} runs are chosen.`),
      h('dl', { class: 'trend-pairs' }, pair('How well terms are settled (D)', plan.d, { most: 6, least: 3 }), pair('Least certain prediction against the best', plan.g_efficiency), pair('Mean variance of a prediction (I)', plan.mean_variance), pair('Clear of the blocks', plan.blocks_clear), pair('Chosen from so many blends', plan.candidates, { exact: String(plan.candidates.value) }), pair('Chosen in', told.took)),
      ...plan.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(note.text))));
  }

  /** @param {any[]} parts */
  say(...parts) {
    this.told.replaceChildren(...parts.filter(Boolean));
  }

  /** The plan as it is typed. */
  typed() {
    const value = (/** @type {string} */ name) => this.form.value(name);
    const { typed } = this.of;
    const plain = (/** @type {string} */ name) => { const text = value(name); return canonical(text) ?? text; };
    return {
      formula: this.of.ground.formula ?? '', version: this.of.ground.version ?? 0, name: value('name'), why: value('why'), total_percent: plain('total_percent'), conditions: this.of.held ? typed.conditions ?? [] : this.conditions.typed(),
      parts: this.chosen().map((part) => ({ name: part.line === null ? value(`${part.key}.name`) : part.name, line: part.line, least: plain(`${part.key}.least`), most: plain(`${part.key}.most`) })),
      settings: this.namedSettings().map((key) => ({ name: value(`${key}.name`), unit: value(`${key}.unit`), low: plain(`${key}.low`), high: plain(`${key}.high`) })),
      reads: this.reads.map((key) => ({ name: value(`${key}.name`), unit: value(`${key}.unit`), wish: value(`${key}.wish`), low: plain(`${key}.low`), target: plain(`${key}.target`), high: plain(`${key}.high`) })),
      model: value('model'), process: value('process') || 'linear', joined: value('joined') || 'added', goal: value('goal'), runs: value('runs'), middles: value('middles'), repeats: value('repeats'), blocks: value('blocks'), seed: value('seed'), note: value('note'),
    };
  }
}

/** A percent as it is shown: no noughts behind the decimals. @param {string} text */
export function level(text) {
  const value = Number(text);
  return Number.isFinite(value) && text !== '' ? echo(String(Number(fixed(value, 4).replace('−', '-').replace(',', '.')))) : text;
}
