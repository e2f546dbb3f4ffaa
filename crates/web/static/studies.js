// @ts-check
/** All stability studies: what is to be pulled, overdue first, and the studies themselves. */

import { byId, h, mark, pageData, prose, say } from './dom.js';
import { PULLS, day, pullAddress } from './study_words.js';

const page = pageData();

/** What should be looked at first. */
function firstThing() {
  const late = page.due.filter((/** @type {any} */ one) => one.state === 'overdue');
  const now = page.due.filter((/** @type {any} */ one) => one.state === 'due');
  const named = (/** @type {any} */ one) => `${one.pull} at ${one.condition}, ${one.name}`;
  if (late.length) return `${late.length === 1 ? 'One pull is' : `${late.length} pulls are`} overdue: ${named(late[0])}${late.length > 1 ? ' and more' : ''}.`;
  if (now.length) return `${now.length === 1 ? 'One pull' : `${now.length} pulls`} may be pulled now: ${named(now[0])}${now.length > 1 ? ' and more' : ''}.`;
  if (page.due.length) return `Nothing is due. Next: ${named(page.due[0])}, ${day(page.due[0].due)}.`;
  return page.studies.length ? 'Nothing is due in the next weeks.' : 'What must stay right, where it is kept, and when it is looked at.';
}

/** @param {any} one */
function dueRow(one) {
  const state = PULLS[one.state];
  return h('tr', { class: `pull-${one.state}` },
    h('td', { class: 'nowrap' }, h('span', { class: 'due-day' }, day(one.due)), one.weekend ? h('span', { class: 'small weekend' }, `a ${one.weekend}: choose the day yourself`) : null),
    h('td', {}, h('a', { class: 'due-link', href: pullAddress(one.study, one.condition, one.pull) }, one.condition === 'start' ? 'Start' : `${one.pull} at ${one.condition}`), h('span', { class: 'small' }, one.name)),
    h('td', {}, h('span', { class: 'pull-state' }, mark(state.shape, 'shape'), prose(one.words)), one.state === 'due' || one.state === 'overdue' ? h('span', { class: 'small' }, `window ${day(one.from)} to ${day(one.to)}`) : null),
    h('td', { class: 'figure' }, `${one.read} of ${one.wanted}`));
}

function due() {
  if (!page.due.length) return h('p', { class: 'aside' }, 'Nothing in the next six weeks.');
  const groups = [['overdue', 'Overdue'], ['due', 'Now'], ['coming', 'In the next six weeks']];
  return h('table', { class: 'calm stack due-table' }, h('thead', {}, h('tr', {}, ...['Due', 'Pull', 'Stands', 'Readings'].map((head, at) => h('th', { scope: 'col', class: at === 3 ? 'figure' : '' }, head)))),
    ...groups.flatMap(([state, words]) => {
      const rows = page.due.filter((/** @type {any} */ one) => one.state === state);
      return rows.length ? [h('tbody', {}, h('tr', { class: 'group-row' }, h('th', { colSpan: 4, scope: 'rowgroup' }, words)), ...rows.map(dueRow))] : [];
    }));
}

/** @param {any} study */
function row(study) {
  const next = study.given_up ? 'given up' : study.next ? `${study.next.condition === 'start' ? 'start' : `${study.next.pull} at ${study.next.condition}`}: ${study.next.words}` : 'every pull is read';
  return h('li', {}, h('a', { href: `/studies/${study.id}` }, h('span', { class: 'shelf-name' }, study.name), h('span', { class: 'shelf-kind' }, `${study.formula}, version ${study.version}`)),
    h('div', {}, h('p', {}, `${study.batches.join(', ')}`), h('p', { class: 'aside' }, study.conditions.join('; '))),
    h('div', { class: 'shelf-state' }, h('span', {}, `since ${day(study.start)}`), h('span', {}, prose(next)), study.outside ? h('span', { class: 'heed' }, mark('stop', 'shape'), ` ${study.outside} ${study.outside === 1 ? 'reading' : 'readings'} outside a limit`) : null));
}

say(byId('first'), firstThing());
byId('due').append(due());
byId('studies').append(page.studies.length ? h('ul', { class: 'shelf studies-shelf' }, ...page.studies.map(row)) : h('div', { class: 'empty' }, h('h2', {}, 'No study yet'), h('p', {}, 'A study keeps one version of a formula in its packs at two or three temperatures, and reads pH, viscosity, colour and odour at the start and after weeks and months. Plan one from a formula; a first one might be 25 °C and 40 °C, four pulls, three batches.')));
