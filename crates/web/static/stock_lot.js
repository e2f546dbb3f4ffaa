// @ts-check
/** One lot: what came with it, what was decided about it, all that came and went, and the batches that hold it. */

import { ask } from './api.js';
import { announce, byId, h, mark, pageData, prose } from './dom.js';
import { identity } from './bench/outbox.js';
import { listen } from './derivation.js';
import { EntryForm } from './entry_form.js';
import { echo, fixed } from './figures.js';
import { when } from './saving.js';
import { STATUS, grams, standing, until } from './stock_words.js';

const page = pageData();
let lot = page.lot;

/** Words for how a value of a certificate stands to its specification. @type {Record<string, [string, string]>} */
const STANDS = { within: ['know', 'within'], below: ['stop', 'below the least'], above: ['stop', 'above the most'], 'not-compared': ['check', 'not compared: look yourself'], 'no-limit': ['know', 'no limit on file'] };
const MOVED = /** @type {Record<string, string>} */ ({ received: 'received', 'by-hand': 'by hand', batch: 'taken by batch' });

const list = h('div', {});
const movePlace = h('div', { class: 'form-place' });
const decidePlace = h('div', { class: 'form-place' });
const sheet = h('div', {});
byId('lot').append(sheet);

/** @param {string} id @param {string} title @param {any[]} parts */
const part = (id, title, ...parts) => h('section', { class: 'lot-part', id, 'aria-labelledby': `${id}-name` }, h('h2', { id: `${id}-name` }, title), ...parts);
const aside = (/** @type {string} */ text) => h('p', { class: 'aside' }, text);

function head() {
  const days = [['received', lot.received], ['test again', lot.retest], ['expires', lot.expiry]].filter(([, day]) => day).map(([word, day]) => `${word} ${day}`);
  return h('div', { class: 'lot-head' },
    h('p', { class: 'lot-sum' }, standing(lot.status), h('span', { class: 'lot-left' }, 'left: ', lot.left.value === null ? h('span', { class: 'aside' }, 'not known; how much came is not on file') : grams(lot.left, 'Left of this lot')), until(lot)),
    h('p', { class: 'line-of-pairs' }, ...[lot.supplier || 'supplier not noted', lot.location ? `stands in ${lot.location}` : 'place not noted', ...days].map((text) => h('span', {}, text))),
    ...lot.against.map((/** @type {string} */ text) => h('p', { class: 'heed' }, mark('stop', 'shape'), ` ${prose(text)}`)),
    lot.struck ? h('p', { class: 'heed' }, h('b', {}, 'This entry was struck out. '), `${lot.struck.reason} (${lot.struck.who}, ${when(lot.struck.when)})`) : null);
}

function certificate() {
  const rows = (lot.certificate ?? []).map((/** @type {any} */ value, /** @type {number} */ at) => {
    const [shape, words] = STANDS[lot.specification[at]] ?? ['check', ''];
    const cell = (/** @type {string} */ name, /** @type {any} */ limit) => h('td', { class: 'figure' }, limit ? h('span', { class: 'cell-name' }, `${name} `) : null, limit ? echo(limit.typed) : '');
    return h('tr', {}, h('th', { scope: 'row' }, value.name), h('td', { class: 'figure found' }, `${echo(value.typed)}${value.unit ? ` ${value.unit}` : ''}`), cell('least', value.least), cell('most', value.most), h('td', {}, h('span', { class: `gravity gravity-${shape} ${shape === 'know' ? 'calm-word' : ''}` }, mark(shape, 'shape'), words)));
  });
  const assay = lot.assay_percent ? h('p', {}, `Assay ${echo(lot.assay_percent.typed)} % w/w${lot.active ? ` of ${lot.active}` : ''}.`) : null;
  return part('certificate', 'What came with it', assay,
    rows.length ? h('table', { class: 'calm stack certificate-table' }, h('thead', {}, h('tr', {}, ...['Determined', 'Found', 'Least', 'Most', 'Against the specification'].map((head, at) => h('th', { scope: 'col', class: at > 0 && at < 4 ? 'figure' : '' }, head)))), h('tbody', {}, ...rows)) : aside('No value of its certificate is on file.'),
    (lot.documents ?? []).length ? h('p', {}, `Documents: ${lot.documents.join('; ')}`) : null, lot.note ? h('p', {}, lot.note) : null,
    h('p', {}, h('a', { href: `/materials/${lot.material}#lots` }, 'Correct what is on file about it')));
}

function decisions() {
  const told = [...lot.decisions].reverse().map((/** @type {any} */ one, /** @type {number} */ at) => h('li', { class: at ? 'past' : '' }, standing(one.status), h('span', { class: 'why' }, one.reason), h('span', { class: 'small' }, `${one.who}, ${when(one.when)}, ${one.known_by}`)));
  return part('decision', 'May it be used', told.length ? h('ol', { class: 'decisions' }, ...told) : aside('Nobody has decided about this lot yet.'),
    h('div', { class: 'verbs' }, h('button', { class: 'verb', type: 'button', id: 'decide', onclick: decide }, 'Decide about it')), decidePlace);
}

/** What came or went, as a signed weight. @param {any} outcome */
function signed(outcome) {
  const button = grams(outcome, 'Moved');
  const whole = button.querySelector('.whole');
  if (outcome.value > 0 && whole) whole.textContent = `+${whole.textContent}`;
  return button;
}

function ledger() {
  const rows = lot.ledger.map((/** @type {any} */ line) => h('tr', { class: line.counts ? '' : 'struck-line', id: line.id ? `movement-${line.id}` : undefined, tabIndex: line.id ? -1 : undefined },
    h('td', { class: 'nowrap' }, when(line.when), line.day ? h('span', { class: 'small' }, `on ${line.day}`) : null),
    h('td', {}, line.batch ? h('a', { href: `/batches/${line.batch}` }, `${MOVED[line.moved]} ${line.code}`) : h('span', {}, MOVED[line.moved]), line.reason ? h('span', { class: 'ledger-why' }, line.reason) : null, line.note ? h('span', { class: 'small' }, line.note) : null,
      line.counts ? null : h('span', { class: 'small struck-words' }, h('b', {}, 'Struck out. '), line.struck ? `${line.struck.reason} (${line.struck.who}, ${when(line.struck.when)})` : line.batch ? 'The record of the batch says why.' : '')),
    h('td', {}, line.who),
    h('td', { class: 'figure by' }, h('span', { class: 'cell-name' }, 'Moved '), signed(line.grams)),
    h('td', { class: 'figure' }, ...(line.counts && line.left.value !== null ? [h('span', { class: 'cell-name' }, 'Left '), grams(line.left, 'Left after it')] : [])),
    h('td', {}, line.id && line.counts ? h('button', { class: 'verb plain', type: 'button', 'aria-label': `Take the movement of ${fixed(line.grams.value, 2)} g back`, onclick: () => takeBack(line) }, 'Take back') : null)));
  list.replaceChildren(rows.length ? h('table', { class: 'calm stack ledger' }, h('thead', {}, h('tr', {}, ...['Written down', 'What', 'By', 'Moved', 'Left', ''].map((head) => h('th', { scope: 'col', class: head === 'Moved' || head === 'Left' ? 'figure' : '' }, head)))), h('tbody', {}, ...rows)) : aside('Nothing came or went by what is on file.'));
  return part('ledger', 'What came and went', list, h('div', { class: 'verbs' }, h('button', { class: 'verb', type: 'button', id: 'move', onclick: move }, 'Put to it or take from it')), movePlace);
}

function trace() {
  const rows = lot.held_in.map((/** @type {any} */ one) => h('tr', { class: one.holds ? '' : 'struck-line' }, h('td', {}, h('a', { href: `/batches/${one.batch}` }, one.code)), h('td', {}, one.product), h('td', { class: 'figure' }, one.holds ? grams(one.grams, `In batch ${one.code}`) : 'struck out')));
  return part('trace', 'Which batches hold it', rows.length ? h('table', { class: 'calm held-in' }, h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Batch'), h('th', { scope: 'col' }, 'Product'), h('th', { scope: 'col', class: 'figure' }, 'Of this lot'))), h('tbody', {}, ...rows)) : aside('No batch has taken of it.'));
}

function draw() {
  sheet.replaceChildren(head(), h('div', { class: 'lot-columns' }, h('div', {}, certificate(), ledger()), h('div', {}, decisions(), trace())));
}

/** @param {HTMLElement} place @param {EntryForm} form */
function show(place, form) {
  for (const other of [movePlace, decidePlace]) other.replaceChildren();
  place.replaceChildren(form.element);
  form.element.scrollIntoView({ block: 'nearest' });
  form.element.querySelector('select, input')?.focus();
}

/** @param {HTMLElement} place @param {string} back the verb that opened the form */
const leave = (place, back) => () => { place.replaceChildren(); document.getElementById(back)?.focus(); };

/** @param {string} said @param {string} focus */
async function kept(said, focus) {
  lot = await ask('GET', `/api/lots/${lot.id}`);
  for (const place of [movePlace, decidePlace]) place.replaceChildren();
  draw();
  announce(said);
  const place = document.getElementById(focus);
  place?.scrollIntoView({ block: 'nearest' });
  place?.focus({ preventScroll: true });
}

function move() {
  let id = identity();
  const form = new EntryForm('Put to it or take from it', { word: 'Keep it', leave: leave(movePlace, 'move'), act: async () => {
    const net = form.value('net').trim().replace(/^[+]/, '');
    const body = { id, at: new Date().toISOString(), net: net && form.value('way') === 'out' ? `-${net}` : net, unit: form.value('unit'), reason: form.value('reason'), note: form.value('note'), sure: sure.checked };
    try {
      const done = await ask('POST', `/api/lots/${lot.id}/movements`, body);
      await kept('The movement is kept.', `movement-${done.id}`);
    } catch (error) {
      // What was refused was not kept: with another number it is another movement.
      id = identity();
      if (/** @type {any} */ (error).told?.place?.field === 'net' && / are left\.$/.test(/** @type {any} */ (error).told.what)) isSo.hidden = false;
      throw error;
    }
  } });
  const sure = h('input', { type: 'checkbox', name: 'sure' });
  const isSo = h('label', { class: 'is-so', hidden: true }, sure, 'I looked: so much was taken, and the count on file was wrong');
  form.body.append(form.choice('way', 'Which way', [['out', 'taken from it'], ['in', 'put to it']]), form.text('net', 'How much', { numeric: true, width: 'short', need: true }), form.choice('unit', 'Unit', [['g', 'g'], ['mg', 'mg'], ['kg', 'kg']], { width: 'short' }),
    form.text('reason', 'Why', { width: 'wide', need: true, list: ['Counted: less than on paper', 'Counted: more than on paper', 'Spilled', 'Sample taken', 'Given away', 'Thrown away'] }), form.text('note', 'Remark', { width: 'whole' }), isSo);
  show(movePlace, form);
}

/** @param {any} line */
function takeBack(line) {
  const form = new EntryForm(`Take back: ${line.reason}`, { word: 'Take it back', leave: leave(movePlace, 'move'), act: async () => {
    await ask('POST', `/api/movements/${line.id}/correction`, { reason: form.value('reason') });
    await kept('The movement is taken back.', `movement-${line.id}`);
  } });
  form.body.append(form.text('reason', 'Why', { width: 'whole', need: true, hint: 'The struck line stays to be seen, with the reason beside it.' }));
  show(movePlace, form);
}

function decide() {
  const id = identity();
  // A role that may not is told before it tries; the program refuses it all the same.
  const may = (/** @type {string} */ status) => page.judges || (lot.status !== 'rejected' && status !== 'released' && status !== 'rejected');
  const open = Object.entries(STATUS).filter(([status]) => may(status));
  if (!open.length) {
    decidePlace.replaceChildren(h('p', { class: 'aside', role: 'status' }, 'It is rejected: only a reviewer or an admin may take it up again.'));
    return;
  }
  const form = new EntryForm('Decide about it', { word: 'Decide', leave: leave(decidePlace, 'decide'), act: async () => {
    await ask('POST', `/api/lots/${lot.id}/status`, { id, at: new Date().toISOString(), status: form.value('status'), reason: form.value('reason') });
    await kept(`The lot is ${STATUS[form.value('status')].words}.`, 'decide');
  } });
  form.body.append(form.choice('status', 'From now on it is', open.map(([status, one]) => [status, `${one.words}: ${one.says}`]), { value: open.find(([status]) => status !== lot.status)?.[0], hint: page.judges ? '' : 'Releasing and rejecting is for a reviewer or an admin.' }), form.text('reason', 'Why', { width: 'whole', need: true }));
  show(decidePlace, form);
}

listen();
draw();
