// @ts-check
/** A sheet that was filled by hand, typed back: number after number, by the keyboard alone. What is kept goes the way of every entry. */

import { announce, byId, h, mark, pageData } from '../dom.js';
import { Trouble, ask } from '../api.js';
import { canonical, echo } from '../figures.js';
import { Outbox } from './outbox.js';
import { after, netOf } from './progress.js';
import { wayOut } from './step.js';
import { entryWords, gramsText, slip } from './words.js';

const data = pageData();
/** As the program last told it. @type {any} */
let told = data.batch;
const outbox = new Outbox(told.id);
const standing = () => {
  const state = after(told, outbox.beside);
  for (const line of state.lines) if (line.actual && line.actual.value === null) line.actual = null;
  return state;
};

/** Heads of the columns. */
const HEADS = ['', 'Raw material', 'Target, g', 'Reading 1, g', 'Reading 2, g', 'Lot', 'Time', 'Initials', 'Stands'];

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

/**
 * @typedef {object} RowView
 * @property {HTMLTableRowElement} element
 * @property {HTMLTableRowElement} below
 * @property {HTMLInputElement[]} fields in the order they are typed
 * @property {() => void} update
 */

/** @type {RowView[]} */
const rows = [];

/** @param {HTMLElement|undefined} field */
function go(field) {
  if (!field) return;
  field.focus();
  if (field instanceof HTMLInputElement && field.type === 'text') field.select();
}

/**
 * One row of the sheet.
 * @param {{did: string, number: number, name: string, label: string, step: number, lot: boolean, tare: boolean}} of
 * @returns {RowView}
 */
function rowOf(of) {
  const at = rows.length;
  const named = (/** @type {string} */ name, /** @type {string} */ label, more = {}) => h('input', { name, type: 'text', autocomplete: 'off', 'aria-label': `${of.label}, ${of.name}: ${label}`, ...more });
  const line = () => standing().lines.find((/** @type {any} */ one) => one.number === of.number);
  const first = of.tare ? named('reading_1', 'reading 1, g', { inputMode: 'decimal', class: 'figure-input' }) : null;
  const second = named('reading_2', of.tare ? 'reading 2, g' : 'g', { inputMode: 'decimal', class: 'figure-input' });
  const lot = of.lot ? named('lot', 'lot', { value: of.number ? line()?.lot ?? '' : '' }) : null;
  const time = named('time', 'time', { inputMode: 'numeric', placeholder: 'none' });
  const initials = named('initials', 'initials', { placeholder: hand.value });
  const fields = [first, second, lot, time, initials].filter((field) => field !== null);
  const stands = h('td', { class: 'stands' });
  const wrong = h('td', { colSpan: 9 });
  const below = h('tr', { class: 'row-told', hidden: true }, wrong);
  const element = h('tr', {}, h('td', { class: 'n' }, of.label), h('th', { scope: 'row' }, of.name), h('td', { class: 'figure' }), h('td', { class: 'reading reading-1', 'data-head': HEADS[3] }, first), h('td', { class: 'reading reading-2', 'data-head': of.tare ? HEADS[4] : 'g' }, second), h('td', { class: 'lot', 'data-head': HEADS[5] }, lot), h('td', { class: 'clock', 'data-head': HEADS[6] }, time), h('td', { class: 'who', 'data-head': HEADS[7] }, initials), stands);
  let sure = '';

  const tell = (/** @type {(Node|string)[]} */ ...words) => {
    wrong.replaceChildren(...(words.length ? [h('div', { class: 'field-trouble', role: 'alert' }, ...words)] : []));
    below.hidden = words.length === 0;
    element.classList.toggle('has-told', words.length > 0);
  };
  const refuse = (/** @type {HTMLInputElement} */ field, /** @type {string} */ words) => {
    field.setAttribute('aria-invalid', 'true');
    tell(words);
    go(field);
  };

  const keep = () => {
    for (const field of fields) field.removeAttribute('aria-invalid');
    const empty = !second.value.trim() && !first?.value.trim();
    if (empty) { tell(); next(); return; }
    if (!sheetHolds()) { go(code); return; }
    for (const field of [first, second]) {
      const number = field?.value.trim() ? canonical(field.value) : '';
      if (field && (number === null || Number(number) < 0)) { refuse(field, `“${field.value}” is not a number a balance can show.`); return; }
    }
    const clock = time.value.trim() ? timeOf(time.value) : null;
    if (time.value.trim() && !clock) { refuse(time, `“${time.value}” is not a time of day. Write it like 14:05.`); return; }
    const [tare, gross] = [first?.value.trim() ?? '', second.value.trim()];
    const weight = tare && gross ? { tare, gross } : { net: gross || tare };
    const net = netOf({ ...weight, unit: 'g' }) ?? 0;
    if (net <= 0) { refuse(second, 'Nothing would have been weighed: reading 2 is not above reading 1.'); return; }
    const now = of.number ? line() : null;
    const slipped = now && now.to_ph === null ? slip(net, now.actual === null ? now.target.value : now.missing.value) : '';
    const typed = `${tare}|${gross}`;
    if (slipped && sure !== typed) {
      sure = typed;
      second.setAttribute('aria-invalid', 'true');
      tell(mark('stop', 'shape'), ' ', h('b', {}, `${gramsText(told, net)} g is ${slipped}.`), ' Has the decimal sign slipped, here or on the sheet? Type it again; Enter here keeps it as it stands on the sheet.');
      go(second);
      return;
    }
    const written = clock ? new Date(`${day.value}T${two(clock[0])}:${two(clock[1])}:00.00${ORDER[of.did]}`) : null;
    if (written && Number.isNaN(written.valueOf())) { go(day); return; }
    const who = initials.value.trim() || hand.value.trim();
    outbox.put('entries', { did: of.did, step: of.step, line: of.number, unit: 'g', ...weight, lot: lot?.value.trim() ?? '', at: written ? written.toISOString() : '', paper: { code: code.value.trim(), typed_at: new Date().toISOString(), initials: who } });
    sure = '';
    tell();
    for (const field of [first, second, time, initials]) if (field) field.value = '';
    announce(`Kept: ${of.name}, ${gramsText(told, net)} grams.`);
    draw();
    next();
  };
  const next = () => go(rows[at + 1]?.fields[0] ?? code);

  element.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
    const field = /** @type {HTMLInputElement} */ (event.target);
    const place = fields.indexOf(field);
    if (place < 0) return;
    if (event.key === 'Enter') {
      event.preventDefault();
      const last = place === fields.length - 1;
      const nothing = field === second && !second.value.trim() && !first?.value.trim();
      // A figure that was asked about is answered where it stands.
      const answered = field === second && sure !== '' && sure === `${first?.value.trim() ?? ''}|${second.value.trim()}`;
      if (last || nothing || answered) keep();
      else go(fields[place + 1]);
    } else if (event.key === 'ArrowDown' || event.key === 'ArrowUp') {
      event.preventDefault();
      const other = rows[at + (event.key === 'ArrowDown' ? 1 : -1)];
      go(other?.fields.find((one) => one.name === field.name) ?? other?.fields[0]);
    }
  });

  const update = () => {
    const state = standing();
    const now = of.number ? state.lines.find((/** @type {any} */ one) => one.number === of.number) : null;
    /** @type {HTMLElement} */ (element.querySelector('td.figure')).textContent = now ? gramsText(state, now.target.value) : '';
    initials.placeholder = hand.value;
    const own = state.entries.filter((/** @type {any} */ one) => !one.struck && !one.leaving && !one.withdrawn && one.did === of.did && (!of.number || (one.line ?? one.sent?.line) === of.number));
    const words = now ? (now.actual === null ? '' : `${gramsText(state, now.actual.value)} g in, ${({ within: 'within', short: 'too little', over: 'too much' })[/** @type {'within'|'short'|'over'} */ (now.verdict)] ?? ''}`) : own.length ? entryWords(own[own.length - 1], state).replace(/^[^:]*: /, '') : '';
    const last = own[own.length - 1];
    stands.replaceChildren(...(words ? [mark(now?.verdict === 'over' || now?.verdict === 'short' ? 'change' : 'measured', 'shape'), ` ${words}`] : []), ...(last ? [h('button', { class: 'verb plain', type: 'button', 'aria-label': `Undo the last entry of ${of.name}`, onclick: () => { outbox.put('undo', { entry: last.id, reason: 'taken back while typing the sheet back' }); draw(); go(fields[0]); } }, 'Undo')] : []));
  };
  return { element, below, fields, update };
}

/** The rows in the order of the sheet. */
function rowsOfSheet() {
  // Of a line that goes in by portions the sheet does not say which: it counts to the first that is open.
  const stepOf = (/** @type {number} */ number) => { const own = told.steps.filter((/** @type {any} */ step) => step.line === number); return own.length === 1 ? own[0].number : 0; };
  const besides = (/** @type {string} */ did, /** @type {string} */ name, lot = false) => ({ did, number: 0, name, label: '–', step: 0, lot, tare: false });
  const lines = [...new Map(told.lines.map((/** @type {any} */ line) => [line.number, line])).values()];
  return [
    besides('vessel', 'Vessel and stirrer, empty'),
    ...lines.map((/** @type {any} */ line) => ({ did: 'weighed', number: line.number, name: line.name, label: String(line.number), step: stepOf(line.number), lot: true, tare: true })),
    besides('gross', 'Vessel with batch'),
    besides('water', 'Water given back', true),
    besides('output', 'Good product'),
  ];
}

function draw() {
  const state = standing();
  for (const row of rows) row.update();
  const { waiting, refused } = outbox;
  byId('link').replaceChildren(mark(waiting.length ? 'check' : 'measured', 'shape'), ` ${waiting.length ? `${waiting.length} ${waiting.length === 1 ? 'entry waits' : 'entries wait'} to be sent; kept on this device` : 'Everything is kept'}`);
  byId('refused').replaceChildren(...refused.map((one) => h('div', { class: 'field-trouble', role: 'alert' }, h('b', {}, `Not kept: ${entryWords({ did: one.body.did, sent: one.body }, state)}.`), ` ${one.told.what} ${one.told.why} ${one.told.what_now} `, h('button', { class: 'verb', type: 'button', onclick: () => outbox.drop(one.key) }, 'I have read it'))));
  const over = state.lines.find((/** @type {any} */ line) => line.verdict === 'over' && line.ways.length && !line.decided && line.to_ph === null);
  const shown = byId('over').firstElementChild?.getAttribute('data-of') ?? '';
  const looks = over ? `${over.number} ${over.actual.value}` : '';
  if (looks === shown) return;
  const view = over ? wayOut(state, over, { keep: (body) => { outbox.put('entries', body); draw(); }, lots: () => [], readPh: async () => {} }) : null;
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
hand.addEventListener('input', () => { for (const row of rows) row.update(); });
code.addEventListener('change', sheetHolds);
for (const of of rowsOfSheet()) rows.push(rowOf(of));
const classes = ['n', '', 'figure', 'reading', 'reading', 'lot', 'clock', 'who', 'stands'];
byId('rows').append(h('table', { class: 'typed-rows' }, h('thead', {}, h('tr', {}, ...HEADS.map((name, at) => h('th', { scope: 'col', class: classes[at] }, name)))), h('tbody', {}, ...rows.flatMap((row) => [row.element, row.below]))));
outbox.addEventListener('changed', draw);
outbox.addEventListener('sent', refresh);
draw();
code.focus();
outbox.send();
