// @ts-check
/** A measured flow curve, or a recovery after shear: dropped or pasted, its columns confirmed, models fitted and one chosen, kept with a trial. */

import { Trouble, ask } from './api.js';
import { announce, byId, h, pageData } from './dom.js';
import { know, listen } from './derivation.js';
import { PlateView, shownNumber } from './plate.js';
import { attachForm } from './measurement_attach.js';
import { bareColumns, cellsOf, columnsTable } from './measurement_columns.js';
import { canonical } from './figures.js';
import { first, fitsTable, reasons } from './measurement_fits.js';
import { number } from './number.js';

/** Most bytes of a file that are taken. */
const MOST_BYTES = 8 * 1024 * 1024;
const AFTER_MS = 350;

/** A curve as a person might paste it; invented at Quillfen Laboratory. */
const EXAMPLE = ['shear rate [1/s]\tviscosity [mPa.s]', ...[[0.1, 84200], [0.25, 35600], [0.5, 19300], [1, 10900], [2.5, 5330], [5, 3210], [10, 1960], [25, 1030], [50, 655], [100, 421], [250, 240], [500, 159]].map((pair) => pair.join('\t'))].join('\n');

const page = pageData();

/** @type {any} What was asked last and what came back. */
const state = {
  /** @type {{name: string, bytes: string, size: number}|null} */ file: null,
  /** @type {{columns: Array<{name: string, meaning: string, unit: string}>, weights: string, from: string, to: string, ended: string, spindle: string, model: string, curve: string}} */
  asked: { columns: [], weights: 'log', from: '', to: '', ended: '', spindle: '', model: '', curve: '' },
  /** @type {any} */ answer: null,
  number: 0,
  timer: 0,
};

/** Two parts of the page side by side: the sheet, and what is pencilled in its margin. @param {string} title */
function part(title) {
  const sheet = h('div', { class: 'on-sheet' }, h('h2', {}, title));
  const margin = h('div', { class: 'in-margin' });
  const element = h('section', { class: 'beside measured-part', hidden: true, 'aria-label': title }, sheet, margin);
  const call = (/** @type {string} */ words) => { /** @type {Node} */ (sheet.firstChild).textContent = words; element.setAttribute('aria-label', words); };
  return { element, margin, call, put: (/** @type {Array<Node|null>} */ ...content) => { sheet.replaceChildren(/** @type {Node} */ (sheet.firstChild), ...content.filter((one) => one !== null)); element.hidden = false; } };
}

const given = part('What was measured');
const columns = part('What the columns mean');
const curve = part('The curve');
const models = part('Models fitted to it');
const left = part('What the model leaves over');
const several = part('What the curves say together');
const keep = part('Where it belongs');
const curveView = new PlateView(() => again(mainPlate()));
const leftView = new PlateView(() => again('residuals'));

const typed = h('textarea', { id: 'pasted', rows: 7, spellcheck: false, 'aria-describedby': 'pasted-hint', placeholder: 'Paste columns here, or drop a file', oninput: () => { state.file = null; showFile(); askSoon(); } });
const chooser = h('input', { class: 'visually-hidden', type: 'file', id: 'file', accept: '.csv,.tsv,.txt,.dat,.xlsx,text/plain,text/csv', onchange: () => { const one = chooser.files?.[0]; if (one) take(one); chooser.value = ''; } });
const fileLine = h('p', { class: 'file-line', hidden: true });
const trouble = h('div', { class: 'troubles', role: 'alert' });

function beginning() {
  const drop = h('div', { class: 'drop' }, h('label', { htmlFor: 'pasted', class: 'visually-hidden' }, 'Columns of the measurement'), typed, fileLine,
    h('p', { class: 'hint', id: 'pasted-hint' }, 'CSV, text or XLSX; comma or point as decimal sign; tabs, semicolons or commas between columns. Shear rate with viscosity or stress, or the speed of a spindle with what it showed; time with viscosity for a recovery after shear.'),
    h('div', { class: 'verbs' }, chooser, h('label', { class: 'verb', htmlFor: 'file' }, 'Choose a file'), h('button', { class: 'verb plain', type: 'button', onclick: example }, 'Try it with an example')));
  for (const name of ['dragenter', 'dragover']) drop.addEventListener(name, (/** @type {DragEvent} */ event) => { event.preventDefault(); drop.classList.add('over'); });
  for (const name of ['dragleave', 'drop']) drop.addEventListener(name, () => drop.classList.remove('over'));
  drop.addEventListener('drop', (/** @type {DragEvent} */ event) => {
    event.preventDefault();
    const one = event.dataTransfer?.files?.[0];
    if (one) take(one);
    else { const text = event.dataTransfer?.getData('text/plain'); if (text) { typed.value = text; state.file = null; showFile(); askNow(); } }
  });
  given.put(drop, trouble);
}

/** How a table may look, while there is none. */
function taught() {
  const rows = EXAMPLE.split('\n').slice(0, 5).map((line) => line.split('\t'));
  return h('div', { class: 'note' }, h('p', { class: 'key' }, 'for example'), h('table', { class: 'calm taught' }, h('thead', {}, h('tr', {}, ...rows[0].map((cell) => h('th', { scope: 'col' }, cell)))), h('tbody', {}, ...rows.slice(1).map((cells) => h('tr', {}, ...cells.map((cell) => h('td', { class: 'figure' }, shownNumber(cell))))))),
    h('p', { class: 'change' }, 'Headings with units are understood in most spellings (cP, dyn/cm², rpm). What was not written is asked.'));
}

function example() {
  typed.value = EXAMPLE;
  state.file = null;
  showFile();
  fresh();
  askNow();
}

/** What was chosen for another table does not hold for this one. */
function fresh() {
  state.asked = { ...state.asked, columns: [], from: '', to: '', ended: '', model: '', curve: '' };
  curveView.look = {};
  leftView.look = {};
}

/** @param {File} file */
async function take(file) {
  trouble.replaceChildren();
  if (file.size > MOST_BYTES) {
    tell([{ what: `${file.name} is larger than 8 MB.`, why: 'A flow curve has some hundred points.', what_now: 'Save only the table of the curve, or paste its columns.' }]);
    return;
  }
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = '';
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  state.file = { name: file.name, bytes: btoa(text), size: file.size };
  fresh();
  showFile();
  askNow();
}

function showFile() {
  const { file } = state;
  fileLine.hidden = !file;
  typed.hidden = Boolean(file);
  if (!file) return;
  const size = file.size < 1000 ? `${file.size} bytes` : `${Math.round(file.size / 1000)} kB`;
  fileLine.replaceChildren(h('b', {}, file.name), h('span', { class: 'aside' }, ` ${size} `), h('button', { class: 'verb plain', type: 'button', onclick: () => { state.file = null; showFile(); typed.focus(); askSoon(); } }, 'Put it aside'));
}

/** What is wrong: what, why, what now. What was dropped or pasted stays where it is. @param {Array<{what: string, why: string, what_now: string, place?: any}>} told */
function tell(told) {
  trouble.replaceChildren(...told.map((one) => h('div', { class: 'field-trouble' }, h('b', {}, one.what), ` ${[where(one.place), one.why, one.what_now].filter(Boolean).join(' ')}`)));
}

/** @param {any} place */
function where(place) {
  if (!place?.line) return '';
  return `Line ${place.line}${place.column ? `, column ${place.column}` : ''}.`;
}

/** The table and what is asked of it, as the program takes it. */
function question() {
  const { asked, file } = state;
  const end = (/** @type {string} */ typed) => (typed ? Number(canonical(typed) ?? typed) || null : null);
  return {
    ...(file ? { file: file.name, bytes: file.bytes } : { text: typed.value }),
    curve: asked.curve,
    asked: { weights: asked.weights, shear: [end(asked.from), end(asked.to)], spindle: asked.spindle, table: { columns: asked.columns, shear_ended_s: ended() } },
  };
}

/** When the strong shear ended, in seconds; null as the table shows it. */
function ended() {
  const { ended } = state.asked;
  const seconds = ended ? Number(canonical(ended) ?? NaN) : NaN;
  return seconds >= 0 ? seconds : null;
}

/** Name of the figure that shows the points. */
function mainPlate() {
  return state.answer?.curve?.kind === 'recovery' ? 'recovery' : 'flow';
}

/** An end of the window that is no shear rate, or a time that is none. */
function wrongEnd() {
  if (state.asked.ended && ended() === null) return [{ what: `“${state.asked.ended}” is no time.`, why: 'It stands as the end of the strong shear.', what_now: 'Type seconds on the clock of the table, from 0, or leave it empty.' }];
  const wrong = [state.asked.from, state.asked.to].find((one) => one && !(Number(canonical(one) ?? NaN) > 0));
  return wrong ? [{ what: `“${wrong}” is no shear rate.`, why: 'It stands as an end of what is fitted.', what_now: 'Type a number above zero, or leave it empty. Until then everything is fitted.' }] : [];
}

function askSoon() {
  clearTimeout(state.timer);
  state.timer = window.setTimeout(() => { fresh(); askNow(); }, AFTER_MS);
}

/** Asks anew; an answer that a newer question has overtaken is dropped. */
async function askNow() {
  clearTimeout(state.timer);
  state.number += 1;
  const mine = state.number;
  if (!state.file && !typed.value.trim()) { state.answer = null; trouble.replaceChildren(); draw(); return; }
  document.documentElement.dataset.measuring = '1';
  try {
    const answer = await ask('POST', '/api/measurement', { ...question(), model: state.asked.model, looks: { flow: curveView.look, recovery: curveView.look, residuals: leftView.look } });
    if (mine !== state.number) return;
    state.answer = answer;
    tell([...wrongEnd(), ...(answer.troubles ?? []), ...(answer.curve?.trouble ? [{ what: 'This curve cannot be fitted.', why: answer.curve.trouble, what_now: '' }] : [])]);
    draw();
    const taken = answer.curve?.taken;
    if (taken) announce(`${answer.curve.points} ${answer.curve.kind === 'recovery' ? 'readings' : 'points'} read. ${taken.name} is taken.`);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    if (mine !== state.number) return;
    state.answer = null;
    tell([error.told]);
    draw();
  } finally {
    if (mine === state.number) document.documentElement.dataset.measuring = '0';
  }
}

/** One figure as it is looked at now. @param {string} only */
async function again(only) {
  const view = only === 'residuals' ? leftView : curveView;
  const look = JSON.stringify(view.look);
  try {
    const answer = await ask('POST', '/api/measurement', { ...question(), model: state.answer?.curve?.shown?.model ?? '', looks: { [only]: view.look }, only });
    const plate = answer.plates?.find((/** @type {any} */ one) => one.id === only);
    if (plate && look === JSON.stringify(view.look)) view.update(plate, null);
  } catch {
    // The figure stays as it was; the next question tells what is wrong.
  }
}

/** @param {Record<string, any>} change */
function choose(change) {
  Object.assign(state.asked, change);
  askNow();
}

function draw() {
  const { answer } = state;
  byId('first').replaceChildren(...first(answer));
  given.margin.replaceChildren(...(answer || typed.value.trim() ? [] : [taught()]));
  for (const one of [columns, curve, models, left, several, keep]) one.element.hidden = true;
  if (!answer) return;
  know({ citations: answer.sources ?? {} });
  // A table that could not be understood still shows its columns, so that a person can say what they hold.
  const understood = answer.columns?.length ? answer.columns : state.file ? [] : bareColumns(typed.value, state.asked.columns);
  if (understood.length) {
    const table = columnsTable({ ...answer, columns: understood }, { meanings: page.meanings, cells: state.file ? [] : cellsOf(typed.value), asked: state.asked, choose });
    columns.put(...table.content);
    columns.margin.replaceChildren(...table.notes);
  }
  const { curve: read } = answer;
  if (!read) return;
  const over = read.kind === 'recovery';
  curve.call(over ? 'The recovery' : 'The curve');
  models.call(over ? 'Laws fitted to it' : 'Models fitted to it');
  left.call(over ? 'What the law leaves over' : 'What the model leaves over');
  const [flow, residuals] = [mainPlate(), 'residuals'].map((id) => answer.plates?.find((/** @type {any} */ one) => one.id === id));
  if (flow) {
    curveView.update(flow, null);
    curve.put(curvesChoice(answer), gathered(read), curveView.element);
    curve.margin.replaceChildren(...reasons(read));
  }
  const table = fitsTable(answer, state.asked, choose);
  models.put(...table.content);
  models.margin.replaceChildren(...table.notes);
  if (residuals) {
    leftView.update(residuals, null);
    left.put(leftView.element);
    left.margin.replaceChildren(...apart(read));
  }
  if (answer.together?.length) {
    several.put(...answer.together.map((/** @type {any} */ one) => h('div', {}, h('h3', {}, one.title), h('dl', { class: 'pairs' }, ...one.says.map((/** @type {any} */ said) => h('div', {}, h('dt', {}, said.words), h('dd', {}, number(said.estimate, `${said.words}, ${one.title}`, {}))))))));
    several.margin.replaceChildren();
  }
  keep.put(attach.element);
  keep.margin.replaceChildren();
}

/** How many points there are, and which are not fitted. @param {any} read */
function gathered(read) {
  const words = [read.gathered, read.outside ? `${read.outside} of ${read.measured} points lie outside the shear rates that are fitted` : ''].filter(Boolean);
  return words.length ? h('p', { class: 'aside' }, `${words.join('; ')}.`) : null;
}

/** Which of several curves is looked at. @param {any} answer */
function curvesChoice(answer) {
  if ((answer.curves?.length ?? 0) < 2) return null;
  return h('p', { class: 'curves-choice' }, h('label', { htmlFor: 'which' }, `${answer.curves.length} curves are in it; this is `), h('select', { id: 'which', onchange: (/** @type {Event} */ event) => choose({ curve: /** @type {HTMLSelectElement} */ (event.target).value, model: '' }) },
    ...answer.curves.map((/** @type {string} */ name) => h('option', { value: name, selected: name === answer.curve?.name }, name || 'without a name'))));
}

/** Points that stand apart from the others. @param {any} read */
function apart(read) {
  if (!read.apart?.length) return [h('div', { class: 'note' }, h('p', { class: 'change' }, 'No point stands apart from the others.'))];
  return [h('div', { class: 'note' }, h('p', { class: 'found' }, read.apart.length === 1 ? 'One point stands apart, marked with a cross.' : `${read.apart.length} points stand apart, marked with a cross.`),
    h('p', { class: 'change' }, `${read.apart.map((/** @type {any} */ one) => one.words).join('; ')}. They are marked, not removed: look at the run first. A slip of the sample, an air bubble or too little torque at a low speed are the usual causes${read.kind === 'recovery' ? '' : '; the window below leaves them out if they lie at an end'}.`))];
}

const attach = attachForm(page, () => ({ ...question(), curve: state.answer?.curve?.name ?? '', model: state.answer?.curve?.shown?.model ?? '', temperature: state.answer?.curve?.temperature_c ?? null, kind: state.answer?.curve?.kind ?? 'curve' }));
listen();
beginning();
draw();
byId('measurement').replaceChildren(given.element, columns.element, curve.element, models.element, left.element, several.element, keep.element);
document.documentElement.dataset.measuring = '0';
