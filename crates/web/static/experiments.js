// @ts-check
/** All designed experiments. */

import { byId, h, pageData } from './dom.js';

/** @param {any} one */
function row(one) {
  const varied = [...one.parts, ...one.settings].join(', ');
  return h('li', {}, h('a', { href: `/experiments/${one.id}` }, h('span', { class: 'shelf-name' }, one.name), h('span', { class: 'shelf-kind' }, one.formula ? `${one.formula}, version ${one.version}` : 'freely named parts')),
    h('div', {}, h('p', {}, `Varied: ${varied}`), h('p', { class: 'aside' }, `Read: ${one.reads.join(', ')}`)),
    h('div', { class: 'shelf-state' }, h('span', {}, `${one.planned} runs`), h('br'), h('span', {}, one.stands)));
}

const all = pageData().experiments;
byId('experiments').append(all.length ? h('ul', { class: 'shelf' }, ...all.map(row)) : h('div', { class: 'empty' }, h('h2', {}, 'No experiment yet'),
  h('p', {}, 'One thing changed at a time shows nothing of what two do together. An experiment changes several parts by a plan of a dozen batches or so, in random order, and tells from them how a reading follows from all of them, how sure that is, and which blend to make next.'),
  h('p', {}, 'Plan one from a formula: choose the lines that may move, how far, and what you will read.')));
