// @ts-check
/** Keeping a measured curve with the trial it was measured on. */

import { Trouble, ask } from './api.js';
import { announce, h, mark } from './dom.js';
import { EntryForm } from './entry_form.js';
import { Curves } from './measurement_queue.js';

/** @param {any} page @param {() => any} question what was read and how */
export function attachForm(page, question) {
  /** @type {Map<string, any[]>} */ const known = new Map();
  const done = h('div', { class: 'kept-with', role: 'status' });
  const queue = new Curves();
  /** @param {any} kept @param {string} formula @param {boolean} drawn whether it is a point on the flow curve of its formula */
  const tell = (kept, formula, drawn) => {
    const also = drawn ? [' or ', h('a', { href: `/formulas/${formula}#plates` }, 'on the flow curve of the formula')] : [];
    done.replaceChildren(kept.already ? 'It had arrived before, and is kept once. ' : 'Kept with the trial. ', h('a', { href: `/formulas/${formula}/trials#curve-${kept.id}` }, 'See it among the readings'), ...also, '.');
    announce(done.textContent ?? '');
  };
  const waits = () => {
    const many = queue.waiting === 1 ? 'One curve waits' : `${queue.waiting} curves wait`;
    done.replaceChildren(mark('check', 'shape'), ` ${many} to be sent: the program does not answer. ${queue.outlives ? 'It is kept in this browser' : 'It is kept as long as this page is open'} and goes when the program answers.`);
    announce(done.textContent ?? '');
  };
  queue.addEventListener('kept', (event) => { const { kept, formula } = /** @type {CustomEvent} */ (event).detail; tell(kept, formula, false); });
  queue.addEventListener('refused', (event) => { const told = /** @type {CustomEvent} */ (event).detail; done.replaceChildren(mark('stop', 'shape'), ` A curve that waited was refused: ${told.what} ${told.what_now}`); });
  const form = new EntryForm('Keep it with a trial', {
    word: 'Keep the curve',
    act: async () => {
      const trial = form.value('trial');
      if (!trial) throw new Trouble({ code: 'trial', what: 'No trial is chosen.', why: 'A curve says something only about the making it was measured on.', what_now: form.value('formula') ? 'Begin a trial of this formula first; it is two clicks on its page of trials.' : 'Choose the formula, then the trial.', place: { field: 'formula' } });
      const sent = question();
      const formula = form.value('formula');
      const said = { ...sent, temperature_c: form.value('temperature_c'), age: form.value('age'), instrument: form.value('instrument'), geometry: form.value('geometry'), waiting: form.value('waiting'), note: form.value('note') };
      try {
        tell(await queue.keep(formula, trial, said), formula, sent.kind !== 'recovery');
      } catch (error) {
        if (!(error instanceof Trouble) || error.told.code !== 'no-answer') throw error;
        waits();
      }
    },
    leave: () => form.element.querySelector('select')?.focus(),
  });
  form.verbs.lastElementChild?.remove();
  form.body.append(
    form.choice('formula', 'Formula', [['', 'choose'], ...page.formulas.map((/** @type {any} */ one) => [one.id, one.name])], { need: true }),
    form.choice('trial', 'Trial', [['', 'choose a formula first']], { need: true }),
    form.text('temperature_c', 'Sample at, °C', { numeric: true, width: 'short' }),
    form.text('age', 'Age of the sample', { width: 'short', hint: '24 h, 7 d, 4 weeks' }),
    form.text('instrument', 'Instrument', { width: 'wide' }),
    form.text('geometry', 'Geometry', { width: 'wide', hint: 'cone 40 mm 1°, plates 25 mm with a gap of 1 mm' }),
    form.text('waiting', 'Waiting', { width: 'wide', hint: 'at rest before, and at each shear rate' }),
    form.text('note', 'Remark', { width: 'wide' }));
  const fill = async () => {
    const id = form.value('formula');
    if (id && !known.has(id)) known.set(id, (await ask('GET', `/api/formulas/${id}/trials`)).trials);
    const trials = known.get(id) ?? [];
    form.field('trial').replaceChildren(...(trials.length ? [...trials].reverse().map((one) => h('option', { value: one.id }, `trial ${one.number}, version ${one.version}, ${one.made}`)) : [h('option', { value: '' }, id ? 'no trial of it yet' : 'choose a formula first')]));
  };
  form.field('formula').addEventListener('change', fill);
  // A trial that sent somebody here is chosen already.
  const from = new URLSearchParams(location.search);
  if (page.formulas.some((/** @type {any} */ one) => one.id === from.get('formula'))) {
    form.field('formula').value = from.get('formula');
    fill().then(() => { if ((known.get(form.value('formula')) ?? []).some((one) => one.id === from.get('trial'))) form.field('trial').value = from.get('trial'); });
  }
  if (queue.waiting) queue.sendWaiting().then(() => { if (queue.waiting) waits(); });
  return { element: h('div', {}, form.element, done) };
}
