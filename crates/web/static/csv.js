// @ts-check
/** Tables as files to take away. */

import { h } from './dom.js';

/** A cell: quoted where it must be, and never a formula of a spreadsheet. @param {string} cell */
function quoted(cell) {
  const text = /^[=+@\t\r]/.test(cell) || (cell.startsWith('-') && Number.isNaN(Number(cell))) ? `'${cell}` : cell;
  return /[",\r\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;
}

/** @param {string[][]} rows */
export function csvOf(rows) {
  return rows.map((row) => row.map(quoted).join(',')).join('\r\n');
}

/** Hands a text to the person as a file. @param {string} text @param {string} name @param {string} type */
export function hand(text, name, type) {
  const url = URL.createObjectURL(new Blob([text], { type }));
  h('a', { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
}

/** The name of a file for a product. @param {string} product @param {string} ending */
export function fileName(product, ending) {
  return `${(product || 'formula').toLowerCase().replace(/[^a-z0-9]+/g, '-').replace(/^-|-$/g, '')}-${ending}`;
}

/** @param {string} words what is taken @param {string} name @param {() => string[][]} rows head first */
export function csvVerb(words, name, rows) {
  return h('button', { class: 'verb plain', type: 'button', onclick: () => hand(csvOf(rows()), name, 'text/csv') }, words);
}
