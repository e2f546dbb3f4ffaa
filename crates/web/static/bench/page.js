// @ts-check
/** A batch at the beaker: one instruction, one number, one thing to press. What is pressed is kept here first and sent when it can be. */

import { Trouble, ask } from '../api.js';
import { announce, byId, h, mark, pageData, say } from '../dom.js';
import { echo } from '../figures.js';
import { when } from '../saving.js';
import { Advice } from './acid.js';
import { KEPT_BATCHES, workAlone } from './alone.js';
import { stayAwake, unlockSound } from './clock.js';
import { Course } from './course.js';
import { joinInstruments } from './instrument.js';
import { moreForm } from './more.js';
import { Outbox, identity } from './outbox.js';
import { after, lastStanding } from './progress.js';
import { signing } from './signing.js';
import { firstVessel, placeOf, stepView, wayOut } from './step.js';
import { entryWords, gramsText, itemWords, readingWords } from './words.js';

const data = pageData();
const memory = `${KEPT_BATCHES}${data.batch.id}`;
/** As the program last told it: a page that comes from this device's own store may be older than what was heard since. @type {any} */
let told = later(data.batch, remembered());
/** Lots on the shelf, line by line, so that the bench can go on alone. @type {Record<string, any[]>} */
const shelf = data.lots ?? {};
const outbox = new Outbox(told.id, told.trial);
const advice = new Advice(told.id, () => outbox.beside.length > 0);
/** The step that is looked at; none: the next one. @type {number|null} */
let looked = null;
let withoutVessel = false;
/** What the step that is shown was drawn from. */
let drawn = '';

/** @returns {any} */
function remembered() {
  try {
    return JSON.parse(localStorage.getItem(memory) ?? 'null');
  } catch {
    return null;
  }
}

/** Entries are only ever added, so that the longer record is the later one. @param {any} one @param {any} other */
function later(one, other) {
  return other?.id === one.id && other.entries.length > one.entries.length ? other : one;
}

function remember() {
  try {
    localStorage.setItem(memory, JSON.stringify(told));
  } catch {
    // Without it the page itself is what is known.
  }
}

/** Results that have no value yet stand as nothing. @param {any} state */
function plainNothing(state) {
  for (const line of [...state.lines, ...state.steps.flatMap((/** @type {any} */ step) => step.portion ?? [])]) if (line.actual && line.actual.value === null) line.actual = null;
  return state;
}

const course = new Course(told, async (body) => {
  await ask('POST', `/api/batches/${told.id}/entries`, { at: new Date().toISOString(), ...body, id: identity(), step: 0 });
  await refresh();
});

const standing = () => after(plainNothing(structuredClone(told)), outbox.beside);

const hands = {
  keep(/** @type {Record<string, any>} */ body) {
    const step = body.step ? standing().steps[body.step - 1] : null;
    outbox.put('entries', body);
    const state = standing();
    const now = body.step ? state.steps[body.step - 1] : null;
    // A step that was just done gives way to the next; one that goes on stays in front.
    if (now && step && ['done', 'skipped'].includes(now.stands) && !['done', 'skipped'].includes(step.stands)) looked = null;
    else if (body.did === 'decided') looked = null;
    else if (body.step) looked = body.step;
    draw(true);
    announce(`${entryWords({ did: body.did, sent: body }, state)}. ${state.next ? `Next: ${state.steps[state.next - 1].text}` : 'All steps are done.'}`);
  },
  lots: (/** @type {number} */ line) => shelf[line] ?? [],
  put(/** @type {import('./outbox.js').Route} */ route, /** @type {Record<string, any>} */ body) {
    const item = outbox.put(route, body);
    draw(true);
    announce(itemWords(item, standing()));
  },
  advice,
  reading: () => showMore(null, 'reading'),
};

async function refresh() {
  try {
    // What arrives while this is asked may be missing in the answer, and is counted beside it until the next one.
    const arrived = outbox.arrived.map((one) => one.key);
    told = await ask('GET', `/api/batches/${told.id}`);
    remember();
    outbox.settled(arrived);
    draw(false);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    drawLink();
  }
}

/** Whether what was entered has arrived. */
function drawLink() {
  const { waiting, refused, ofOthers, keeps } = outbox;
  const place = byId('link');
  const owner = ofOthers[0] && (ofOthers[0].person || 'somebody who had not logged in');
  const words = owner ? `${waiting.length} ${waiting.length === 1 ? 'entry waits' : 'entries wait'}: typed by ${owner}, and sent when they are logged in here` : waiting.length ? `${waiting.length} ${waiting.length === 1 ? 'entry waits' : 'entries wait'} to be sent${keeps ? '; kept on this device' : '; this browser keeps nothing, leave the page open'}` : 'Everything is kept';
  place.replaceChildren(mark(waiting.length ? 'check' : 'measured', 'shape'), h('span', {}, ` ${words}`));
  byId('refused').replaceChildren(...refused.map((one) => h('div', { class: 'field-trouble', role: 'alert' }, h('b', {}, `Not kept: ${itemWords(one, standing())}.`), ` ${one.told.what} ${one.told.why} ${one.told.what_now} `, h('button', { class: 'verb', type: 'button', onclick: () => outbox.drop(one.key) }, 'I have read it'))));
}

/** @param {any} state */
function drawSteps(state) {
  const words = /** @type {Record<string, string>} */ ({ open: '', started: 'begun', done: 'done', skipped: 'left out' });
  byId('steps').replaceChildren(h('ol', { class: 'step-list' }, ...state.steps.map((/** @type {any} */ step) => {
    const line = state.lines.find((/** @type {any} */ one) => one.number === step.line);
    const part = step.portion ?? line;
    const grams = part ? (part.actual ? `${gramsText(state, part.actual.value)} of ${gramsText(state, part.target.value)} g` : `${gramsText(state, part.target.value)} g`) : '';
    return h('li', { class: `step-${step.stands}${step.number === state.next ? ' step-next' : ''}` }, h('button', { class: 'step-line', type: 'button', onclick: () => { looked = step.number; draw(true); scrollTo({ top: 0 }); } }, h('span', { class: 'step-number' }, placeOf(step)), h('span', {}, step.text), h('span', { class: 'figure' }, grams), h('span', { class: 'aside' }, step.number === state.next && step.stands === 'open' ? 'next' : words[step.stands])));
  })));
}

/** @param {any} state */
function drawEntries(state) {
  const entries = [...state.entries].reverse();
  const beside = [...state.readings.map((/** @type {any} */ one) => ({ ...one, words: readingWords(one) })), ...state.samples.map((/** @type {any} */ one) => ({ ...one, words: `Sample kept: ${one.label || state.code}, ${one.location}` }))];
  byId('entries').replaceChildren(entries.length ? h('ol', { class: 'entry-list' }, ...entries.map((/** @type {any} */ one) => h('li', { class: one.struck || one.leaving ? 'struck' : '' },
    h('span', { class: 'entry-when' }, new Date(one.device_time).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' })), h('span', { class: 'entry-words' }, one.withdrawn ? `Took back entry ${one.corrects?.[0] ?? ''}` : entryWords(one, state), one.struck ? h('span', { class: 'aside' }, ` struck out: ${one.struck.reason}`) : null), h('span', { class: 'aside' }, one.waiting ? 'waits to be sent' : `${one.who}, entry ${one.number}`)))) : h('p', { class: 'aside' }, 'Nothing was entered yet.'),
    beside.length ? h('h2', {}, 'Readings and kept samples') : '', beside.length ? h('ol', { class: 'entry-list' }, ...beside.reverse().map((/** @type {any} */ one) => h('li', { class: one.struck ? 'struck' : '' }, h('span', { class: 'entry-when' }, new Date(one.when).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' })), h('span', { class: 'entry-words' }, one.words), h('span', { class: 'aside' }, one.waiting ? 'waits to be sent' : one.who)))) : '');
}

/** @param {any} state */
function drawFoot(state) {
  const at = looked ?? state.next ?? state.steps.length;
  const go = (/** @type {number} */ to) => { looked = to; draw(true); };
  const last = lastStanding(state);
  const step = state.steps[at - 1];
  byId('foot').replaceChildren(
    h('button', { class: 'verb', type: 'button', disabled: at <= 1, onclick: () => go(at - 1) }, 'Step before'),
    h('button', { class: 'verb', type: 'button', disabled: at >= state.steps.length, onclick: () => go(at + 1) }, 'Step after'),
    ...(last ? [h('button', { class: 'verb', type: 'button', onclick: () => undo(last, state) }, 'Undo the last')] : []),
    h('button', { class: 'verb', type: 'button', 'aria-expanded': 'false', onclick: () => showMore(step) }, 'Something else'));
}

/** Takes the last entry back at once; it stays on record, and the undo can be undone. @param {any} entry @param {any} state */
function undo(entry, state) {
  outbox.put('undo', { entry: entry.id, reason: 'taken back at the bench' });
  looked = entry.step ?? entry.sent?.step ?? looked;
  draw(true);
  announce(`Taken back: ${entryWords(entry, state)}`);
}

/** @param {any} step @param {string} [did] what is noted, where it is known already */
function showMore(step, did) {
  const place = byId('more');
  const leave = () => { place.replaceChildren(); };
  if (place.childElementCount && !did) { leave(); return; }
  place.replaceChildren(moreForm(step, did ?? 'note', { keep: (body) => { leave(); hands.keep(body); }, put: (route, body) => { leave(); hands.put(route, body); }, photo: async (body, photo) => { await outbox.putPhoto(body, photo); leave(); draw(true); }, leave }));
  /** @type {HTMLElement|null} */ (place.querySelector(did ? 'input' : 'select'))?.focus();
}

/** Which field it is: several of a step may have one name, and a number must not slip from one into the other. @param {HTMLInputElement} field */
const fieldKey = (field) => `${field.name} ${field.labels?.[0]?.firstChild?.textContent ?? ''}`;

/** @param {boolean} move whether the focus goes to what is new */
function draw(move) {
  const state = standing();
  const at = looked ?? state.next;
  const done = state.steps.filter((/** @type {any} */ step) => ['done', 'skipped'].includes(step.stands)).length;
  byId('place').replaceChildren(h('span', {}, at ? `Step ${at} of ${state.steps.length}${state.steps[at - 1].procedure ? `, ${placeOf(state.steps[at - 1])} on the sheet` : ''}` : `All ${state.steps.length} steps done`), h('progress', { max: state.steps.length, value: done, 'aria-label': `${done} of ${state.steps.length} steps done` }));
  const over = state.lines.find((/** @type {any} */ line) => line.verdict === 'over' && line.ways.length && !line.decided && line.to_ph === null);
  const askVessel = !withoutVessel && !state.entries.length && state.steps.some((/** @type {any} */ step) => step.kind === 'make_up');
  const line = at ? state.lines.find((/** @type {any} */ one) => one.number === state.steps[at - 1].line) : null;
  const looks = JSON.stringify([at, at ? state.steps[at - 1] : null, line && [line.actual?.value ?? null, line.target.value, line.verdict, line.remarks], over?.number, over?.actual.value, askVessel, state.water, state.balanced, state.sign_offs.length, at ? 0 : state.deviations.length, at && state.steps[at - 1].kind === 'adjust' ? [advice.looks, state.entries.length] : at && state.steps[at - 1].kind === 'check' ? state.readings : 0]);
  if (at && state.steps[at - 1].kind === 'adjust') advice.want(state, at);
  drawSteps(state);
  drawEntries(state);
  drawFoot(state);
  drawLink();
  course.look(told.entries.filter((/** @type {any} */ one) => ['temperature', 'temperature_log', 'speed', 'gross', 'vessel'].includes(one.did)).map((/** @type {any} */ one) => `${one.id}${one.struck ? '-' : ''}`).join(' '));
  // What looks the same stays as it is, with the focus and whatever is being typed in it.
  if (looks === drawn && !move) return;
  drawn = looks;
  /** What is half typed goes over into the step as it is drawn anew, into the same field or into none. @type {Map<string, string>} */
  const typed = new Map(move ? [] : [...byId('step').querySelectorAll('input')].filter((one) => one.type === 'text' && one.value).map((one) => [fieldKey(one), one.value]));
  const boat = move ? null : byId('step').querySelector('.boat input:checked');
  const inside = document.activeElement instanceof HTMLInputElement && byId('step').contains(document.activeElement) ? fieldKey(document.activeElement) : '';
  const shown = over ? wayOut(state, over, hands) : askVessel ? firstVessel(state, hands, () => { withoutVessel = true; draw(true); }) : at ? stepView(state, state.steps[at - 1], hands, data.sources ?? {}) : signing(state, { keep: hands.keep, refresh, waiting: () => outbox.waiting.length });
  byId('step').replaceChildren(shown);
  if (boat) /** @type {HTMLInputElement|null} */ (shown.querySelector(`.boat input[id="${boat.id}"]`))?.click();
  const fields = [...shown.querySelectorAll('input')];
  for (const field of fields) {
    const value = typed.get(fieldKey(field));
    if (value) field.value = value;
  }
  if (move || inside) {
    const first = (inside && !move ? fields.find((field) => fieldKey(field) === inside) : null) ?? shown.querySelector('input[name=net], input[name=ph]') ?? shown.querySelector('.big-verb') ?? shown.querySelector('h1');
    /** @type {HTMLElement|null} */ (first)?.focus({ preventScroll: true });
  }
}

byId('course').replaceChildren(course.element);
outbox.addEventListener('changed', drawLink);
advice.addEventListener('told', () => draw(false));
outbox.addEventListener('sent', refresh);
addEventListener('pointerdown', () => { unlockSound(); stayAwake(); });
say(byId('batch-size'), `${echo(String(told.size?.value ?? ''))} g`);
byId('batch-when').textContent = when(told.when);
draw(false);
outbox.send();
workAlone();
joinInstruments();
