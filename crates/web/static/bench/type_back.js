// @ts-check
/** A sheet that was filled by hand, typed back: number after number, by the keyboard alone. What is kept goes the way of every entry. */

import { announce, byId, h, mark, pageData } from '../dom.js';
import { Trouble, ask } from '../api.js';
import { canonical, echo } from '../figures.js';
import { Outbox } from './outbox.js';
import { after, netOf } from './progress.js';
import { wayOut } from './step.js';
import { RowView, go, rows } from './typed_row.js';
import { entryWords, gramsText, slip } from './words.js';

const data = pageData();
/** As the program last told it. @type {any} */
let told = data.batch;
const outbox = new Outbox(told.id, told.trial);
const standing = () => {
  const state = after(told, outbox.beside);
  for (const line of state.lines) if (line.actual && line.actual.value === null) line.actual = null;
  return state;
};

/** Heads of the columns. */
const HEADS = ['', 'Raw material', 'Target, g', 'Reading 1, g', 'Reading 2, g', 'Lot', 'Time', 'Initials', 'Stands'];
const STEP_HEADS = ['', 'What was done', 'As planned', 'From', 'To', '°C', 'rpm', 'Initials', 'Stands'];
const CHECK_HEADS = ['', 'What was looked at', '', 'Found', 'Time', 'Initials', 'Stands'];

/** Within one minute things happen in this order; so many milliseconds keep it. @type {Record<string, number>} */
const ORDER = { vessel: 0, weighed: 1, gross: 2, water: 3, output: 4 };

/** What stands beside the square code, or why it is not of this batch. @param {string} typed */
function wrongSheet(typed) {
  const parts = typed.replace(/\s/g, '').toUpperCase().split('/');
  const right = parts[0] === 'LEVIGATE' && (parts.length === 4 || (parts.length === 5 && /^\d+$/.test(parts[4])));
  if (!right) return 'This is not the code of a batch sheet. It stands beside the square code at the foot of the page and begins with LEVIGATE.';
  if (parts[2] !== told.code) return `This is a sheet of batch ${parts[2]}, not of ${told.code}.`;
  if (parts[3] !== data.version_code.toUpperCase()) return `The sheet was printed for version ${parts[3].toLowerCase()}; the batch is made of ${data.version_code}.`;
  return '';
}

const today = new Date(told.when);
const two = (/** @type {number} */ number) => String(number).padStart(2, '0');
const code = h('input', { id: 'sheet-code', name: 'code', autocomplete: 'off', spellcheck: false, 'aria-required': 'true', 'aria-describedby': 'sheet-code-wrong' });
const day = h('input', { id: 'sheet-day', name: 'day', type: 'date', value: `${today.getFullYear()}-${two(today.getMonth() + 1)}-${two(today.getDate())}` });
const hand = h('input', { id: 'sheet-initials', name: 'initials-of-all', autocomplete: 'off' });
const codeWrong = h('div', { class: 'field-trouble', id: 'sheet-code-wrong', role: 'alert', hidden: true });

/** Whether the sheet is one of this batch; told beside the field. */
function sheetHolds() {
  const wrong = wrongSheet(code.value);
  codeWrong.hidden = wrong === '';
  codeWrong.textContent = wrong;
  if (wrong) code.setAttribute('aria-invalid', 'true');
  else code.removeAttribute('aria-invalid');
  return wrong === '';
}

/** A time as it is written by hand, as hours and minutes, or null. @param {string} typed */
function timeOf(typed) {
  const found = /^(\d{1,2})\s*[:.,h]?\s*(\d{2})$/.exec(typed.trim());
  if (!found || Number(found[1]) > 23 || Number(found[2]) > 59) return null;
  return [Number(found[1]), Number(found[2])];
}

/** A time on the sheet as a moment, so that what was done in one minute keeps its order. @param {number[]|null} clock @param {number} after milliseconds */
function momentOf(clock, after) {
  if (!clock) return '';
  const written = new Date(`${day.value}T${two(clock[0])}:${two(clock[1])}:00.00${after}`);
  return Number.isNaN(written.valueOf()) ? null : written.toISOString();
}

/** Puts what stands in a row on its way. @param {string} initials @param {Record<string, any>[]} bodies @param {string} spoken */
function put(initials, bodies, spoken) {
  const paper = { code: code.value.trim(), typed_at: new Date().toISOString(), initials: initials || hand.value.trim() };
  for (const body of bodies) outbox.put('entries', { ...body, paper });
  announce(`Kept: ${spoken}.`);
  draw();
  return true;
}

/** Times of a row, or nothing where one is none; told beside it. @param {Record<string, string>} values @param {import('./typed_row.js').RowView} row @param {string[]} names */
function clocks(values, row, names) {
  /** @type {Record<string, number[]|null>} */
  const found = {};
  for (const name of names) {
    found[name] = values[name] ? timeOf(values[name]) : null;
    if (values[name] && !found[name]) { row.refuse(name, `“${values[name]}” is not a time of day. Write it like 14:05.`); return null; }
  }
  if (momentOf([0, 0], 0) === null) { go(day); return null; }
  return found;
}

/** Entries in force of a kind, of a line or step. @param {any} state @param {(one: any) => boolean} mine */
const kept = (state, mine) => state.entries.filter((/** @type {any} */ one) => !one.struck && !one.leaving && !one.withdrawn && mine(one));
const undo = (/** @type {any} */ entry) => { outbox.put('undo', { entry: entry.id, reason: 'taken back while typing the sheet back' }); draw(); };
const TIME = { name: 'time', label: 'time', class: 'clock', more: { inputMode: 'numeric', placeholder: 'none' } };
const INITIALS = { name: 'initials', label: 'initials', class: 'who' };

/**
 * A weighing. @param {{did: string, number: number, name: string, label: string, step: number, lot: boolean, tare: boolean}} of
 */
function weighingRow(of) {
  const lineOf = (/** @type {any} */ state) => (of.number ? state.lines.find((/** @type {any} */ one) => one.number === of.number) : null);
  return new RowView({
    label: of.label,
    name: of.name,
    heads: HEADS.slice(3, 8),
    pass: 'reading_2',
    places: [
      of.tare ? { name: 'reading_1', label: 'reading 1, g', class: 'reading reading-1', more: { inputMode: 'decimal' } } : null,
      { name: 'reading_2', label: of.tare ? 'reading 2, g' : 'g', class: 'reading reading-2', more: { inputMode: 'decimal' } },
      of.lot ? { name: 'lot', label: 'lot', class: 'lot', more: { value: lineOf(standing())?.lot ?? '' } } : null,
      TIME, INITIALS,
    ],
    undo,
    keep(values, row) {
      const [tare, gross] = [values.reading_1 ?? '', values.reading_2];
      if (!tare && !gross) return true;
      if (!sheetHolds()) { go(code); return false; }
      for (const name of ['reading_1', 'reading_2']) {
        const number = values[name] ? canonical(values[name]) : '';
        if (number === null || Number(number) < 0) return row.refuse(name, `“${values[name]}” is not a number a balance can show.`);
      }
      const clock = clocks(values, row, ['time']);
      if (!clock) return false;
      const weight = tare && gross ? { tare, gross } : { net: gross || tare };
      const net = netOf({ ...weight, unit: 'g' }) ?? 0;
      if (net <= 0) return row.refuse('reading_2', 'Nothing would have been weighed: reading 2 is not above reading 1.');
      const now = lineOf(standing());
      const slipped = now && now.to_ph === null ? slip(net, now.actual === null ? now.target.value : now.missing.value) : '';
      if (slipped && row.sure !== row.figures) {
        row.sure = row.figures;
        return row.refuse('reading_2', mark('stop', 'shape'), ' ', h('b', {}, `${gramsText(told, net)} g is ${slipped}.`), ' Has the decimal sign slipped, here or on the sheet? Type it again; Enter here keeps it as it stands on the sheet.');
      }
      for (const field of row.fields) if (field.name !== 'lot') field.value = '';
      return put(values.initials, [{ did: of.did, step: of.step, line: of.number, unit: 'g', ...weight, lot: values.lot ?? '', at: momentOf(clock.time, ORDER[of.did]) }], `${of.name}, ${gramsText(told, net)} grams`);
    },
    told(state) {
      const now = lineOf(state);
      const own = kept(state, (one) => one.did === of.did && (!of.number || (one.line ?? one.sent?.line) === of.number));
      const last = own[own.length - 1];
      const verdict = /** @type {Record<string, string>} */ ({ within: 'within', short: 'too little', over: 'too much' })[now?.verdict];
      const words = now ? (now.actual === null ? '' : `${gramsText(state, now.actual.value)} g in${verdict ? `, ${verdict}` : ''}`) : last ? entryWords(last, state).replace(/^[^:]*: /, '') : '';
      return { planned: now ? gramsText(state, now.target.value) : '', stands: { words, doubtful: now?.verdict === 'over' || now?.verdict === 'short', last } };
    },
  }, () => code);
}

/** What was done in a step: from when to when, how warm, how fast. @param {any} step */
function workingRow(step) {
  const number = (/** @type {string} */ name, /** @type {string} */ label) => ({ name, label, class: 'clock', more: { inputMode: 'decimal' } });
  return new RowView({
    label: String(step.number),
    name: step.text,
    heads: STEP_HEADS.slice(3, 8),
    pass: 'to',
    places: [{ ...TIME, name: 'from', label: 'from' }, { ...TIME, name: 'to', label: 'to' }, number('temperature', 'temperature, °C'), number('speed', 'speed, rpm'), INITIALS],
    undo,
    keep(values, row) {
      if (!['from', 'to', 'temperature', 'speed'].some((name) => values[name])) return true;
      if (!sheetHolds()) { go(code); return false; }
      const clock = clocks(values, row, ['from', 'to']);
      if (!clock) return false;
      for (const name of ['temperature', 'speed']) {
        if (values[name] && canonical(values[name]) === null) return row.refuse(name, `“${values[name]}” is not a number an instrument can show.`);
      }
      // What was read in between stands at its end, before it was finished; without an end, where it began.
      const read = clock.to ?? clock.from;
      const bodies = [
        values.from ? { did: 'started', at: momentOf(clock.from, 0) } : null,
        values.temperature ? { did: 'temperature', value: values.temperature, at: momentOf(read, 1) } : null,
        values.speed ? { did: 'speed', value: values.speed, at: momentOf(read, 2) } : null,
        values.to ? { did: 'finished', at: momentOf(clock.to, 3) } : null,
      ].filter((body) => body !== null).map((body) => ({ ...body, step: step.number }));
      for (const field of row.fields) field.value = '';
      return put(values.initials, bodies, `step ${step.number}`);
    },
    told(state) {
      const own = kept(state, (one) => (one.step ?? one.sent?.step) === step.number && ['started', 'finished', 'temperature', 'speed'].includes(one.did));
      const planned = [[step.temperature_c, '°C'], [step.speed_rpm, 'rpm'], [step.hold_min, 'min']].filter(([value]) => value !== null && value !== undefined).map(([value, unit]) => `${echo(String(Number(value)))} ${unit}`).join(', ');
      return { planned, stands: { words: own.map((/** @type {any} */ one) => entryWords(one, state).replace(/^Step \d+ /, '')).join(', '), doubtful: false, last: own[own.length - 1] } };
    },
  }, () => code);
}

/** What was found when something was looked at. @param {any} step @param {string} what */
function checkRow(step, what) {
  return new RowView({
    label: String(step.number),
    name: what,
    heads: CHECK_HEADS.slice(3, 6),
    pass: 'found',
    places: [{ name: 'found', label: 'found', class: 'lot' }, TIME, INITIALS],
    undo,
    keep(values, row) {
      if (!values.found) return true;
      if (!sheetHolds()) { go(code); return false; }
      const clock = clocks(values, row, ['time']);
      if (!clock) return false;
      for (const field of row.fields) field.value = '';
      return put(values.initials, [{ did: 'checked', step: step.number, text: what, decision: values.found, at: momentOf(clock.time, 5) }], what);
    },
    told(state) {
      const own = kept(state, (one) => one.did === 'checked' && (one.what ?? one.sent?.text) === what);
      const last = own[own.length - 1];
      return { planned: '', stands: { words: last ? String(last.found ?? last.sent?.decision ?? '') : '', doubtful: false, last } };
    },
  }, () => code);
}

/** The rows in the order of the sheet. @returns {any[][]} weighings, steps, checks */
function rowsOfSheet() {
  // Of a line that goes in by portions the sheet does not say which: it counts to the first that is open.
  const stepOf = (/** @type {number} */ number) => { const own = told.steps.filter((/** @type {any} */ step) => step.line === number); return own.length === 1 ? own[0].number : 0; };
  const besides = (/** @type {string} */ did, /** @type {string} */ name, lot = false) => weighingRow({ did, number: 0, name, label: '–', step: 0, lot, tare: false });
  const lines = [...new Map(told.lines.map((/** @type {any} */ line) => [line.number, line])).values()];
  return [
    [besides('vessel', 'Vessel and stirrer, empty'),
      ...lines.map((/** @type {any} */ line) => weighingRow({ did: 'weighed', number: line.number, name: line.name, label: String(line.number), step: stepOf(line.number), lot: true, tare: true })),
      besides('gross', 'Vessel with batch'), besides('water', 'Water given back', true), besides('output', 'Good product')],
    told.steps.filter((/** @type {any} */ step) => step.line === null && step.kind === 'work').map(workingRow),
    told.steps.flatMap((/** @type {any} */ step) => step.checks.map((/** @type {string} */ what) => checkRow(step, what))),
  ];
}

function draw() {
  const state = standing();
  for (const row of rows) row.update(state, hand.value);
  const { waiting, refused } = outbox;
  byId('link').replaceChildren(mark(waiting.length ? 'check' : 'measured', 'shape'), ` ${waiting.length ? `${waiting.length} ${waiting.length === 1 ? 'entry waits' : 'entries wait'} to be sent; kept on this device` : 'Everything is kept'}`);
  byId('refused').replaceChildren(...refused.map((one) => h('div', { class: 'field-trouble', role: 'alert' }, h('b', {}, `Not kept: ${entryWords({ did: one.body.did, sent: one.body }, state)}.`), ` ${one.told.what} ${one.told.why} ${one.told.what_now} `, h('button', { class: 'verb', type: 'button', onclick: () => outbox.drop(one.key) }, 'I have read it'))));
  const over = state.lines.find((/** @type {any} */ line) => line.verdict === 'over' && line.ways.length && !line.decided && line.to_ph === null);
  const shown = byId('over').firstElementChild?.getAttribute('data-of') ?? '';
  const looks = over ? `${over.number} ${over.actual.value}` : '';
  if (looks === shown) return;
  const view = over ? wayOut(state, over, { keep: (body) => { outbox.put('entries', body); draw(); } }) : null;
  view?.setAttribute('data-of', looks);
  byId('over').replaceChildren(...(view ? [view] : []));
}

async function refresh() {
  try {
    const arrived = outbox.arrived.map((one) => one.key);
    told = await ask('GET', `/api/batches/${told.id}`);
    outbox.settled(arrived);
    draw();
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
  }
}

const field = (/** @type {string} */ name, /** @type {HTMLInputElement} */ input, /** @type {string} */ width, /** @type {string} */ hint, /** @type {Node|null} */ wrong = null) => h('div', { class: `field ${width}` }, h('label', { htmlFor: input.id }, name), input, h('span', { class: 'hint' }, hint), wrong);
byId('sheet-fields').append(
  field('Code on the sheet', code, 'code', 'Beside the square code at the foot of the page; a reader that types does it too.', codeWrong),
  field('Day it was filled', day, '', 'The times on the sheet are of this day.'),
  field('Initials on the whole sheet', hand, 'short', 'Where a row has none of its own.'));
for (const [at, one] of [code, day, hand].entries()) {
  one.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
    if (event.key !== 'Enter') return;
    event.preventDefault();
    if (one === code && !sheetHolds()) return;
    go([day, hand, rows[0]?.fields[0]][at]);
  });
}
hand.addEventListener('input', draw);
code.addEventListener('change', sheetHolds);
const CLASSES = ['n', '', 'figure', 'reading', 'reading', 'lot', 'clock', 'who', 'stands'];
const STEP_CLASSES = ['n', '', 'figure', 'clock', 'clock', 'clock', 'clock', 'who', 'stands'];
const CHECK_CLASSES = ['n', '', 'figure', 'lot', 'clock', 'who', 'stands'];
/** @param {string} name @param {string[]} heads @param {string[]} classes @param {RowView[]} own */
const table = (name, heads, classes, own) => (own.length ? [name ? h('h2', {}, name) : null, h('table', { class: 'typed-rows' }, h('thead', {}, h('tr', {}, ...heads.map((head, at) => h('th', { scope: 'col', class: classes[at] }, head)))), h('tbody', {}, ...own.flatMap((row) => [row.element, row.below])))].filter((one) => one !== null) : []);
const [weighings, works, checks] = rowsOfSheet();
byId('rows').append(...table('', HEADS, CLASSES, weighings), ...table('Steps', STEP_HEADS, STEP_CLASSES, works), ...table('What was looked at', CHECK_HEADS, CHECK_CLASSES, checks));
outbox.addEventListener('changed', draw);
outbox.addEventListener('sent', refresh);
draw();
code.focus();
outbox.send();
