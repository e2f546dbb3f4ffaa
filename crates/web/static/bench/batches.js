// @ts-check
/** The batches of the workspace, and a new one. */

import { Trouble, ask } from '../api.js';
import { byId, h, mark, pageData, prose } from '../dom.js';
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
    h('span', { class: 'shelf-state' }, `${card.who}`, h('br'), ' ', h('span', { class: 'aside' }, when(card.when))));
}

byId('batches').replaceChildren(batches.length ? h('ol', { class: 'shelf' }, ...batches.map(row)) : h('div', { class: 'empty' }, h('h2', {}, 'No batch yet'), h('p', {}, 'A batch is one making of a saved version: its sheet, step by step, with what was weighed, read and seen.')));

/** What stands against the procedure: it is told before the plan is frozen, and forbids nothing. @param {any} before */
function objections(before) {
  const { told, sources } = before;
  if (!told.length) return [h('p', { class: 'aside' }, `${before.steps.length} steps; nothing stands against the procedure.`)];
  const cited = (/** @type {string[]} */ keys) => (keys ?? []).map((key) => (key === 'common-practice' ? 'Common practice, no source.' : key === 'from-memory' ? 'From memory.' : sources[key] ?? key)).join(' ');
  return [h('section', { class: 'objections', 'aria-labelledby': 'objections-name' }, h('h4', { id: 'objections-name' }, told.length === 1 ? 'One thing stands against the procedure' : `${told.length} things stand against the procedure`),
    h('ul', {}, ...told.map((/** @type {any} */ one) => h('li', {}, h('p', {}, h('span', { class: `gravity gravity-${one.gravity}` }, mark(one.gravity, 'shape'), one.gravity), one.number ? ` step ${one.number}: ` : ' ', h('b', {}, prose(one.found))), h('p', {}, prose(one.breaks), ' ', prose(one.why), h('span', { class: 'aside' }, ` ${cited(one.sources)}`))))),
    h('p', { class: 'aside' }, 'It may be made all the same; what is told here stays with the batch. The procedure is changed on the page of the formula.'))];
}

const id = identity();
const open = h('button', { class: 'verb main-verb', type: 'button', onclick: () => show() }, 'Begin a batch');
const place = h('div', { class: 'form-place' });

function show() {
  const form = new EntryForm('Begin a batch', {
    word: 'Begin',
    leave: () => { place.replaceChildren(); open.focus(); },
    act: async () => {
      const started = await ask('POST', `/api/formulas/${chosen().id}/batches`, { id, ...typed(), changed: form.value('changed').trim(), code: form.value('code').trim() });
      location.href = `/batches/${started.id}`;
    },
  });
  form.body.append(form.choice('formula', 'Formula', formulas.map((/** @type {any} */ one) => [one.id, `${one.name}, version ${one.version}`]), { width: 'wide', value: formula }),
    form.text('size', 'Batch size, g', { numeric: true, width: 'short', hint: 'as in the formula when empty' }), form.text('code', 'Batch code', { hint: 'one of the day when empty' }), form.text('changed', 'The one thing changed', { width: 'wide' }));
  const chosen = () => formulas.find((/** @type {any} */ one) => one.id === form.value('formula'));
  const typed = () => ({ version: chosen().version, size: form.value('size').trim(), unit: 'g' });
  const against = h('div', { class: 'against', role: 'status' });
  let asked = 0;
  const look = async () => {
    asked += 1;
    const mine = asked;
    try {
      const before = await ask('POST', `/api/formulas/${chosen().id}/batches/plan`, typed());
      if (mine === asked) against.replaceChildren(...objections(before));
    } catch (error) {
      // What is wrong with the fields is told beside them when the batch is begun.
      if (!(error instanceof Trouble)) throw error;
      if (mine === asked) against.replaceChildren();
    }
  };
  for (const name of ['formula', 'size']) form.field(name).addEventListener('change', look);
  form.body.after(against);
  place.replaceChildren(form.element);
  form.field('formula').focus();
  look();
}

if (formulas.length) byId('begin').replaceChildren(h('div', { class: 'verbs' }, open), place);
if (formula) show();
