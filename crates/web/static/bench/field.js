// @ts-check
/** What is typed at arm's length: large fields, a number read or told to be none, the lot of a line. */

import { h, mark } from '../dom.js';
import { canonical } from '../figures.js';
import { digitsOf, offerReading } from './instrument.js';
import { gramsText } from './words.js';

let made = 0;

/** A field at arm's length. @param {string} name @param {string} label @param {string} unit @param {Record<string, any>} [more] */
export function bigField(name, label, unit, more = {}) {
  made += 1;
  const id = `bench-${made}`;
  const field = h('input', { id, name, type: 'text', inputMode: 'decimal', autocomplete: 'off', ...more });
  const element = h('div', { class: 'big-field' }, h('label', { htmlFor: id }, label), h('span', { class: 'big-entry' }, field, h('span', { class: 'unit', 'aria-hidden': 'true' }, unit)));
  offerReading(field, unit, element);
  return { field, element };
}

/** @param {string} value @param {string} unit @param {string} aside */
export const matter = (value, unit, aside) => h('div', { class: 'matter' }, h('span', { class: 'matter-number' }, value), ' ', h('span', { class: 'matter-unit' }, unit), aside ? h('div', { class: 'matter-aside' }, aside) : null);

/** @param {string} text */
export const fault = (text) => h('div', { class: 'field-trouble', role: 'alert' }, text);

/** A number as typed with a point, or told beside the field. @param {HTMLInputElement} field @param {Element} place */
export function read(field, place) {
  field.value = digitsOf(field.value);
  const number = canonical(field.value);
  if (number === null || Number(number) < 0) {
    place.replaceChildren(fault(field.value.trim() ? `“${field.value}” is not a number the instrument can show.` : 'Type what the instrument shows.'));
    field.setAttribute('aria-invalid', 'true');
    field.focus();
    return null;
  }
  field.removeAttribute('aria-invalid');
  return number;
}

/** The lot of a line: what is on the shelf first, anything else by hand. @param {any} state @param {any} line @param {{lots: (line: number) => any[]}} hands */
export function lotChoice(state, line, hands) {
  made += 1;
  const last = [...state.entries].reverse().find((/** @type {any} */ one) => (one.line ?? one.sent?.line) === line.number && one.did === 'weighed' && !one.struck);
  const before = last?.sent?.lot ?? last?.lot?.code ?? '';
  const lots = hands.lots(line.number);
  const best = lots.find((lot) => lot.usable)?.code ?? '';
  const field = h('input', { id: `bench-${made}`, name: 'lot', value: before || line.lot || best, autocomplete: 'off' });
  const remark = h('p', { class: 'lot-remark' });
  const look = () => {
    const lot = lots.find((one) => one.code === field.value.trim());
    const against = lot?.against ?? [];
    const target = lot?.target?.value;
    remark.replaceChildren(...(against.length ? [mark('change', 'shape'), ' ', h('b', {}, 'Look at this lot: '), against.join('; ')] : []), ...(typeof target === 'number' && line.to_ph === null && target !== line.target.value ? [` With its assay ${gramsText(state, target)} g instead of ${gramsText(state, line.target.value)} g.`] : []), ...(!lot && field.value.trim() ? ['Not on file; it is kept as you write it.'] : []));
  };
  const offers = lots.slice(0, 6).map((lot) => h('button', { class: `verb lot-offer${lot.usable ? '' : ' spoken-against'}`, type: 'button', title: lot.why, onclick: () => { field.value = lot.code; look(); } }, lot.code, h('span', { class: 'aside' }, lot.usable ? (lot.expiry ? ` to ${lot.expiry}` : '') : ` ${lot.against[0] ?? ''}`)));
  field.addEventListener('input', look);
  look();
  return { field, element: h('div', { class: 'lot-choice' }, h('label', { htmlFor: field.id }, 'Lot'), field, offers.length ? h('div', { class: 'lot-offers', role: 'group', 'aria-label': 'Lots on the shelf' }, ...offers) : null, remark) };
}

/** An identity for a field of the page. */
export function fieldName() {
  made += 1;
  return `bench-${made}`;
}
