// @ts-check
/** One stability study: its pulls, what is read at them, the trend of an attribute, its readings, its plan. */

import { Trouble, ask } from './api.js';
import { announce, byId, h, mark, pageData, prose, say } from './dom.js';
import { know, listen } from './derivation.js';
import { EntryForm } from './entry_form.js';
import { echo } from './figures.js';
import { number } from './number.js';
import { when } from './saving.js';
import { PlanForm } from './study_plan.js';
import { PullForm } from './study_pull.js';
import { TableForm } from './study_table.js';
import { TrendView } from './study_trend.js';
import { PULLS, VERDICTS, day } from './study_words.js';

const page = pageData();
/** @type {any} */
let study = page.study;
const address = new URL(location.href);

const enterPlace = h('div', { class: 'form-place', id: 'enter' });
const planPlace = h('div', { class: 'form-place' });
const pulls = h('div', {});
const readings = h('div', {});
const plan = h('div', {});
const tableVerb = h('button', { class: 'verb', type: 'button', id: 'bring-table', hidden: study.given_up, onclick: () => bringTable() }, 'Bring in a table');
const trend = new TrendView(study, () => drawReadings());

/** @param {string} id @param {string} title @param {any[]} parts */
const part = (id, title, ...parts) => h('section', { class: 'study-part', id, 'aria-labelledby': `${id}-name` }, h('h2', { id: `${id}-name` }, title), ...parts);

/** The pulls of one condition as buttons. @param {any} pull */
function pullButton(pull) {
  const state = PULLS[pull.state];
  const name = pull.condition === 'start' ? 'Start' : pull.pull;
  return h('button', { class: `pull pull-${pull.state}`, type: 'button', data: { condition: pull.condition, pull: pull.pull }, 'aria-label': `${name}${pull.condition === 'start' ? '' : ` at ${pull.condition}`}, ${day(pull.due)}: ${pull.words}`, onclick: (/** @type {Event} */ event) => enter(pull, /** @type {HTMLElement} */ (event.currentTarget)) },
    h('span', { class: 'pull-time' }, name), h('span', { class: 'pull-day' }, day(pull.due), pull.weekend ? h('b', {}, ` ${pull.weekend}`) : null), h('span', { class: 'pull-state' }, mark(state.shape, 'shape'), prose(pull.words)));
}

function drawPulls() {
  /** @type {Map<string, any[]>} */ const rows = new Map();
  for (const pull of study.pulls) rows.set(pull.condition, [...(rows.get(pull.condition) ?? []), pull]);
  pulls.replaceChildren(...[...rows].map(([condition, all]) => h('div', { class: 'pull-row' }, h('h3', {}, condition === 'start' ? 'Before anything went anywhere' : condition), h('div', { class: 'pull-buttons' }, ...all.map(pullButton)))));
  say(byId('first'), study.first);
}

/** @param {any} pull @param {HTMLElement|null} opener */
function enter(pull, opener) {
  const back = () => { enterPlace.replaceChildren(); opener?.focus(); };
  if (pull.state === 'read') {
    trend.choose({ condition: pull.condition });
    announce(`All of it is read; its readings stand below.`);
    byId('read').scrollIntoView({ block: 'start' });
    return;
  }
  const form = new PullForm(study, pull, { leave: back, kept: async (many) => {
    await renew();
    enterPlace.replaceChildren();
    announce(`${many} ${many === 1 ? 'reading is' : 'readings are'} kept.`);
    const same = [...document.querySelectorAll('button.pull')].find((one) => /** @type {HTMLElement} */ (one).dataset.condition === pull.condition && /** @type {HTMLElement} */ (one).dataset.pull === pull.pull);
    /** @type {HTMLElement|undefined} */ (same)?.focus();
  } });
  enterPlace.replaceChildren(form.element);
  form.element.scrollIntoView({ block: 'start' });
  form.focus();
}

/** A table of readings, kept whole or not at all. */
function bringTable() {
  const leave = () => { enterPlace.replaceChildren(); tableVerb.focus(); };
  const attribute = study.typed.attributes[0];
  const example = `condition;weeks;day;batch;${attribute.name}${attribute.unit ? ` (${attribute.unit})` : ''}`;
  const form = new TableForm({ path: `/api/studies/${study.id}/table`, example, rows: 'One row for each batch at each pull; week 0 is the start.' }, { leave, kept: async (many) => {
    await renew();
    enterPlace.replaceChildren();
    announce(`${many} ${many === 1 ? 'reading is' : 'readings are'} kept.`);
    tableVerb.focus();
  } });
  enterPlace.replaceChildren(form.element);
  form.element.scrollIntoView({ block: 'nearest' });
  form.element.querySelector('textarea')?.focus();
}

async function renew() {
  study = await ask('GET', `/api/studies/${study.id}`);
  know({ citations: study.sources });
  drawPulls();
  drawPlan();
  await trend.renew(study);
}

/** @param {any} read */
function row(read) {
  const [shape, words] = VERDICTS[read.verdict] ?? ['check', ''];
  const cell = (/** @type {string} */ name, /** @type {any[]} */ ...parts) => h('td', {}, h('span', { class: 'cell-name' }, `${name} `), ...parts);
  const compared = read.judged.value !== null && (read.judged.unit !== read.unit || read.typed.includes(';'));
  return h('tr', { class: read.struck ? 'struck-line' : '', id: `reading-${read.id}`, tabIndex: -1 },
    h('th', { scope: 'row' }, read.condition === 'start' ? 'start' : read.pull || 'beside the plan'),
    cell('Pulled', h('span', { class: 'nowrap' }, day(read.on)), h('span', { class: 'small' }, read.who), read.late ? h('span', { class: 'small heed' }, read.late) : null),
    cell('Batch', h('span', { class: 'nowrap' }, read.batch)),
    h('td', { class: 'figure read-value' }, h('span', { class: 'cell-name' }, 'Read '), h('span', { class: 'read-typed' }, echo(read.typed)), read.unit ? ` ${read.unit}` : '', read.step ? h('span', { class: 'small' }, read.step) : null, read.measured_at ? h('span', { class: 'small' }, read.measured_at) : null),
    h('td', { class: 'figure' }, compared ? h('span', {}, h('span', { class: 'cell-name' }, 'Judged '), number(read.judged, `${read.attribute} of ${read.batch}`)) : ''),
    h('td', {}, read.struck ? null : h('span', { class: `gravity gravity-${shape} ${shape === 'know' ? 'calm-word' : ''}` }, mark(shape, 'shape'), words), read.note ? h('span', { class: 'small' }, read.note) : null,
      read.struck ? h('span', { class: 'small' }, h('b', {}, 'Struck out. '), `${read.struck.reason} (${read.struck.who}, ${when(read.struck.when)})`) : null, read.corrects ? h('span', { class: 'small' }, 'Stands in the place of a struck reading.') : null),
    h('td', {}, read.struck ? null : h('button', { class: 'verb plain', type: 'button', 'aria-label': `Correct ${read.attribute} of ${read.batch}, ${read.pull || 'beside the plan'}`, onclick: (/** @type {Event} */ event) => correct(read, /** @type {HTMLElement} */ (event.currentTarget)) }, 'Correct')));
}

const correctPlace = h('div', { class: 'form-place' });

function drawReadings() {
  const shown = study.readings.filter((/** @type {any} */ read) => trend.shows(read));
  readings.replaceChildren(shown.length ? h('div', { class: 'readings-leaf' }, h('table', { class: 'calm readings-table' }, h('thead', {}, h('tr', {}, ...['Pull', 'Pulled on', 'Batch', 'Read', 'Judged', 'Against the limits', ''].map((head, at) => h('th', { scope: 'col', class: at === 3 || at === 4 ? 'figure' : '' }, head)))), h('tbody', {}, ...shown.map(row)))) : h('p', { class: 'aside' }, 'Nothing is read of this here yet.'), correctPlace);
}

/** @param {any} read @param {HTMLElement} opener */
function correct(read, opener) {
  const leave = () => { correctPlace.replaceChildren(); opener.focus(); };
  const done = async (/** @type {any} */ kept, /** @type {string} */ said) => {
    correctPlace.replaceChildren();
    await renew();
    announce(said);
    document.getElementById(`reading-${kept.id}`)?.focus();
  };
  const form = new EntryForm(`${read.attribute} of ${read.batch}, ${read.pull || 'beside the plan'}: ${echo(read.typed)}${read.unit ? ` ${read.unit}` : ''}`, { word: 'Put this in its place', leave, act: async () => {
    const kept = await ask('POST', `/api/study-readings/${read.id}/correction`, { reason: form.value('reason'), instead: { value: form.value('value'), on: form.value('on'), note: form.value('note') } });
    await done(kept, 'The reading is corrected; the struck one stays.');
  } });
  form.body.append(form.text('reason', 'Why', { width: 'whole', need: true, hint: 'The struck reading stays to be seen, with the reason beside it.' }), form.text('value', `${read.attribute}${read.unit ? `, ${read.unit}` : ''}`, { value: echo(read.typed), need: true }), form.text('on', 'Pulled on', { type: 'date', value: read.on }), form.text('note', 'Remark', { width: 'wide', value: read.note }));
  form.verbs.append(h('button', { class: 'verb plain', type: 'button', onclick: () => form.run(async () => {
    await ask('POST', `/api/study-readings/${read.id}/correction`, { reason: form.value('reason'), instead: null });
    await done({ id: read.id }, 'The reading is struck out.');
  }) }, 'Strike it out, put nothing in its place'));
  correctPlace.replaceChildren(form.element);
  form.element.scrollIntoView({ block: 'nearest' });
  form.element.querySelector('input')?.focus();
}

/** A limit in words. @param {any} one */
function limits(one) {
  const unit = one.reads === 'percent-of-start' ? '% of the start' : one.reads === 'colour' ? 'from the start' : one.reads === 'scale' ? '' : one.unit ?? '';
  const [least, most] = [one.lower, one.upper].map((text) => (text ? echo(text) : ''));
  return `${least && most ? `${least} to ${most}` : least ? `at least ${least}` : most ? `at most ${most}` : 'no limit'} ${unit}`.trim();
}

function drawPlan() {
  const told = study.typed;
  const pair = (/** @type {string} */ name, /** @type {any[]} */ ...value) => h('div', {}, h('dt', {}, name), h('dd', {}, ...value));
  const list = (/** @type {string[]} */ texts) => h('ul', { class: 'plain-list' }, ...texts.map((text) => h('li', {}, text)));
  plan.replaceChildren(h('dl', { class: 'plan-facts' },
    pair('Why', study.why), pair('Start', day(study.start)), pair('Batches', study.batches.join(', ')), pair('Packs', list(told.packs.map((/** @type {any} */ one) => [one.name, one.fill, one.material].filter(Boolean).join(', ')))),
    pair('Conditions', list(study.typed.conditions.map((/** @type {any} */ one) => `${one.name}: ${one.pulls || 'no pull'}`))),
    pair('Read', list(told.attributes.map((/** @type {any} */ one) => [`${one.name}: ${limits(one)}`, ...Object.entries(one.measured_at ?? {}).map(([name, value]) => `${name} ${value}`)].join(', ')))),
    pair('Packs needed', number(study.samples, 'Packs needed', { exact: String(study.samples.value) })), told.wanted_months ? pair('Shelf life wanted', `${echo(told.wanted_months)} months`) : null, told.note ? pair('Remark', told.note) : null),
    study.changes.length ? h('ol', { class: 'changes' }, ...[...study.changes].reverse().map((/** @type {any} */ one) => h('li', {}, h('b', {}, one.given_up ? 'Given up. ' : 'Plan changed. '), one.reason, h('span', { class: 'small' }, `${one.who}, ${when(one.when)}`)))) : h('p', { class: 'aside' }, 'The plan stands as it was begun.'),
    study.given_up ? null : h('div', { class: 'verbs' }, h('button', { class: 'verb', type: 'button', id: 'change-plan', onclick: changePlan }, 'Change the plan'), h('button', { class: 'verb plain', type: 'button', id: 'give-up', onclick: giveUp }, 'Give the study up')), planPlace);
}

async function changePlan() {
  const leave = () => { planPlace.replaceChildren(); document.getElementById('change-plan')?.focus(); };
  let trials = [];
  try {
    trials = (await ask('GET', `/api/formulas/${study.formula_id}/study-ground`)).trials.filter((/** @type {any} */ trial) => trial.version === study.version);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
  }
  const form = new PlanForm({ practice: page.practice, trials, typed: study.typed, title: 'Change the plan', word: 'Keep the changed plan', reason: true, leave, keep: async (typed, reason) => {
    await ask('POST', `/api/studies/${study.id}/plan`, { reason, instead: typed });
    planPlace.replaceChildren();
    await renew();
    announce('The changed plan is kept; the one before stays.');
    document.getElementById('change-plan')?.focus();
  } });
  planPlace.replaceChildren(form.element);
  form.element.scrollIntoView({ block: 'nearest' });
  form.element.querySelector('input')?.focus();
}

function giveUp() {
  const leave = () => { planPlace.replaceChildren(); document.getElementById('give-up')?.focus(); };
  const form = new EntryForm('Give the study up', { word: 'Give it up', leave, act: async () => {
    await ask('POST', `/api/studies/${study.id}/plan`, { reason: form.value('reason'), instead: null });
    planPlace.replaceChildren();
    await renew();
    announce('The study is given up; what was read stays.');
  } });
  form.body.append(form.text('reason', 'Why', { width: 'whole', need: true }));
  planPlace.replaceChildren(form.element);
  form.element.querySelector('input')?.focus();
}

listen();
know({ citations: study.sources });
byId('study').append(part('pulls', 'Pulls', pulls, h('div', { class: 'verbs' }, tableVerb), enterPlace), part('read', 'What was read', trend.element, readings), part('plan', 'The plan', plan));
drawPulls();
drawPlan();
trend.renew(study);
const wanted = address.searchParams.get('pull');
const asked = study.pulls.find((/** @type {any} */ pull) => pull.condition === address.searchParams.get('condition') && pull.pull === wanted);
if (asked) enter(asked, null);
