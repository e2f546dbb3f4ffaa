// @ts-check
/** A table of the page as a CSV file, cell by cell as it is read. */

import { h } from './dom.js';

/** @param {string} cell */
const quote = (cell) => (/[",\n]/.test(cell) ? `"${cell.replace(/"/g, '""')}"` : cell);

/** Rows of a table as text; a cell over several columns leaves the others empty. @param {HTMLTableElement} table */
export function rowsOf(table) {
  return [...table.rows].map((row) => [...row.cells].flatMap((cell) => {
    const text = (cell.dataset.text ?? cell.textContent ?? '').replace(/\s+/g, ' ').trim().replaceAll('−', '-');
    return [text, ...Array.from({ length: cell.colSpan - 1 }, () => '')];
  }));
}

/** @param {string[][]} rows @param {string} name */
export function takeRows(rows, name) {
  const file = URL.createObjectURL(new Blob([rows.map((row) => row.map(quote).join(',')).join('\r\n')], { type: 'text/csv' }));
  const link = h('a', { href: file, download: `${name}.csv` });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(file), 1000);
}

/** @param {HTMLTableElement} table @param {string} name */
export function takeTable(table, name) {
  takeRows(rowsOf(table), name);
}
