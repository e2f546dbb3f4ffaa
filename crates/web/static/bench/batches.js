// @ts-check
/** The batches of the workspace, and a new one. */

import { ask } from '../api.js';
import { byId, h, pageData } from '../dom.js';
import { EntryForm } from '../entry_form.js';
import { echo } from '../figures.js';
import { when } from '../saving.js';
import { identity } from './outbox.js';

const { batches, formulas, formula } = pageData();

/** @param {any} card */
function row(card) {
  const [done, all] = card.steps;
  const open = done < all;
  return h('li', {}, h('a', { href: `/batches/${card.id}` }, h('span', { class: 'shelf-name' }, card.product), h('span', { class: 'shelf-kind' }, `${card.code}, version ${card.version}, ${echo(String(card.size_g))} g`)),
    h('span', { class: 'shelf-first' }, card.signed ? `signed: ${card.signed}` : open ? `${done} of ${all} steps done` : 'all steps done, not signed'),
    h('span', { class: 'shelf-state' }, `${card.who}`, h('br'), h('span', { class: 'aside' }, when(card.when))));
}

byId('batches').replaceChildren(batches.length ? h('ol', { class: 'shelf' }, ...batches.map(row)) : h('div', { class: 'empty' }, h('h2', {}, 'No batch yet'), h('p', {}, 'A batch is one making of a saved version: its sheet, step by step, with what was weighed, read and seen.')));

const id = identity();
const open = h('button', { class: 'verb main-verb', type: 'button', onclick: () => show() }, 'Begin a batch');
const place = h('div', { class: 'form-place' });

function show() {
  const form = new EntryForm('Begin a batch', {
    word: 'Begin',
    leave: () => { place.replaceChildren(); open.focus(); },
    act: async () => {
      const chosen = formulas.find((/** @type {any} */ one) => one.id === form.value('formula'));
      const started = await ask('POST', `/api/formulas/${chosen.id}/batches`, { id, version: chosen.version, size: form.value('size').trim(), unit: 'g', changed: form.value('changed').trim(), code: form.value('code').trim() });
      location.href = `/batches/${started.id}`;
    },
  });
  form.body.append(form.choice('formula', 'Formula', formulas.map((/** @type {any} */ one) => [one.id, `${one.name}, version ${one.version}`]), { width: 'wide', value: formula }),
    form.text('size', 'Batch size, g', { numeric: true, width: 'short', hint: 'as in the formula when empty' }), form.text('code', 'Batch code', { hint: 'one of the day when empty' }), form.text('changed', 'The one thing changed', { width: 'wide' }));
  place.replaceChildren(form.element);
  form.field('formula').focus();
}

if (formulas.length) byId('begin').replaceChildren(h('div', { class: 'verbs' }, open), place);
if (formula) show();
