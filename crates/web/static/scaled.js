// @ts-check
/** From the bench to the plant: bench, pilot and plant side by side, and what does not scale. Asked once a speed at the bench is typed. */

import { Trouble } from './api.js';
import { know } from './derivation.js';
import { h, prose } from './dom.js';
import { canonical, echo, fixed, plain } from './figures.js';
import { number } from './number.js';

/** @typedef {import('./figures.js').Outcome} Outcome */

const AFTER_MS = 500;
const SCALES = ['bench', 'pilot', 'plant'];
/** What a field asks for. @type {Record<string, string>} */
const ASKS = { vessel: 'Vessel', batch: 'Batch', rpm: 'Speed, rpm', heat_c: 'Jacket warms with, °C', heat_flow: 'Its flow, kg/h', cool_c: 'Jacket cools with, °C', cool_flow: 'Its flow then, kg/h' };
/** Rows of the table: what, and where each scale has it; the bench as it is stirred, the others at the speed to begin with. @type {Array<[string, string]>} */
const STIRRED = [['Speed of the tip', 'tip_speed'], ['Power over volume', 'power_per_volume'], ['Power', 'power'], ['Reynolds number', 'reynolds'], ['Viscosity at the impeller', 'viscosity'], ['Time to blend', 'blend_time'], ['Turned over once in', 'turnover'], ['Vortex below rest', 'vortex_below_rest'], ['Draws air from', 'air_from']];
/** @type {Array<[string, string]>} */
const HEATED = [['Warming', 'warm'], ['Holding', 'hold'], ['Cooling', 'cool'], ['In all', 'time'], ['Warming and cooling, times the bench', 'times_bench'], ['Water lost on the way', 'water_percent']];
/** @type {Array<[string, string]>} */
const SIZES = [['Surface over volume', 'surface_per_volume'], ['Slower through the wall, times', 'slower_through_wall'], ['Bubbles rise longer, times', 'bubbles_slower']];

export class ScaledView {
  /** @param {import('./session.js').Session} session @param {HTMLElement} place */
  constructor(session, place) {
    this.session = session;
    this.place = place;
    this.timer = 0;
    this.seen = false;
    this.asking = false;
    this.again = false;
    this.answered = '';
    /** @type {any[]} */ this.vessels = [];
    /** @type {Record<string, string>} */ this.typed = this.kept();
    this.form = h('div', { class: 'scaled-form' });
    this.course = h('p', { class: 'sentence' }, 'Warmed to ', this.field('heat.to', 'To be reached, °C'), ' °C, held for ', this.field('heat.hold', 'Held for, min'), ' min, cooled to ', this.field('heat.down', 'Cooled to, °C'), ' °C; left empty, as the steps of the formula say. An addition of ', this.field('add.minutes', 'An addition takes at the bench, min'), ' min at the bench, ', this.acts(), '. An hour of the plant vessel costs ', this.field('cost.hour', 'An hour of the plant vessel costs'), '.');
    this.trouble = h('div', { role: 'alert' });
    this.state = h('p', { class: 'aside', 'aria-live': 'polite' });
    this.body = h('div', {});
    place.replaceChildren(h('h2', {}, 'From the bench to the plant'), this.form, this.course, this.trouble, this.state, this.body);
    place.hidden = false;
    new IntersectionObserver((entries) => {
      this.seen = entries.some((entry) => entry.isIntersecting);
      if (this.seen) this.soon(0);
    }, { rootMargin: '300px' }).observe(place);
  }

  /** What was typed here before, on this machine. @returns {Record<string, string>} */
  kept() {
    try { return JSON.parse(localStorage.getItem(`levigate-scale-${this.session.id}`) ?? '{}'); } catch { return {}; }
  }

  keep() {
    try { if (this.session.id) localStorage.setItem(`levigate-scale-${this.session.id}`, JSON.stringify(this.typed)); } catch { /* The page itself still has it. */ }
  }

  /** @param {string} name @param {string} label @param {boolean} [labelled] whether a label of its own stands beside it */
  field(name, label, labelled = false) {
    return h('input', { type: 'text', inputMode: 'decimal', autocomplete: 'off', class: 'figure-field', placeholder: '–', value: echo(this.typed[name] ?? ''), ...(labelled ? {} : { 'aria-label': label }), data: { scale: name },
      onchange: (/** @type {Event} */ event) => this.take(/** @type {HTMLInputElement} */ (event.target), label) });
  }

  /** Whether what is added acts where it is not mixed in yet. */
  acts() {
    return h('select', { 'aria-label': 'What the addition is', onchange: (/** @type {Event} */ event) => {
      if (/** @type {HTMLSelectElement} */ (event.target).value) this.typed['add.acts'] = 'yes'; else delete this.typed['add.acts'];
      this.keep();
      this.soon(0);
    } }, h('option', { value: '' }, 'a liquid'), h('option', { value: 'yes', selected: Boolean(this.typed['add.acts']) }, 'an acid or base'));
  }

  /** Takes what stands in a field. @param {HTMLInputElement} input @param {string} label */
  take(input, label) {
    const name = input.dataset.scale ?? '';
    const text = input.value.trim();
    const read = text ? canonical(text) : '';
    input.classList.toggle('bad', read === null);
    if (read === null) { this.refuse(`“${text}” is no number.`, `${label}: write it with one decimal sign.`); return; }
    if (read) this.typed[name] = read; else delete this.typed[name];
    this.keep();
    this.soon(0);
  }

  /** @param {string} what @param {string} now */
  refuse(what, now) {
    this.trouble.replaceChildren(h('div', { class: 'field-trouble' }, h('b', {}, what), ` ${now}`));
  }

  /** The sheet has changed. */
  update() {
    this.soon(AFTER_MS);
  }

  /** @param {number} wait */
  soon(wait) {
    clearTimeout(this.timer);
    this.timer = window.setTimeout(() => this.find(), wait);
  }

  /** What is taken where nothing was typed. */
  usual() {
    const grams = Number(this.session.draft.bench.size_g) || 200;
    const bench = this.vessels.find((one) => !one.jacketed && one.holds_l >= grams / 800) ?? this.vessels.find((one) => !one.jacketed);
    const plant = this.vessels.find((one) => one.jacketed && one.holds_l >= 1000) ?? this.vessels.at(-1);
    return { 'bench.vessel': bench?.key ?? '', 'bench.batch': this.session.draft.bench.size_g, 'pilot.vessel': '', 'plant.vessel': plant?.key ?? '', 'plant.batch': String(Math.round((plant?.holds_l ?? 0) * 0.75 / 50) * 50) };
  }

  /** @param {string} name */
  value(name) {
    return this.typed[name] ?? /** @type {Record<string, string>} */ (this.usual())[name] ?? '';
  }

  /** Another vessel; what was just typed beside it is not lost. @param {string} scale @param {string} vessel */
  choose(scale, vessel) {
    for (const input of this.form.querySelectorAll('input')) if (input.value !== echo(this.value(input.dataset.scale ?? ''))) this.take(input, '');
    this.typed[`${scale}.vessel`] = vessel;
    this.keep();
    this.drawForm();
    this.soon(0);
  }

  drawForm() {
    this.form.replaceChildren(...SCALES.map((scale) => {
      const vessel = this.vessels.find((one) => one.key === this.value(`${scale}.vessel`));
      const choice = h('select', { 'data-scale': `${scale}.vessel`, onchange: (/** @type {Event} */ event) => this.choose(scale, /** @type {HTMLSelectElement} */ (event.target).value) },
        ...(scale === 'pilot' ? [h('option', { value: '' }, 'no pilot')] : []), ...this.vessels.filter((one) => scale === 'bench' || one.jacketed).map((one) => h('option', { value: one.key, selected: one.key === vessel?.key }, one.words.replace('m3', 'm³'))));
      const asked = ['batch', ...(scale === 'bench' ? ['rpm'] : []), ...(vessel?.jacketed ? ['heat_c', 'heat_flow', 'cool_c', 'cool_flow'] : [])];
      return h('fieldset', {}, h('legend', {}, scale.charAt(0).toUpperCase() + scale.slice(1)), h('label', {}, ASKS.vessel, choice),
        ...(vessel ? asked : []).map((name) => {
          const label = name === 'batch' ? `Batch, ${scale === 'bench' ? 'g' : 'kg'}` : ASKS[name];
          const input = this.field(`${scale}.${name}`, label, true);
          input.value = echo(this.value(`${scale}.${name}`));
          return h('label', {}, label, input);
        }));
    }));
  }

  /** The question as a file; empty while something that must be there is missing. */
  text() {
    const lines = [];
    for (const scale of SCALES) {
      const of = (/** @type {string} */ name) => canonical(this.value(`${scale}.${name}`)) ?? '';
      const vessel = this.value(`${scale}.vessel`);
      if (!vessel) continue;
      if (!of('batch') || scale === 'bench' && !of('rpm')) return '';
      lines.push(`[${scale}]`, `vessel = ${JSON.stringify(vessel)}`, `${scale === 'bench' ? 'batch_g' : 'batch_kg'} = ${of('batch')}`);
      if (of('rpm')) lines.push(`speed_rpm = ${of('rpm')}`);
      const [heat, cool] = [of('heat_c'), of('cool_c')];
      const flows = /** @type {Array<[string, string]>} */ ([['heat_flow_kg_h', of('heat_flow')], ['cool_flow_kg_h', cool ? of('cool_flow') : '']]).filter(([, flow]) => flow).map(([key, flow]) => `, ${key} = ${flow}`).join('');
      if (heat) lines.push(`jacket = { heat_c = ${heat}${cool ? `, cool_c = ${cool}` : ''}${flows} }`);
    }
    const heat = /** @type {Array<[string, string]>} */ ([['to_c', 'heat.to'], ['hold_min', 'heat.hold'], ['down_to_c', 'heat.down']]).filter(([, name]) => this.typed[name]);
    if (heat.length) lines.push('[heat]', ...heat.map(([key, name]) => `${key} = ${this.typed[name]}`));
    if (this.typed['add.minutes']) lines.push('[[addition]]', 'name = "the addition"', `minutes = ${this.typed['add.minutes']}`, ...(this.typed['add.acts'] ? ['acts_at_once = true'] : []));
    lines.push('[making]');
    if (this.typed['cost.hour']) lines.push('[[making.work]]', 'name = "the vessel"', 'while_made = true', `per_hour = ${this.typed['cost.hour']}`);
    return `${lines.join('\n')}\n`;
  }

  async find() {
    if (!this.seen) return;
    const text = this.vessels.length ? this.text() : '';
    const asked = JSON.stringify([text, text ? this.session.judged() : '']);
    if (asked === this.answered) return;
    if (this.asking) { this.again = true; return; }
    this.asking = true;
    try {
      const told = await this.session.scale(text);
      this.answered = asked;
      this.trouble.replaceChildren();
      if (!this.vessels.length) {
        this.vessels = told.vessels;
        this.drawForm();
        if (this.text()) this.again = true;
      }
      know({ citations: told.sources });
      this.draw(told);
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      // The same question is not asked again until something in it changes.
      if (error.told.status === 422) this.answered = asked;
      this.refuse(error.told.what, `${error.told.what_now}${this.body.childElementCount ? ' What stands below is from before.' : ''}`);
    } finally {
      this.asking = false;
      if (this.again) { this.again = false; this.soon(0); }
    }
  }

  /** @param {any} told */
  draw(told) {
    const { found } = told;
    this.state.textContent = found ? '' : told.refused || 'Type the speed that works at the bench; the rest follows from it and from how the formula flows.';
    if (!found) { this.body.replaceChildren(); return; }
    this.body.replaceChildren(sideBySide(found, this.typed['add.minutes']), because(found), h('h3', {}, 'What does not scale'), h('ul', { class: 'scaled-not' }, ...found.does_not_scale.map((/** @type {string} */ line) => h('li', {}, line))), rules(found));
  }
}

/** @param {any} found @param {string} [minutes] of an addition at the bench, as typed */
function sideBySide(found, minutes) {
  const scales = [{ words: 'Bench', at: found.bench, own: null }, ...found.steps.map((/** @type {any} */ step) => ({ words: step.words.charAt(0).toUpperCase() + step.words.slice(1), at: step.at_recommended, own: step }))];
  const cell = (/** @type {Outcome|null|undefined} */ outcome, /** @type {string} */ label) => h('td', {}, outcome ? h('span', {}, number(outcome, label), ends(outcome)) : '–');
  const row = (/** @type {string} */ what, /** @type {(scale: any, at: number) => Outcome|null|undefined} */ pick) => h('tr', {}, h('th', { scope: 'row' }, what), ...scales.map((scale, at) => cell(pick(scale, at), `${what}, ${scale.words.toLowerCase()}`)));
  const group = (/** @type {string} */ words, /** @type {string} */ aside) => h('tr', { class: 'group' }, h('th', { colSpan: scales.length + 1, scope: 'colgroup' }, words, h('span', { class: 'aside' }, ` ${aside}`)));
  const heated = found.heating.length > 0;
  const notes = [...new Set(/** @type {string[]} */ (found.heating.flatMap((/** @type {any} */ one) => one.notes.map((/** @type {any} */ note) => note.text))))];
  const why = found.heating.filter((/** @type {any} */ one) => one.time.refused);
  return h('div', {}, h('table', { class: 'calm scaled-table' },
    h('thead', {}, h('tr', {}, h('td', {}), ...scales.map((scale) => h('th', { scope: 'col' }, scale.words, h('span', { class: 'small aside' }, (scale.own ? scale.own.vessel : found.bench_vessel).replace('m3', 'm³')))))),
    h('tbody', {},
      row('Speed to begin with', (scale) => (scale.own ? scale.own.recommended : scale.at.speed)),
      ...STIRRED.map(([what, key]) => row(what, (scale) => scale.at?.[key])),
      h('tr', {}, h('th', { scope: 'row' }, 'It flows'), ...scales.map((scale) => h('td', {}, scale.at?.regime ?? '–'))),
      group('Warming and cooling', found.course),
      ...(heated ? HEATED.map(([what, key]) => row(what, (_, at) => found.heating[at]?.[key])) : []),
      ...(['heats', 'cools']).flatMap((does) => (found.heating.some((/** @type {any} */ one) => medium(one, does)) ? [row(does === 'heats' ? 'Heating medium comes back at last at' : 'Cooling medium comes back at first at', (_, at) => (does === 'heats' ? medium(found.heating[at], does)?.returns_at_last : medium(found.heating[at], does)?.returns_at_first))] : [])),
      group('Size', ''),
      ...SIZES.map(([what, key]) => row(what, (scale) => (scale.own ? scale.own[key] : key === 'surface_per_volume' ? found.bench_surface_per_volume : null))),
      ...(found.steps[0].additions.length ? [row('The addition takes', (scale) => (scale.own ? scale.own.additions[0]?.time : { value: Number(minutes), unit: 'min', grade: 'measured', method: 'as typed' })),
        row('Of it unmixed where it goes in', (scale) => scale.own?.additions[0]?.unmixed), row('Least, ten times the time to blend', (scale) => scale.own?.additions[0]?.least)] : []))),
  ...[...new Set(/** @type {string[]} */ (found.steps.flatMap((/** @type {any} */ step) => step.additions.flatMap((/** @type {any} */ one) => one.notes.map((/** @type {any} */ note) => note.text)))))].map((text) => h('p', {}, h('b', {}, 'The addition: '), prose(text))),
  ...why.map((/** @type {any} */ one) => h('p', { class: 'aside' }, h('b', {}, `${one.words.charAt(0).toUpperCase()}${one.words.slice(1)}, warming: `), `${one.time.refused}.`)),
  notes.length ? h('ul', { class: 'scaled-not' }, ...notes.map((text) => h('li', {}, prose(text), '.'))) : null,
  cost(found));
}

/** What flows through the jacket of a scale. @param {any} heated @param {string} does */
function medium(heated, does) {
  return heated?.medium?.find((/** @type {any} */ one) => one.does === does);
}

/** @param {Outcome} outcome */
function ends(outcome) {
  if (outcome.value === null) return h('span', { class: 'small aside' }, outcome.refused ?? '');
  const { low, high } = outcome;
  return typeof low === 'number' && typeof high === 'number' && low !== high ? h('span', { class: 'small aside' }, `${plain(low, outcome)} to ${plain(high, outcome)}`) : null;
}

/** @param {any} found */
function because(found) {
  return h('div', { class: 'scaled-because' }, ...found.steps.map((/** @type {any} */ step) => h('div', {}, h('h3', {}, `Why this speed: ${step.words}`), ...(step.recommended.refused ? [h('p', {}, `No speed: ${step.recommended.refused}.`)] : []), ...step.because.map((/** @type {string} */ line) => h('p', {}, prose(line))))));
}

/** @param {any} found */
function cost(found) {
  if (!found.cost) return found.cost_from ? h('p', { class: 'aside' }, `Cost of the plant batch: ${found.cost_from}.`) : null;
  const pairs = [['Material', found.cost.material], ['Vessel', found.cost.work], ['Good bulk, each kg', found.cost.good_per_kg]];
  return h('div', { class: 'scaled-cost' }, h('h3', {}, 'Cost of the plant batch'), h('p', { class: 'aside' }, `In the currency of the prices; material: ${found.cost_from}. The vessel is taken for ${fixed(found.vessel_hours.value, 2)} h of warming, holding, cooling and additions, without filling, emptying and cleaning.`),
    h('dl', { class: 'pairs' }, ...pairs.map(([label, outcome]) => h('div', {}, h('dt', {}, label), h('dd', {}, outcome ? number({ ...outcome, unit: '' }, String(label), { exact: fixed(outcome.value, 2) }) : '–')))));
}

/** Every rule beside the others, for each larger scale. @param {any} found */
function rules(found) {
  const heads = [['rpm', 'speed'], ['tip, m/s', 'tip_speed'], ['W/m³', 'power_per_volume'], ['Reynolds', 'reynolds'], ['blends in, s', 'blend_time']];
  return h('details', { class: 'scaled-rules' }, h('summary', {}, 'What each rule of scale-up would ask for, and what it does to the others'), ...found.steps.map((/** @type {any} */ step) => h('table', { class: 'calm' },
    h('caption', {}, step.words.charAt(0).toUpperCase() + step.words.slice(1)),
    h('thead', {}, h('tr', {}, h('th', {}, 'Rule'), ...heads.map(([words]) => h('th', { class: 'figure' }, words)), h('th', {}, 'flow'), h('th', {}, 'keeps'))),
    h('tbody', {}, ...step.rules.map((/** @type {any} */ rule) => h('tr', {}, h('td', {}, rule.words), ...heads.map(([words, key]) => h('td', { class: 'figure' }, number({ ...rule[key], unit: '' }, `${rule.words}, ${words}`))), h('td', {}, rule.regime ?? '–'), h('td', {}, rule.keeps)))))));
}
