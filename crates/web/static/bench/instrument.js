// @ts-check
/** What joined instruments show, beside the fields it belongs in; and readings of instruments that type like a keyboard. */

import { Trouble, ask } from '../api.js';
import { announce, h, mark } from '../dom.js';
import { echo } from '../figures.js';

/** Between two looks at the instruments, ms: while some are joined, and to see whether some are. */
const OFTEN = 700;
const SELDOM = 30_000;
/** What was written longer ago is offered to nobody: another thing may stand on the pan, ms. */
const SILENT = 5000;
const READS = /** @type {Record<string, string>} */ ({ g: 'mass', pH: 'ph', '°C': 'temperature' });
/** Places by which a unit moves the point to come to grams. */
const TO_GRAMS = /** @type {Record<string, number>} */ ({ g: 0, kg: 3, mg: -3 });
const TYPED = /^[^\d+\-−.,]*([+\-−]?)\s*(\d+(?:[.,]\d*)?|[.,]\d+)\s*(g|kg|mg|ph|°?c)?$/i;

/** @typedef {{field: HTMLInputElement, reads: string, place: HTMLElement, heard: Map<string, number>, shown: string, there: boolean}} Place */

/** @type {Place[]} */
let places = [];

/** Moves the point of typed digits, and keeps every one of them. @param {string} digits @param {number} by */
export function movePoint(digits, by) {
  const [, sign, whole, part = ''] = /^(-?)(\d*)(?:\.(\d*))?$/.exec(digits) ?? [];
  if (whole === undefined || by === 0) return digits;
  const all = by > 0 ? whole + part.padEnd(by, '0') : whole.padStart(1 - by, '0') + part;
  const at = by > 0 ? whole.length + by : Math.max(whole.length, 1 - by) + by;
  const left = all.slice(0, at).replace(/^0+(?=\d)/, '') || '0';
  const right = all.slice(at);
  return `${sign}${left}${right ? `.${right}` : ''}`;
}

/** The digits of what an instrument has typed into a field of a unit, or what stands there as it is. @param {string} text */
export function digitsOf(text) {
  const [, sign, digits, unit = ''] = TYPED.exec(text.trim()) ?? [];
  if (digits === undefined) return text;
  const plain = `${sign === '−' || sign === '-' ? '-' : ''}${digits}`;
  const by = TO_GRAMS[unit.toLowerCase()] ?? 0;
  return by ? movePoint(plain.replace(',', '.'), by) : plain;
}

/** The instrument a field was filled from, as long as nobody has typed over it. @param {HTMLInputElement} field */
export const takenFrom = (field) => field.dataset.instrument ?? '';

/** Offers what the instruments of this kind show to a field. @param {HTMLInputElement} field @param {string} unit @param {HTMLElement} element */
export function offerReading(field, unit, element) {
  const reads = READS[unit];
  if (!reads) return;
  const place = h('div', { class: 'joined' });
  element.append(place);
  field.addEventListener('input', (event) => { if (event.isTrusted) delete field.dataset.instrument; });
  places.push({ field, reads, place, heard: new Map(), shown: '', there: false });
}

/** @param {Place} one @param {any} shown */
function take(one, shown) {
  const { digits, unit, temperature } = shown.line;
  one.field.value = echo(movePoint(digits, TO_GRAMS[unit] ?? 0));
  one.field.dataset.instrument = shown.name;
  const warm = one.field.form?.querySelector('input[name=temperature]') ?? null;
  if (temperature && warm instanceof HTMLInputElement && warm !== one.field) warm.value = echo(temperature);
  one.field.dispatchEvent(new Event('input', { bubbles: true }));
  announce(`${shown.name} shows ${one.field.value}`);
  const next = one.field.form?.querySelector('button[type=submit]') ?? one.field;
  if (next instanceof HTMLElement) next.focus();
}

/** @param {Place} one @param {any} shown */
function row(one, shown) {
  const quiet = shown.age_ms > SILENT;
  if (!shown.line || quiet) {
    const why = shown.trouble ?? (shown.writes === 'on_key' ? 'press its key to send a reading' : shown.count ? 'has stopped writing' : 'has written nothing yet');
    return h('div', { class: 'joined-row' }, mark('check', 'shape'), h('span', {}, `${shown.name}: ${why}`));
  }
  const moving = shown.line.settled === false;
  return h('div', { class: 'joined-row' }, mark(moving ? 'check' : 'measured', 'shape'),
    h('span', {}, `${shown.name} shows `, h('b', {}, echo(shown.line.digits)), ` ${shown.line.unit}${moving ? ', still moving' : ''}`),
    h('button', { class: 'verb', type: 'button', onclick: () => take(one, shown) }, 'Take it'));
}

/** A reading sent by a key is meant for the field in hand, or for the first of its kind that nobody has typed into. @param {any} shown @param {Place[]} ofKind */
function sentByKey(shown, ofKind) {
  const fresh = ofKind.filter((one) => one.heard.has(shown.name) && one.heard.get(shown.name) !== shown.count);
  for (const one of ofKind) one.heard.set(shown.name, shown.count);
  if (shown.writes !== 'on_key' || !shown.line || shown.line.settled === false) return;
  const free = fresh.filter((one) => one.place.offsetParent !== null);
  const meant = free.find((one) => one.field === document.activeElement) ?? free.find((one) => !one.field.value) ?? free.find((one) => takenFrom(one.field));
  if (meant) take(meant, shown);
}

/** @param {any[]} all */
function draw(all) {
  for (const one of places) one.there ||= one.field.isConnected;
  places = places.filter((one) => !one.there || one.field.isConnected);
  for (const shown of all) sentByKey(shown, places.filter((one) => one.there && one.reads === shown.reads));
  for (const one of places) {
    const mine = all.filter((shown) => shown.reads === one.reads);
    const looks = JSON.stringify(mine.map((shown) => ({ ...shown, age_ms: shown.age_ms > SILENT, count: shown.count > 0 })));
    // A button under the finger stays the same button.
    if (looks === one.shown) continue;
    one.shown = looks;
    one.place.replaceChildren(...mine.map((shown) => row(one, shown)));
  }
}

async function look() {
  let wait = SELDOM;
  try {
    if (!document.hidden && places.length) {
      const all = await ask('GET', '/api/instruments');
      draw(all);
      if (all.length) wait = OFTEN;
    }
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    // Without a connection an old weight must not stay beside the field.
    draw([]);
    wait = 5 * OFTEN;
  } finally {
    setTimeout(look, wait);
  }
}

/** Digits that nobody's field asked for go where the number of the step belongs: an instrument types where the focus is. @param {KeyboardEvent} event */
function catchDigits(event) {
  const { activeElement } = document;
  if (event.ctrlKey || event.metaKey || event.altKey || !/^[\d+\-.,]$/.test(event.key)) return;
  if (activeElement instanceof HTMLInputElement || activeElement instanceof HTMLTextAreaElement || activeElement instanceof HTMLSelectElement) return;
  const fields = ['net', 'ph', 'value'].flatMap((name) => [...document.querySelectorAll(`#step input[name=${name}]`)]);
  const field = fields.find((one) => one instanceof HTMLInputElement && one.offsetParent !== null);
  if (field instanceof HTMLInputElement) field.focus();
}

/** Begins to look at the instruments. */
export function joinInstruments() {
  document.addEventListener('keydown', catchDigits);
  look();
}
