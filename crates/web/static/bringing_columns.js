// @ts-check
/** What the columns of a table say, and what is asked about the table as a whole. */

import { h } from './dom.js';

/**
 * Questions with their answers to choose from.
 * @param {any} answer
 * @param {(change: Record<string, any>) => void} answerWith
 */
export function questions(answer, answerWith) {
  return answer.questions.map((/** @type {any} */ question) => h('fieldset', { class: `question${question.answer ? '' : ' open'}` },
    h('legend', {}, question.answer ? question.what : h('span', {}, h('b', { class: 'asked' }, 'Asked: '), question.what)),
    h('p', { class: 'aside' }, question.why),
    ...question.choices.map((/** @type {[string, string]} */ [value, words]) => h('label', { class: 'choice' }, h('input', { type: 'radio', name: `question-${question.id}`, id: `question-${question.id}-${value}`, value, checked: value === question.answer, onchange: () => answerWith({ [question.id]: value }) }), words))));
}

/**
 * @param {any} answer
 * @param {{fields: Array<[string, string]>, asked: any, answerWith: (change: Record<string, any>) => void}} with_
 */
export function columnsTable(answer, { fields, asked, answerWith }) {
  const choose = (/** @type {any} */ column, /** @type {string} */ field) => {
    const others = asked.columns.filter((/** @type {any} */ one) => one.column !== `#${column.column}`);
    answerWith({ columns: [...others, { column: `#${column.column}`, field }] });
  };
  const head = h('p', { class: 'head-line' }, h('label', { htmlFor: 'head' }, 'The columns are named in row '),
    h('input', { id: 'head', inputMode: 'numeric', size: 4, value: answer.form.head_line ?? '', placeholder: 'none', onchange: (/** @type {Event} */ event) => {
      const text = /** @type {HTMLInputElement} */ (event.target).value.trim();
      const line = Number(text);
      answerWith({ head: text === '' ? 0 : Number.isInteger(line) && line >= 0 ? line : null, columns: [] });
    } }), h('span', { class: 'aside' }, answer.form.head_line ? ' Empty it where no row names them.' : ' No row that names them was found; type its number if there is one.'));
  const rows = answer.columns.filter((/** @type {any} */ column) => column.name || column.examples.length).map((/** @type {any} */ column) => {
    const select = h('select', { id: `column-${column.column}`, 'aria-label': `Column ${column.letter} ${column.name} holds`, onchange: () => choose(column, select.value) },
      ...fields.map(([word, words]) => h('option', { value: word, selected: word === column.field }, words)));
    return h('tr', { class: column.field === 'unused' ? 'unused' : '' },
      h('td', { class: 'letter' }, column.letter),
      h('th', { scope: 'row' }, column.name || h('span', { class: 'aside' }, 'no head')),
      h('td', { class: 'cells' }, ...column.examples.flatMap((/** @type {string} */ text, /** @type {number} */ at) => [at ? h('span', { class: 'aside' }, ' · ') : '', text])),
      h('td', {}, select),
      h('td', { class: 'why' }, !column.sure && column.field !== 'unused' ? h('b', { class: 'look' }, 'Look: ') : '', column.why));
  });
  const table = h('div', { class: 'wide-table' }, h('table', { class: 'calm columns-read' }, h('thead', {}, h('tr', {}, ...['', 'Head', 'First cells', 'Read as', 'Because'].map((text) => h('th', { scope: 'col' }, text)))), h('tbody', {}, ...rows)));
  return [head, table];
}
