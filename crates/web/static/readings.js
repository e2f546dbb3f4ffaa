// @ts-check
/** The calm tables under the figures: what is in it, how it is preserved, what the rules say, what it costs. */

import { h } from './dom.js';
import { echo, isOutcome } from './figures.js';
import { number } from './number.js';
import { asPercent, standing } from './sheet.js';

/**
 * @param {string} title @param {string} says @param {...(Node|null|false|undefined)} content
 */
function part(title, says, ...content) {
  const kept = content.filter(Boolean);
  if (!kept.length) return null;
  return h('section', { class: 'part' }, h('h2', {}, title), says ? h('p', { class: 'says' }, says) : null, ...kept);
}

/**
 * @param {Array<string|[string, string]>} head columns; a pair gives the class of the column
 * @param {Array<Array<Node|string|null|undefined>>} rows
 */
function table(head, rows) {
  if (!rows.length) return null;
  const kind = head.map((one) => (Array.isArray(one) ? one[1] : ''));
  return h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, ...head.map((one) => h('th', { scope: 'col', class: Array.isArray(one) ? one[1] : '' }, Array.isArray(one) ? one[0] : one)))),
    h('tbody', {}, ...rows.map((cells) => h('tr', {}, ...cells.map((cell, at) => h('td', { class: kind[at] }, cell ?? ''))))));
}

/** @param {Array<[string, any]>} pairs */
function readings(pairs) {
  const known = pairs.filter(([, outcome]) => isOutcome(outcome));
  if (!known.length) return null;
  return h('dl', { class: 'pairs' }, ...known.map(([label, outcome]) => h('div', {}, h('dt', {}, label), h('dd', {}, outcome.value === null ? h('span', { class: 'aside' }, number(outcome, label), ` ${outcome.refused ?? ''}`) : number(outcome, label)))));
}

/** @param {string[]} texts */
function remarks(texts) {
  return texts.length ? h('ul', { class: 'remarks' }, ...texts.map((text) => h('li', {}, text))) : null;
}

/** @param {string} word */
function words(word) {
  return String(word ?? '').replace(/[-_]/g, ' ');
}

/**
 * @param {any} assessment
 * @param {(index: number) => string} numberOf
 * @returns {HTMLElement[]}
 */
export function sections(assessment, numberOf) {
  if (!assessment) return [];
  const parts = [
    composition(assessment, numberOf), acidity(assessment), preservation(assessment), metals(assessment), saturation(assessment, numberOf),
    limits(assessment), allergens(assessment), label(assessment), natural(assessment), cost(assessment, numberOf), exposure(assessment), weighing(assessment, numberOf),
  ];
  return /** @type {HTMLElement[]} */ (parts.filter(Boolean));
}

/** @param {any} a @param {(index: number) => string} numberOf */
function composition(a, numberOf) {
  const lines = a.composition?.substances ?? [];
  return part('Composition', 'Every raw material opened to what it consists of, water summed over all sources.',
    table(['Ingredient', ['% w/w', 'figure'], 'from line'], lines.map((/** @type {any} */ one) => [
      one.inci ?? one.name,
      number({ ...one.percent, terms: (one.from ?? []).map((/** @type {[number, any]} */ [line, percent]) => ({ name: `line ${numberOf(line)}`, value: percent.value, unit: '%' })) }, one.inci ?? one.name, { aligned: true, unit: false, most: 4 }),
      (one.from ?? []).map((/** @type {[number, any]} */ [line]) => numberOf(line)).join(', '),
    ])),
    readings([['Density of the bulk', a.composition?.density], ['Content of one pack', a.composition?.fill_mass], ['Oil', a.composition?.oil_percent]]));
}

/** @param {any} a */
function acidity(a) {
  return part('Acidity', 'For the water phase at 25 °C, without carbon dioxide from the air unless it says so.',
    readings([['pH of the product', a.ph?.neat], ['pH after standing open to the air', a.ph?.in_air], ['pH of 10 % in water', a.ph?.ten_percent], ['Buffer capacity', a.ph?.buffer_capacity], ['Ionic strength', a.ph?.ionic_strength], ['Water activity', a.ph?.water_activity], ['Osmolality', a.ph?.osmolality]]),
    remarks((a.ph?.notes ?? []).map((/** @type {any} */ one) => one.text)));
}

/** @param {any} a */
function preservation(a) {
  const reading = a.preservatives;
  const edges = Array.isArray(reading?.at) ? reading.at : [];
  const now = standing(a);
  if (!now.length) return part('Preservation', 'No preservative is known among the raw materials.', reading?.words ? h('p', {}, reading.words) : null);
  /** @type {Array<string|[string, string]>} */
  const head = ['Preservative', 'acts as', ...edges.flatMap((/** @type {any} */ edge) => /** @type {Array<[string, string]>} */ ([[`${words(edge.edge)}, pH ${echo(edge.ph.value.toFixed(1))}`, 'figure']])), ['at work now', 'figure']];
  const rows = now.map((one) => [one.name, one.acts_as_name ?? one.acts_as,
    ...edges.map((/** @type {any} */ edge) => { const there = edge.preservatives.find((/** @type {any} */ other) => other.substance === one.substance); return there ? number(asPercent(there.share), `${one.name}, working share at pH ${edge.ph.value.toFixed(1)}`, { most: 1 }) : ''; }),
    number(one.working ?? one.working_percent, `${one.name} at work`, { most: 3 })]);
  const organisms = new Map();
  for (const one of now) for (const mic of one.mics ?? []) if (isOutcome(mic.ratio)) organisms.set(`${one.name}, ${words(mic.organism)}`, mic.ratio);
  return part('Preservation', reading?.words ?? '',
    table(head, rows),
    reading?.coverage && Object.keys(reading.coverage).length ? h('p', { class: 'line-of-pairs' }, h('b', {}, 'Coverage '), ...Object.entries(reading.coverage).flatMap(([group, strength]) => [h('span', {}, `${words(group)} `, h('b', {}, String(strength)))])) : null,
    organisms.size ? readings([...organisms].map(([name, ratio]) => /** @type {[string, any]} */ ([name, ratio]))) : null,
    reading?.hurdles?.length ? table(['Hurdle', 'here'], reading.hurdles.map((/** @type {any} */ one) => [one.text, one.met ? 'met' : 'not met'])) : null);
}

/** @param {any} a */
function metals(a) {
  const reading = a.metals;
  const list = Array.isArray(reading) ? reading : reading?.metals ?? [];
  const chelants = reading?.chelants ?? [];
  if (!list.length && !chelants.length) return null;
  return part('Metals and chelating agents', 'How much of each metal is left free, and who holds the rest.',
    table(['Metal', ['free', 'figure'], ['held', 'figure'], 'by'], list.map((/** @type {any} */ one) => [one.label ?? one.metal, number(one.free, `${one.label ?? one.metal}, free`), number(one.held_percent ?? one.bound_percent, `${one.label ?? one.metal}, held`, { most: 1 }), (one.held_by ?? []).slice(0, 2).map((/** @type {[string, any]} */ [name]) => name).join(', ')])),
    table(['Chelating agent', ['still free', 'figure'], ['calcium it can still hold', 'figure']], chelants.map((/** @type {any} */ one) => [one.label, number(one.free_percent, `${one.label}, free`, { most: 1 }), one.calcium_capacity ? number(one.calcium_capacity, `${one.label}, calcium capacity`) : ''])),
    remarks((reading?.not_known ?? []).map((/** @type {string} */ name) => `No constants are known for ${name}.`)));
}

/** @param {any} a @param {(index: number) => string} numberOf */
function saturation(a, numberOf) {
  void numberOf;
  const reading = a.saturation;
  const names = new Map();
  for (const [where, list] of [['now', reading?.at_25_c], ['cold', reading?.cold]]) for (const one of list ?? []) { const have = names.get(one.name) ?? {}; have[/** @type {string} */ (where)] = one.degree; names.set(one.name, have); }
  if (!names.size) return null;
  return part('What may crystallise', 'Dissolved amount over solubility: above 1 it may fall out, below it stays dissolved. Nothing is computed to precipitate.',
    table(['Substance', ['at 25 °C', 'figure'], ['in the cold store, 5 °C', 'figure']], [...names].map(([name, have]) => [name, have.now ? number(have.now, `${name} at 25 °C`, { most: 2 }) : '', have.cold ? number(have.cold, `${name} at 5 °C`, { most: 2 }) : ''])));
}

/** @param {any} a */
function limits(a) {
  const list = a.limits ?? [];
  if (!list.length) return null;
  return part('Limits', `Rules read for ${a.as_of}, market ${String(a.market ?? 'eu').toUpperCase()}. What only a document can show is not judged.`,
    table(['Entry', ['in the product', 'figure'], ['at most', 'figure'], 'reading'], list.map((/** @type {any} */ one) => [
      h('span', {}, one.name ?? one.substance, h('span', { class: 'aside small' }, one.annex ? ` Annex ${one.annex}, entry ${one.entry}` : ` ${one.rule ?? ''}`)), one.amount ? number(one.amount, one.name, { most: 4 }) : number(one.found, one.substance), one.maximum_percent !== undefined ? (one.maximum_percent === null ? '–' : `${echo(String(one.maximum_percent))} %${one.basis ? ` as ${one.basis.name ?? one.basis}` : ''}`) : one.limit,
      h('span', {}, one.words ?? '', one.reason ? h('span', { class: 'aside' }, ` ${one.reason}`) : '', one.conditions?.length ? h('details', {}, h('summary', {}, `${one.conditions.length} ${one.conditions.length === 1 ? 'condition' : 'conditions'}`), h('ul', {}, ...one.conditions.map((/** @type {any} */ c) => h('li', {}, c.text, h('span', { class: 'aside' }, ` ${c.met === true ? 'met' : c.met === false ? 'not met' : 'not judged'}: ${c.why}`))))) : ''),
    ])));
}

/** @param {any} a */
function allergens(a) {
  const list = a.allergens ?? [];
  if (!list.length) return null;
  /** @type {Record<string, string>} */
  const namings = { name: 'name it', 'may-need-naming': 'may need naming', 'not-needed': 'below the threshold' };
  const naming = (/** @type {any} */ one) => namings[one.naming] ?? one.on_label ?? words(one.naming);
  const dates = (/** @type {any} */ one) => {
    const coming = [one.placing, one.available].filter((standing) => standing?.kind === 'coming').map((standing) => standing.from);
    return coming.length ? `from ${[...new Set(coming)].join(' and ')}` : '';
  };
  return part('Fragrance allergens', 'Summed over every oil and substance.',
    table(['Allergen', ['in the product', 'figure'], 'on the label', 'dates'], list.map((/** @type {any} */ one) => [one.label_name ?? one.substance, number(one.amount ?? one.percent, one.label_name ?? one.substance, { most: 4 }), naming(one), dates(one)])));
}

/** @param {any} a */
function label(a) {
  if (!a.label) return null;
  const copy = h('button', { class: 'verb', type: 'button', onclick: async () => { await navigator.clipboard.writeText(a.label.text); copy.textContent = 'Copied'; setTimeout(() => { copy.textContent = 'Copy the text'; }, 1500); } }, 'Copy the text');
  return part('Ingredient declaration', a.label.act ?? '',
    h('p', { class: 'label-text' }, h('span', { class: 'aside' }, `${a.label.heading ?? 'Ingredients'}: `), a.label.text), copy,
    remarks([...(a.label.warnings ?? []).map((/** @type {any} */ one) => one.text ?? String(one)), ...(a.label.notes ?? []).map((/** @type {any} */ one) => one.text ?? String(one))]));
}

/** @param {any} a */
function natural(a) {
  if (!a.natural) return null;
  return part('Natural origin', 'After ISO 16128, where every part has a published index.', readings([['With water', a.natural.with_water], ['Without water', a.natural.without_water]]),
    a.natural.unknown?.length ? remarks([`No index is known for ${a.natural.unknown.join(', ')}.`]) : null);
}

/** @param {any} a @param {(index: number) => string} numberOf */
function cost(a, numberOf) {
  const reading = a.cost;
  if (!reading) return null;
  const priced = (reading.lines ?? []).filter((/** @type {any} */ one) => one.per_kg !== null && one.per_kg !== undefined);
  return part('Cost', reading.oldest_price ? `From dated prices; the oldest is of ${reading.oldest_price}.` : '', readings([['Bulk, per kilogram', reading.per_kg], ['Per pack', reading.per_pack]]),
    table(['Line', 'Raw material', ['per kg of product', 'figure'], ['share', 'figure']], priced.map((/** @type {any} */ one) => [numberOf(one.line), one.name, echo(one.per_kg.value.toFixed(4)), one.share_percent ? `${Math.round(one.share_percent.value)} %` : ''])),
    reading.unpriced?.length ? remarks([`No price on file for line ${reading.unpriced.map(numberOf).join(', ')}.`]) : null);
}

/** @param {any} a */
function exposure(a) {
  const list = a.exposure ?? [];
  if (!list.length) return null;
  return part('Exposure', 'Amount applied, before any absorption: the frame an assessor starts from, not a margin of safety.',
    ...list.map((/** @type {any} */ one) => h('div', {}, h('p', { class: 'aside' }, one.frame?.row?.product ?? ''), readings([['Product', one.frame?.product], ...(one.applied ?? []).slice(0, 8)]))));
}

/** @param {any} a @param {(index: number) => string} numberOf */
function weighing(a, numberOf) {
  const reading = a.weighing;
  if (!reading?.lines) return null;
  const weak = reading.lines.filter((/** @type {any} */ one) => one.weighable !== 'well');
  if (!weak.length) return part('Weighing', `Every line of ${echo(String(reading.batch_g))} g can be weighed to its tolerance on this balance.`, readings([['Smallest weight for 0.10 % (USP <41>), for information', reading.pharmacy_minimum]]));
  return part('Weighing', `Lines of ${echo(String(reading.batch_g))} g that this balance weighs worse than their tolerance.`,
    table(['Line', ['uncertain by', 'figure'], ['tolerance', 'figure'], ['least to weigh', 'figure'], 'what helps'], weak.map((/** @type {any} */ one) => [
      `${numberOf(one.line)} ${a.lines[one.line]?.name ?? ''}`, number(one.expanded_percent, 'Expanded uncertainty', { most: 1 }), `${echo(String(one.tolerance_percent))} %`, number(one.minimum_weight, 'Minimum weight'),
      [one.stock ? `a stock solution` : '', one.larger_batch_g ? `a batch of ${echo(String(Math.ceil(one.larger_batch_g.value)))} g or more` : '', one.finer_balance_g ? `a balance that reads to ${echo(String(one.finer_balance_g.value))} g` : ''].filter(Boolean).join(', or '),
    ])),
    readings([['Smallest weight for 0.10 % (USP <41>), for information', reading.pharmacy_minimum]]));
}
