// @ts-check
/** Reading what people type and showing no more digits than are known. */

import { settings } from './settings.js';

/**
 * @typedef {object} Outcome
 * @property {number|null} value
 * @property {string} unit
 * @property {number|null} [low]
 * @property {number|null} [high]
 * @property {number|null} [coverage]
 * @property {string} grade
 * @property {string} method
 * @property {string} [equation]
 * @property {string} [range]
 * @property {string} [proof]
 * @property {string[]} [sources]
 * @property {Array<{name: string, value?: number, unit: string, source?: string, text?: string}>} [inputs]
 * @property {Array<{name: string, value: number, unit: string}>} [terms]
 * @property {Array<{code: string, text: string}>} [notes]
 * @property {string} [refused]
 */

const ARABIC_INDIC = '٠١٢٣٤٥٦٧٨٩';

/**
 * A typed number with a point as decimal sign, or null. Two separators are refused: thousands are never guessed.
 * @param {string} typed
 * @returns {string|null}
 */
export function canonical(typed) {
  let text = typed.trim().replace(/[٠-٩]/g, (digit) => String(ARABIC_INDIC.indexOf(digit))).replace('٫', '.').replace(/^[−–]/, '-');
  text = text.replace(/\s*%$/, '').replace(',', '.');
  if (!/^-?(\d+\.?\d*|\.\d+)$/.test(text)) return null;
  if (text.startsWith('.')) text = `0${text}`;
  if (text.endsWith('.')) text = text.slice(0, -1);
  return text;
}

/**
 * Text of a field as the person wants to see it.
 * @param {string} text
 */
export function echo(text) {
  return settings.sign === 'comma' && canonical(text) !== null ? text.replace('.', ',') : text;
}

/**
 * A number with so many decimals, in the person's sign.
 * @param {number} value
 * @param {number} decimals
 */
export function fixed(value, decimals) {
  const text = Math.abs(value) < 0.5 * 10 ** -decimals ? (0).toFixed(decimals) : value.toFixed(decimals);
  const signed = text.replace('-', '−');
  return settings.sign === 'comma' ? signed.replace('.', ',') : signed;
}

const SUPERSCRIPT = '⁰¹²³⁴⁵⁶⁷⁸⁹';

/** @param {number} exponent */
function power(exponent) {
  return `${exponent < 0 ? '⁻' : ''}${String(Math.abs(exponent)).replace(/\d/g, (digit) => SUPERSCRIPT[Number(digit)])}`;
}

/**
 * How many decimals of a value are known: up to the first digit of half its interval.
 * @param {Outcome} outcome
 * @returns {number}
 */
export function decimalsKnown(outcome) {
  const value = Math.abs(outcome.value ?? 0);
  const { low, high } = outcome;
  const half = typeof low === 'number' && typeof high === 'number' ? Math.abs(high - low) / 2 : 0;
  if (half > 0) {
    const order = Math.floor(Math.log10(half));
    return clamp(-order, 0, outcome.unit === '' ? 3 : 4);
  }
  if (value === 0) return 0;
  return clamp(2 - Math.floor(Math.log10(value)), 0, 4);
}

/** @param {number} value @param {number} low @param {number} high */
function clamp(value, low, high) {
  return Math.min(high, Math.max(low, value));
}

/**
 * @param {Outcome|null|undefined} outcome
 * @param {{exact?: string|null, most?: number, least?: number}} [how]
 * @returns {{whole: string, part: string, text: string, unit: string}}
 */
export function shown(outcome, how = {}) {
  if (!outcome || outcome.value === null || outcome.value === undefined) return { whole: '–', part: '', text: '–', unit: '' };
  const unit = outcome.unit === '1' ? '' : unitOf(outcome.unit);
  if (how.exact) return split(echo(how.exact).replace('-', '−'), unit);
  const size = Math.abs(outcome.value);
  if (size !== 0 && (size < 1e-4 || size >= 1e6)) {
    let exponent = Math.floor(Math.log10(size));
    let factor = outcome.value / 10 ** exponent;
    if (Math.abs(factor) >= 9.95) { exponent += 1; factor /= 10; }
    return { whole: `${fixed(factor, 1)} × 10${power(exponent)}`, part: '', text: `${fixed(factor, 1)} × 10${power(exponent)}`, unit };
  }
  // Something is never shown as nothing: however wide its interval, its first figure stands.
  const first = size === 0 ? 0 : Math.max(0, -Math.floor(Math.log10(size)));
  const decimals = clamp(Math.max(decimalsKnown(outcome), first), how.least ?? 0, how.most ?? 6);
  const place = unknownPlace(outcome);
  return split(fixed(place ? Math.round(outcome.value / place) * place : outcome.value, decimals), unit);
}

/** The last place before the sign that is known: ten where half the interval is some tens. Below one the decimals do it. @param {Outcome} outcome */
function unknownPlace(outcome) {
  const { low, high } = outcome;
  const half = typeof low === 'number' && typeof high === 'number' ? Math.abs(high - low) / 2 : 0;
  const place = half >= 10 ? 10 ** Math.floor(Math.log10(half)) : 0;
  return place <= Math.abs(outcome.value ?? 0) ? place : 0;
}

/** A unit as it is printed. @param {string} [unit] */
export function unitOf(unit) {
  return unit === 'C' ? '°C' : (unit ?? '').replace(/(Pa|N) s/, '$1·s').replace('s^n', 'sⁿ').replace(/^um\b/, 'µm');
}

/** @param {string} text @param {string} unit */
function split(text, unit) {
  const at = text.search(/[.,]/);
  return at < 0 ? { whole: text, part: '', text, unit } : { whole: text.slice(0, at), part: text.slice(at), text, unit };
}

/**
 * The interval in words.
 * @param {Outcome} outcome
 */
export function interval(outcome) {
  const { low, high, unit } = outcome;
  if (typeof low !== 'number' || typeof high !== 'number') return '';
  if (low === high) return '';
  const tail = unit ? ` ${unitOf(unit)}` : '';
  const chance = outcome.coverage ? `, ${Math.round(outcome.coverage * 100)} %` : ', hard limits';
  return `between ${plain(low, outcome)} and ${plain(high, outcome)}${tail}${chance}`;
}

/**
 * An end of an interval or an input: as many digits as the result, at least three figures for small ones.
 * @param {number} value
 * @param {Outcome} [like]
 */
export function plain(value, like) {
  const size = Math.abs(value);
  if (value === 0) return '0';
  if (size < 1e-4 || size >= 1e6) return shown({ value, unit: '', grade: 'computed', method: '' }).text;
  const decimals = like ? Math.max(decimalsKnown(like), clamp(1 - Math.floor(Math.log10(size)), 0, 4)) : clamp(3 - Math.floor(Math.log10(size)), 0, 6);
  const place = like ? Math.min(unknownPlace(like), 10 ** Math.max(0, Math.floor(Math.log10(size)) - 1)) : 0;
  const text = (place ? Math.round(value / place) * place : value).toFixed(Math.min(decimals, 6));
  const short = like ? text : text.replace(/(\.\d*?)0+$/, '$1').replace(/\.$/, '');
  return settings.sign === 'comma' ? short.replace('.', ',') : short;
}

/**
 * Whether something from the assessment is a result that explains itself.
 * @param {any} thing
 * @returns {thing is Outcome}
 */
export function isOutcome(thing) {
  return Boolean(thing) && typeof thing === 'object' && 'grade' in thing && 'method' in thing && 'value' in thing;
}
