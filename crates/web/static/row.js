// @ts-check
/** One line of the sheet: fields on the left, what follows from them on the right. */

import { ask } from './api.js';
import { canonical, echo } from './figures.js';
import { h, mark, s, say } from './dom.js';
import { readAmount } from './draft.js';
import { troubleBox } from './head.js';
import { numberButton, setNumber } from './number.js';
import { attachShelfSearch } from './shelf_search.js';

/** @typedef {import('./draft.js').Line} Line */

/** @type {Array<[string, string]>} */
const KINDS = [['percent', '% w/w'], ['active_percent', '% as active'], ['remainder', 'q.s. to 100'], ['to_ph', 'q.s. to this pH']];

/**
 * What the sheet lets a row do.
 * @typedef {object} Hands
 * @property {(what: string, key: string, alter: (line: Line) => void) => void} alter
 * @property {() => void} settle
 * @property {(field: string, step: number) => void} walk
 * @property {(event: ClipboardEvent, field: 'material'|'amount') => void} paste
 * @property {(step: -1|1) => void} move
 * @property {() => void} remove
 * @property {() => void} lit
 */

export class RowView {
  /** @param {string} id @param {Hands} hands */
  constructor(id, hands) {
    this.id = id;
    this.hands = hands;
    this.material = h('input', { type: 'text', 'data-field': 'material', maxLength: 160 });
    this.amount = h('input', { type: 'text', 'data-field': 'amount', inputMode: 'decimal', autocomplete: 'off', spellcheck: false, maxLength: 40 });
    this.kind = h('select', { 'data-field': 'kind' }, ...KINDS.map(([value, word]) => h('option', { value }, word)));
    this.number = h('span', {});
    this.shape = h('span', {});
    this.inci = h('span', { class: 'inci' });
    this.settled = numberButton({ aligned: true, unit: false });
    this.grams = numberButton({ aligned: true, unit: false });
    this.more = h('button', { class: 'more', type: 'button', 'aria-expanded': 'false', onclick: () => this.toggleDetail() },
      s('svg', { viewBox: '0 0 20 20', 'aria-hidden': 'true' }, s('path', { d: 'M4 7l6 6 6-6', fill: 'none', stroke: 'currentColor', 'stroke-width': 1.7, 'stroke-linecap': 'round' })));
    this.nameCell = h('div', { class: 'cell name' }, this.material, this.inci);
    this.amountCell = h('div', { class: 'cell amount' }, this.amount);
    this.row = h('div', { class: 'row', role: 'row' },
      h('div', { class: 'no', role: 'cell' }, h('button', { type: 'button', tabIndex: -1, onclick: () => hands.lit() }, this.number, this.shape)),
      this.nameCell, this.amountCell, h('div', { class: 'cell kind' }, this.kind),
      h('div', { class: 'cell settled' }, this.settled), h('div', { class: 'cell grams' }, this.grams), this.more);
    this.troubles = h('div', {});
    this.slot = h('div', { class: 'slot' });
    /** @type {HTMLElement|null} */ this.detail = null;
    /** @type {Map<string, HTMLInputElement>} */ this.detailFields = new Map();
    /** @type {any[]} */ this.lots = [];
    /** @type {HTMLElement|null} */ this.lotOffer = null;
    /** @type {HTMLElement|null} */ this.lotList = null;
    this.element = h('div', { class: 'line', 'data-id': id }, this.row, this.troubles, this.slot);
    this.listen();
  }

  listen() {
    const { hands } = this;
    attachShelfSearch(this.material, (name) => {
      this.material.value = name;
      hands.alter('raw material', `${this.id}.material`, (line) => { line.material = name; });
      hands.settle();
    }, () => this.amount.focus());
    this.wire(this.material, 'material', (value) => hands.alter('raw material', `${this.id}.material`, (line) => { line.material = value; }));
    this.wire(this.amount, 'amount', (value) => hands.alter('amount', `${this.id}.amount`, (line) => {
      const read = readAmount(value, line.kind);
      line.kind = read.kind;
      line.amount = read.amount;
    }));
    this.kind.addEventListener('change', () => {
      hands.settle();
      hands.alter('kind of amount', '', (line) => {
        line.kind = /** @type {any} */ (this.kind.value);
        if (line.kind === 'remainder') line.amount = '';
      });
      hands.settle();
    });
    this.kind.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => this.keys(event, 'kind'));
    this.material.addEventListener('paste', (/** @type {ClipboardEvent} */ event) => hands.paste(event, 'material'));
    this.amount.addEventListener('paste', (/** @type {ClipboardEvent} */ event) => hands.paste(event, 'amount'));
  }

  /** @param {HTMLInputElement} input @param {string} field @param {(value: string) => void} put */
  wire(input, field, put) {
    let before = '';
    input.addEventListener('focus', () => {
      before = input.value;
      this.hands.settle();
      if (!input.matches(':active')) input.select();
    });
    input.addEventListener('input', () => put(input.value));
    input.addEventListener('blur', () => { this.hands.settle(); this.refresh(); });
    input.addEventListener('keydown', (event) => {
      if (event.key === 'Escape') {
        if (input.value !== before) { input.value = before; put(before); input.select(); event.preventDefault(); }
        return;
      }
      this.keys(event, field);
    });
  }

  /** @param {KeyboardEvent} event @param {string} field */
  keys(event, field) {
    const target = /** @type {any} */ (event.target);
    if (event.altKey) {
      if (event.key === 'ArrowUp') this.hands.move(-1);
      else if (event.key === 'ArrowDown') this.hands.move(1);
      else if (event.key === 'Enter') this.toggleDetail(true);
      else if (event.key === 'Delete') this.hands.remove();
      else return;
      event.preventDefault();
      return;
    }
    if (event.ctrlKey || event.metaKey) return;
    if (event.key === 'Enter') { this.hands.walk(field, event.shiftKey ? -1 : 1); event.preventDefault(); } else if (event.key === 'ArrowDown' && field !== 'kind') { this.hands.walk(field, 1); event.preventDefault(); } else if (event.key === 'ArrowUp' && field !== 'kind') { this.hands.walk(field, -1); event.preventDefault(); } else if (event.key === 'ArrowRight' && field === 'material' && target.selectionStart === target.value.length && target.selectionEnd === target.value.length) {
      this.amount.focus(); event.preventDefault();
    } else if (event.key === 'ArrowLeft' && field === 'amount' && target.selectionStart === 0 && target.selectionEnd === 0) {
      this.material.focus(); event.preventDefault();
    }
  }

  /** @param {boolean} [focus] */
  toggleDetail(focus = false) {
    if (this.detail) {
      this.detail.remove();
      this.detail = null;
      this.detailFields.clear();
      this.more.setAttribute('aria-expanded', 'false');
      if (focus) this.material.focus();
      return;
    }
    /** @param {string} name @param {string} label @param {boolean} numeric @param {string} [className] */
    const field = (name, label, numeric, className) => {
      const input = h('input', { type: 'text', autocomplete: 'off', inputMode: numeric ? 'decimal' : 'text', maxLength: 400 });
      if (numeric) input.dataset.numeric = '1';
      this.wire(input, name, (value) => this.hands.alter(label.toLowerCase(), `${this.id}.${name}`, (line) => { /** @type {any} */ (line)[name] = numeric ? canonical(value) ?? value : value; }));
      this.detailFields.set(name, input);
      return h('label', { class: className ?? '' }, label, input);
    };
    this.detail = h('div', { class: 'detail' },
      field('assay_percent', 'Assay of the lot, %', true), field('lot', 'Lot', false), field('tolerance_percent', 'Tolerance, %', true), field('note', 'Remark', false, 'wide'),
      h('div', { class: 'verbs' },
        h('button', { class: 'verb plain', type: 'button', onclick: () => this.hands.move(-1) }, 'Move up'),
        h('button', { class: 'verb plain', type: 'button', onclick: () => this.hands.move(1) }, 'Move down'),
        h('button', { class: 'verb plain', type: 'button', onclick: () => this.hands.remove() }, 'Take the line out')));
    this.row.after(/** @type {HTMLElement} */ (this.detail));
    const [offer, list] = [h('div', { class: 'lot-offer', role: 'status' }), h('datalist', { id: `lots-${this.id}` })];
    [this.lotOffer, this.lotList] = [offer, list];
    this.detail?.querySelector('.verbs')?.before(offer, list);
    this.detailFields.get('lot')?.setAttribute('list', list.id);
    this.detailFields.get('lot')?.addEventListener('input', () => this.offerLot());
    this.readLots();
    this.more.setAttribute('aria-expanded', 'true');
    this.refresh();
    if (focus) this.detailFields.get('assay_percent')?.focus();
  }

  /** The lots of the raw material on the shelf, offered while the code is typed. */
  async readLots() {
    const name = this.line?.material;
    if (!name) return;
    try {
      this.lots = (await ask('GET', `/api/lots?material=${encodeURIComponent(name)}`)).filter((/** @type {any} */ lot) => !lot.struck);
    } catch {
      return;
    }
    this.lotList?.replaceChildren(...this.lots.map((lot) => h('option', { value: lot.code }, [lot.supplier, lot.dates].filter(Boolean).join('; '))));
    this.offerLot();
  }

  /** The assay of the lot that is named decides what to weigh once it is taken into the line. */
  offerLot() {
    if (!this.lotOffer) return;
    const code = (this.line?.lot ?? '').trim().toLowerCase();
    const lot = code ? this.lots.find((one) => one.code.toLowerCase() === code) : null;
    const assay = lot?.active ? lot.assay_percent?.value : null;
    const taken = assay && Number(assay) === Number(this.line?.assay_percent);
    const take = () => {
      this.hands.alter('assay of the lot', '', (line) => { line.assay_percent = String(assay); });
      this.hands.settle();
      this.refresh();
      this.offerLot();
    };
    const known = this.lots.map((one) => one.code).join(', ');
    this.lotOffer.replaceChildren(...(lot ? [`Lot ${lot.code}: ${assay ? `${echo(String(assay))} % ${lot.active}` : 'no assay on file'}. ${lot.dates} `, assay && !taken ? h('button', { class: 'verb', type: 'button', onclick: take }, 'Take its assay') : taken ? 'Its assay decides what is weighed.' : '']
      : [code && this.lots.length ? `No lot of this code is on file; on file: ${known}.` : this.lots.length ? `On file: ${known}.` : '']));
  }

  refresh() {
    if (this.line) this.fields(this.line);
  }

  /** @param {Line} line */
  fields(line) {
    this.line = line;
    const put = (/** @type {HTMLInputElement} */ input, /** @type {string} */ text) => { if (document.activeElement !== input && input.value !== text) input.value = text; };
    put(this.material, line.material);
    put(this.amount, line.kind === 'remainder' ? '' : line.kind === 'to_ph' && line.amount ? `pH ${echo(line.amount)}` : echo(line.amount));
    this.amount.placeholder = line.kind === 'remainder' ? 'q.s.' : '';
    if (this.kind.value !== line.kind) this.kind.value = line.kind;
    for (const [name, input] of this.detailFields) {
      const value = /** @type {any} */ (line)[name] ?? '';
      put(input, input.dataset.numeric ? echo(value) : value);
    }
  }

  /**
   * @param {Line} line @param {number} number @param {any} reading @param {any} weighing @param {any[]} remarks @param {string} gravity
   * @param {(path: string, label: string, text: string, button: HTMLElement) => void} note
   */
  update(line, number, reading, weighing, remarks, gravity, note) {
    this.fields(line);
    say(this.number, String(number));
    const name = line.material || `line ${number}`;
    this.material.setAttribute('aria-label', `Raw material, line ${number}`);
    this.amount.setAttribute('aria-label', `Amount of ${name}`);
    this.kind.setAttribute('aria-label', `How the amount of ${name} is meant`);
    this.more.setAttribute('aria-label', `Assay, lot, tolerance and more of ${name}`);
    this.more.title = 'Assay, lot, tolerance, remark, move, take out';
    const tags = [line.assay_percent ? `assay ${echo(line.assay_percent)} %` : '', line.lot ? `lot ${line.lot}` : ''].filter(Boolean).join(', ');
    const key = `${(reading?.inci ?? []).join(', ')}|${tags}|${line.note}|${reading?.layer}`;
    if (this.inci.dataset.key !== key) {
      this.inci.dataset.key = key;
      const names = reading?.inci ?? [];
      const shown = names.slice(0, 3).join(', ') + (names.length > 3 ? ` and ${names.length - 3} more` : '');
      this.inci.replaceChildren(shown, tags ? h('span', { class: 'tag' }, `${shown ? ' · ' : ''}${tags}`) : '', line.note ? h('span', { class: 'tag' }, ` · ${line.note}`) : '', reading && reading.layer !== 'shipped' ? ' · own record' : '');
      this.inci.title = names.join(', ');
    }
    const basis = reading?.basis ?? '';
    this.row.classList.toggle('solved', basis === 'solved');
    this.row.classList.toggle('remainder', basis === 'remainder');
    // As many digits as were typed; an amount without an interval gets two, so that the column still reads as a sum.
    const asTyped = reading?.exact && line.kind === 'percent' && Number(line.amount) === Number(reading.exact);
    // A percent divided by an assay is exact to many places; only what can be weighed is shown.
    const typed = asTyped ? line.amount : /\.\d{5}/.test(reading?.exact ?? '') ? Number(reading.exact).toFixed(3) : reading?.exact;
    const percent = setNumber(this.settled, reading?.percent, `${name}, % w/w`, { exact: typed, most: 3, least: typeof reading?.percent?.low === 'number' ? 0 : 2 });
    const grams = setNumber(this.grams, weighing?.reading?.grade ? weighing.reading : null, `${name}, grams to weigh`, { exact: weighing?.grams });
    if (reading) {
      note(`${this.id}.percent`, `${name}, %`, percent, this.settled);
      note(`${this.id}.grams`, `${name}, g`, grams, this.grams);
    }
    if (this.shape.dataset.gravity !== gravity) {
      this.shape.dataset.gravity = gravity;
      this.shape.className = gravity ? `gravity-${gravity}` : '';
      this.shape.replaceChildren(...(gravity ? [mark(gravity, 'shape'), h('span', { class: 'visually-hidden' }, gravity)] : []));
    }
    this.nameCell.classList.toggle('bad', remarks.some((one) => one.field === 'material'));
    this.amountCell.classList.toggle('bad', remarks.some((one) => one.field === 'amount' || one.field === 'kind'));
    const said = JSON.stringify(remarks);
    if (this.troubles.dataset.said !== said) {
      this.troubles.dataset.said = said;
      this.troubles.replaceChildren(...remarks.map((one) => troubleBox(one, (offer) => {
        this.hands.settle();
        this.hands.alter('raw material', '', (target) => { target.material = offer; });
      })));
    }
  }
}
