// @ts-check
/** A pH adjusted at the beaker: the meter, its readings as they come, and one instruction from the program about what goes in next. */

import { Trouble, ask } from '../api.js';
import { h, mark } from '../dom.js';
import { echo, fixed } from '../figures.js';
import { EntryForm } from '../entry_form.js';
import { calibrating } from './calibrating.js';
import { runTimer, unlockSound } from './clock.js';
import { bigField, fault, fieldName, read } from './field.js';
import { takenFrom } from './instrument.js';
import { gramsText } from './words.js';

/** After which a program that did not answer is asked again. */
const PATIENCE_MS = 8000;

/** What the program said of a step, and whether it knew all that was entered by then. */
export class Advice extends EventTarget {
  /** @param {string} batch @param {() => boolean} waiting whether entries are still on their way */
  constructor(batch, waiting) {
    super();
    this.batch = batch;
    this.waiting = waiting;
    /** @type {any} */ this.told = null;
    this.step = 0;
    /** The acid or base that is asked about; the last one where empty. */
    this.with = '';
    this.asking = '';
    /** Why nothing was said. @type {import('../api.js').Told|null} */
    this.trouble = null;
    addEventListener('online', () => this.again());
  }

  again() {
    this.asking = '';
    this.dispatchEvent(new Event('told'));
  }

  /** @param {any} state @param {number} step */
  fresh(state, step) {
    return this.told?.step === step && !this.waiting() && this.told.entries === state.entries.filter((/** @type {any} */ one) => !one.waiting).length;
  }

  /** Asks where what is known is of another step, or older than what was entered. @param {any} state @param {number} step */
  async want(state, step) {
    if (this.step !== step) this.with = '';
    const entries = state.entries.filter((/** @type {any} */ one) => !one.waiting).length;
    const key = `${step} ${entries} ${this.with}`;
    if (this.waiting() || this.asking === key) return;
    this.step = step;
    this.asking = key;
    try {
      const told = await ask('GET', `/api/batches/${this.batch}/steps/${step}/advice${this.with ? `?with=${encodeURIComponent(this.with)}` : ''}`);
      if (this.asking !== key) return;
      Object.assign(this, { told, trouble: null });
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      this.trouble = error.told;
      if (error.told.code === 'no-answer') setTimeout(() => { if (this.asking === key) this.again(); }, PATIENCE_MS);
    }
    this.dispatchEvent(new Event('told'));
  }

  /** Goes on with another acid or base. @param {string} name @param {any} state @param {number} step */
  goOnWith(name, state, step) {
    this.with = name;
    this.want(state, step);
  }

  /** What the page was drawn from. */
  get looks() {
    return [this.step, this.told?.entries, this.told?.with, this.told?.next, this.trouble?.code, this.waiting()];
  }
}

/** @param {any} outcome @param {number} decimals */
const number = (outcome, decimals) => (typeof outcome?.value === 'number' ? fixed(outcome.value, decimals) : '–');

/** @param {any} outcome @param {number} decimals */
const between = (outcome, decimals) => (typeof outcome?.low === 'number' ? `${fixed(outcome.low, decimals)} to ${fixed(outcome.high, decimals)}` : '');

/** The readings of the step since the last addition, kept or waiting. @param {any} state @param {any} step @param {any} line */
function series(state, step, line) {
  /** @type {Array<{at: number, typed: string, settled: boolean, warm: string, method: string}>} */
  let readings = [];
  for (const one of state.entries.filter((/** @type {any} */ entry) => !entry.struck && !entry.leaving && !entry.withdrawn)) {
    const said = one.sent ?? one;
    if (said.step === step.number && (one.did === 'added' || (one.did === 'weighed' && said.line === line.number))) readings = [];
    if (one.did === 'ph' && said.step === step.number) readings.push({ at: Date.parse(one.device_time), typed: said.value?.typed ?? said.value, settled: said.settled === true, warm: said.temperature_c?.typed ?? said.temperature_c ?? '', method: said.method ?? 'neat' });
  }
  return readings;
}

/** @param {any} told @param {Array<{at: number, typed: string, settled: boolean}>} readings */
function seriesView(told, readings) {
  if (!readings.length) return null;
  const start = readings[0].at;
  const settling = told?.series?.settling;
  const left = typeof settling?.wait?.value === 'number' ? settling.wait.value - (Date.now() - Date.parse(told.series.last)) / 1000 : 0;
  const clock = h('b', { role: 'timer' });
  const word = h('span', {});
  if (left > 1) runTimer({ place: clock, word, started: told.series.last, minutes: settling.wait.value / 60, name: 'the pH should stand now' });
  const ends = typeof settling?.ph?.value === 'number';
  return h('div', { class: 'ph-series' },
    h('ol', {}, ...readings.slice(-8).map((one) => h('li', {}, h('span', { class: 'aside' }, `${Math.round((one.at - start) / 1000)} s`), ` ${echo(one.typed)}`, one.settled ? h('span', { class: 'aside' }, ' stands') : null))),
    ends ? h('p', {}, 'It ends at ', h('b', {}, `pH ${number(settling.ph, 2)}`), ` (${between(settling.ph, 2)})`, left > 1 ? h('span', {}, '; ', clock, ' ', word) : '; it stands.') : settling ? h('p', {}, settling.notes.map((/** @type {any} */ note) => note.text).join(' ')) : null,
    told?.series?.together ? h('p', {}, told.series.together.words) : null,
    told?.series?.stuck ? h('p', { class: 'lot-remark' }, mark('change', 'shape'), ' ', h('b', {}, 'The meter: '), told.series.stuck) : null);
}

/** @param {any} told */
function meterView(told, open = () => {}) {
  const kept = told.calibration;
  const slope = kept?.reading;
  return h('div', { class: 'ph-meter' },
    kept ? h('p', {}, mark(kept.brackets ? 'measured' : 'change', 'shape'), ` ${kept.instrument || 'Meter'}, calibrated ${new Date(kept.when).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' })}: slope ${number(slope.slope_percent, 1)} %, offset ${number(slope.offset, 1)} mV, buffers ${slope.points.map((/** @type {any} */ point) => number(point.ph, 2)).join(' and ')} at ${echo(String(slope.temperature_c))} °C${kept.brackets ? ', around the window' : ', not around the window'}.`)
      : h('p', {}, mark('change', 'shape'), ` The meter was not calibrated for this batch. ${told.advice?.notes.find((/** @type {any} */ note) => note.code === 'no-calibration')?.text ?? ''}`),
    ...(slope?.notes ?? []).map((/** @type {any} */ note) => h('p', { class: 'lot-remark' }, note.text)),
    h('button', { class: 'verb', type: 'button', onclick: open }, kept ? 'Calibrate again' : 'Calibrate the meter'));
}

/** How the reading is taken, as it was chosen last. */
let method = 'neat';
let warm = '25';
/** The step whose pH was called right though no reading says so, while it is asked why: the step may be drawn anew meanwhile. */
let called = 0;

/** The pH as it is read. @param {any} step @param {import('./step.js').Hands} hands @param {any} told @param {boolean} first whether reading is what is to be done */
function phForm(step, hands, told, first) {
  const ph = bigField('ph', 'The meter shows', 'pH', { enterKeyHint: 'done' });
  const at = bigField('temperature', 'at', '°C', { value: warm });
  const place = h('div', {});
  const id = fieldName();
  const how = h('select', { id, onchange: () => { method = how.value; } }, ...['neat', '10 % in water'].map((value) => h('option', { value, selected: value === method }, value)));
  const note = (/** @type {boolean} */ settled) => {
    unlockSound();
    if (read(ph.field, place) === null || read(at.field, place) === null) return;
    warm = at.field.value.trim();
    const value = ph.field.value.trim();
    if (Number(value.replace(',', '.')) > 14.5) { place.replaceChildren(fault(`pH ${value} cannot be: look for a decimal sign that is missing.`)); ph.field.focus(); return; }
    hands.keep({ did: 'ph', step: step.number, value, temperature_c: warm, method, age: '0', instrument: takenFrom(ph.field) || (told?.calibration?.instrument ?? ''), ...(settled ? { settled } : {}) });
  };
  return h('form', { class: 'ph-form', noValidate: true, onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); note(false); } },
    h('div', { class: 'weigh-row' }, ph.element, at.element, h('div', { class: 'big-field' }, h('label', { htmlFor: id }, 'Sample'), how), h('button', { class: 'verb', type: 'submit' }, 'Note it, still moving'), h('button', { class: first ? 'big-verb' : 'verb', type: 'button', onclick: () => note(true) }, 'It stands')), place);
}

/** Another acid or base for a batch that went too far. @param {any} state @param {any} step @param {import('./step.js').Hands} hands @param {any} told */
function otherWay(state, step, hands, told) {
  const id = fieldName();
  const field = h('input', { id, name: 'counter', type: 'text', autocomplete: 'off', value: hands.advice.with });
  return h('details', { class: 'why', open: ['beyond', 'wrong-way', 'none-sure', 'finer'].includes(told.next) || told.line === null }, h('summary', {}, 'Go on with another acid or base'),
    h('p', { class: 'caution' }, mark('stop', 'shape'), ' Acid and base heat each other: in small portions, slowly, stirring, goggles and gloves on, by the rules of the house. Never from one bottle into the other.'),
    h('form', { class: 'counter', onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); hands.advice.goOnWith(field.value.trim(), state, step.number); } }, h('label', { htmlFor: id }, 'Raw material'), field, h('button', { class: 'verb', type: 'submit' }, 'Ask how much')));
}

/** What brings surprises tomorrow. @param {any} advice */
function tomorrow(advice) {
  const words = [...advice.drifts.map((/** @type {any} */ one) => one.words), ...advice.notes.filter((/** @type {any} */ note) => note.code === 'next-day' || note.code === 'younger').map((/** @type {any} */ note) => note.text)];
  return words.length ? h('div', { class: 'tomorrow' }, h('h2', {}, 'Tomorrow'), ...words.map((text) => h('p', {}, text))) : null;
}

/** @param {any} advice */
function reasons(advice) {
  return h('details', { class: 'why' }, h('summary', {}, 'Why this much'), h('ul', {}, ...advice.because.map((/** @type {string} */ text) => h('li', {}, text)), ...advice.readings.map((/** @type {any} */ one) => h('li', {}, one.words)),
    h('li', {}, `The batch resists by ${number(advice.capacity, 1)} mmol/kg for each unit of pH; acid the formula did not know of: ${number(advice.excess, 2)} mmol/kg; the electrode seems to be off by ${number(advice.electrode, 2)}.`)));
}

/** Without an answer that knows all. @param {import('./step.js').Hands} hands @param {any} told */
function unknown(hands, told) {
  const waits = hands.advice.waiting() || hands.advice.trouble?.code === 'no-answer';
  return h('p', { class: 'standing', role: 'status' }, mark('check', 'shape'), waits ? ` How much goes in next is computed by the program, which does not answer${told ? ' since the last entry' : ''}. Readings and additions are kept here, and count when it does.` : hands.advice.trouble ? ` ${hands.advice.trouble.what} ${hands.advice.trouble.what_now}` : ' The next addition is being computed.');
}

/** Whether a reading stands in the window; where the program has not said which that is, the person's settled reading is taken. @param {any} last @param {any} told */
function within(last, told) {
  const ph = Number(String(last?.typed ?? '').trim().replace(',', '.') || NaN);
  return Boolean(last?.settled) && (!told || (ph >= told.window.low && ph <= told.window.high));
}

/** Why the pH is taken as right though no settled reading says so. @param {any} last @param {string} wanted @param {() => void} leave @param {(deviation: {text: string, reason: string, decision: string}) => void} keep */
function allTheSame(last, wanted, leave, keep) {
  const form = new EntryForm('No settled reading says so', {
    word: 'It is right all the same',
    leave,
    act: async () => {
      const reason = form.value('reason').trim();
      if (!reason) {
        form.tell({ code: 'missing', what: 'It does not say why.', why: 'Whoever reads the record later sees a pH that was not reached.', what_now: 'Write why it is right, or read again.', place: { field: 'reason' } });
        return;
      }
      keep({ text: `pH taken as right, wanted ${wanted}, ${last ? `last read ${echo(last.typed)}${last.settled ? '' : ', still moving'}` : 'not read'}`, reason, decision: 'goes on' });
    },
  });
  form.body.append(form.text('reason', 'Why it is right all the same', { width: 'wide' }));
  return form.element;
}

/**
 * @param {any} state @param {any} step @param {any} line @param {import('./step.js').Hands} hands
 * @param {(state: any, step: any, line: any, hands: any, aim: any) => HTMLElement} weighing
 */
export function adjusting(state, step, line, hands, weighing) {
  const { advice } = hands;
  const told = advice.told?.step === step.number ? advice.told : null;
  const fresh = advice.fresh(state, step.number);
  const readings = series(state, step, line);
  const say = fresh ? told.next : 'none';
  const own = !fresh || told.line !== null;
  const name = fresh ? told.name : line.name;
  const of = own ? line : { number: 0, lot: '', target: {}, remarks: [], actual: null };
  const answer = fresh ? told.advice : null;
  const adds = say === 'add' && answer;
  const aim = {
    to: adds ? answer.add.value : null,
    about: adds ? `of ${name}; ${gramsText(state, answer.added.value)} g is in, at most ${gramsText(state, answer.most.value)} g in all` : '',
    body: own ? { did: 'weighed', line: line.number } : { did: 'added', material: told.with },
  };
  const weigh = weighing(state, step, of, hands, aim);
  const form = phForm(step, hands, told, !adds && say !== 'done');
  const ended = say === 'done';
  const last = readings[readings.length - 1];
  const finish = () => {
    if (last) hands.put('readings', { quantity: 'ph', value: last.typed, unit: '', method: last.method, temperature_c: last.warm, age: '0', instrument: told?.calibration?.instrument ?? '', conditions: {}, note: `batch ${state.code}${last.settled ? '' : ', still moving'}` });
    hands.keep({ did: 'finished', step: step.number });
  };
  const asked = h('div', {});
  const question = () => allTheSame(last, told ? between(told.window, 2) : echo(String(line.to_ph)), () => { called = 0; asked.replaceChildren(); }, (deviation) => { called = 0; hands.keep({ did: 'deviation', step: step.number, ...deviation }); finish(); });
  if (called === step.number) asked.append(question());
  /** The person decides; what the readings do not bear out goes on record with why. */
  const right = () => {
    if (ended || within(last, told)) { finish(); return; }
    called = step.number;
    asked.replaceChildren(question());
    asked.querySelector('input')?.focus();
  };
  const place = h('div', {});
  const calibrate = () => place.replaceChildren(calibrating(step, hands, told, () => place.replaceChildren()));
  return h('div', { class: 'doing' },
    h('p', { class: 'wanted' }, told ? `Wanted: pH ${between(told.window, 2)}, ${told.read}` : `Wanted: pH ${echo(String(line.to_ph))}`),
    fresh && !adds ? h('p', { class: `ph-say ph-${say}` }, mark(ended ? 'measured' : say === 'read' ? 'check' : 'stop', 'shape'), ' ', told.say) : null,
    fresh ? null : unknown(hands, told),
    ...(fresh ? told.cautions : []).map((/** @type {any} */ one) => h('p', { class: 'caution' }, mark('stop', 'shape'), ' ', one.text)),
    adds ? weigh : null,
    adds ? h('p', { class: 'ph-then' }, 'Then pH ', h('b', {}, number(answer.ph_then, 2)), ` (${between(answer.ph_then, 2)}, 95 %). ${told.say} ${answer.because[0]}`) : null,
    adds && (answer.warms_by?.value ?? 0) >= 1 ? h('p', { class: 'caution' }, mark('stop', 'shape'), ` All at once it would warm the batch by about ${number(answer.warms_by, 0)} K: in small portions, and cool before reading.`) : null,
    told && !told.calibration ? meterView(told, calibrate) : null, told && !told.calibration ? place : null,
    form, seriesView(fresh ? told : null, readings),
    ...(answer?.readings ?? []).slice(-1).filter((/** @type {any} */ one) => !one.used).map((/** @type {any} */ one) => h('p', { class: 'lot-remark' }, mark('change', 'shape'), ' ', one.words)),
    ended && answer ? tomorrow(answer) : null,
    h('div', { class: 'verbs big-verbs' }, h('button', { class: ended ? 'big-verb' : 'verb', type: 'button', onclick: right }, 'The pH is right')), asked,
    answer?.readings.length ? reasons(answer) : null,
    ...(answer?.notes ?? []).filter((/** @type {any} */ note) => !['next-day', 'younger', 'no-calibration'].includes(note.code)).map((/** @type {any} */ note) => h('p', { class: 'lot-remark' }, mark('change', 'shape'), ' ', note.text)),
    adds ? null : h('details', { class: 'why', open: !fresh }, h('summary', {}, `Put ${name} in all the same`), line.first?.value > 0 && !line.actual ? h('p', { class: 'aside' }, `The sheet has ${gramsText(state, line.first.value)} g as a first portion of about ${gramsText(state, line.target.value)} g.`) : null, weigh),
    fresh ? otherWay(state, step, hands, told) : null,
    told?.calibration ? meterView(told, calibrate) : null, told?.calibration ? place : null);
}
