// @ts-check
/** The calibration of a pH meter: two buffers and more with what the meter showed in them, or one that was noted for another batch today. */

import { h } from '../dom.js';
import { echo } from '../figures.js';
import { EntryForm } from '../entry_form.js';

/** Buffers that can be read at once. */
const MOST = 3;

/** @param {any} step @param {import('./step.js').Hands} hands @param {any} told what the program said of the step @param {() => void} leave */
export function calibrating(step, hands, told, leave) {
  const form = new EntryForm('Calibrate the meter', {
    word: 'Keep the calibration',
    leave,
    act: async () => {
      const buffers = rows.map((at) => ({ buffer: form.value(`buffer${at}`), ph: form.value(`ph${at}`).trim(), mv: form.value(`mv${at}`).trim().replace('−', '-') })).filter((one) => one.mv);
      if (buffers.length < 2) {
        form.tell({ code: 'missing', what: 'Two buffers are needed.', why: 'A line through one point has no slope.', what_now: 'Type what the meter shows in two buffers, in mV.', place: { field: `mv${buffers.length}` } });
        return;
      }
      leave();
      hands.keep({ did: 'calibrated', step: step.number, buffers, temperature_c: form.value('temperature_c').trim(), instrument: form.value('instrument').trim() });
    },
  });
  const rows = [...Array(MOST).keys()];
  const known = told.buffers.map((/** @type {any} */ one) => [one.key, one.name]);
  // The nearest on either side of the window: outside its buffers an electrode is less sure.
  const below = told.buffers.filter((/** @type {any} */ one) => Number(one.called) <= told.window.low);
  const above = told.buffers.filter((/** @type {any} */ one) => Number(one.called) >= told.window.high);
  const usual = [below[below.length - 1], above[0]];
  form.body.append(form.text('instrument', 'Meter and electrode', { width: 'wide', value: told.calibration?.instrument ?? '' }), form.text('temperature_c', 'Buffers at, °C', { numeric: true, width: 'short', value: '25' }));
  for (const at of rows) {
    const own = form.text(`ph${at}`, 'its pH', { numeric: true, width: 'short' });
    own.hidden = true;
    const choice = form.choice(`buffer${at}`, at < 2 ? `Buffer ${at + 1}` : 'A third, where there is one', [...known, ['', 'another, by its certificate']], { width: 'wide', value: usual[at]?.key });
    form.body.append(choice, own, form.text(`mv${at}`, 'The meter shows, mV', { numeric: true, width: 'short' }));
    form.field(`buffer${at}`).addEventListener('change', () => { own.hidden = form.field(`buffer${at}`).value !== ''; });
  }
  const offers = told.offered.map((/** @type {any} */ one) => h('button', { class: 'verb', type: 'button', onclick: () => { leave(); hands.keep({ did: 'calibrated', step: step.number, buffers: one.buffers.map((/** @type {any} */ buffer) => ({ buffer: buffer.buffer ?? '', ph: buffer.ph?.typed ?? '', mv: buffer.millivolt.typed })), temperature_c: one.temperature_c.typed, instrument: one.instrument, note: `as for batch ${one.batch}` }); } }, `${one.instrument || 'Meter'}, ${new Date(one.when).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' })}, batch ${one.batch}: ${one.buffers.map((/** @type {any} */ buffer) => `${echo(buffer.millivolt.typed)} mV`).join(', ')}`));
  return h('div', { class: 'calibrating' }, offers.length ? h('div', { class: 'verbs' }, h('span', {}, 'The same meter as today for'), ...offers) : null, form.element);
}
