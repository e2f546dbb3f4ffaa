// @ts-check
/** One raw material: what it consists of, where it works, what is known and from where, and the lots of it on the shelf. */

import { byId, h, pageData } from './dom.js';
import { echo, plain } from './figures.js';
import { LotsView } from './lots.js';

const card = pageData();
const record = card.record ?? {};

/** @param {string|undefined} key */
const source = (key) => (key ? h('span', { class: 'source' }, ` ${card.sources[key] ?? key.replace(/-/g, ' ')}`) : '');
/** @param {any} range @param {string} unit */
const span = (range, unit) => (range ? [`${plain(range.low)} to ${plain(range.high)}${unit}`, source(range.source)] : null);
/** @param {any} sourced @param {string} unit */
const one = (sourced, unit) => (sourced ? [`${typeof sourced.value === 'number' ? plain(sourced.value) : sourced.value}${unit}`, source(sourced.source)] : null);
const words = (/** @type {string} */ text) => String(text ?? '').replace(/-/g, ' ');

/** @type {Array<[string, any]>} */
const facts = [
  ['INCI name', card.hit.inci?.length ? [card.hit.inci.join(', ')] : null],
  ['CAS number', card.hit.cas?.length ? [card.hit.cas.join(', ')] : null],
  ['Function', card.hit.functions?.length ? [card.hit.functions.join(', ')] : null],
  ['Form', record.form ? [words(record.form)] : null],
  ['Usual level', span(record.use_level_percent, ' %')],
  ['Works at pH', span(record.ph_works, '')],
  ['Survives at pH', span(record.ph_survives, '')],
  ['Not above', one(record.heat_limit_c, ' °C')],
  ['Charge', record.charge ? [words(record.charge)] : null],
  ['Into water', record.wetting ? [words(record.wetting)] : null],
  ['Bears electrolyte', record.electrolyte_tolerance ? [record.electrolyte_tolerance.class, source(record.electrolyte_tolerance.source)] : null],
  ['Natural-origin index', one(record.natural_origin_index, '')],
  ['Density', one(record.density_kg_m3, ' kg/m³')],
  ['Flash point', one(record.flash_point_c, ' °C')],
];

const lots = new LotsView(card);
byId('material').append(
  h('div', { class: 'verbs' }, h('a', { class: 'verb main-verb', href: `/materials/new?from=${card.hit.key}` }, card.own ? 'Edit' : 'Make an own grade of it'), h('a', { class: 'verb', href: `/materials/${card.hit.key}/instead` }, 'It is gone, or dear')),
  lots.element,
  h('div', { class: 'material-facts' },
    h('div', {},
      h('h2', {}, 'Composition'),
      h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, h('th', {}, 'Substance'), ...['least', 'typical', 'most'].map((head) => h('th', { class: 'figure' }, `${head}, % w/w`)))),
        h('tbody', {}, ...(record.constituents ?? []).map((/** @type {any} */ part) => h('tr', {}, h('td', {}, words(part.substance)), ...[part.min, part.typical, part.max].map((value) => h('td', { class: 'figure' }, plain(Number(value)))))))),
      record.composition_source ? h('p', {}, source(record.composition_source)) : null,
      record.active ? h('p', {}, `The assay speaks of ${words(record.active)}${record.balance ? `; ${words(record.balance)} fills up` : ''}.`) : null,
      h('h2', {}, 'What is known'),
      h('dl', {}, ...facts.filter(([, value]) => value).map(([label, value]) => h('div', {}, h('dt', {}, label), h('dd', {}, ...value)))),
      ...(record.remarks?.length ? [h('h2', {}, 'Remarks'), ...record.remarks.map((/** @type {any} */ remark) => h('p', {}, remark.value, source(remark.source)))] : [])),
    h('div', {},
      ...(record.cautions?.length ? [h('h2', {}, 'Handle with care'), ...record.cautions.map((/** @type {any} */ caution) => h('p', { class: 'caution' }, caution.text, source(caution.source)))] : []),
      h('h2', {}, 'Prices'),
      record.prices?.length ? h('table', { class: 'calm' }, h('tbody', {}, ...record.prices.map((/** @type {any} */ price) => h('tr', {}, h('td', {}, price.date), h('td', { class: 'figure' }, `${echo(String(price.per_kg))} ${price.currency}/kg`), h('td', {}, price.note ?? ''))))) : h('p', { class: 'aside' }, 'No price on file. Prices are yours, with a date; none are shipped.'),
      h('h2', {}, 'Used in'),
      card.used_in?.length ? h('ul', {}, ...card.used_in.map((/** @type {[string, string]} */ [id, name]) => h('li', {}, h('a', { href: `/formulas/${id}` }, name)))) : h('p', { class: 'aside' }, 'No formula uses it yet.'))));
if (location.hash === '#lots') lots.element.scrollIntoView();
