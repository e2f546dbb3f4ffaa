// @ts-check
/** The trials of a formula: the pages of a notebook, with what is predicted in the margin. */

import { ask } from './api.js';
import { byId, h, pageData } from './dom.js';
import { know, listen } from './derivation.js';
import { oneForm } from './entry_form.js';
import { STANDS, day, trialView } from './trial_view.js';
import { curveCorrection, observationCorrection, observationForm, readingCorrection, readingForm, trialForm } from './trial_forms.js';

let book = pageData();

listen();

const { leave, done, show } = oneForm(async () => {
  book = await ask('GET', `/api/formulas/${book.formula}/trials`);
  draw();
}, 'center');
const after = { done, leave };
const placeIn = (/** @type {string} */ id) => document.getElementById(id)?.querySelector('.form-place');
const footOf = (/** @type {any} */ trial) => document.querySelector(`#trial-${trial.number} .trial-foot .form-place`);

/** @param {any} from */
async function begin(from) {
  const lots = await ask('GET', '/api/lots');
  show(from ? footOf(from) : byId('begin').querySelector('.form-place'), () => trialForm(book, lots, from, after));
}

const hands = {
  addReading: (/** @type {any} */ trial) => show(footOf(trial), () => readingForm(trial, lastReading(trial), after)),
  addObservation: (/** @type {any} */ trial) => show(footOf(trial), () => observationForm(trial, after)),
  copy: begin,
  correctReading: (/** @type {any} */ reading) => show(placeIn(`reading-${reading.id}`), () => readingCorrection(reading, after)),
  correctCurve: (/** @type {any} */ curve) => show(placeIn(`curve-${curve.id}`), () => curveCorrection(curve, after)),
  correctObservation: (/** @type {any} */ seen) => show(placeIn(`observation-${seen.id}`), () => observationCorrection(seen, after)),
};

/** The last reading that stands, whose instrument and conditions are likely those of the next. @param {any} trial */
function lastReading(trial) {
  const all = [...book.trials.filter((/** @type {any} */ one) => one.number <= trial.number)].flatMap((one) => one.readings);
  return all.filter((one) => !one.struck && !one.withdrawn).pop() ?? null;
}

/** What to look at first: a reading outside its interval, else the last reading. */
function first() {
  const readings = book.trials.flatMap((/** @type {any} */ trial) => trial.readings.filter((/** @type {any} */ one) => one.beside).map((/** @type {any} */ reading) => ({ trial, reading })));
  if (!book.trials.length) {
    return [h('h2', {}, 'Begin here'), h('p', { class: 'found' }, 'No trial of this formula yet.'), h('p', { class: 'change' }, 'A trial is one making of a saved version. What is read on it stands beside what was predicted, so that the next one is changed in one thing only.')];
  }
  const last = readings[readings.length - 1];
  const [curves] = book.trials.filter((/** @type {any} */ trial) => trial.curves?.some((/** @type {any} */ one) => !one.struck && !one.withdrawn)).slice(-1);
  if (!last && curves) return [h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, `A flow curve was measured on trial ${curves.number}.`), h('p', { class: 'change' }, h('a', { href: `/formulas/${book.formula}#plate-flow` }, 'See it on the predicted one'), '. A pH with its temperature and age is the next thing to have.')];
  if (!last) return [h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, `Nothing has been read on trial ${book.trials[book.trials.length - 1].number} yet.`), h('p', { class: 'change' }, 'A pH with its temperature and age is the first thing to have.')];
  const outside = readings.filter((/** @type {any} */ one) => ['below', 'above'].includes(one.reading.beside.stands)).pop();
  const { trial, reading } = outside ?? last;
  return [h('h2', {}, 'Look at this first'),
    h('p', { class: 'found' }, `${reading.name} ${reading.typed}${reading.unit ? ` ${reading.unit}` : ''}: ${outside ? `${STANDS[reading.beside.stands]} what was predicted` : reading.beside.stands === 'inside' ? 'inside what was predicted' : STANDS[reading.beside.stands]}.`),
    h('p', { class: 'change' }, h('a', { href: `#reading-${reading.id}` }, `Reading ${reading.number} on trial ${trial.number}`), outside ? '. Check the calibration of the meter, the lots and the weighing before you doubt the model.' : `, made on ${day(trial.made)}.`)];
}

function draw() {
  know({ citations: book.sources });
  byId('first').replaceChildren(...first());
  byId('trials').replaceChildren(...book.trials.map((/** @type {any} */ trial) => trialView(trial, book, hands)));
  const jumps = book.trials.length > 1 ? h('nav', { class: 'jumps', 'aria-label': 'Trials on this page' }, ...book.trials.map((/** @type {any} */ trial) => h('a', { class: 'verb plain', href: `#trial-${trial.number}` }, `Trial ${trial.number}`))) : null;
  byId('begin').replaceChildren(h('div', { class: 'verbs' }, h('button', { class: `verb${book.trials.length ? '' : ' main-verb'}`, type: 'button', onclick: () => begin(null) }, 'Begin a trial'), h('a', { class: 'verb', href: `/batches?formula=${book.formula}` }, 'Make it at the beaker'), h('a', { class: 'verb', href: `/formulas/${book.formula}/challenge` }, 'Challenge tests'), h('a', { class: 'verb', href: `/experiments/new?formula=${book.formula}` }, 'Plan an experiment'), book.trials.length > 1 ? h('a', { class: 'verb', href: `/formulas/${book.formula}/tree` }, 'Tree and differences') : null, jumps), h('div', { class: 'form-place' }));
}

draw();
if (location.hash) document.getElementById(location.hash.slice(1))?.scrollIntoView();
