// @ts-check
/** The head of the sheet: the product and its target profile, as sentences with fields in them. */

import { SITES, TYPES } from './draft.js';
import { canonical, echo } from './figures.js';
import { h, mark, prose, say } from './dom.js';
import { gravestFirst } from './margin.js';

const MARKETS = ['eu', 'uk', 'us'];
/** Metals a chelant is asked to hold, as the program writes them. @type {Array<[string, string]>} */
const METALS = [['Ca+2', 'calcium'], ['Mg+2', 'magnesium'], ['Fe+3', 'iron'], ['Cu+2', 'copper'], ['Zn+2', 'zinc'], ['Al+3', 'aluminium']];
const UNITS = ['mL', 'g', 'oz weight', 'fl oz US', 'fl oz UK'];

export class HeadView {
  /** @param {import('./session.js').Session} session */
  constructor(session) {
    this.session = session;
    /** @type {Map<string, HTMLInputElement|HTMLSelectElement|HTMLTextAreaElement>} */ this.fields = new Map();
    this.name = /** @type {HTMLInputElement} */ (this.field('product.name', { class: 'product-name', placeholder: 'Name of the product', 'aria-label': 'Name of the product', maxLength: 120 }));
    this.troubles = h('div', {});
    const f = this.field.bind(this);
    const n = (/** @type {string} */ path, /** @type {string} */ label, placeholder = 'any') => f(path, { 'aria-label': label, placeholder, inputMode: 'decimal', class: 'figure-field' }, true);
    this.metals = h('span', {});
    this.phConditions = h('span', {}, ' (read ', this.choice('target.ph_method', ['', '10 % in water'], 'How the pH is read', { '': 'neat' }), ' at ', f('target.ph_temperature_c', { 'aria-label': 'Temperature at which the pH is read, °C', placeholder: '25', inputMode: 'decimal', class: 'figure-field' }, true), ' °C, after ', n('target.ph_age_h', 'Age of the sample the pH is read on, hours'), ' h)');
    this.viscosityConditions = h('span', {}, ' (spindle ', f('target.viscosity_spindle', { 'aria-label': 'Spindle', placeholder: 'any' }), ', ', n('target.viscosity_rpm', 'Speed, rpm'), ' rpm, ', n('target.viscosity_temperature_c', 'Temperature, °C'), ' °C, after ', n('target.viscosity_age_h', 'Age of the sample, hours'), ' h)');
    this.element = h('div', { class: 'head' },
      this.name,
      h('p', { class: 'sentence' }, 'A ', this.choice('product.site', SITES, 'Site of use'), ' ', this.choice('product.type', TYPES, 'Product type'), ' that ',
        this.yesNo('product.leave_on', 'stays on the skin', 'is rinsed off'), ', for the markets ', ...MARKETS.flatMap((market) => [this.market(market), ' ']),
        ' Client ', f('product.client', { 'aria-label': 'Client or project', placeholder: 'none' }), '.'),
      h('p', { class: 'sentence' }, h('b', {}, 'Target'), ' pH ', n('target.ph_low', 'Lower end of the pH window'), ' to ', n('target.ph_high', 'Upper end of the pH window'), this.phConditions,
        ', ', this.choice('target.clarity', ['', 'clear', 'hazy', 'opaque'], 'Clarity', { '': 'any clarity' }),
        ', viscosity ', n('target.viscosity_low', 'Lower end of the viscosity window, mPa·s'), ' to ', n('target.viscosity_high', 'Upper end of the viscosity window, mPa·s'), ' mPa·s', this.viscosityConditions,
        ', at most ', n('target.cost_per_kg', 'Most the bulk may cost per kilogram'), ' ', f('target.currency', { 'aria-label': 'Currency', placeholder: 'EUR', maxLength: 3 }), ' per kg',
        ', natural origin at least ', n('target.natural_origin_percent', 'Least natural-origin content, percent'), ' %',
        ', free from ', f('target.free_from', { 'aria-label': 'Free from, separated by commas', placeholder: 'nothing in particular' }),
        ', in ', f('target.pack_name', { 'aria-label': 'Pack', placeholder: 'any pack' }), ' of ', n('target.pack_fill', 'Nominal content'), ' ', this.choice('target.pack_unit', ['', ...UNITS], 'Unit of the content', { '': 'mL' }),
        ', ', this.yesNo('target.pack_airless', 'closed to fingers and air', 'open to fingers and air'),
        ', shelf life ', n('target.shelf_life_months', 'Shelf life, months'), ' months', this.metals,
        '. Made with water of ', n('bench.water_cfu_per_ml', 'Count of the water, CFU per mL', 'an unmeasured number of'), ' CFU/mL.'),
      h('p', { class: 'sentence remark' }, h('b', {}, 'Remark'), ' ', this.remark()),
      this.troubles,
    );
  }

  /** @param {string} path */
  get(path) {
    return path.split('.').reduce((place, name) => place?.[name], /** @type {any} */ (this.session.draft));
  }

  /** @param {string} path @param {any} value @param {string} label */
  set(path, value, label) {
    const [name, ...places] = path.split('.').reverse();
    this.session.change(label, path, (draft) => { places.reduceRight((place, one) => place[one], /** @type {any} */ (draft))[name] = value; });
  }

  /** @param {string} path @param {Record<string, any>} properties @param {boolean} [numeric] */
  field(path, properties, numeric = false) {
    const label = properties['aria-label'];
    let before = '';
    const input = h('input', {
      type: 'text', autocomplete: 'off', spellcheck: false, ...properties,
      onfocus: () => { before = input.value; this.session.settle(); },
      oninput: () => this.set(path, numeric ? canonical(input.value) ?? input.value : input.value, label),
      onblur: () => { this.session.settle(); this.update(); },
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        if (event.key === 'Escape' && input.value !== before) {
          input.value = before;
          this.set(path, numeric ? canonical(before) ?? before : before, label);
        }
        if (event.key === 'Enter') input.blur();
      },
    });
    if (numeric) input.dataset.numeric = '1';
    this.fields.set(path, input);
    return input;
  }

  /** What is written about the product as a whole, such as where it was brought in from. */
  remark() {
    const text = h('textarea', { rows: 1, 'aria-label': 'Remark', placeholder: 'none', spellcheck: true, onfocus: () => this.session.settle(), oninput: () => this.set('product.note', text.value.replace(/\s*\n\s*/g, ' '), 'Remark'), onblur: () => { this.session.settle(); this.update(); } });
    this.fields.set('product.note', text);
    return text;
  }

  /** @param {string} path @param {string[]} options @param {string} label @param {Record<string, string>} [words] */
  choice(path, options, label, words = {}) {
    const select = h('select', { 'aria-label': label, onchange: () => { this.session.settle(); this.set(path, select.value, label); } },
      ...options.map((option) => h('option', { value: option }, words[option] ?? option)));
    this.fields.set(path, select);
    return select;
  }

  /** @param {string} path @param {string} yes @param {string} no */
  yesNo(path, yes, no) {
    const select = h('select', { 'aria-label': `${yes} or ${no}`, onchange: () => { this.session.settle(); this.set(path, select.value === 'yes', yes); } },
      h('option', { value: 'yes' }, yes), h('option', { value: 'no' }, no));
    select.dataset.truth = '1';
    this.fields.set(path, select);
    return select;
  }

  /** @param {string} market */
  market(market) {
    const input = h('input', { type: 'checkbox', onchange: () => {
      this.session.settle();
      this.session.change(`market ${market.toUpperCase()}`, '', (draft) => {
        const markets = new Set(draft.product.markets);
        if (input.checked) markets.add(market); else markets.delete(market);
        draft.product.markets = MARKETS.filter((one) => markets.has(one));
      });
    } });
    this.fields.set(`market.${market}`, input);
    return h('label', { class: 'tick' }, input, market.toUpperCase());
  }

  /** The metals the water and the raw materials may bring; one that is emptied goes. */
  showMetals() {
    const given = Object.keys(this.session.draft.target.metals_mg_kg ?? {});
    const key = given.join(' ');
    if (this.metals.dataset.key === key) return;
    this.metals.dataset.key = key;
    for (const path of [...this.fields.keys()]) if (path.startsWith('target.metals_mg_kg.')) this.fields.delete(path);
    const parts = given.flatMap((ion, at) => {
      const name = METALS.find(([one]) => one === ion)?.[1] ?? ion;
      const path = `target.metals_mg_kg.${ion}`;
      const input = this.field(path, { 'aria-label': `${name}, mg per kg of product`, inputMode: 'decimal', class: 'figure-field' }, true);
      input.addEventListener('blur', () => { if (!this.get(path)) this.session.change(`without ${name}`, '', (draft) => { delete draft.target.metals_mg_kg[ion]; }); });
      return [at ? ', ' : '', `${name} `, input];
    });
    const left = METALS.filter(([ion]) => !given.includes(ion));
    const add = h('select', { 'aria-label': 'Add a metal that water or raw materials may bring', onchange: () => {
      const ion = add.value;
      this.session.settle();
      this.session.change('add a metal', '', (draft) => { draft.target.metals_mg_kg = { ...draft.target.metals_mg_kg, [ion]: '0' }; });
      const field = /** @type {HTMLInputElement|undefined} */ (this.fields.get(`target.metals_mg_kg.${ion}`));
      field?.focus();
      field?.select();
    } }, h('option', { value: '' }, given.length ? 'and another metal' : 'unstated metals'), ...left.map(([ion, name]) => h('option', { value: ion }, name)));
    this.metals.replaceChildren('; water and raw materials may bring ', ...parts, given.length ? ' mg/kg ' : '', left.length ? add : '');
  }

  update() {
    this.showMetals();
    for (const [path, field] of this.fields) {
      if (path.startsWith('market.')) {
        /** @type {HTMLInputElement} */ (field).checked = this.session.draft.product.markets.includes(path.slice(7));
        continue;
      }
      if (document.activeElement === field && field.tagName !== 'SELECT') continue;
      const value = this.get(path) ?? '';
      if (field.dataset.truth) field.value = value ? 'yes' : 'no';
      else if (field.tagName === 'SELECT') {
        // A word from a file that is not among ours stays as it is.
        if (![...field.querySelectorAll('option')].some((option) => option.value === value)) field.append(h('option', { value }, String(value)));
        field.value = value;
      } else {
        const text = field.dataset.numeric ? echo(String(value)) : String(value);
        if (field.value !== text) field.value = text;
      }
    }
    const target = this.session.draft.target;
    this.viscosityConditions.hidden = !target.viscosity_low && !target.viscosity_high;
    this.phConditions.hidden = !target.ph_low && !target.ph_high;
    const remarks = this.session.judgement.remarks.filter((/** @type {any} */ one) => !one.line_id && !one.phase_id);
    for (const field of this.fields.values()) field.classList.remove('bad');
    this.troubles.replaceChildren(...remarks.map((/** @type {any} */ one) => {
      this.fields.get(one.field)?.classList.add('bad');
      return troubleBox(one);
    }));
  }
}

/**
 * What is wrong in a field: what, why, what now, and names that may have been meant.
 * @param {any} remark @param {(name: string) => void} [pick]
 */
export function troubleBox(remark, pick) {
  return h('div', { class: 'field-trouble', role: 'alert' }, h('b', {}, told(remark.what)), ` ${told(remark.why)} ${told(remark.what_now)}`,
    remark.offers?.length && pick ? h('div', {}, ...remark.offers.map((/** @type {string} */ name) => h('button', { class: 'verb offer', type: 'button', onclick: () => pick(name) }, name))) : null);
}

/** A sentence of a remark: begins large, ends with a stop, quotes what was typed. @param {string} text */
function told(text) {
  const quoted = prose(text ?? '').replace(/`([^`]*)`/g, '“$1”');
  return !quoted || /[.!?”]$/.test(quoted) ? quoted : `${quoted}.`;
}

const WEIGHT = ['stop', 'change', 'check', 'know'];

/** The block at the top: what to look at first. */
export class FirstView {
  /** @param {(line: number) => void} goToLine @param {(index: number) => string} numberOf */
  constructor(goToLine, numberOf) {
    this.goToLine = goToLine;
    this.numberOf = numberOf;
    this.element = h('section', { class: 'first', 'aria-label': 'Look at this first' });
  }

  /** @param {any} assessment @param {any[]} remarks @param {(finding: any) => HTMLElement} why */
  update(assessment, remarks, why) {
    const findings = assessment?.findings ?? [];
    if (!assessment && remarks.length) {
      const [first] = remarks;
      this.element.replaceChildren(h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, told(first.what)), h('p', { class: 'change' }, `${told(first.why)} ${told(first.what_now)}`),
        h('p', { class: 'change' }, 'Until then nothing can be computed. What you typed is kept.'));
      return;
    }
    if (!assessment) {
      this.element.replaceChildren(h('h2', {}, 'Begin here'), h('p', { class: 'found' }, 'Type a raw material in the first line, then how much of it.'),
        h('p', { class: 'change' }, 'In the amount: a percentage, “q.s.” for the line that fills up to 100, or “pH 5.5” for an acid or base that shall bring it there.'));
      return;
    }
    const gravest = gravestFirst(findings)[0];
    if (!gravest || gravest.gravity === 'know') {
      this.element.replaceChildren(h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, 'Nothing here asks for a change.'),
        h('p', { class: 'change' }, 'That is not an approval: a challenge test, a stability study and an assessor have the last word.'));
    } else {
      const lines = gravest.concerns.lines ?? [];
      this.element.replaceChildren(h('h2', {}, 'Look at this first'),
        h('span', { class: `gravity gravity-${gravest.gravity}` }, mark(gravest.gravity, 'shape'), gravest.gravity),
        lines.length ? h('span', { class: 'key aside' }, ' ', h('button', { class: 'why', type: 'button', onclick: () => this.goToLine(lines[0]) }, `line ${this.numberOf(lines[0])}`)) : h('span', { class: 'key aside' }, ` ${aboutWhat(gravest)}`),
        h('p', { class: 'found' }, prose(gravest.found)), h('p', { class: 'change' }, prose(gravest.change), ' ', why(gravest)));
    }
  }
}

/** @param {any} finding */
export function aboutWhat(finding) {
  const { kind, target } = finding.concerns;
  return kind === 'target' ? `target: ${String(target).replace('_', ' ')}` : kind === 'product' ? 'the whole product' : '';
}

/** The readings that stay in view. */
export class StripView {
  /** @param {(gravity: string) => void} goTo */
  constructor(goTo) {
    this.goTo = goTo;
    this.list = h('dl', {});
    this.counts = h('div', { class: 'counts', role: 'group', 'aria-label': 'Notes by gravity' });
    this.element = h('div', { class: 'strip' }, this.list, this.counts);
    /** @type {Map<string, HTMLElement>} */ this.terms = new Map();
  }

  /** @param {string} label @param {HTMLElement} content */
  put(label, content) {
    let place = this.terms.get(label);
    if (!place) {
      place = h('dd', {});
      this.terms.set(label, /** @type {HTMLElement} */ (place));
      this.list.append(h('div', {}, h('dt', {}, label), /** @type {HTMLElement} */ (place)));
    }
    if (place && place.firstChild !== content) place.replaceChildren(content);
  }

  /** @param {any[]} findings */
  count(findings) {
    const parts = WEIGHT.map((gravity) => [gravity, findings.filter((one) => one.gravity === gravity).length]).filter(([, many]) => many);
    const key = JSON.stringify(parts);
    if (this.counts.dataset.key === key) return;
    this.counts.dataset.key = key;
    this.counts.replaceChildren(...parts.map(([gravity, many]) => h('button', { type: 'button', class: `gravity gravity-${gravity}`, onclick: () => this.goTo(String(gravity)) }, mark(String(gravity), 'shape'), `${many} ${gravity}`)));
    if (!parts.length) say(this.counts, '');
  }
}
