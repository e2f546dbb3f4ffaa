// @ts-check
/** The end of a batch: what came out, what is accounted for, and who signs for it. */

import { ask } from '../api.js';
import { h, mark } from '../dom.js';
import { EntryForm } from '../entry_form.js';
import { fixed } from '../figures.js';
import { when } from '../saving.js';
import { gramsText } from './words.js';

/** Who is logged in on this page. */
const person = document.querySelector('meta[name="levigate-person"]')?.getAttribute('content') ?? '';

/**
 * @param {any} state
 * @param {{keep: (body: Record<string, any>) => void, refresh: () => Promise<void>, waiting: () => number}} hands
 */
export function signing(state, hands) {
  const balanced = state.balanced;
  const output = new EntryForm('What came out', { word: 'Note it', leave: () => {}, act: async () => { hands.keep({ did: 'output', step: 0, net: output.value('net').trim(), unit: 'g' }); } });
  output.body.append(output.text('net', 'Good product, g', { numeric: true, width: 'short' }));
  output.verbs.lastElementChild?.remove();
  const sign = new EntryForm('Sign for it', {
    word: 'Sign',
    leave: () => {},
    act: async () => {
      if (hands.waiting()) {
        sign.tell({ code: 'waiting', what: 'Entries wait to be sent.', why: 'A signature holds what the program has.', what_now: 'Wait until everything is kept, then sign.' });
        return;
      }
      const signed_as = sign.value('signed_as');
      /** Asked for only where the program says that whoever signs made the batch. @param {unknown} error */
      const asks = (error) => { if (/** @type {any} */ (error).told?.place?.field === 'alone') sign.place('alone').hidden = false; throw error; };
      // Where people log in the password is heard again, and the signature is theirs; elsewhere the name is initialled.
      const ticket = person ? (await ask('POST', '/api/sign', { password: sign.value('password'), sign_off: signed_as !== 'made' })).ticket : '';
      await ask('POST', `/api/batches/${state.id}/sign-off`, { signed_as, who: sign.value('who').trim(), note: sign.value('note').trim(), alone: sign.value('alone').trim(), signature: ticket }).catch(asks);
      await hands.refresh();
    },
  });
  sign.body.append(sign.choice('signed_as', 'I', [['made', 'made it'], ['reviewed', 'reviewed the record'], ['released', 'release it'], ['rejected', 'reject it']]), person ? sign.text('password', `Password of ${person}`, { type: 'password' }) : sign.text('who', 'Name', {}), sign.text('note', 'Remark', { width: 'wide' }), sign.text('alone', 'Why nobody else signs', { width: 'whole', hint: 'It stands in the record and is printed.' }));
  sign.place('alone').hidden = true;
  sign.verbs.lastElementChild?.remove();
  const row = (/** @type {string} */ name, /** @type {any} */ value, /** @type {string} */ unit) => (value && typeof value.value === 'number' ? h('div', {}, h('dt', {}, name), h('dd', {}, unit === '%' ? fixed(value.value, 1) : gramsText(state, value.value), h('span', { class: 'unit' }, ` ${unit}`))) : null);
  const deviations = state.deviations.length;
  return h('section', { class: 'instruction', 'aria-labelledby': 'instruction' }, h('h1', { id: 'instruction', tabIndex: -1 }, state.sign_offs.length ? 'Signed off' : 'All steps are done'),
    h('p', { class: 'lead' }, deviations ? `${deviations} ${deviations === 1 ? 'deviation is' : 'deviations are'} on record.` : 'No deviation is on record.'),
    balanced ? h('dl', { class: 'pairs' }, row('Charged', balanced.charged, 'g'), row('Good product', balanced.good, 'g'), row('Samples', balanced.samples, 'g'), row('Known losses', balanced.lost, 'g'), row('Unexplained', balanced.unexplained, 'g'), row('Yield', balanced.yield, '%'), row('Accounted for', balanced.accounted, '%')) : null,
    balanced?.remark ? h('p', { class: 'lot-remark' }, balanced.remark) : null, output.element,
    state.seen_by ? h('p', { class: 'seen-by' }, state.seen_by_another ? null : mark('check', 'shape'), ` ${state.seen_by}`) : null,
    ...state.sign_offs.map((/** @type {any} */ one) => h('p', { class: 'standing' }, h('b', {}, `${one.who}: ${one.signed_as}`), `, ${when(one.when)}, ${one.known_by}; ${one.records} records, ${one.content_sha256.slice(0, 16)}…${one.entries_after ? `; ${one.entries_after} entries came after it` : ''}${one.others_after ? `; ${one.others_after} readings, observations or samples came after it` : ''}${one.alone ? `; alone, since: ${one.alone}` : ''}`)),
    sign.element, h('p', {}, h('a', { href: `/formulas/${state.formula}/trials#trial-${state.trial_number}` }, `Trial ${state.trial_number}: readings, and the next one with one thing changed`)));
}
