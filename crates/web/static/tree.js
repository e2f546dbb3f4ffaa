// @ts-check
/** The trials of a formula as a tree: walked with the arrow keys, any two of them picked to see what lies between. */

import { Trouble, ask } from './api.js';
import { announce, byId, h, pageData } from './dom.js';
import { know, listen } from './derivation.js';
import { setBetween } from './trial_effects.js';
import { SIGNS, drawTree, treeTable } from './tree_rows.js';
import { takeTable } from './take_table.js';

const book = pageData();
/** Numbers of the two that are picked, the one picked longest ago first. @type {number[]} */
let picked = [];
/** @type {ReturnType<typeof drawTree> | null} */
let drawn = null;
let asked = 0;

listen();
know({ citations: book.sources });

/** Puts the two in order of their beginning, asks what lies between and says so. */
async function between() {
  const place = byId('between');
  drawn?.show(picked);
  const said = document.querySelector('.tree-picked');
  if (said) said.replaceChildren(...(picked.length === 2 ? [`Trial ${Math.min(...picked)} then, trial ${Math.max(...picked)} now: `, h('a', { href: '#between' }, 'what lies between them')] : picked.length ? [`Trial ${picked[0]} is picked; pick another one.`] : ['Pick two trials.']));
  if (picked.length < 2) {
    place.replaceChildren(h('p', { class: 'aside' }, picked.length ? `Trial ${picked[0]} is picked. Pick another one to see what lies between the two.` : 'Pick two trials to see what lies between them and what each difference did.'));
    return;
  }
  const [left, right] = [...picked].sort((a, b) => a - b);
  const mine = ++asked;
  history.replaceState(null, '', `?left=${left}&right=${right}`);
  place.replaceChildren(h('p', { class: 'aside' }, `Working out what lies between trial ${left} and trial ${right} …`));
  try {
    const told = await ask('GET', `/api/formulas/${book.formula}/trials/effects?left=${left}&right=${right}`);
    if (mine === asked) setBetween(place, told, book.formula);
  } catch (error) {
    if (mine === asked) place.replaceChildren(h('p', { class: 'fault' }, error instanceof Trouble ? error.message : 'The answer did not come. Pick one of the two again.'));
  }
}

/** @param {number} number */
function pick(number) {
  if (picked.includes(number)) picked = picked.filter((one) => one !== number);
  else picked = [...picked, number].slice(-2);
  announce(picked.length === 2 ? `Trial ${picked[0]} and trial ${picked[1]} are picked; what lies between them stands below.` : picked.length ? `Trial ${picked[0]} is picked.` : 'No trial is picked.');
  void between();
}

/** What stands at the opening: the two of the address, else the newest trial and the one above it. */
function first() {
  const wanted = new URLSearchParams(location.search);
  const there = [Number(wanted.get('left')), Number(wanted.get('right'))].filter((number) => book.tree.some((/** @type {any} */ node) => node.number === number));
  if (there.length === 2 && there[0] !== there[1]) return there;
  const newest = book.tree.reduce((/** @type {any} */ best, /** @type {any} */ node) => (node.number > (best?.number ?? 0) ? node : best), null);
  return newest?.parent ? [newest.parent, newest.number] : [];
}

if (book.tree.length) {
  drawn = drawTree(book.tree, { pick, open: (number) => { location.href = `/formulas/${book.formula}/trials#trial-${number}`; } });
  const table = treeTable(book.tree, book.formula);
  byId('tree').replaceChildren(
    h('p', { class: 'tree-key' }, ...Object.entries(SIGNS).map(([word, [sign, says]]) => h('span', {}, h('span', { class: `sign sign-${word}`, 'aria-hidden': 'true' }, sign), ` ${says}`))),
    h('p', { class: 'aside', id: 'tree-how' }, 'Up and down walk the trials, left goes to the one above it, right to the one that came from it. Space picks one of two to compare, Enter opens it. A dashed line is drawn from the versions: nobody wrote down what that trial was copied from.'),
    drawn.element, h('p', { class: 'tree-picked' }),
    h('details', { class: 'tree-table' }, h('summary', {}, 'The same as a table'), table, h('div', { class: 'verbs' }, h('button', { class: 'verb plain', type: 'button', onclick: () => takeTable(table, 'trials') }, 'Take it away as CSV'))));
  picked = first();
  void between();
}
