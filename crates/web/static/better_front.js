// @ts-check
/** Aims against each other: the points of which none is better in every aim, drawn, walked by key, and each shown as a formula. */

import { answersRows, answersTable, compared, findingsOf, mind } from './better_answers.js';
import { csvVerb, fileName } from './csv.js';
import { announce, h, prose, s } from './dom.js';
import { plain, unitOf } from './figures.js';
import { number } from './number.js';

/** Room of the drawing. */
const BOX = { width: 640, height: 400, left: 84, right: 24, top: 22, bottom: 62 };

/** Round numbers between two ends, some four. @param {number} low @param {number} high */
export function ticks(low, high) {
  const rough = (high - low) / 5;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((one) => one * power).find((one) => one >= rough) ?? rough;
  const found = [];
  for (let at = Math.ceil(low / step - 1e-9) * step; at <= high + 1e-9 * step; at += step) found.push(Math.abs(at) < 1e-9 * step ? 0 : at);
  return found;
}

let made = 0;

export class FrontView {
  /** @param {any} found reading and drafts @param {(place: number) => void} take */
  constructor(found, take) {
    this.found = found;
    this.all = found.reading;
    this.take = take;
    this.chosen = 0;
    /** @type {any[]} */ this.marks = [];
    const { all } = this;
    this.names = all.aims.map((/** @type {string} */ one) => one.replace(/^(least|most) /, ''));
    this.wants = all.aims.map((/** @type {string} */ one) => (one.startsWith('most') ? 'more' : 'less'));
    this.units = all.aims.map((/** @type {any} */ _, /** @type {number} */ at) => unitOf(all.answers[0].aims[at].unit));
    // Each further aim against the first.
    /** @type {Array<[number, number]>} */ const pairs = all.answers.length > 1 ? all.aims.slice(1).map((/** @type {any} */ _, /** @type {number} */ at) => [0, at + 1]) : [];
    this.formula = h('div', { class: 'front-formula', id: 'front-formula' });
    this.rows = h('tbody', {});
    this.element = h('section', { class: 'better-found', 'aria-labelledby': 'found-name' },
      h('h2', { id: 'found-name', tabIndex: -1 }, all.answers.length > 1 ? `${all.answers.length} formulas, none better than another in every aim` : 'One formula is best in every aim'),
      pairs.length ? h('p', { class: 'hint' }, 'Arrow keys walk from point to point; the formula of the point that is marked stands below. The diamond is the formula as it is.') : null,
      h('div', { class: pairs.length > 1 ? 'fronts two' : 'fronts' }, ...pairs.map(([x, y]) => this.drawing(x, y, pairs.length === 1))),
      this.table(),
      this.formula, mind(all));
    this.show(0, false);
  }

  /** @param {any} answer @param {number} aim @returns {number|null} */
  at(answer, aim) {
    const value = answer?.aims[aim]?.value;
    return typeof value === 'number' ? value : null;
  }

  /** @param {number} x @param {number} y @param {boolean} alone whether these two are all the aims */
  drawing(x, y, alone) {
    const { all } = this;
    const points = all.answers.map((/** @type {any} */ one, /** @type {number} */ place) => ({ place, x: this.at(one, x), y: this.at(one, y) })).filter((/** @type {any} */ one) => one.x !== null && one.y !== null);
    const now = { x: this.at(all.before, x), y: this.at(all.before, y) };
    const range = (/** @type {'x'|'y'} */ way) => {
      const values = [...points.map((/** @type {any} */ one) => one[way]), ...(now.x !== null && now.y !== null ? [now[way]] : [])];
      const [low, high] = [Math.min(...values), Math.max(...values)];
      const pad = (high - low || Math.abs(high) || 1) * 0.08;
      return [low - pad, high + pad];
    };
    const [xs, ys] = [range('x'), range('y')];
    const px = (/** @type {number} */ value) => BOX.left + (value - xs[0]) / (xs[1] - xs[0]) * (BOX.width - BOX.left - BOX.right);
    const py = (/** @type {number} */ value) => BOX.height - BOX.bottom - (value - ys[0]) / (ys[1] - ys[0]) * (BOX.height - BOX.top - BOX.bottom);
    const axis = [...ticks(xs[0], xs[1]).map((at) => s('g', {}, s('line', { class: 'tick-line', x1: px(at), x2: px(at), y1: BOX.height - BOX.bottom, y2: BOX.height - BOX.bottom + 5 }), s('text', { class: 'tick-text', x: px(at), y: BOX.height - BOX.bottom + 20, 'text-anchor': 'middle' }, plain(at)))),
      ...ticks(ys[0], ys[1]).map((at) => s('g', {}, s('line', { class: 'tick-rule', x1: BOX.left, x2: BOX.width - BOX.right, y1: py(at), y2: py(at) }), s('text', { class: 'tick-text', x: BOX.left - 9, y: py(at) + 4, 'text-anchor': 'end' }, plain(at))))];
    const name = (/** @type {number} */ aim) => `${this.names[aim]}${this.units[aim] ? `, ${this.units[aim]}` : ''} (${this.wants[aim]} is better)`;
    made += 1;
    const group = s('g', { role: 'radiogroup', 'aria-label': `${this.names[x]} against ${this.names[y]}: the points that were found` });
    for (const one of points) {
      const mark = s('g', { class: 'front-point', role: 'radio', tabindex: -1, 'aria-checked': 'false', 'data-place': one.place, 'aria-label': `Point ${one.place + 1}: ${[x, y].map((aim) => `${this.names[aim]} ${plain(aim === x ? one.x : one.y)} ${this.units[aim]}`).join(', ')}` },
        s('circle', { class: 'reach', cx: px(one.x), cy: py(one.y), r: 14 }), s('circle', { class: 'ring', cx: px(one.x), cy: py(one.y), r: 11 }), s('circle', { class: 'dot', cx: px(one.x), cy: py(one.y), r: 5.5 }));
      mark.addEventListener('click', () => this.show(one.place, true, mark));
      mark.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => this.key(event, group));
      this.marks.push(mark);
      group.append(mark);
    }
    const present = now.x !== null && now.y !== null ? [s('path', { class: 'present', d: `M${px(now.x)} ${py(now.y) - 8}l8 8l-8 8l-8-8z` }), s('text', { class: 'tick-text', x: px(now.x) + (px(now.x) > BOX.width * 0.75 ? -13 : 13), y: py(now.y) + 5, 'text-anchor': px(now.x) > BOX.width * 0.75 ? 'end' : 'start' }, 'as it is')] : [];
    const svg = s('svg', { viewBox: `0 0 ${BOX.width} ${BOX.height}`, class: 'front', role: 'group', 'aria-label': `${name(x)} across, ${name(y)} upright` },
      s('defs', {}, s('pattern', { id: `hatch-${made}`, width: 9, height: 9, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' }, s('line', { class: 'hatch', x1: 0, y1: 0, x2: 0, y2: 9 }))),
      ...(alone ? [s('path', { class: 'unreached', fill: `url(#hatch-${made})`, d: this.unreached(points, [x, y], xs, ys, px, py) })] : []),
      ...axis, s('path', { class: 'frame', d: `M${BOX.left} ${BOX.top}V${BOX.height - BOX.bottom}H${BOX.width - BOX.right}` }), ...present, group,
      s('text', { class: 'axis-name', x: (BOX.left + BOX.width - BOX.right) / 2, y: BOX.height - 14, 'text-anchor': 'middle' }, name(x)),
      s('text', { class: 'axis-name', transform: `translate(18 ${(BOX.top + BOX.height - BOX.bottom) / 2}) rotate(-90)`, 'text-anchor': 'middle' }, name(y)));
    return h('figure', { class: 'front-figure' }, svg, h('figcaption', { class: 'hint' }, alone ? 'Hatched: better in both, and nothing was found there; between two neighbours there may be more.' : `Seen from ${this.names[x]} and ${this.names[y]} alone; what looks worse here is better in the other aim.`));
  }

  /** What no point that was found reaches: the side of the stairs on which everything would be better. @param {Array<{x: number, y: number}>} points @param {number[]} aims @param {number[]} xs @param {number[]} ys @param {(value: number) => number} px @param {(value: number) => number} py */
  unreached(points, aims, xs, ys, px, py) {
    const best = [this.wants[aims[0]] === 'less' ? xs[0] : xs[1], this.wants[aims[1]] === 'less' ? ys[0] : ys[1]];
    const worst = [this.wants[aims[0]] === 'less' ? xs[1] : xs[0], this.wants[aims[1]] === 'less' ? ys[1] : ys[0]];
    const sorted = [...points].sort((a, b) => (this.wants[aims[0]] === 'less' ? a.x - b.x : b.x - a.x));
    let d = `M${px(best[0])} ${py(best[1])}V${py(worst[1])}H${px(sorted[0].x)}`;
    sorted.forEach((one, at) => { d += `V${py(one.y)}H${px(sorted[at + 1]?.x ?? worst[0])}`; });
    return `${d}V${py(best[1])}Z`;
  }

  /** @param {KeyboardEvent} event @param {Element} group */
  key(event, group) {
    const own = [...group.children];
    const at = own.findIndex((one) => one === event.currentTarget);
    const to = { ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: own.length - 1, ' ': at, Enter: at }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    const next = own[Math.min(own.length - 1, Math.max(0, to))];
    this.show(Number(/** @type {SVGElement} */ (next).dataset.place), true, next);
  }

  table() {
    const { all } = this;
    const head = ['Point', ...all.aims.map((/** @type {string} */ one, /** @type {number} */ at) => `${prose(one)}${this.units[at] ? `, ${this.units[at]}` : ''}`)];
    const line = (/** @type {string} */ words, /** @type {any} */ answer, /** @type {any} */ last) => h('tr', {}, h('th', { scope: 'row' }, words), ...answer.aims.map((/** @type {any} */ one, /** @type {number} */ at) => h('td', { class: 'figure' }, number(one, `${words}: ${this.names[at]}`, { unit: false, exact: compared(one) }))), last);
    this.rows.replaceChildren(...(all.before ? [line('As it is', all.before, h('td', {}))] : []), ...all.answers.map((/** @type {any} */ one, /** @type {number} */ place) => line(`Point ${place + 1}`, one, h('td', {}, h('button', { class: 'verb plain show-point', type: 'button', 'data-show': place, 'aria-pressed': 'false', onclick: () => this.show(place, true) }, 'Show')))));
    const steps = all.front.steps.filter((/** @type {any} */ one) => one.words);
    const rows = () => [['point', ...all.aims.map((/** @type {string} */ one, /** @type {number} */ at) => `${one}, ${all.answers[0].aims[at].unit}`), ...all.answers[0].lines.map((/** @type {any} */ own) => `${own.material}, % w/w`)],
      ...[...(all.before ? [['as it is', all.before]] : []), ...all.answers.map((/** @type {any} */ one, /** @type {number} */ place) => [String(place + 1), one])].map(([words, one]) => [words, ...one.aims.map((/** @type {any} */ aim) => (aim.value === null ? '' : String(Number(aim.value.toPrecision(8))))), ...one.lines.map((/** @type {any} */ own) => String(Number(own.percent.value.toPrecision(8))))])];
    return h('div', { class: 'front-table' }, h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': 'The points as a table' }, h('table', { class: 'calm' }, h('caption', { class: 'visually-hidden' }, 'The points that were found'), h('thead', {}, h('tr', {}, ...head.map((words, at) => h('th', { scope: 'col', class: at ? 'figure' : '' }, words)), h('th', { scope: 'col' }, h('span', { class: 'visually-hidden' }, 'Formula')))), this.rows)),
      h('div', { class: 'verbs' }, csvVerb('The points as CSV', fileName(all.product, 'front.csv'), rows)),
      steps.length ? h('details', {}, h('summary', {}, 'What each step costs and buys'), h('ol', {}, ...all.front.steps.map((/** @type {any} */ one, /** @type {number} */ at) => h('li', {}, `From point ${at + 1} to ${at + 2}: ${prose(one.words || 'nothing changes')}.`)))) : null);
  }

  /** Marks a point and shows its formula. @param {number} place @param {boolean} [say] @param {Element|null} [focus] */
  show(place, say = true, focus = null) {
    this.chosen = place;
    for (const mark of this.marks) {
      const is = Number(mark.dataset.place) === place;
      mark.setAttribute('aria-checked', String(is));
      mark.setAttribute('tabindex', is ? '0' : '-1');
      mark.classList.toggle('chosen', is);
    }
    for (const verb of this.rows.querySelectorAll('.show-point')) {
      const is = Number(verb.dataset.show) === place;
      verb.setAttribute('aria-pressed', String(is));
      verb.textContent = is ? 'shown below' : 'Show';
    }
    const answer = this.all.answers[place];
    this.formula.replaceChildren(h('h3', {}, `Point ${place + 1}`), h('p', {}, `${prose(answer.words)}.`), answersTable(this.found, [place], this.take),
      h('div', { class: 'verbs' }, csvVerb('This formula as CSV', fileName(this.all.product, `point-${place + 1}.csv`), () => answersRows(this.all, [place]))), findingsOf(answer, ''));
    if (focus instanceof SVGElement) focus.focus();
    if (say) announce(`Point ${place + 1}: ${answer.aims.map((/** @type {any} */ one, /** @type {number} */ at) => `${this.names[at]} ${plain(one.value, one)} ${this.units[at]}`).join(', ')}`);
  }
}
