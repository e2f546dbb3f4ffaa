// @ts-check
/** The question of a better formula in fields: aims, lines that may move, wishes. What is wrong is told beside its field. */

import { h } from './dom.js';
import { canonical, echo } from './figures.js';

/**
 * @typedef {{of: string, material: string, want: string}} Aim
 * @typedef {{material: string, may: string, least: string, most: string, step: string}} Line
 * @typedef {{of: string, material: string, over: string[], under: string[], least: string, most: string}} Wish
 * @typedef {{aims: Aim[], lines: Line[], wishes: Wish[]}} Form
 */

/** What a line may do. @type {Array<[string, string]>} */
const MAY = [['stay', 'stays'], ['move', 'moves'], ['move_or_out', 'moves, or is left out'], ['one_of_a', 'one of group A'], ['one_of_b', 'one of group B']];
/** Units as they are said beside a field. @param {string} unit */
const said = (unit) => unit.replace('mPa s', 'mPa·s');
/** Aims that more of is usually wanted. */
const MOST = /^(natural|buffer|free)/;

let made = 0;

export class BetterForm {
  /** @param {any} ground @param {() => void} changed told after every change */
  constructor(ground, changed) {
    /** @type {Form} */ this.form = ground.form;
    this.shown = ground.lines;
    this.words = ground.words;
    this.changed = changed;
    /** @type {Map<string, {field: any, wrong: HTMLElement}>} */ this.fields = new Map();
    this.trouble = h('div', { class: 'field-trouble', role: 'alert', hidden: true });
    this.aims = h('div', { class: 'better-aims' });
    this.lines = h('div', { class: 'wide-table' });
    this.wishes = h('div', { class: 'better-wishes' });
    const part = (/** @type {string} */ title, /** @type {string} */ hint, /** @type {any[]} */ ...inside) => h('section', { class: 'better-part' }, h('h2', {}, title), h('p', { class: 'hint' }, hint), ...inside);
    this.element = h('div', {},
      part('What it shall be good for', 'One aim gives the best answer and others nearly as good; two or three are set against each other.', this.aims),
      part('What may move', 'Each line stays, moves between two levels on a step, may be left out, or is one of a group of which exactly one is in. To let a raw material in that is not in the formula, give it a line of 0 % on the sheet first.', this.lines),
      part('What it must keep', 'Each wish has a least, a most, or both. They begin with what the formula is now and what its target asks.', this.wishes),
      this.trouble);
    this.draw();
  }

  draw() {
    this.fields.clear();
    this.drawAims();
    this.drawLines();
    this.drawWishes();
  }

  /** Puts a field under the name the server tells about it. @param {string} name @param {any} field @param {string} label */
  named(name, field, label) {
    made += 1;
    field.id = `better-${made}`;
    field.dataset.field = name;
    const wrong = h('div', { class: 'field-trouble', id: `${field.id}-wrong`, hidden: true });
    if (!label.startsWith('=')) field.setAttribute('aria-label', label);
    this.fields.set(name, { field, wrong });
    return { field, wrong, label: label.startsWith('=') ? h('label', { htmlFor: field.id }, label.slice(1)) : null };
  }

  /** A number as typed; kept with a point. @param {string} name @param {string} label @param {any} on @param {string} key */
  number(name, label, on, key) {
    const field = h('input', { type: 'text', inputMode: 'decimal', autocomplete: 'off', value: echo(on[key]), oninput: () => { on[key] = canonical(field.value) ?? field.value; this.changed(); } });
    return this.named(name, field, label);
  }

  /** @param {string} name @param {string} label @param {Array<[string, string]>} options @param {string} value @param {(value: string) => void} take */
  choice(name, label, options, value, take) {
    const field = h('select', { onchange: () => { take(field.value); this.changed(); } }, ...options.map(([one, words]) => h('option', { value: one, selected: one === value }, words)));
    return this.named(name, field, label);
  }

  /** @param {{field: any, wrong: HTMLElement, label: any}} made @param {string} [kind] @param {string} [unit] */
  cell(made, kind = '', unit = '') {
    return h('div', { class: `field ${kind}` }, made.label, unit ? h('span', { class: 'with-unit' }, made.field, h('span', { class: 'unit' }, unit)) : made.field, made.wrong);
  }

  /** Words that can be chosen. @param {boolean} wished @returns {Array<[string, string]>} */
  options(wished) {
    /** @type {Array<[string, string]>} */ const all = this.words.map((/** @type {any} */ [word, , name]) => [word, name === 'free preservative' ? 'working form of a preservative' : name]);
    return wished ? [...all, ['sum', 'sum of lines'], ['ratio', 'ratio of lines']] : all;
  }

  /** @param {string} word */
  unit(word) {
    if (word === 'sum') return '%';
    return said(this.words.find((/** @type {any} */ one) => one[0] === word)?.[1] ?? '');
  }

  /** The raw materials that can be named. @returns {Array<[string, string]>} */
  materials() {
    return this.shown.map((/** @type {any} */ one) => [one.material, one.material]);
  }

  /** @param {string} name @param {{material: string}} on */
  material(name, on) {
    if (!on.material) on.material = (this.shown.find((/** @type {any} */ one) => one.function === 'preservative') ?? this.shown[0])?.material ?? '';
    return this.cell(this.choice(`${name}.material`, '=of the line', this.materials(), on.material, (value) => { on.material = value; }), 'grow');
  }

  /** @param {string} words @param {() => void} act */
  verb(words, act, label = '') {
    return h('button', { class: 'verb plain', type: 'button', 'aria-label': label || undefined, onclick: () => { act(); this.changed(); } }, words);
  }

  drawAims() {
    const { aims } = this.form;
    const rows = aims.map((aim, at) => {
      const name = `aims.${at}`;
      return h('div', { class: 'better-row' },
        this.cell(this.choice(`${name}.of`, at ? '=against' : '=Aim', this.options(false), aim.of, (value) => { aim.of = value; aim.material = ''; aim.want = MOST.test(value) ? 'most' : 'least'; this.drawAims(); this.focus(`${name}.of`); }), 'grow'),
        aim.of === 'free_preservative_mg_kg' ? this.material(name, aim) : null,
        this.cell(this.choice(`${name}.want`, '=as', [['least', 'little as can be'], ['most', 'much as can be']], aim.want || 'least', (value) => { aim.want = value; })),
        aims.length > 1 ? this.verb('Leave it out', () => { aims.splice(at, 1); this.drawAims(); this.focus('aims.0.of'); }, `Leave aim ${at + 1} out`) : null);
    });
    this.aims.replaceChildren(...rows, ...(aims.length < 3 ? [this.verb(aims.length ? 'Set another aim against it' : 'Add an aim', () => { aims.push({ of: aims.some((one) => one.of === 'viscosity_mpa_s') ? 'natural_origin_percent' : 'viscosity_mpa_s', material: '', want: 'most' }); this.drawAims(); this.focus(`aims.${aims.length - 1}.of`); })] : []));
  }

  drawLines() {
    const rows = this.form.lines.map((line, at) => {
      const own = this.shown[at] ?? {};
      const name = `lines.${at}`;
      const head = h('th', { scope: 'row' }, line.material, own.function ? h('span', { class: 'small' }, own.function) : null);
      if (own.stays) return h('tr', { class: 'stays' }, head, h('td', { class: 'figure' }, own.now), h('td', { colSpan: 4, class: 'aside' }, `stays: ${own.stays}`));
      const options = own.can_go ? MAY : MAY.slice(0, 2);
      const may = this.choice(`${name}.may`, `${line.material}: may`, options, line.may, (value) => { line.may = value; this.drawLines(); this.focus(`${name}.may`); });
      const ends = line.may === 'stay' ? [h('td', { colSpan: 3, class: 'aside' }, own.usual ? `usual level ${echo(String(own.usual[0]))} to ${echo(String(own.usual[1]))} %` : '')]
        : [['least', 'from'], ['most', 'to'], ['step', 'in steps of']].map(([key, word]) => { const it = this.number(`${name}.${key}`, `${line.material}: ${word}, ${own.unit}`, line, key); return h('td', {}, h('span', { class: 'cell-name' }, `${word} `), h('span', { class: 'with-unit' }, it.field, h('span', { class: 'unit' }, own.unit === 'pH' ? '' : own.unit === '% active' && key !== 'least' ? '%' : own.unit)), it.wrong); });
      return h('tr', { class: line.may === 'stay' ? 'stays' : '' }, head, h('td', { class: 'figure' }, echo(own.now ?? '')), h('td', {}, may.field, may.wrong), ...ends);
    });
    this.lines.replaceChildren(h('table', { class: 'calm better-lines' }, h('caption', { class: 'visually-hidden' }, 'Lines of the formula and what each may do'),
      h('thead', {}, h('tr', {}, ...['Raw material', 'Now', 'This line', 'From', 'To', 'In steps of'].map((words, at) => h('th', { scope: 'col', class: at === 1 ? 'figure' : '' }, words)))), h('tbody', {}, ...rows)));
  }

  drawWishes() {
    const { wishes } = this.form;
    const rows = wishes.map((wish, at) => {
      const name = `wishes.${at}`;
      const many = wish.of === 'sum' || wish.of === 'ratio';
      const unit = this.unit(wish.of);
      return h('div', { class: 'better-row' },
        this.cell(this.choice(`${name}.of`, '=Wish', this.options(true), wish.of, (value) => { Object.assign(wish, { of: value, material: '', over: [], under: [], least: '', most: '' }); this.drawWishes(); this.focus(`${name}.of`); }), 'grow'),
        wish.of === 'free_preservative_mg_kg' ? this.material(name, wish) : null,
        this.cell(this.number(`${name}.least`, '=at least', wish, 'least'), 'short', unit), this.cell(this.number(`${name}.most`, '=at most', wish, 'most'), 'short', unit),
        this.verb('Leave it out', () => { wishes.splice(at, 1); this.drawWishes(); this.focus(wishes.length ? `wishes.${Math.min(at, wishes.length - 1)}.of` : ''); }, `Leave wish ${at + 1} out`),
        many ? this.ticks(`${name}.over`, wish.of === 'sum' ? 'Lines that are summed' : 'Lines above', wish.over, (value) => { wish.over = value; }) : null,
        wish.of === 'ratio' ? this.ticks(`${name}.under`, 'Lines below', wish.under, (value) => { wish.under = value; }) : null);
    });
    this.wishes.replaceChildren(...(rows.length ? rows : [h('p', { class: 'aside' }, 'No wish: only the aim and the ranges count.')]), this.verb('Add a wish', () => { wishes.push({ of: 'ph', material: '', over: [], under: [], least: '', most: '' }); this.drawWishes(); this.focus(`wishes.${wishes.length - 1}.of`); }));
  }

  /** @param {string} name @param {string} legend @param {string[]} chosen @param {(chosen: string[]) => void} take */
  ticks(name, legend, chosen, take) {
    const boxes = this.materials().map(([material]) => h('label', { class: 'tick' }, h('input', { type: 'checkbox', value: material, checked: chosen.includes(material), onchange: () => { take([...group.querySelectorAll('input')].filter((one) => one.checked).map((one) => one.value)); this.changed(); } }), material));
    const group = h('fieldset', { class: 'better-ticks' }, h('legend', {}, legend), ...boxes);
    const it = this.named(name, group, legend);
    return h('div', { class: 'whole' }, it.field, it.wrong);
  }

  /** @param {string} name */
  focus(name) {
    this.fields.get(name)?.field.focus();
  }

  calm() {
    this.trouble.hidden = true;
    for (const { field, wrong } of this.fields.values()) {
      wrong.hidden = true;
      field.removeAttribute('aria-invalid');
      field.removeAttribute('aria-describedby');
    }
  }

  /** @param {import('./api.js').Told} told */
  tell(told) {
    const at = this.fields.get(told.place?.field ?? '') ?? this.fields.get(`${told.place?.field}.of`);
    const wrong = at && at.field.isConnected ? at.wrong : this.trouble;
    wrong.hidden = false;
    wrong.replaceChildren(h('b', {}, told.what), ` ${told.why} ${told.what_now}`);
    if (at && wrong !== this.trouble) {
      at.field.setAttribute('aria-invalid', 'true');
      at.field.setAttribute('aria-describedby', wrong.id);
      at.field.focus();
    }
    wrong.scrollIntoView({ block: 'nearest' });
  }
}
