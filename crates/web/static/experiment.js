// @ts-check
/** One experiment: its run sheet, what the runs say, check batches, its plan. */

import { ask } from './api.js';
import { announce, byId, h, pageData, say } from './dom.js';
import { know, listen } from './derivation.js';
import { EntryForm } from './entry_form.js';
import { echo } from './figures.js';
import { when } from './saving.js';
import { AnswerView } from './experiment_answer.js';
import { ExperimentForm } from './experiment_plan.js';
import { RunSheet, take, unitOf } from './experiment_sheet.js';
import { TableForm } from './study_table.js';

/** @type {any} */
let experiment = pageData();

const enterPlace = h('div', { class: 'form-place', id: 'enter' });
const planPlace = h('div', { class: 'form-place' });
const plan = h('div', {});
const expected = h('div', {});
const struck = h('div', {});
const runs = new RunSheet({ checks: false, renew, correct });
const checks = new RunSheet({ checks: true, renew, correct });
const answer = new AnswerView(experiment, renew);
const verb = (/** @type {string} */ id, /** @type {string} */ word, /** @type {() => void} */ act) => h('button', { class: 'verb', type: 'button', id, onclick: act }, word);

/** @param {string} id @param {string} title @param {any[]} parts */
const part = (id, title, ...parts) => h('section', { class: 'study-part', id, 'aria-labelledby': `${id}-name` }, h('h2', { id: `${id}-name` }, title), ...parts);

/** @param {string} said */
async function renew(said) {
  experiment = await ask('GET', `/api/experiments/${experiment.id}`);
  know({ citations: experiment.sources });
  draw();
  announce(said);
  await answer.renew(experiment);
  drawExpected();
}

function draw() {
  say(byId('first'), experiment.first);
  runs.draw(experiment);
  checks.draw(experiment);
  drawPlan();
  drawStruck();
}

function drawExpected() {
  expected.replaceChildren(...experiment.checks.flatMap((/** @type {any} */ one) => {
    const told = answer.ofCheck(one.run);
    return told ? [h('h3', {}, `What was expected of ${one.run}`), told] : [];
  }));
}

/** @param {any} read @param {HTMLElement} opener */
function correct(read, opener) {
  const leave = () => { enterPlace.replaceChildren(); opener.focus(); };
  const called = /^\d+$/.test(read.run) ? `run ${read.run}` : read.run;
  const done = async (/** @type {string} */ said) => {
    enterPlace.replaceChildren();
    await renew(said);
    document.getElementById(`run-${read.run.replace(/\s/g, '-')}`)?.focus();
  };
  const form = new EntryForm(`${read.name} of ${called}: ${echo(read.typed)}${read.unit ? ` ${read.unit}` : ''}`, { word: 'Put this in its place', leave, act: async () => {
    await ask('POST', `/api/experiment-readings/${read.id}/correction`, { reason: form.value('reason'), instead: { value: form.value('value'), note: form.value('note') } });
    await done('The reading is corrected; the struck one stays.');
  } });
  form.body.append(form.text('reason', 'Why', { width: 'whole', need: true, hint: 'The struck reading stays to be seen, with the reason beside it.' }), form.text('value', `${read.name}${unitOf(read)}`, { value: echo(read.typed), need: true }), form.text('note', 'Remark', { width: 'wide', value: read.note }));
  form.verbs.append(h('button', { class: 'verb plain', type: 'button', onclick: () => form.run(async () => {
    await ask('POST', `/api/experiment-readings/${read.id}/correction`, { reason: form.value('reason'), instead: null });
    await done('The reading is struck out.');
  }) }, 'Strike it out, put nothing in its place'));
  enterPlace.replaceChildren(form.element);
  form.element.scrollIntoView({ block: 'nearest' });
  form.element.querySelector('input')?.focus();
}

function bringTable() {
  const back = () => { enterPlace.replaceChildren(); document.getElementById('bring-table')?.focus(); };
  const read = experiment.typed.reads[0];
  const of = { path: `/api/experiments/${experiment.id}/table`, example: `run;${read.name}${read.unit ? ` (${read.unit})` : ''}`, rows: 'One row for each run; the sheet that is taken away as CSV comes back like this.' };
  const form = new TableForm(of, { leave: back, kept: async (many) => {
    await renew(`${many} ${many === 1 ? 'reading is' : 'readings are'} kept.`);
    back();
  } });
  enterPlace.replaceChildren(form.element);
  form.element.scrollIntoView({ block: 'nearest' });
  form.element.querySelector('textarea')?.focus();
}

function printSheet() {
  document.body.classList.add('only-sheet');
  window.print();
  document.body.classList.remove('only-sheet');
}

function drawStruck() {
  const gone = experiment.readings.filter((/** @type {any} */ one) => one.struck);
  struck.replaceChildren(...(gone.length ? [h('details', {}, h('summary', {}, `${gone.length} struck ${gone.length === 1 ? 'reading' : 'readings'}`), h('ul', { class: 'changes' }, ...gone.map((/** @type {any} */ one) => h('li', {}, h('b', {}, `${one.name} of ${/^\d+$/.test(one.run) ? 'run ' : ''}${one.run}: `), h('s', {}, echo(one.typed)), ` ${one.unit}. ${one.struck.reason}`, h('span', { class: 'small' }, `${one.struck.who}, ${when(one.struck.when)}`)))))] : []));
}

function drawPlan() {
  const { typed } = experiment;
  const pair = (/** @type {string} */ name, /** @type {any[]} */ ...value) => h('div', {}, h('dt', {}, name), h('dd', {}, ...value));
  const list = (/** @type {string[]} */ texts) => h('ul', { class: 'plain-list' }, ...texts.map((text) => h('li', {}, text)));
  const wish = (/** @type {any} */ one) => ({ larger: `; as much as can be: nothing below ${echo(one.low)}, as good as it gets from ${echo(one.target)}`, smaller: `; as little as can be: nothing above ${echo(one.high)}, as good as it gets from ${echo(one.target)} down`, target: `; near ${echo(one.target)}: nothing below ${echo(one.low)} or above ${echo(one.high)}` }[/** @type {string} */ (one.wish)] ?? '');
  const words = { linear: 'linear', quadratic: 'quadratic', 'special-cubic': 'special cubic', 'full-cubic': 'full cubic' }[/** @type {string} */ (typed.model)] ?? typed.model;
  plan.replaceChildren(h('dl', { class: 'plan-facts' }, experiment.why ? pair('Shall tell', experiment.why) : null,
    pair('Parts', list(typed.parts.map((/** @type {any} */ one) => `${one.name}: ${echo(one.least)} to ${echo(one.most)} %`)), h('span', { class: 'small' }, `together ${echo(typed.total_percent)} %`)),
    typed.settings.length ? pair('Settings', list(typed.settings.map((/** @type {any} */ one) => `${one.name}: ${echo(one.low)} to ${echo(one.high)} ${one.unit}`))) : null,
    pair('Read', list(typed.reads.map((/** @type {any} */ one) => `${one.name}${unitOf(one)}${wish(one)}`))),
    pair('Runs', `${typed.runs} for a ${words} model, chosen so that ${typed.goal === 'predictions' ? 'predictions' : 'terms'} are settled best; ${typed.middles} times the middle, ${typed.repeats} made twice, ${typed.blocks} ${typed.blocks === '1' ? 'block' : 'blocks'}, seed ${typed.seed}`), typed.note ? pair('Remark', typed.note) : null),
  experiment.changes.length ? h('ol', { class: 'changes' }, ...[...experiment.changes].reverse().map((/** @type {any} */ one) => h('li', {}, h('b', {}, one.given_up ? 'Given up. ' : 'Plan changed. '), one.reason, h('span', { class: 'small' }, `${one.who}, ${when(one.when)}`)))) : h('p', { class: 'aside' }, 'The plan stands as it was begun.'),
  experiment.given_up ? null : h('div', { class: 'verbs' }, verb('change-plan', 'Change the plan', changePlan), h('button', { class: 'verb plain', type: 'button', id: 'give-up', onclick: giveUp }, 'Give it up')), planPlace);
}

async function changePlan() {
  const leave = () => { planPlace.replaceChildren(); document.getElementById('change-plan')?.focus(); };
  const held = experiment.runs.some((/** @type {any} */ run) => run.batch || run.read.some(Boolean));
  const { typed } = experiment;
  const ground = { formula: typed.formula, version: typed.version, lines: typed.parts.map((/** @type {any} */ one) => ({ line: one.line, material: one.name, percent: '', rest: false })) };
  const form = new ExperimentForm({ ground, typed, held, title: held ? 'Change the plan: the runs were begun and stay' : 'Change the plan', word: 'Keep the changed plan', reason: true, leave, keep: async (changed, reason) => {
    await ask('POST', `/api/experiments/${experiment.id}/plan`, { reason, instead: changed });
    location.reload();
  } });
  planPlace.replaceChildren(form.element);
  form.element.scrollIntoView({ block: 'nearest' });
  form.element.querySelector('input')?.focus();
}

function giveUp() {
  const leave = () => { planPlace.replaceChildren(); document.getElementById('give-up')?.focus(); };
  const form = new EntryForm('Give the experiment up', { word: 'Give it up', leave, act: async () => {
    await ask('POST', `/api/experiments/${experiment.id}/plan`, { reason: form.value('reason'), instead: null });
    planPlace.replaceChildren();
    await renew('The experiment is given up; what was made and read stays.');
  } });
  form.body.append(form.text('reason', 'Why', { width: 'whole', need: true }));
  planPlace.replaceChildren(form.element);
  form.element.querySelector('input')?.focus();
}

listen();
know({ citations: experiment.sources });
const verbs = h('div', { class: 'verbs' }, experiment.given_up ? null : verb('bring-table', 'Bring in a table', bringTable), verb('take-sheet', 'Take the sheet as CSV', () => take(runs.csv(), `experiment-${experiment.number}.csv`)), verb('print-sheet', 'Print the run sheet', printSheet));
byId('experiment').append(part('runs', 'Run sheet', h('p', { class: 'hint' }, 'In random order, so that what drifts over the day falls on all alike. All else is held as it is.'), runs.element, verbs, enterPlace, struck), part('says', 'What the runs say', answer.element), part('checks', 'Check batches', checks.element, expected), part('plan', 'The plan', plan));
draw();
await answer.renew(experiment);
drawExpected();
