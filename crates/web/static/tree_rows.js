// @ts-check
/** The rows of the tree: lines that go on in their lane, side lines that leave it, a shape for how the readings stand. */

import { h, s } from './dom.js';
import { day } from './trial_view.js';

/** How readings stand: a shape of its own and words. @type {Record<string, [string, string]>} */
export const SIGNS = {
  inside: ['●', 'all inside what was predicted'], below: ['▼', 'some below'], above: ['▲', 'some above'], both: ['◆', 'below and above'],
  'not-compared': ['◇', 'not to be compared'], unread: ['○', 'nothing read'],
};

const LANE = 22;
const x = (/** @type {number} */ lane) => 12 + LANE * lane;

/** The lines beside one trial. @param {any} node @param {number} lanes */
function rails(node, lanes) {
  const line = (/** @type {any} */ ends, dashed = false) => s('line', { class: dashed ? 'rail dashed' : 'rail', ...ends });
  const own = x(node.lane);
  const dashed = node.tie === 'by-version';
  const parts = node.passes.map((/** @type {number} */ lane) => line({ x1: x(lane), y1: '0', x2: x(lane), y2: '100%' }));
  if (node.branches) {
    const from = x(node.lane - 1);
    parts.push(line({ x1: from, y1: '0', x2: from, y2: '50%' }, dashed), line({ x1: from, y1: '50%', x2: own, y2: '50%' }, dashed));
  } else if (node.parent !== null) {
    parts.push(line({ x1: own, y1: '0', x2: own, y2: '50%' }, dashed));
  }
  if (node.goes_on) parts.push(line({ x1: own, y1: '50%', x2: own, y2: '100%' }));
  return s('svg', { class: 'rails', width: x(lanes) + 2, height: '100%', 'aria-hidden': 'true' }, ...parts,
    s('svg', { x: own, y: '50%', overflow: 'visible' }, shape(node.verdict)));
}

/** @param {string} verdict */
function shape(verdict) {
  const points = { below: '-8,-6 8,-6 0,8', above: '-8,6 8,6 0,-8', both: '0,-9 9,0 0,9 -9,0', 'not-compared': '0,-8 8,0 0,8 -8,0' }[verdict];
  const hollow = verdict === 'unread' || verdict === 'not-compared';
  const name = `knot ${hollow ? 'hollow' : `full-${verdict}`}`;
  return points ? s('polygon', { class: name, points }) : s('circle', { class: name, r: 7 });
}

/** @param {any} node */
function from(node) {
  if (node.parent === null) return 'first of its line';
  return node.tie === 'copied' ? `from trial ${node.parent}` : `after trial ${node.parent}, by its version`;
}

/**
 * @param {any[]} nodes in the order in which they are drawn
 * @param {{pick: (number: number) => void, open: (number: number) => void}} hands
 */
export function drawTree(nodes, hands) {
  const lanes = Math.max(...nodes.map((node) => node.lane));
  const rows = nodes.map((node, at) => h('li', { class: 'tree-row', role: 'treeitem', tabIndex: at === nodes.length - 1 ? 0 : -1, 'aria-level': node.lane + 1, 'aria-selected': 'false', 'aria-label': `Trial ${node.number}, version ${node.version}, ${day(node.made)}, ${from(node)}: ${node.says}. Readings: ${node.verdict_words}`, data: { number: String(node.number) }, onclick: () => { rove(at); hands.pick(node.number); } },
    rails(node, lanes),
    h('span', { class: 'tree-pick', 'aria-hidden': 'true' }),
    h('span', { class: 'tree-name' }, h('b', {}, `Trial ${node.number}`), h('span', { class: 'aside' }, `v${node.version}, ${day(node.made)}`)),
    h('span', { class: 'tree-says' }, node.says, h('span', { class: 'aside' }, from(node))),
    h('span', { class: 'tree-verdict' }, node.verdict_words)));
  const rove = (/** @type {number} */ at) => {
    rows.forEach((row, other) => { row.tabIndex = other === at ? 0 : -1; });
    rows[at].focus();
  };
  const place = (/** @type {number|null} */ number) => nodes.findIndex((node) => node.number === number);
  const element = h('ul', { class: 'tree', role: 'tree', 'aria-multiselectable': 'true', 'aria-label': 'Trials, each below the one it came from', 'aria-describedby': 'tree-how', onkeydown: (/** @type {KeyboardEvent} */ event) => {
    const at = rows.indexOf(/** @type {any} */ (document.activeElement));
    if (at < 0 || event.ctrlKey || event.metaKey || event.altKey) return;
    const node = nodes[at];
    // The line that goes on is meant before one that leaves it.
    const children = nodes.map((other, index) => ({ other, index })).filter(({ other }) => other.parent === node.number);
    const child = (children.find(({ other }) => !other.branches) ?? children[0])?.index ?? -1;
    const goal = { ArrowUp: at - 1, ArrowDown: at + 1, ArrowLeft: place(node.parent), ArrowRight: child, Home: 0, End: rows.length - 1 }[event.key];
    if (goal !== undefined) {
      event.preventDefault();
      if (goal >= 0 && goal < rows.length) rove(goal);
    } else if (event.key === ' ') {
      event.preventDefault();
      hands.pick(node.number);
    } else if (event.key === 'Enter') {
      event.preventDefault();
      hands.open(node.number);
    }
  } }, ...rows);
  return {
    element,
    /** @param {number[]} picked */
    show(picked) {
      rows.forEach((row, at) => {
        const order = [...picked].sort((a, b) => a - b).indexOf(nodes[at].number);
        row.setAttribute('aria-selected', order >= 0 ? 'true' : 'false');
        /** @type {HTMLElement} */ (row.querySelector('.tree-pick')).textContent = order < 0 ? '' : order === 0 && picked.length === 2 ? 'then' : picked.length === 2 ? 'now' : 'picked';
      });
    },
  };
}

/** @param {any[]} nodes @param {string} formula @returns {HTMLTableElement} */
export function treeTable(nodes, formula) {
  return h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, ...['Trial', 'Version', 'Made', 'Came from', 'What changed', 'Readings'].map((head) => h('th', { scope: 'col' }, head)))),
    h('tbody', {}, ...nodes.map((node) => h('tr', {}, h('th', { scope: 'row' }, h('a', { href: `/formulas/${formula}/trials#trial-${node.number}` }, `Trial ${node.number}`)), h('td', {}, String(node.version)), h('td', {}, node.made), h('td', {}, from(node)), h('td', {}, node.says), h('td', {}, `${SIGNS[node.verdict]?.[0] ?? ''} ${node.verdict_words}`)))));
}
