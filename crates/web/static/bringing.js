// @ts-check
/** A sheet brought in: the table, what its columns say, and row by row what will be made of it. The server reads it anew at every answer; nothing is written before the last button. */

import { Trouble, ask } from './api.js';
import { announce, byId, h, pageData } from './dom.js';
import { columnsTable, questions } from './bringing_columns.js';
import { formulaHead, namesTable, rowsTable } from './bringing_rows.js';

/** Most bytes of a file that are taken. */
const MOST_BYTES = 20 * 1024 * 1024;
const AFTER_MS = 350;
/** Where the names a person picked before are kept, on this machine only. */
const PICKS = 'levigate-picked-names';

/** Sheets as people bring them; invented at Quillfen Laboratory. */
const EXAMPLES = /** @type {Record<string, string>} */ ({
  formula: ['Cooling gel, trial 3', '', 'Phase\tRaw material\t% w/w', 'A\tWater\tq.s. to 100', '\tCarbomer\t0,5', 'B\tPropanediol\t5', '\tPhenoxyethanol\t0,9', 'C\tTromethamine\tto pH 6.1', '\tTotal\t100'].join('\n'),
  material: ['Raw material\tSupplier\tArticle no.\tPrice (EUR/kg)', 'Glycerin 99.5 %\tFenwick\tGL-995\t1,90', 'Propanediol\tFenwick\tPD-13\t6,20'].join('\n'),
  lot: ['Raw material\tLot no.\tReceived\tExpiry\tQuantity\tStatus', 'Mandelic acid\tMA-2611-3\t21.11.2026\t20.11.2028\t5 kg\treleased', 'Propanediol\tPD-4471\t02.11.2026\t\t25 kg\tquarantine'].join('\n'),
});

const KINDS = /** @type {Array<[string, string, string]>} */ ([
  ['formula', 'A formula', 'a raw material and its percent in every row'],
  ['material', 'Raw materials', 'prices, and raw materials of your own'],
  ['lot', 'Lots', 'codes, dates, quantities of what stands on the shelf'],
]);

const page = pageData();

/** @type {any} */
const state = {
  /** @type {{name: string, bytes: string, size: number}|null} */ file: null,
  asked: fresh(page.what),
  /** @type {any} */ answer: null,
  /** @type {any} What was asked when the answer came. */ good: null,
  number: 0,
  timer: 0,
  done: false,
};

/** What is asked of another table. @param {string} what */
function fresh(what) {
  return { what, sheet: '', head: null, columns: [], days: '', months: '', unit: '', currency: '', shares: '', picks: remembered(), changed: [], leave_out: [], leave_out_rest: false, name: '', type: '', site: '', rinse_off: false, onto: '' };
}

function remembered() {
  try {
    return JSON.parse(localStorage.getItem(PICKS) ?? '{}') ?? {};
  } catch {
    return {};
  }
}

function remember() {
  try {
    localStorage.setItem(PICKS, JSON.stringify(state.asked.picks));
  } catch {
    // Without room to remember, the names are asked about again next time.
  }
}

/** A stage of the page. @param {number} place @param {string} title */
function stage(place, title) {
  const content = h('div', { class: 'stage-content' });
  const element = h('section', { class: 'stage', 'aria-label': title, hidden: place > 1 }, h('h2', {}, h('span', { class: 'stage-place', 'aria-hidden': 'true' }, String(place)), title), content);
  const call = (/** @type {string} */ words) => { element.setAttribute('aria-label', words); /** @type {any} */ (element.firstChild).replaceChildren(words); };
  return { element, call, put: (/** @type {Array<Node|null|false>} */ ...nodes) => { content.replaceChildren(...nodes.filter((one) => one)); element.hidden = false; }, hide: () => { element.hidden = true; } };
}

const table = stage(1, 'The table');
const columns = stage(2, 'What its columns say');
const rows = stage(3, 'What will be made of it');
const trouble = h('div', { class: 'troubles', role: 'alert' });
const unfit = h('div', { class: 'troubles', role: 'alert' });
const refusal = h('div', { class: 'troubles', role: 'alert' });

const typed = h('textarea', { id: 'pasted', rows: 7, spellcheck: false, 'aria-describedby': 'pasted-hint', placeholder: 'Copy the cells in the spreadsheet and paste them here, with the row that names the columns', oninput: () => { state.file = null; showFile(); askSoon(); } });
const chooser = h('input', { class: 'visually-hidden', type: 'file', id: 'file', accept: '.xlsx,.xlsm,.csv,.tsv,.txt,text/csv,text/plain', onchange: () => { const one = chooser.files?.[0]; if (one) take(one); chooser.value = ''; } });
const fileLine = h('div', { class: 'file-line', hidden: true });

function beginning() {
  const kinds = h('fieldset', { class: 'kinds' }, h('legend', {}, 'It holds'), ...KINDS.map(([what, words, says]) => h('label', { class: 'kind' }, h('input', { type: 'radio', name: 'what', value: what, checked: what === state.asked.what, onchange: () => { state.asked = { ...fresh(what), sheet: state.asked.sheet }; askNow(); } }), h('span', {}, h('b', {}, words), h('span', { class: 'aside' }, says)))));
  const drop = h('div', { class: 'drop' }, h('label', { htmlFor: 'pasted', class: 'visually-hidden' }, 'Cells of the table'), typed, fileLine,
    h('p', { class: 'hint', id: 'pasted-hint' }, 'A spreadsheet (.xlsx), CSV, or pasted cells. A title above and sums below do no harm. Nothing leaves this machine.'),
    h('div', { class: 'verbs' }, chooser, h('label', { class: 'verb', htmlFor: 'file' }, 'Choose a file'), h('button', { class: 'verb plain', type: 'button', onclick: example }, 'Try it with an example')));
  for (const name of ['dragenter', 'dragover']) drop.addEventListener(name, (/** @type {DragEvent} */ event) => { event.preventDefault(); drop.classList.add('over'); });
  for (const name of ['dragleave', 'drop']) drop.addEventListener(name, () => drop.classList.remove('over'));
  drop.addEventListener('drop', (/** @type {DragEvent} */ event) => {
    event.preventDefault();
    const one = event.dataTransfer?.files?.[0];
    if (one) take(one);
    else { const text = event.dataTransfer?.getData('text/plain'); if (text) { typed.value = text; state.file = null; showFile(); anew(); } }
  });
  table.put(kinds, drop, trouble);
}

function example() {
  typed.value = EXAMPLES[state.asked.what] ?? '';
  state.file = null;
  showFile();
  anew();
}

/** Another table: what was answered about the one before does not hold. */
function anew() {
  state.asked = fresh(state.asked.what);
  askNow();
}

/** @param {File} file */
async function take(file) {
  if (file.size > MOST_BYTES) {
    tell(trouble, { what: `${file.name} is larger than 20 MB.`, why: 'A list has some hundred rows.', what_now: 'Save the sheet with the list alone, without pictures, or as CSV.' });
    return;
  }
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = '';
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  state.file = { name: file.name, bytes: btoa(text), size: file.size };
  showFile();
  anew();
}

function showFile() {
  const { file } = state;
  fileLine.hidden = !file;
  typed.hidden = Boolean(file);
  if (!file) return;
  const size = file.size < 1000 ? `${file.size} bytes` : `${Math.round(file.size / 1000)} kB`;
  const sheets = state.answer?.form?.sheets ?? [];
  const chosen = state.answer?.form?.sheet ?? '';
  fileLine.replaceChildren(h('b', {}, file.name), h('span', { class: 'aside' }, size),
    sheets.length > 1 && h('label', { htmlFor: 'sheet' }, 'Sheet ', h('select', { id: 'sheet', onchange: (/** @type {Event} */ event) => { const sheet = /** @type {HTMLSelectElement} */ (event.target).value; state.asked = { ...fresh(state.asked.what), sheet }; askNow(); } }, ...sheets.map((/** @type {any} */ one) => h('option', { value: one.name, selected: one.name === chosen }, `${one.name} (${one.rows} rows)`)))),
    h('button', { class: 'verb plain', type: 'button', onclick: () => { state.file = null; showFile(); typed.focus(); anew(); } }, 'Put it aside'));
}

/** What is wrong: what, why, what now. @param {any} place @param {any} [told] */
function tell(place, told) {
  const where = told?.place?.line ? `Row ${told.place.line}. ` : '';
  place.replaceChildren(...(told ? [h('div', { class: 'field-trouble' }, h('b', {}, told.what), ` ${where}${told.why} ${told.what_now}`)] : []));
}

function sent() {
  const { file, asked } = state;
  return { ...(file ? { file: file.name, bytes: file.bytes } : { text: typed.value }), asked };
}

function askSoon() {
  clearTimeout(state.timer);
  state.timer = window.setTimeout(anew, AFTER_MS);
}

/** Asks anew; an answer that a newer question has overtaken is dropped. */
async function askNow() {
  clearTimeout(state.timer);
  state.number += 1;
  const mine = state.number;
  tell(refusal);
  if (!state.file && !typed.value.trim()) { state.answer = null; tell(trouble); draw(); return; }
  document.documentElement.dataset.reading = '1';
  try {
    const answer = await ask('POST', '/api/bring-in/preview', sent());
    if (mine !== state.number) return;
    state.answer = answer;
    state.good = structuredClone(state.asked);
    tell(trouble);
    tell(unfit);
    draw();
    const { counts } = answer;
    announce(`${counts.made} to be made, ${counts.there} on file already, ${counts.not_understood} not understood.`);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    if (mine !== state.number) return;
    // What was asked last may be what is wrong: the table before stays, with what was asked before.
    if (error.told.place?.field !== 'file' && state.answer) { state.asked = structuredClone(state.good); tell(unfit, error.told); draw(); }
    else { state.answer = null; tell(trouble, error.told); draw(); }
  } finally {
    if (mine === state.number) document.documentElement.dataset.reading = '0';
  }
}

/** An answer of the person; what they had in hand stays in hand. @param {Record<string, any>} change */
function answerWith(change) {
  Object.assign(state.asked, change);
  if ('picks' in change) remember();
  askNow();
}

/** A text instead of a cell. @param {number} line @param {number} column @param {string} text */
function change(line, column, text) {
  const others = state.asked.changed.filter((/** @type {any} */ one) => one.line !== line || one.column !== column);
  answerWith({ changed: [...others, { line, column, text }] });
}

function draw() {
  const { answer, asked } = state;
  showFile();
  if (!answer) { columns.hide(); rows.hide(); return; }
  const inHand = document.activeElement?.id;
  const fields = page.fields.find((/** @type {[string, any]} */ [what]) => what === asked.what)?.[1] ?? [];
  columns.put(unfit, ...questions(answer, answerWith), ...columnsTable(answer, { fields, asked, answerWith }));
  const { counts, ready, missing } = answer;
  const noun = asked.what === 'formula' ? 'the formula' : asked.what === 'lot' ? plural(counts.made, 'lot') : plural(counts.made, 'record');
  const left = counts.not_understood;
  rows.put(
    formulaHead(answer, { asked, answerWith, change }),
    h('p', { class: 'sum-line' }, ...sums(counts, asked.what)),
    namesTable(answer, { asked, answerWith }),
    rowsTable(answer, { asked, answerWith, change }),
    ...(answer.remarks.length ? [h('div', { class: 'remarks' }, ...answer.remarks.map((/** @type {string} */ text) => h('p', {}, text)))] : []),
    h('div', { class: 'decide' },
      (left > 0 || asked.leave_out_rest) && h('label', { class: 'choice' }, h('input', { type: 'checkbox', id: 'leave-out-rest', checked: asked.leave_out_rest, onchange: (/** @type {Event} */ event) => answerWith({ leave_out_rest: /** @type {HTMLInputElement} */ (event.target).checked }) }), asked.leave_out_rest ? 'Rows that are not understood are left out' : `Leave out ${left === 1 ? 'the row that is' : `the ${left} rows that are`} not understood`),
      h('button', { class: 'verb main-verb', type: 'button', id: 'bring', disabled: !ready, onclick: bringIn }, `Bring in ${noun}`),
      h('p', { class: 'aside', id: 'why-not' }, ready ? 'All of it is written in one go, or nothing.' : missing.join(' ')),
      refusal));
  if (inHand) document.getElementById(inHand)?.focus({ preventScroll: true });
}

/** @param {number} count @param {string} word */
function plural(count, word) {
  return `${count} ${word}${count === 1 ? '' : 's'}`;
}

/** Rows by what becomes of them. @param {any} counts @param {string} what */
function sums(counts, what) {
  const words = [
    [counts.made, what === 'formula' ? 'lines of the formula' : 'to be made'],
    [counts.there, 'on file already'],
    [counts.passed_over, 'no entries'],
    [counts.left_out, 'left out'],
    [counts.not_understood, 'not understood'],
  ];
  return words.filter(([count]) => count > 0).flatMap(([count, says], at) => [at ? h('span', { class: 'aside' }, ' · ') : '', h('b', {}, String(count)), ` ${says}`]);
}

async function bringIn() {
  if (state.done) return;
  state.done = true;
  const button = /** @type {HTMLButtonElement} */ (byId('bring'));
  button.disabled = true;
  try {
    const brought = await ask('POST', '/api/bring-in', sent());
    remember();
    const formula = brought.made.find((/** @type {any} */ one) => one.what === 'formula' || one.what === 'version');
    if (formula) { location.href = `/formulas/${formula.id}`; return; }
    report(brought);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    tell(refusal, error.told);
    button.disabled = false;
  } finally {
    state.done = false;
  }
}

/** What was made, and what was not. @param {any} brought */
function report(brought) {
  const { counts } = brought.report;
  const lots = state.asked.what === 'lot';
  const left = brought.report.rows.filter((/** @type {any} */ row) => row.fate === 'left-out');
  table.hide();
  columns.hide();
  rows.call('What was made of it');
  rows.put(
    h('p', { class: 'brought', tabIndex: -1, id: 'brought' }, h('b', {}, lots ? `${plural(counts.made, 'lot')} brought in.` : `${plural(counts.made, 'record')} brought in.`), counts.there ? ` ${counts.there} were on file already and are as they were.` : ''),
    h('ul', { class: 'made-list' }, ...brought.made.slice(0, 200).map((/** @type {any} */ one) => h('li', {}, lots ? `Lot ${one.name}` : h('a', { href: `/materials/${one.id}` }, one.what === 'price' ? `Price of ${one.name}` : one.name)))),
    left.length > 0 && h('h3', {}, 'Left out'),
    left.length > 0 && h('ul', { class: 'made-list left-list' }, ...left.map((/** @type {any} */ row) => h('li', {}, `Row ${row.line}: ${row.words}${row.troubles[0] ? `; ${row.troubles[0].what}` : ''}`))),
    h('div', { class: 'verbs' }, h('a', { class: 'verb', href: '/materials' }, 'To the raw materials'), h('a', { class: 'verb', href: `/bring-in?what=${state.asked.what}` }, 'Bring in another sheet')));
  byId('brought').focus();
  announce('Brought in.');
}

beginning();
byId('bringing').replaceChildren(table.element, columns.element, rows.element);
document.documentElement.dataset.reading = '0';
