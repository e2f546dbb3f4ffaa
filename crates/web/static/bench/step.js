// @ts-check
/** One step at a time: what to do, the number that matters, one thing to press. */

import { h, mark, prose } from '../dom.js';
import { echo, fixed } from '../figures.js';
import { adjusting } from './acid.js';
import { runTimer, unlockSound } from './clock.js';
import { bigField, fault, fieldName, lotChoice, matter, read } from './field.js';
import { takenFrom } from './instrument.js';
import { netOf } from './progress.js';
import { gramsText, readingWords, slip } from './words.js';

/**
 * @typedef {object} Hands what a step may do
 * @property {(body: Record<string, any>) => void} keep
 * @property {(line: number) => any[]} lots
 * @property {(route: import('./outbox.js').Route, body: Record<string, any>) => void} put
 * @property {import('./acid.js').Advice} advice
 * @property {() => void} reading opens the form of a reading
 */

/** Empty boats of this batch: the same one need not be weighed twice. @param {any} state @param {(typed: string) => void} take */
function boatsBefore(state, take) {
  const known = new Map();
  for (const one of [...state.entries].reverse()) {
    const typed = String(one.mass?.tare?.typed ?? one.sent?.tare ?? '');
    if (one.did !== 'weighed' || one.struck || one.leaving || !typed || known.has(typed)) continue;
    known.set(typed, state.lines.find((/** @type {any} */ line) => line.number === (one.line ?? one.sent?.line))?.name ?? '');
  }
  const offers = [...known].slice(0, 3).map(([typed, name]) => h('button', { class: 'verb lot-offer', type: 'button', onclick: () => take(typed) }, `${echo(typed)} g`, h('span', { class: 'aside' }, name ? ` as for ${name}` : '')));
  return h('div', { class: 'lot-offers', role: 'group', 'aria-label': 'Boats weighed before', hidden: !offers.length }, ...offers);
}

/**
 * Weighing a line, or what is aimed at besides the plan.
 * @param {any} state @param {any} step @param {any} line @param {Hands} hands
 * @param {{to: number|null, about: string, body: Record<string, any>}} [aim] of what goes in by the meter: grams, words, and what is kept
 */
function weighing(state, step, line, hands, aim) {
  /** What this step puts in: a portion, or all of the line. */
  const part = step.portion ?? line;
  const begun = part.actual !== null && part.actual !== undefined;
  const lot = lotChoice(state, line, hands);
  const net = bigField('net', 'The balance shows', 'g', { enterKeyHint: 'done' });
  const tare = bigField('tare', 'Empty boat', 'g');
  const place = h('div', {});
  const boat = h('input', { type: 'checkbox', id: `boat-${line.number}`, onchange: () => { tare.element.hidden = !boat.checked; net.element.querySelector('label').textContent = boat.checked ? 'Boat with what is in it' : 'The balance shows'; } });
  tare.element.append(boatsBefore(state, (typed) => { tare.field.value = typed; net.field.focus(); }));
  tare.element.hidden = true;
  let sure = '';
  const keep = () => {
    unlockSound();
    const shown = read(net.field, place);
    if (shown === null) return;
    const empty = boat.checked ? read(tare.field, place) : '';
    if (empty === null) return;
    const body = { ...(aim?.body ?? { did: 'weighed', line: line.number }), step: step.number, lot: lot.field.value.trim(), unit: 'g', instrument: takenFrom(net.field), ...(boat.checked ? { tare: tare.field.value.trim(), gross: net.field.value.trim() } : { net: net.field.value.trim() }) };
    const weighed = netOf(body) ?? 0;
    if (weighed <= 0) { place.replaceChildren(fault('Nothing would be in the boat: the full one is not heavier than the empty one.')); return; }
    const slipped = slip(weighed, aim ? aim.to ?? 0 : part.missing.value);
    if (slipped && sure !== net.field.value) {
      sure = net.field.value;
      place.replaceChildren(h('div', { class: 'slip', role: 'alert' }, h('p', {}, mark('stop', 'shape'), ' ', h('b', {}, `${echo(net.field.value)} g is ${slipped}.`), ' Has the decimal sign slipped?'), h('div', { class: 'verbs' }, h('button', { class: 'verb', type: 'button', onclick: () => { place.replaceChildren(); sure = ''; net.field.select(); } }, 'Type it again'), h('button', { class: 'verb', type: 'submit' }, 'It is what the balance shows'))));
      return;
    }
    hands.keep(body);
  };
  const going = line.actual !== null && line.actual !== undefined;
  const more = step.portion ? step.stands !== 'done' : !going || line.verdict === 'short';
  const to = aim ? aim.to : more ? part.missing.value : null;
  const about = aim?.about ?? [step.portion ? `part ${step.portion.number} of ${step.portion.of}, ${gramsText(state, line.target.value)} g in all` : '', part.tolerance.value > 0 ? `± ${gramsText(state, part.tolerance.value)} g` : 'as near as the balance shows', `line ${line.number}`, begun && to !== null ? `${gramsText(state, part.actual.value)} g is in` : ''].filter(Boolean).join(' · ');
  return h('form', { class: 'doing', noValidate: true, onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); keep(); } },
    to !== null ? matter(gramsText(state, to), 'g', about) : aim ? null : matter(gramsText(state, part.actual?.value), 'g in', about),
    ...line.remarks.map((/** @type {string} */ text) => h('p', { class: 'lot-remark' }, mark('check', 'shape'), ' ', text)),
    lot.element, h('div', { class: 'weigh-row' }, tare.element, net.element, h('button', { class: 'big-verb', type: 'submit' }, 'Put it in')), h('label', { class: 'boat', htmlFor: boat.id }, boat, ' weighed with a boat, gross and tare'), place);
}

/** A number read off an instrument while a step goes on. @param {string} did @param {string} label @param {string} unit @param {any} step @param {Hands} hands */
function reading(did, label, unit, step, hands) {
  // Names of their own: what is half typed goes over into the step drawn anew by its name.
  const value = bigField(did === 'speed' ? 'speed' : 'value', label, unit);
  const place = h('div', {});
  return h('form', { class: 'weigh-row', noValidate: true, onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); unlockSound(); if (read(value.field, place) !== null) hands.keep({ did, step: step.number, value: value.field.value.trim(), instrument: takenFrom(value.field) }); } }, value.element, h('button', { class: 'verb', type: 'submit' }, 'Note it'), place);
}

/** Steps in which a speed is set. */
const STIRRED = ['add', 'disperse', 'hydrate', 'heat', 'hold', 'cool'];

/** Stirring, heating, holding, cooling. @param {any} state @param {any} step @param {Hands} hands */
function working(state, step, hands) {
  const plan = [step.temperature_c !== null ? [echo(String(step.temperature_c)), '°C', !step.procedure ? '' : step.procedure.does === 'cool' ? 'or below' : 'or above'] : null, step.speed_rpm !== null ? [echo(String(step.speed_rpm)), 'rpm', ''] : null].filter((one) => one !== null);
  const hold = step.hold_min !== null ? Number(step.hold_min) : null;
  const clock = h('span', { class: 'matter-number clock', role: 'timer' });
  const word = h('span', { class: 'matter-unit' });
  const running = step.stands === 'started' && hold !== null;
  if (running) runTimer({ place: clock, word, started: step.started, minutes: hold, name: step.text });
  return h('div', { class: 'doing' },
    running ? h('div', { class: 'matter' }, clock, ' ', word, h('div', { class: 'matter-aside' }, `of ${echo(String(step.hold_min))} min, begun ${new Date(step.started).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' })}`)) : null,
    ...plan.map(([value, unit, aside]) => matter(value, unit, aside)),
    !running && hold !== null ? matter(echo(String(step.hold_min)), 'min', 'the clock runs from your press') : null,
    h('div', { class: 'verbs big-verbs' }, step.stands === 'open' && hold !== null ? h('button', { class: 'big-verb', type: 'button', onclick: () => { unlockSound(); hands.keep({ did: 'started', step: step.number }); } }, 'Begin') : null,
      h('button', { class: step.stands === 'open' && hold !== null ? 'verb' : 'big-verb', type: 'button', onclick: () => hands.keep({ did: 'finished', step: step.number }) }, 'Done')),
    h('div', { class: 'read-rows' }, step.temperature_c !== null || hold !== null ? reading('temperature', 'The thermometer shows', '°C', step, hands) : null,
      STIRRED.includes(step.procedure?.does) ? reading('speed', 'The stirrer turns at', 'rpm', step, hands) : null));
}

/** One weight in, one thing pressed. @param {any} step @param {Hands} hands @param {{did: string, label: string, verb: string}} how */
function oneWeight(step, hands, { did, label, verb }) {
  const weight = bigField('net', label, 'g');
  const place = h('div', {});
  return h('form', { class: 'weigh-row', noValidate: true, onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); unlockSound(); if (read(weight.field, place) !== null) hands.keep({ did, step: step?.number ?? 0, net: weight.field.value.trim(), unit: 'g', instrument: takenFrom(weight.field) }); } }, weight.element, h('button', { class: 'verb', type: 'submit' }, verb), place);
}

/** Giving back the water that went off. @param {any} state @param {any} step @param {Hands} hands */
function makingUp(state, step, hands) {
  const { water } = state;
  const back = water.to_give_back?.value;
  return h('div', { class: 'doing' },
    typeof back === 'number' ? matter(gramsText(state, Math.max(0, back)), 'g of water', `the vessel should weigh ${gramsText(state, water.should_weigh?.value)} g; ${gramsText(state, water.went_off?.value)} g went off`) : h('p', { class: 'wanted' }, water.needs || 'Weigh the vessel with the batch.'),
    (water.vessel?.value ?? null) === null ? oneWeight(step, hands, { did: 'vessel', label: 'Empty vessel with all that stays in it', verb: 'Note it' }) : null,
    oneWeight(step, hands, { did: 'gross', label: 'Vessel with the batch', verb: 'Note it' }),
    oneWeight(step, hands, { did: 'water', label: 'Water put in', verb: 'Put it in' }),
    h('div', { class: 'verbs big-verbs' }, h('button', { class: 'big-verb', type: 'button', onclick: () => hands.keep({ did: 'finished', step: step.number }) }, 'Done')));
}

/** What was read on the trial so far. @param {any} state */
function readingsList(state) {
  const read = (state.readings ?? []).filter((/** @type {any} */ one) => !one.struck);
  return read.length ? h('ul', { class: 'readings-so-far' }, ...read.map((/** @type {any} */ one) => h('li', {}, readingWords(one), one.waiting ? h('span', { class: 'aside' }, ' waits to be sent') : null))) : null;
}

/** What is looked at before going on, each with room for what was found. @param {any} state @param {any} step @param {Hands} hands */
function looking(state, step, hands) {
  const looked = (/** @type {string} */ what) => state.entries.some((/** @type {any} */ one) => !one.struck && one.did === 'checked' && (one.what ?? one.sent?.text) === what);
  return step.checks.map((/** @type {string} */ what) => {
    const id = fieldName();
    const field = h('input', { id, name: 'found', autocomplete: 'off' });
    return h('form', { class: 'check-row', onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); hands.keep({ did: 'checked', step: step.number, text: what, decision: field.value.trim() || 'as it should be' }); } }, h('label', { htmlFor: id }, what, looked(what) ? h('span', { class: 'aside' }, ' (looked at)') : null), field, h('button', { class: 'verb', type: 'submit' }, 'Note it'));
  });
}

/** Looking and reading at the end. @param {any} state @param {any} step @param {Hands} hands */
function checking(state, step, hands) {
  return h('div', { class: 'doing' }, ...looking(state, step, hands), readingsList(state),
    h('div', { class: 'verbs big-verbs' }, h('button', { class: 'verb', type: 'button', onclick: hands.reading }, 'A reading with its conditions'), h('button', { class: 'big-verb', type: 'button', onclick: () => hands.keep({ did: 'finished', step: step.number }) }, 'Done')));
}

const WAYS = /** @type {Record<string, string>} */ ({ accept: 'Leave it in', rescale: 'Make all others more', from_remainder: 'Take it from the q.s. line' });

/** Too much of a line is in: the ways out with their numbers. @param {any} state @param {any} line @param {Pick<Hands, 'keep'>} hands */
export function wayOut(state, line, hands) {
  return h('section', { class: 'over', 'aria-label': 'Too much is in' },
    h('h2', {}, mark('stop', 'shape'), ` Too much ${line.name}: ${gramsText(state, line.actual.value)} g instead of ${gramsText(state, line.target.value)} g`),
    line.slip ? h('p', {}, line.slip) : null,
    h('div', { class: 'ways' }, ...line.ways.map((/** @type {any} */ way) => h('div', { class: 'way' },
      h('h3', {}, WAYS[way.way]), h('p', {}, way.words), ...way.left.map((/** @type {string} */ text) => h('p', { class: 'lot-remark' }, mark('change', 'shape'), ' ', text)),
      h('details', {}, h('summary', {}, 'What becomes of the lines'), h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, h('th', {}, 'Line'), h('th', { class: 'figure' }, 'Target, g'), h('th', { class: 'figure' }, '% w/w'))), h('tbody', {}, ...way.lines.map((/** @type {any} */ one) => h('tr', {}, h('td', {}, one.name), h('td', { class: 'figure' }, gramsText(state, one.target.value)), h('td', { class: 'figure' }, fixed(one.percent.value, 3))))))),
      h('button', { class: 'big-verb', type: 'button', onclick: () => hands.keep({ did: 'decided', line: line.number, way: way.way, net: String(line.actual.value) }) }, WAYS[way.way])))));
}

/** The empty vessel, asked for before anything is in it. @param {any} state @param {Hands} hands @param {() => void} leave */
export function firstVessel(state, hands, leave) {
  return h('section', { class: 'doing', 'aria-label': 'Before the first line' }, h('h1', {}, 'Weigh the empty vessel'), h('p', { class: 'lead' }, 'With the stirrer and all that stays in it. Only then can the water that goes off be given back.'),
    oneWeight(null, hands, { did: 'vessel', label: 'Empty vessel', verb: 'Note it' }), h('button', { class: 'verb plain', type: 'button', onclick: leave }, 'Not this time'));
}

/** Where a source key stands in words; trade habit and memory say so themselves. @param {string[]} keys @param {Record<string, string>} sources */
const cited = (keys, sources) => keys.map((key) => (key === 'common-practice' ? 'Common practice, no source.' : key === 'from-memory' ? 'From memory.' : sources[key] ?? key)).join(' ');

/** Why a step stands where it stands, with where that comes from. @param {any} step @param {Record<string, string>} sources */
function reasons(step, sources) {
  const because = step.procedure?.because ?? [];
  const own = step.procedure?.sources ?? [];
  if (!step.why && !because.length && !own.length) return null;
  return h('details', { class: 'why' }, h('summary', {}, 'Why this stands here'), step.why ? h('p', {}, step.why) : null,
    because.length ? h('ul', {}, ...because.map((/** @type {any} */ one) => h('li', {}, h('b', {}, `${prose(one.stands)}. `), prose(one.why), h('span', { class: 'aside' }, ` ${cited(one.sources ?? [], sources)}`)))) : null,
    own.length ? h('p', { class: 'aside' }, `How it is done and looked at: ${cited(own, sources)}`) : null);
}

/** Its number on the printed sheet, with a letter where that step has several instructions here. @param {any} step */
export const placeOf = (step) => (step.procedure ? `${step.procedure.number}${step.procedure.of > 1 ? String.fromCharCode(96 + Math.min(26, step.procedure.place)) : ''}` : String(step.number));

/** @param {any} state @param {any} step @param {Hands} hands @param {Record<string, string>} sources */
export function stepView(state, step, hands, sources) {
  runTimer(null);
  const line = step.line === null ? null : state.lines.find((/** @type {any} */ one) => one.number === step.line);
  const body = step.kind === 'adjust' && line ? adjusting(state, step, line, hands, weighing) : line ? weighing(state, step, line, hands) : step.kind === 'make_up' ? makingUp(state, step, hands) : step.kind === 'check' ? checking(state, step, hands) : working(state, step, hands);
  const { procedure } = step;
  const where = step.phase ? `Phase ${step.phase}` : procedure?.premix && line ? `Into a small vessel: ${procedure.premix}` : '';
  return h('section', { class: 'instruction', 'aria-labelledby': 'instruction' },
    h('h1', { id: 'instruction', tabIndex: -1 }, step.text), where ? h('p', { class: 'aside step-phase' }, where) : null,
    procedure?.instruction ? h('p', { class: 'told' }, prose(procedure.instruction)) : null, procedure?.how ? h('p', { class: 'aside step-how' }, procedure.how) : null,
    ...step.cautions.map((/** @type {any} */ one) => h('p', { class: 'caution' }, mark('stop', 'shape'), ' ', one.text)),
    step.stands === 'done' ? h('p', { class: 'standing' }, mark('measured', 'shape'), ' This step is done.') : step.stands === 'skipped' ? h('p', { class: 'standing' }, `Left out: ${step.skipped}`) : null,
    body, step.kind !== 'check' && step.checks.length ? h('div', { class: 'looks' }, ...looking(state, step, hands)) : null, reasons(step, sources));
}
