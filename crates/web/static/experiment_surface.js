// @ts-check
/** A reading across three parts or two axes: chosen, drawn, read under a pointer or with the arrow keys. */

import { ask } from './api.js';
import { announce, h, s } from './dom.js';
import { echo } from './figures.js';
import { PlateView, shownNumber } from './plate.js';

/** A figure over a plane: the cursor goes from place to place of its table. */
export class SurfaceView extends PlateView {
  constructor() {
    super();
    /** @type {Array<[number, number]>} */ this.places = [];
    this.plane = false;
  }

  /** @param {any} plate @param {number|null} number */
  update(plate, number) {
    super.update(plate, number);
    const group = this.figure.querySelector('g.plane');
    const told = group?.getAttribute('data-points') ?? '';
    this.plane = Boolean(group);
    if (!this.plane) return;
    this.places = told.split(';').filter(Boolean).map((/** @type {string} */ text) => /** @type {[number, number]} */ (text.split(' ').map(Number)));
    const cursor = this.places.length > 0;
    this.figure.classList.toggle('with-cursor', cursor);
    this.figure.setAttribute('role', cursor ? 'application' : 'group');
    if (cursor) {
      this.figure.tabIndex = 0;
      this.figure.setAttribute('aria-label', `${plate.title}. Arrow keys go from place to place and read the numbers.`);
      this.figure.removeAttribute('aria-valuemin');
      this.figure.removeAttribute('aria-valuemax');
    }
  }

  plot() {
    return this.plane ? null : super.plot();
  }

  /** @param {PointerEvent} event */
  point(event) {
    if (!this.plane) { super.point(event); return; }
    const matrix = /** @type {SVGSVGElement|null} */ (this.figure.querySelector('svg'))?.getScreenCTM();
    if (!matrix || !this.places.length) return;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    const far = (/** @type {[number, number]} */ place) => Math.hypot(place[0] - at.x, place[1] - at.y);
    const nearest = this.places.reduce((best, place, index) => (far(place) < far(this.places[best]) ? index : best), 0);
    if (far(this.places[nearest]) < 40) this.stand(nearest); else if (document.activeElement !== this.figure) this.clear();
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (!this.plane) { super.key(event); return; }
    const ways = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] });
    const way = ways[event.key];
    if (!way || event.ctrlKey || event.metaKey || event.altKey || !this.places.length) return;
    event.preventDefault();
    if (this.at === null) {
      // From the middle of the region, where nothing is chosen yet.
      const middle = [0, 1].map((of) => this.places.reduce((sum, place) => sum + place[of], 0) / this.places.length);
      const off = (/** @type {number} */ index) => Math.hypot(this.places[index][0] - middle[0], this.places[index][1] - middle[1]);
      this.stand(this.places.reduce((best, _, index) => (off(index) < off(best) ? index : best), 0));
      return;
    }
    const [x, y] = this.places[this.at];
    let best = null;
    let least = Infinity;
    for (const [index, place] of this.places.entries()) {
      const [dx, dy] = [place[0] - x, place[1] - y];
      const along = dx * way[0] + dy * way[1];
      const aside = Math.abs(dx * way[1] - dy * way[0]);
      if (along < 1 || aside > 1.8 * along) continue;
      const cost = along + 2 * aside;
      if (cost < least) { least = cost; best = index; }
    }
    if (best !== null) this.stand(best);
  }

  /** Reads the numbers at a place. @param {number} index */
  stand(index) {
    const group = this.figure.querySelector('g.plane');
    const row = this.plate?.table.rows[index];
    if (!group || !row) return;
    this.at = index;
    const [x, y] = this.places[index];
    if (!this.cursor?.isConnected) {
      this.cursor = s('g', { class: 'cursor' }, s('circle', { r: 7, fill: 'none' }), s('circle', { r: 2 }));
      group.append(this.cursor);
    }
    for (const ring of this.cursor.children) { ring.setAttribute('cx', String(x)); ring.setAttribute('cy', String(y)); }
    const head = this.plate?.table.head ?? [];
    this.read.replaceChildren(...row.flatMap((cell, at) => (cell ? [h('span', {}, `${head[at] ?? ''} `, h('b', {}, shownNumber(cell)))] : [])));
    if (document.activeElement === this.figure) announce(this.read.textContent ?? '');
  }
}

let made = 0;

/** What is looked at, across what, and what is held. */
export class SightView {
  /** @param {any} experiment @param {() => string} model */
  constructor(experiment, model) {
    this.experiment = experiment;
    this.model = model;
    this.asked = 0;
    this.view = new SurfaceView();
    this.view.element.hidden = true;
    const wished = experiment.typed.reads.some((/** @type {any} */ one) => one.wish);
    this.of = this.select('Figure of', [...experiment.reads.map((/** @type {string} */ name) => [name, name]), ...(wished ? [['wishes', 'All wishes together']] : [])]);
    const { parts, settings } = experiment;
    const axes = parts.length > 2 ? parts : [...(parts.length === 2 ? [parts[0]] : []), ...settings];
    this.labels = parts.length > 2 ? ['Up', 'Left', 'Right'] : ['Across', 'Up'];
    const wide = Math.min(axes.length, this.labels.length);
    this.across = axes.length > wide ? this.labels.slice(0, wide).map((label, at) => this.select(label, axes.map((/** @type {string} */ name) => [name, name]), axes[at])) : [];
    /** @type {Map<string, {field: HTMLInputElement, place: HTMLElement}>} */ this.held = new Map();
    this.heldPlace = h('span', { class: 'held-fields' });
    this.trouble = h('p', { class: 'look-wrong', role: 'status' });
    this.element = h('div', { class: 'sight' }, h('div', { class: 'trend-choice' }, this.of.place, ...this.across.map((one) => one.place), this.heldPlace), this.trouble, this.view.element);
  }

  /** @param {string} label @param {any} options @param {string} [value] */
  select(label, options, value) {
    made += 1;
    const field = h('select', { id: `sight-${made}`, onchange: () => this.ask() }, ...options.map((/** @type {[string, string]} */ [key, words]) => h('option', { value: key, selected: key === value }, words)));
    return { field, place: h('div', { class: 'field' }, h('label', { htmlFor: field.id }, label), field) };
  }

  async ask() {
    this.asked += 1;
    const mine = this.asked;
    const held = [...this.held].map(([name, one]) => [name, one.field.value]);
    const told = await ask('POST', `/api/experiments/${this.experiment.id}/seen`, { of: this.of.field.value, across: this.across.map((one) => one.field.value), held, model: this.model() });
    if (mine !== this.asked) return;
    this.trouble.textContent = told.refused ? `${told.refused.what}. ${told.refused.what_now}.`.replace(/\.\.$/, '.').replace(/^[a-z]/, (letter) => letter.toUpperCase()) : '';
    this.trouble.hidden = !told.refused;
    this.view.element.hidden = !told.plate;
    if (!told.plate) return;
    this.view.update(told.plate, null);
    const names = told.held.map((/** @type {any} */ one) => one[0]);
    if (names.join('|') !== [...this.held.keys()].join('|')) {
      this.held = new Map(told.held.map((/** @type {any} */ [name, level, unit]) => {
        made += 1;
        const field = h('input', { id: `sight-${made}`, type: 'text', inputMode: 'decimal', autocomplete: 'off', value: echo(level), onchange: () => this.ask() });
        return [name, { field, place: h('div', { class: 'field short' }, h('label', { htmlFor: field.id }, `${name} held at${unit ? `, ${unit}` : ''}`), field) }];
      }));
      this.heldPlace.replaceChildren(...[...this.held.values()].map((one) => one.place));
    }
  }
}
