// @ts-check
/** One figure: a cursor for pointer and keyboard, a closer look, the numbers as a table, a file to take away. */

import { announce, h, s } from './dom.js';
import { settings } from './settings.js';

/**
 * @typedef {{caption: string, head: string[], rows: string[][]}} Table
 * @typedef {{id: string, title: string, caption: string, svg: string, table: Table, choices?: Array<[string, string]>, chosen?: string, zooms?: boolean}} Plate
 * @typedef {{upright?: string, across?: [number, number]}} Look how a figure is looked at: what stands upright, which part of the axis across
 * @typedef {{left: number, right: number, top: number, bottom: number, low: number, high: number, logarithmic: boolean, yLow: number, yHigh: number, yLogarithmic: boolean, group: Element}} Plot
 */

/** Rows a table needs before a cursor walks through it. */
const ENOUGH = 8;
/** The closest look: a factor on a logarithmic axis, a share of the whole on a linear one. */
const CLOSEST = { logarithmic: Math.log(2), share: 0.02 };

let made = 0;

export class PlateView {
  /** @param {(look: Look) => void} [again] asks for the figure as it shall be looked at; without it there is no closer look */
  constructor(again) {
    this.again = again;
    /** @type {Look} */ this.look = {};
    this.svg = '';
    /** @type {Array<{x: number, cells: string[]}>} */ this.rows = [];
    /** @type {[number, number]|null} */ this.whole = null;
    /** @type {number|null} */ this.at = null;
    /** @type {{from: number, box: any}|null} */ this.picking = null;
    this.figure = h('div', { class: 'plate-figure', tabIndex: 0, role: 'slider', 'aria-roledescription': 'cursor over the figure' });
    this.read = h('p', { class: 'cursor-read' });
    this.view = h('div', { class: 'plate-view' });
    this.captionText = h('figcaption', {});
    this.table = h('div', { class: 'plate-table', tabIndex: -1 });
    this.details = h('details', {}, h('summary', {}, 'The numbers as a table'), this.table);
    this.more = h('div', { class: 'plate-more' });
    this.element = h('figure', { class: 'plate' }, this.figure, this.read, this.captionText, this.view, this.more,
      h('div', { class: 'plate-foot' }, this.details, h('div', { class: 'verbs' },
        ...['SVG', 'PNG', 'CSV'].map((kind) => h('button', { class: 'verb plain', type: 'button', 'aria-label': `Take the figure away as ${kind}`, onclick: () => this.take(kind) }, kind)))));
    this.listen();
  }

  listen() {
    const on = (/** @type {string} */ name, /** @type {(event: any) => void} */ act, /** @type {AddEventListenerOptions} */ how = {}) => this.figure.addEventListener(name, act, how);
    on('pointermove', (event) => { this.point(event); this.pick(event); });
    on('pointerdown', (event) => { this.point(event); this.pick(event); });
    on('pointerup', (event) => this.picked(event));
    on('pointercancel', () => this.letGo());
    on('pointerleave', (event) => { if (event.pointerType === 'mouse' && document.activeElement !== this.figure) this.clear(); });
    on('dblclick', () => this.lookAt(null));
    on('blur', () => this.clear());
    on('wheel', (event) => {
      // A wheel alone scrolls the page; with Ctrl, and as two fingers on a pad, it looks closer.
      const plot = this.plot();
      if (!event.ctrlKey || !plot || !this.zooms()) return;
      event.preventDefault();
      this.zoom(event.deltaY > 0 ? 1.25 : 0.8, this.valueAt(plot, event) ?? undefined);
    }, { passive: false });
    on('keydown', (event) => this.key(event));
  }

  zooms() {
    return Boolean(this.again && this.plate?.zooms);
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const done = () => event.preventDefault();
    if (this.zooms()) {
      const at = this.at === null ? undefined : this.rows[this.at]?.x;
      if (event.key === '+' || event.key === '=') { done(); this.zoom(0.5, at); return; }
      if (event.key === '-' || event.key === '_') { done(); this.zoom(2, at); return; }
      if (event.key === '0') { done(); this.lookAt(null); return; }
      if (event.shiftKey && (event.key === 'ArrowLeft' || event.key === 'ArrowRight')) { done(); this.pan(event.key === 'ArrowLeft' ? -0.25 : 0.25); return; }
    }
    const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
    if (step === undefined && event.key !== 'Home' && event.key !== 'End') return;
    const shown = this.shown();
    if (!shown.length) return;
    done();
    const last = shown.length - 1;
    const now = this.at === null ? -1 : shown.indexOf(this.at);
    const start = now >= 0 ? now : Math.floor(shown.length / 2) - (step ?? 0);
    this.move(shown[event.key === 'Home' ? 0 : event.key === 'End' ? last : Math.max(0, Math.min(last, start + (step ?? 0)))]);
  }

  /** Rows that lie in the part that is looked at. */
  shown() {
    const plot = this.plot();
    if (!plot) return [];
    const slack = 1e-6 * Math.abs(plot.high - plot.low);
    return this.rows.flatMap((row, index) => (row.x >= plot.low - (plot.logarithmic ? 1e-6 * plot.low : slack) && row.x <= plot.high * (plot.logarithmic ? 1 + 1e-6 : 1) + (plot.logarithmic ? 0 : slack) ? [index] : []));
  }

  /** @param {Plate} plate @param {number|null} number its number among the plates, where they are counted */
  update(plate, number) {
    this.plate = plate;
    const key = `${number}|${plate.title}|${plate.caption}`;
    if (this.captionText.dataset.key !== key) {
      this.captionText.dataset.key = key;
      const title = plate.title.replace(/\.$/, '');
      this.captionText.replaceChildren(h('b', {}, number === null ? `${title}.` : `Plate ${number}. ${title}.`), ` ${plate.caption}`);
      const closer = this.zooms() ? ' Plus looks closer, minus wider, 0 at the whole; Shift with an arrow moves along.' : '';
      this.figure.setAttribute('aria-label', `${plate.title}. Arrow keys move the cursor.${closer}`);
    }
    if (this.svg !== plate.svg) {
      this.svg = plate.svg;
      this.draw(plate);
    }
    const cursor = Boolean(this.plot()) && this.rows.length > ENOUGH;
    this.figure.classList.toggle('with-cursor', cursor);
    this.figure.setAttribute('role', cursor ? 'slider' : 'group');
    if (cursor) this.figure.tabIndex = 0; else this.figure.removeAttribute('tabindex');
    this.fillView(plate);
  }

  /** @param {Plate} plate */
  draw(plate) {
    // Parsed as an image document, so that nothing in it can run; only known drawing elements are taken over.
    const drawn = new DOMParser().parseFromString(plate.svg, 'image/svg+xml').documentElement;
    if (drawn.nodeName === 'svg') {
      for (const bad of drawn.querySelectorAll('script, foreignObject, style, a')) bad.remove();
      drawn.removeAttribute('width');
      drawn.removeAttribute('height');
      this.figure.replaceChildren(document.importNode(drawn, true));
    }
    this.rows = plate.table.rows.map((cells) => ({ x: Number(String(cells[0]).replace('−', '-')), cells })).filter((row) => Number.isFinite(row.x));
    this.cursor = null;
    const plot = this.plot();
    if (plot && !this.look.across) this.whole = [plot.low, plot.high];
    const xs = this.rows.map((row) => row.x);
    if (xs.length) { this.figure.setAttribute('aria-valuemin', String(Math.min(...xs))); this.figure.setAttribute('aria-valuemax', String(Math.max(...xs))); }
    this.fillTable(plate);
    if (this.at !== null && document.activeElement === this.figure) {
      const shown = this.shown();
      if (shown.length) this.move(shown.reduce((best, one) => (Math.abs(one - Number(this.at)) < Math.abs(best - Number(this.at)) ? one : best), shown[0]));
    }
  }

  /** What stands upright, and how close the look is. @param {Plate} plate */
  fillView(plate) {
    const closer = Boolean(this.look.across);
    const key = JSON.stringify([plate.choices ?? [], plate.chosen, this.zooms(), closer]);
    if (this.view.dataset.key === key) return;
    const focused = document.activeElement instanceof HTMLElement && this.view.contains(document.activeElement) ? document.activeElement.dataset.verb : null;
    this.view.dataset.key = key;
    made += 1;
    const name = `upright-${made}`;
    const verb = (/** @type {string} */ word, /** @type {string} */ verbName, /** @type {() => void} */ act, off = false) => h('button', { class: 'verb plain', type: 'button', disabled: off, data: { verb: verbName }, onclick: act }, word);
    const choices = plate.choices?.length ? h('span', { class: 'either', role: 'radiogroup', 'aria-label': 'What stands upright' }, ...plate.choices.map(([value, words]) => h('label', {},
      h('input', { type: 'radio', name, value, checked: value === plate.chosen, data: { verb: `upright-${value}` }, onchange: () => { this.look = { ...this.look, upright: value }; this.again?.(this.look); } }), words))) : null;
    this.view.replaceChildren(...[choices, this.zooms() ? h('span', { class: 'closer' }, verb('Closer', 'closer', () => this.zoom(0.5)), verb('Wider', 'wider', () => this.zoom(2), !closer), verb('Whole', 'whole', () => this.lookAt(null), !closer)) : null].filter((one) => one !== null));
    if (focused) {
      const again = /** @type {HTMLElement|null} */ (this.view.querySelector(`[data-verb="${focused}"]`));
      (again instanceof HTMLButtonElement && again.disabled ? /** @type {HTMLElement|null} */ (this.view.querySelector('[data-verb="closer"]')) : again)?.focus();
    }
  }

  /** @param {Plate} plate */
  fillTable(plate) {
    this.table.replaceChildren(h('table', { class: 'calm' },
      h('thead', {}, h('tr', {}, ...plate.table.head.map((cell) => h('th', { scope: 'col' }, cell)))),
      h('tbody', {}, ...plate.table.rows.map((cells) => h('tr', {}, ...cells.map((cell) => h('td', { class: /^[−–\-+\d.,e %]+$/.test(cell) ? 'figure' : '' }, shownNumber(cell))))))));
  }

  /** @returns {Plot|null} */
  plot() {
    const group = this.figure.querySelector('g.plot');
    if (!group) return null;
    const take = (/** @type {string} */ name) => Number(group.getAttribute(`data-${name}`) ?? NaN);
    const scale = (/** @type {string} */ name) => group.getAttribute(`data-${name}-scale`) === 'logarithmic';
    return { group, left: take('left'), right: take('right'), top: take('top'), bottom: take('bottom'), low: take('x-low'), high: take('x-high'), logarithmic: scale('x'), yLow: take('y-low'), yHigh: take('y-high'), yLogarithmic: scale('y') };
  }

  /** The value across under a pointer. @param {Plot} plot @param {MouseEvent} event */
  valueAt(plot, event) {
    const matrix = /** @type {SVGSVGElement|null} */ (this.figure.querySelector('svg'))?.getScreenCTM();
    if (!matrix) return null;
    const x = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse()).x;
    return between(plot.low, plot.high, (x - plot.left) / (plot.right - plot.left), plot.logarithmic);
  }

  /** @param {PointerEvent} event */
  point(event) {
    const plot = this.plot();
    const value = plot && this.valueAt(plot, event);
    const shown = this.shown();
    if (!plot || value === null || this.rows.length <= ENOUGH || !shown.length) return;
    const far = (/** @type {number} */ index) => Math.abs(share(plot.low, plot.high, this.rows[index].x, plot.logarithmic) - share(plot.low, plot.high, value, plot.logarithmic));
    this.move(shown.reduce((best, index) => (far(index) < far(best) ? index : best), shown[0]));
  }

  /** A stretch of the axis drawn over with the mouse is looked at closer. @param {PointerEvent} event */
  pick(event) {
    const plot = this.plot();
    if (!plot || !this.zooms() || event.pointerType === 'touch') return;
    const value = this.valueAt(plot, event);
    if (value === null) return;
    if (event.type === 'pointerdown') {
      if (event.button !== 0) return;
      this.picking = { from: value, box: null };
      this.figure.setPointerCapture(event.pointerId);
      return;
    }
    if (!this.picking) return;
    const [a, b] = [this.picking.from, value].map((one) => plot.left + Math.max(0, Math.min(1, share(plot.low, plot.high, one, plot.logarithmic))) * (plot.right - plot.left)).sort((one, other) => one - other);
    if (b - a < 8 && !this.picking.box) return;
    if (!this.picking.box) {
      this.picking.box = s('rect', { class: 'picked', y: plot.top, height: plot.bottom - plot.top });
      plot.group.append(this.picking.box);
    }
    this.picking.box.setAttribute('x', String(a));
    this.picking.box.setAttribute('width', String(b - a));
  }

  /** @param {PointerEvent} event */
  picked(event) {
    const { picking } = this;
    const plot = this.plot();
    this.letGo();
    if (!picking?.box || !plot) return;
    const to = this.valueAt(plot, event);
    if (to !== null) this.lookAt([Math.min(picking.from, to), Math.max(picking.from, to)]);
  }

  letGo() {
    this.picking?.box?.remove();
    this.picking = null;
  }

  /** @param {number} factor below one: closer @param {number} [around] */
  zoom(factor, around) {
    const plot = this.plot();
    if (!plot || !this.zooms()) return;
    const middle = around === undefined ? 0.5 : Math.max(0, Math.min(1, share(plot.low, plot.high, around, plot.logarithmic)));
    const from = middle - middle * factor;
    this.lookAt([between(plot.low, plot.high, from, plot.logarithmic), between(plot.low, plot.high, from + factor, plot.logarithmic)]);
  }

  /** @param {number} by share of what is seen */
  pan(by) {
    const plot = this.plot();
    if (!plot || !this.whole || !this.look.across) return;
    const [low, high] = this.whole.map((one) => share(plot.low, plot.high, one, plot.logarithmic));
    const step = Math.max(low, Math.min(high - 1, by));
    this.lookAt([between(plot.low, plot.high, step, plot.logarithmic), between(plot.low, plot.high, 1 + step, plot.logarithmic)]);
  }

  /** @param {[number, number]|null} across the part to look at; nothing: the whole */
  lookAt(across) {
    const plot = this.plot();
    if (!plot || !this.zooms() || (across === null && !this.look.across)) return;
    /** @type {[number, number]|undefined} */ let part;
    if (across !== null && this.whole) {
      const [least, most] = this.whole;
      let [low, high] = across.map((end) => Math.max(least, Math.min(most, end)));
      const narrow = plot.logarithmic ? Math.log(high / low) < CLOSEST.logarithmic : high - low < CLOSEST.share * (most - least);
      if (narrow) {
        const middle = between(low, high, 0.5, plot.logarithmic);
        [low, high] = plot.logarithmic ? [middle / Math.SQRT2, middle * Math.SQRT2] : [middle - 0.5 * CLOSEST.share * (most - least), middle + 0.5 * CLOSEST.share * (most - least)];
      }
      if (share(least, most, low, plot.logarithmic) > 0.001 || share(least, most, high, plot.logarithmic) < 0.999) part = [low, high];
    }
    this.look = { ...this.look, across: part };
    announce(part ? `From ${shownNumber(part[0].toPrecision(2))} to ${shownNumber(part[1].toPrecision(2))}.` : 'The whole figure.');
    this.again?.(this.look);
  }

  /** @param {number} index */
  move(index) {
    const plot = this.plot();
    const row = this.rows[index];
    if (!plot || !row) return;
    this.at = index;
    const x = plot.left + share(plot.low, plot.high, row.x, plot.logarithmic) * (plot.right - plot.left);
    if (!this.cursor) {
      this.cursor = s('g', { class: 'cursor' }, s('line', { y1: plot.top, y2: plot.bottom }), s('circle', { r: 4 }));
      plot.group.append(this.cursor);
    }
    const [line, ring] = this.cursor.children;
    line.setAttribute('x1', String(x));
    line.setAttribute('x2', String(x));
    const first = row.cells.slice(1).find((cell) => cell !== '') ?? '';
    const y = plot.bottom - share(plot.yLow, plot.yHigh, Number(first.replace('−', '-')), plot.yLogarithmic) * (plot.bottom - plot.top);
    const inside = first !== '' && Number.isFinite(y) && y >= plot.top && y <= plot.bottom;
    ring.setAttribute('visibility', inside ? 'visible' : 'hidden');
    if (inside) { ring.setAttribute('cx', String(x)); ring.setAttribute('cy', String(y)); }
    const head = this.plate?.table.head ?? [];
    this.read.replaceChildren(...row.cells.flatMap((cell, at) => (cell ? [h('span', {}, `${head[at] ?? ''} `, h('b', {}, shownNumber(cell)))] : [])));
    this.figure.setAttribute('aria-valuetext', this.read.textContent ?? '');
    this.figure.setAttribute('aria-valuenow', String(row.x));
    if (document.activeElement === this.figure) announce(this.read.textContent ?? '');
  }

  clear() {
    this.at = null;
    this.cursor?.remove();
    this.cursor = null;
    this.read.replaceChildren();
  }

  /** The figure for a file: inks resolved to black on white, nothing that needs this page. */
  standalone() {
    const plain = this.svg.replace(/var\(--[a-z0-9-]+,\s*([^)]+)\)/g, '$1').replace(/currentColor/g, '#1a211e');
    return plain.includes('xmlns=') ? plain : plain.replace('<svg', '<svg xmlns="http://www.w3.org/2000/svg"');
  }

  /** @param {string} kind */
  async take(kind) {
    const name = this.plate?.id ?? 'plate';
    if (kind === 'SVG') return hand(new Blob([this.standalone()], { type: 'image/svg+xml' }), `${name}.svg`);
    if (kind === 'CSV') {
      const quote = (/** @type {string} */ cell) => (/[",\n]/.test(cell) ? `"${cell.replace(/"/g, '""')}"` : cell.replace('−', '-'));
      const rows = [this.plate?.table.head ?? [], ...(this.plate?.table.rows ?? [])];
      return hand(new Blob([rows.map((row) => row.map(quote).join(',')).join('\r\n')], { type: 'text/csv' }), `${name}.csv`);
    }
    const image = new Image();
    image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(this.standalone())}`;
    await image.decode();
    const canvas = document.createElement('canvas');
    const box = /** @type {SVGSVGElement|null} */ (this.figure.querySelector('svg'))?.viewBox.baseVal;
    canvas.width = (box?.width || image.width) * 2;
    canvas.height = (box?.height || image.height) * 2;
    const paint = canvas.getContext('2d');
    if (!paint) return undefined;
    paint.fillStyle = '#fff';
    paint.fillRect(0, 0, canvas.width, canvas.height);
    paint.drawImage(image, 0, 0, canvas.width, canvas.height);
    canvas.toBlob((blob) => { if (blob) hand(blob, `${name}.png`); });
    return undefined;
  }
}

/** Where a value lies between two ends, 0 at the lower. @param {number} low @param {number} high @param {number} value @param {boolean} logarithmic */
export function share(low, high, value, logarithmic) {
  return logarithmic ? Math.log(value / low) / Math.log(high / low) : (value - low) / (high - low);
}

/** The value at a share of the way between two ends. @param {number} low @param {number} high @param {number} part @param {boolean} logarithmic */
export function between(low, high, part, logarithmic) {
  return logarithmic ? low * (high / low) ** part : low + part * (high - low);
}

/** A number of a table as it is printed: powers of ten written out, in the person's sign. @param {string} text */
export function shownNumber(text) {
  const powers = text.replace(/^([−-]?[\d.]+)e([+-]?)(\d+)$/, (_, factor, sign, exponent) => `${factor} × 10${sign === '-' ? '⁻' : ''}${exponent.replace(/^0+(?=\d)/, '').replace(/\d/g, (/** @type {string} */ digit) => '⁰¹²³⁴⁵⁶⁷⁸⁹'[Number(digit)])}`);
  return settings.sign === 'comma' && /^[−+-]?\d+\.\d+(?: × .*| %)?$/.test(powers) ? powers.replace('.', ',') : powers;
}

/** @param {Blob} blob @param {string} name */
function hand(blob, name) {
  const url = URL.createObjectURL(blob);
  const link = h('a', { href: url, download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
}
