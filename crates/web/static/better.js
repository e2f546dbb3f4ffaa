// @ts-check
/** Find a better one: the question in fields, the search beside the page with its progress, and what was found. */

import { Trouble, ask } from './api.js';
import { answersOf } from './better_answers.js';
import { BetterForm } from './better_form.js';
import { FrontView } from './better_front.js';
import { fileName, hand } from './csv.js';
import { know, listen } from './derivation.js';
import { announce, byId, h, pageData } from './dom.js';
import { plain, unitOf } from './figures.js';
import { takeToSheet } from './taken.js';

const ASK_MS = 200;
const KEEP_MS = 500;

const ground = pageData();
const question = byId('question');
let form = new BetterForm(ground, changed);
let keepTimer = 0;
/** Name of the search under way. */
let search = '';

listen();

const find = h('button', { class: 'verb main-verb', type: 'submit' }, 'Find');
const keptWord = h('span', { class: 'kept', role: 'status' }, ground.kept ? 'The question as you left it' : 'A question that begins with what is on the sheet');
question.replaceChildren(h('form', { noValidate: true, class: 'better-form', onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); begin(); } },
  h('div', { id: 'fields' }, form.element),
  h('div', { class: 'verbs better-verbs' }, find, h('button', { class: 'verb', type: 'button', onclick: () => file() }, 'The question as a file'), h('button', { class: 'verb', type: 'button', onclick: () => again() }, 'Begin again from the sheet'), keptWord)));

function changed() {
  clearTimeout(keepTimer);
  keepTimer = window.setTimeout(keep, KEEP_MS);
}

async function keep() {
  clearTimeout(keepTimer);
  try {
    await ask('PUT', `/api/formulas/${ground.id}/better`, form.form);
    keptWord.textContent = 'The question is kept with the formula';
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    keptWord.textContent = `Not kept: ${error.told.what}`;
  }
}

/** Forgets what was typed. */
async function again() {
  clearTimeout(keepTimer);
  const fresh = await ask('DELETE', `/api/formulas/${ground.id}/better`);
  form = new BetterForm(fresh, changed);
  byId('fields').replaceChildren(form.element);
  keptWord.textContent = 'A question that begins with what is on the sheet';
  announce('The question begins again with what is on the sheet.');
}

/** @param {() => Promise<void>} act */
async function told(act) {
  form.calm();
  try {
    await act();
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    form.tell(error.told);
  }
}

function file() {
  return told(async () => {
    const { text } = await ask('POST', `/api/formulas/${ground.id}/better/file`, form.form);
    hand(text, fileName(ground.name, 'better.toml'), 'application/toml');
  });
}

async function begin() {
  await told(async () => {
    if (search) return;
    clearTimeout(keepTimer);
    const begun = await ask('POST', `/api/formulas/${ground.id}/better`, form.form);
    search = begun.search;
    keptWord.textContent = 'The question is kept with the formula';
    byId('answers').replaceChildren();
    announce('The search has begun.');
    await follow();
  });
}

/** Asks after the search until it is through. */
async function follow() {
  const mine = search;
  const said = h('p', { class: 'search-said' }, 'The first formulas are being solved.');
  const stop = h('button', { class: 'verb', type: 'button', onclick: async () => { stop.disabled = true; await ask('DELETE', `/api/searches/${mine}`); } }, 'Stop, and show the best so far');
  byId('progress').replaceChildren(h('section', { class: 'search-under-way', 'aria-label': 'The search' }, h('span', { class: 'search-bar', 'aria-hidden': 'true' }), said, stop));
  stop.focus();
  find.disabled = true;
  try {
    for (;;) {
      const view = await ask('GET', `/api/searches/${mine}`);
      if (!view.running) { show(view); return; }
      const unit = ground.words.find((/** @type {any} */ one) => one[0] === form.form.aims[0]?.of)?.[1] ?? '';
      said.textContent = `${view.read.toLocaleString('en-GB')} formulas solved in ${view.seconds.toFixed(1)} s${typeof view.best === 'number' ? `; best so far ${plain(view.best)} ${unitOf(unit)}` : ''}.`;
      await new Promise((go) => { setTimeout(go, ASK_MS); });
    }
  } finally {
    search = '';
    find.disabled = false;
    byId('progress').replaceChildren();
  }
}

/** @param {any} view */
function show(view) {
  const { found } = view;
  know({ citations: found.sources });
  const take = (/** @type {number} */ place) => takeToSheet(ground.id, found.drafts[place], 'the formula that was found');
  const element = found.reading.front ? new FrontView(found, take).element : answersOf(found, take);
  byId('answers').replaceChildren(element);
  document.documentElement.dataset.found = String(found.reading.answers.length);
  announce(found.reading.conflict ? 'Not all of it can be had.' : `${found.reading.answers.length} answers.`);
  const head = byId('answers').querySelector('h2');
  head?.focus({ preventScroll: true });
  head?.scrollIntoView({ block: 'start' });
}
