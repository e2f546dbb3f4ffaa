// @ts-check
/** Figures under the sheet, like plates in a paper: a number, a caption, a cursor, a table, a file to take away. */

import { announce, h, s } from './dom.js';
import { settings } from './settings.js';

/** @typedef {{id: string, title: string, caption: string, svg: string, table: {caption: string, head: string[], rows: string[][]}}} Plate */

export class PlatesView {
  /** @param {HTMLElement} place */
  constructor(place) {
    this.place = place;
    /** @type {Map<string, PlateView>} */ this.views = new Map();
  }

  /** @param {Plate[]} plates */
  update(plates) {
    for (const [id, view] of this.views) {
      if (!plates.some((plate) => plate.id === id)) { view.element.remove(); this.views.delete(id); }
    }
    plates.forEach((plate, index) => {
      let view = this.views.get(plate.id);
      if (!view) {
        view = new PlateView();
        this.views.set(plate.id, view);
      }
      view.update(plate, index + 1);
      if (this.place.children[index] !== view.element) this.place.insertBefore(view.element, this.place.children[index] ?? null);
    });
  }
}

class PlateView {
  constructor() {
    this.svg = '';
    this.figure = h('div', { class: 'plate-figure', tabIndex: 0, role: 'slider', 'aria-roledescription': 'cursor over the figure' });
    this.read = h('p', { class: 'cursor-read' });
    this.captionText = h('figcaption', {});
    this.table = h('div', { class: 'plate-table' });
    this.details = h('details', {}, h('summary', {}, 'The numbers as a table'), this.table);
    this.element = h('figure', { class: 'plate' }, this.figure, this.read, this.captionText,
      h('div', { class: 'plate-foot' }, this.details, h('div', { class: 'verbs' },
        ...['SVG', 'PNG', 'CSV'].map((kind) => h('button', { class: 'verb plain', type: 'button', onclick: () => this.take(kind) }, kind)))));
    /** @type {number|null} */ this.at = null;
    this.figure.addEventListener('pointermove', (/** @type {PointerEvent} */ event) => this.point(event));
    this.figure.addEventListener('pointerdown', (/** @type {PointerEvent} */ event) => this.point(event));
    this.figure.addEventListener('pointerleave', (/** @type {PointerEvent} */ event) => { if (event.pointerType === 'mouse' && document.activeElement !== this.figure) this.clear(); });
    this.figure.addEventListener('blur', () => this.clear());
    this.figure.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
      const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
      if (step === undefined && event.key !== 'Home' && event.key !== 'End') return;
      const rows = this.rows.length;
      if (!rows) return;
      event.preventDefault();
      const start = this.at ?? Math.floor(rows / 2) - (step ?? 0);
      this.move(event.key === 'Home' ? 0 : event.key === 'End' ? rows - 1 : Math.max(0, Math.min(rows - 1, start + (step ?? 0))));
    });
    /** @type {Array<{x: number, cells: string[]}>} */ this.rows = [];
  }

  /** @param {Plate} plate @param {number} number */
  update(plate, number) {
    this.plate = plate;
    const key = `${number}|${plate.title}|${plate.caption}`;
    if (this.captionText.dataset.key !== key) {
      this.captionText.dataset.key = key;
      this.captionText.replaceChildren(h('b', {}, `Plate ${number}. ${plate.title.replace(/\.$/, '')}.`), ` ${plate.caption}`);
      this.figure.setAttribute('aria-label', `${plate.title}. Arrow keys move the cursor.`);
    }
    if (this.svg !== plate.svg) {
      this.svg = plate.svg;
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
      this.fillTable(plate);
      if (this.at !== null && document.activeElement === this.figure) this.move(Math.min(this.at, this.rows.length - 1));
    }
    const plot = this.plot();
    this.figure.classList.toggle('with-cursor', Boolean(plot) && this.rows.length > 8);
    if (this.rows.length <= 8) { this.figure.removeAttribute('tabindex'); this.figure.setAttribute('role', 'group'); }
  }

  /** @param {Plate} plate */
  fillTable(plate) {
    const sign = (/** @type {string} */ text) => (settings.sign === 'comma' && /^[−-]?\d+\.\d+$/.test(text) ? text.replace('.', ',') : text);
    this.table.replaceChildren(h('table', { class: 'calm' },
      h('thead', {}, h('tr', {}, ...plate.table.head.map((cell) => h('th', { scope: 'col' }, cell)))),
      h('tbody', {}, ...plate.table.rows.map((cells) => h('tr', {}, ...cells.map((cell) => h('td', { class: /^[−–\-\d.,]+$/.test(cell) ? 'figure' : '' }, sign(cell))))))));
  }

  plot() {
    const group = this.figure.querySelector('g.plot');
    if (!group) return null;
    const take = (/** @type {string} */ name) => Number(group.getAttribute(`data-${name}`));
    return { group, left: take('left'), right: take('right'), top: take('top'), bottom: take('bottom'), low: take('x-low'), high: take('x-high') };
  }

  /** @param {PointerEvent} event */
  point(event) {
    const plot = this.plot();
    const drawn = /** @type {SVGSVGElement|null} */ (this.figure.querySelector('svg'));
    const matrix = drawn?.getScreenCTM();
    if (!plot || !matrix || this.rows.length <= 8) return;
    const x = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse()).x;
    const value = plot.low + ((x - plot.left) / (plot.right - plot.left)) * (plot.high - plot.low);
    let best = 0;
    this.rows.forEach((row, index) => { if (Math.abs(row.x - value) < Math.abs(this.rows[best].x - value)) best = index; });
    this.move(best);
  }

  /** @param {number} index */
  move(index) {
    const plot = this.plot();
    const row = this.rows[index];
    if (!plot || !row) return;
    this.at = index;
    const x = plot.left + ((row.x - plot.low) / (plot.high - plot.low)) * (plot.right - plot.left);
    if (!this.cursor) {
      this.cursor = s('line', { class: 'cursor', y1: plot.top, y2: plot.bottom });
      plot.group.append(this.cursor);
    }
    this.cursor.setAttribute('x1', String(x));
    this.cursor.setAttribute('x2', String(x));
    const sign = (/** @type {string} */ text) => (settings.sign === 'comma' ? text.replace('.', ',') : text);
    const head = this.plate?.table.head ?? [];
    this.read.replaceChildren(...row.cells.flatMap((cell, at) => (cell ? [h('span', {}, `${head[at] ?? ''} `, h('b', {}, sign(cell)))] : [])));
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

/** @param {Blob} blob @param {string} name */
function hand(blob, name) {
  const url = URL.createObjectURL(blob);
  const link = h('a', { href: url, download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
}
