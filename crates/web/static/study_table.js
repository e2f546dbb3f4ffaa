// @ts-check
/** Readings from a spreadsheet or pasted cells: looked at row by row first, then kept whole or not at all. */

import { ask } from './api.js';
import { EntryForm } from './entry_form.js';
import { h, mark } from './dom.js';

/** Most bytes of a file that are taken. */
const MOST_BYTES = 20 * 1024 * 1024;

export class TableForm {
  /** @param {{path: string, example: string, rows: string}} of where it goes, its first row, what a row is @param {{leave: () => void, kept: (many: number) => Promise<void>}} ending */
  constructor(of, ending) {
    this.of = of;
    /** @type {{name: string, bytes: string}|null} */ this.file = null;
    const form = new EntryForm('Readings from a table', { word: 'Keep all of it', leave: ending.leave, act: async () => {
      const done = await ask('POST', of.path, this.body());
      await ending.kept(done.readings);
    } });
    this.form = form;
    const chooser = h('input', { class: 'visually-hidden', type: 'file', id: 'table-file', accept: '.xlsx,.csv,.tsv,.txt,text/csv,text/plain', onchange: () => { const one = chooser.files?.[0]; if (one) this.take(one); chooser.value = ''; } });
    this.chosen = h('p', { class: 'aside', role: 'status' });
    this.preview = h('div', { class: 'table-preview', 'aria-live': 'polite' });
    form.body.append(form.area('file', 'Cells of the table', { rows: 6, hint: `The first row names the columns, like ${of.example}. ${of.rows}` }),
      h('div', { class: 'verbs' }, chooser, h('label', { class: 'verb', htmlFor: 'table-file' }, 'Choose a file'), h('button', { class: 'verb', type: 'button', onclick: () => form.run(() => this.look()) }, 'Look at it first')), this.chosen, this.preview);
    form.field('file')?.addEventListener('input', () => { this.file = null; this.chosen.textContent = ''; this.preview.replaceChildren(); });
    this.element = form.element;
  }

  body() {
    return this.file ? { file: this.file.name, bytes: this.file.bytes } : { file: 'pasted cells', text: this.form.value('file') };
  }

  /** @param {File} file */
  async take(file) {
    if (file.size > MOST_BYTES) {
      this.form.tell({ code: 'too-large', what: `${file.name} is larger than 20 MB.`, why: 'A table of readings has some hundred rows.', what_now: 'Save the sheet with the readings alone.', place: { field: 'file' } });
      return;
    }
    const bytes = new Uint8Array(await file.arrayBuffer());
    let text = '';
    for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
    this.file = { name: file.name, bytes: btoa(text) };
    this.chosen.textContent = file.name;
    await this.form.run(() => this.look());
  }

  async look() {
    this.preview.replaceChildren();
    const table = await ask('POST', `${this.of.path}/preview`, this.body());
    const wrong = table.lines.filter((/** @type {any} */ line) => line.wrong.length);
    this.preview.replaceChildren(
      h('p', { class: 'lead-word' }, table.ready ? `${table.readings} readings in ${table.lines.length} rows can be kept.` : 'Nothing is kept until this is mended:'),
      ...table.wrong.map((/** @type {string} */ text) => h('p', { class: 'heed' }, mark('stop', 'shape'), ` ${text}`)),
      h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, ...['Line', 'What it is', 'Readings'].map((head, at) => h('th', { scope: 'col', class: at === 1 ? '' : 'figure' }, head)))),
        h('tbody', {}, ...[...wrong, ...table.lines.filter((/** @type {any} */ line) => !line.wrong.length)].slice(0, 60).map((/** @type {any} */ line) => h('tr', {}, h('td', { class: 'figure' }, String(line.line)), h('td', {}, line.words, ...line.wrong.map((/** @type {string} */ text) => h('span', { class: 'small heed' }, mark('stop', 'shape'), ` ${text}`))), h('td', { class: 'figure' }, String(line.readings)))))));
  }
}
