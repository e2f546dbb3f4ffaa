// @ts-check
/** The form of a challenge test: what was sent, and a grid of counts that is typed, pasted or filled from a table. */

import { Trouble, ask } from './api.js';
import { announce, h } from './dom.js';
import { EntryForm } from './entry_form.js';

/** @typedef {{done: (said: string, where: string) => Promise<void>, leave: () => void}} After */

const KINDS = ['bacteria', 'yeast', 'mould'];
const USUAL = [['Pseudomonas aeruginosa', 'bacteria'], ['Staphylococcus aureus', 'bacteria'], ['Escherichia coli', 'bacteria'], ['Candida albicans', 'yeast'], ['Aspergillus brasiliensis', 'mould']];
const DAYS = ['2', '7', '14', '28'];
const MOST_BYTES = 20 * 1024 * 1024;

/** A grid of fields: arrows up and down and Enter move between rows, a paste fills from where it stands. */
class Grid {
  /** @param {EntryForm} form @param {string[]} days @param {any[]} rows */
  constructor(form, days, rows) {
    this.form = form;
    this.days = days;
    this.rows = rows;
    this.place = h('div', { class: 'wide-table count-grid' });
    this.place.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => this.key(event));
    this.place.addEventListener('paste', (/** @type {ClipboardEvent} */ event) => this.paste(event));
    this.lay();
  }

  /** @param {string} name @param {string} label @param {string} value @param {number} row @param {number} column */
  cell(name, label, value, row, column) {
    const input = h('input', { type: 'text', value, autocomplete: 'off', spellcheck: false, 'aria-label': label, data: { row, column } });
    return this.put(name, input);
  }

  /** @param {string} name @param {any} field */
  put(name, field) {
    const wrong = h('div', { class: 'field-trouble', hidden: true });
    wrong.id = `grid-${name.replace(/\./g, '-')}`;
    const place = h('div', { class: 'grid-cell' }, field, wrong);
    this.form.fields.set(name, { field, place });
    return place;
  }

  lay() {
    for (const name of [...this.form.fields.keys()]) if (/^(rows|days)\./.test(name)) this.form.fields.delete(name);
    const name = (/** @type {any} */ row, /** @type {number} */ at) => row.organism || `row ${at + 1}`;
    this.place.replaceChildren(h('table', {},
      h('caption', {}, 'Counts: 240, or 240 260 for two plates, <10 where nothing was found above a floor'),
      h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Organism'), h('th', { scope: 'col' }, 'Kind'), h('th', { scope: 'col' }, 'Put in'), ...this.days.map((day, at) => h('th', { scope: 'col' }, h('span', { class: 'day-head' }, 'Day ', this.cell(`days.${at}`, `Day of column ${at + 1}`, day, -1, at + 2)))))),
      h('tbody', {}, ...this.rows.map((row, at) => h('tr', {},
        h('td', {}, this.cell(`rows.${at}.organism`, `Organism of row ${at + 1}`, row.organism, at, 0)),
        h('td', {}, this.put(`rows.${at}.kind`, h('select', { 'aria-label': `Kind of ${name(row, at)}` }, ...['', ...KINDS].map((kind) => h('option', { value: kind, selected: kind === row.kind }, kind || 'choose'))))),
        h('td', {}, this.cell(`rows.${at}.initial`, `Put in, ${name(row, at)}`, row.initial, at, 1)),
        ...this.days.map((day, column) => h('td', {}, this.cell(`rows.${at}.counts.${column}`, `Day ${day || column + 1}, ${name(row, at)}`, row.counts[column] ?? '', at, column + 2))))))),
      h('div', { class: 'verbs' }, h('button', { class: 'verb plain', type: 'button', onclick: () => this.grow(() => this.rows.push({ organism: '', kind: '', initial: '', counts: [] }), this.rows.length, 0) }, 'Another organism'), h('button', { class: 'verb plain', type: 'button', onclick: () => this.grow(() => this.days.push(''), -1, this.days.length + 2) }, 'Another day')));
  }

  /** Takes what is typed back into the rows. */
  take() {
    const value = (/** @type {string} */ name) => /** @type {any} */ (this.form.fields.get(name))?.field.value ?? '';
    this.days = this.days.map((_, at) => value(`days.${at}`));
    this.rows = this.rows.map((_, at) => ({ organism: value(`rows.${at}.organism`), kind: value(`rows.${at}.kind`), initial: value(`rows.${at}.initial`), counts: this.days.map((__, column) => value(`rows.${at}.counts.${column}`)) }));
  }

  /** @param {() => void} change @param {number} row @param {number} column */
  grow(change, row, column) {
    this.take();
    change();
    this.lay();
    this.at(row, column)?.focus();
  }

  /** @param {number} row @param {number} column @returns {HTMLInputElement|null} */
  at(row, column) {
    return this.place.querySelector(`input[data-row="${row}"][data-column="${column}"]`);
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    const input = event.target;
    if (!(input instanceof HTMLInputElement) || event.altKey || event.ctrlKey || event.metaKey) return;
    const step = { Enter: event.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const next = this.at(Number(input.dataset.row) + step, Number(input.dataset.column));
    next?.focus();
    next?.select();
  }

  /** @param {ClipboardEvent} event */
  paste(event) {
    const text = event.clipboardData?.getData('text/plain') ?? '';
    const input = event.target;
    if (!(input instanceof HTMLInputElement) || !/[\t\n]/.test(text.trim())) return;
    event.preventDefault();
    const [row, column] = [Number(input.dataset.row), Number(input.dataset.column)];
    const lines = text.replace(/\r/g, '').replace(/\n+$/, '').split('\n').map((line) => line.split('\t'));
    this.take();
    for (let more = row + lines.length - this.rows.length; more > 0; more -= 1) this.rows.push({ organism: '', kind: '', initial: '', counts: [] });
    while (this.days.length < Math.max(...lines.map((line) => line.length)) + column - 2) this.days.push('');
    for (const [down, line] of lines.entries()) {
      for (const [right, cell] of line.entries()) {
        const [to, at] = [row + down, column + right];
        if (to < 0) { if (at >= 2) this.days[at - 2] = cell.trim(); } else if (at === 0) this.rows[to].organism = cell.trim(); else if (at === 1) this.rows[to].initial = cell.trim(); else this.rows[to].counts[at - 2] = cell.trim();
      }
    }
    this.lay();
    this.at(row, column)?.focus();
    announce(`${lines.length} rows pasted.`);
  }

  /** @param {any} table */
  fill(table) {
    const kind = (/** @type {any} */ row) => row.kind || (USUAL.find(([organism]) => organism.toLowerCase() === row.organism.toLowerCase())?.[1] ?? '');
    this.days = table.days.map(String);
    this.rows = table.rows.map((/** @type {any} */ row) => ({ ...row, kind: kind(row) }));
    this.lay();
    announce(`${this.rows.length} organisms on ${this.days.length} days are filled in. Nothing is kept yet.`);
  }
}

/** @param {any} book @param {EntryForm} form @param {any} given */
function fields(book, form, given) {
  const grid = new Grid(form, given ? given.days.map(String) : [...DAYS], given ? given.organisms.map((/** @type {any} */ one) => ({ ...one, counts: [...one.counts] })) : USUAL.map(([organism, kind]) => ({ organism, kind, initial: '', counts: [] })));
  const chooser = form.text('table', 'Or a table, CSV or XLSX', { type: 'file', width: 'wide', hint: 'A row per organism: organism, kind, initial, and a column headed by each day. All of it is filled in, or nothing.' });
  form.body.append(
    form.choice('version', 'Version that was tested', book.versions.map((/** @type {[number, string]} */ [version, reason]) => [String(version), `version ${version}: ${reason}`.slice(0, 90)]), { width: 'wide', value: given ? String(given.version) : undefined }),
    form.choice('trial', 'Trial the sample is from', [['', 'none on record'], ...book.trials.map((/** @type {[string, number, number]} */ [id, trial, version]) => [id, `trial ${trial}, version ${version}`])], { value: given?.trial ?? book.trials[0]?.[0] ?? '' }),
    form.text('sample', 'Sample', { width: 'wide', value: given?.sample ?? '', hint: 'Batch, pack, what was done to it before: 3 months at 40 °C' }),
    form.text('laboratory', 'Who tested it', { value: given?.laboratory ?? '' }),
    form.text('method', 'Method', { value: given?.method ?? 'ISO 11930', width: 'short' }),
    form.text('started', 'Inoculated on', { type: 'date', value: given?.started ?? '' }),
    form.text('ph', 'pH of the sample', { numeric: true, width: 'short', value: given?.ph?.typed ?? '' }),
    form.text('age', 'Age of the sample', { width: 'short', value: given?.age_h?.typed ?? '', hint: '24 h, 7 d, 4 weeks' }),
    form.choice('unit', 'Unit of the counts', [['CFU/g', 'CFU/g'], ['CFU/mL', 'CFU/mL']], { width: 'short', value: given?.unit ?? 'CFU/g' }),
    form.text('recovered_percent', 'Recovered with product and neutraliser, %', { numeric: true, value: given?.recovered_percent?.typed ?? '', hint: 'Of the control; empty where nothing was shown.' }),
    form.text('alone_percent', 'Recovered with the neutraliser alone, %', { numeric: true, value: given?.alone_percent?.typed ?? '' }),
    chooser, grid.place,
    form.text('note', 'Remark', { width: 'whole', value: given?.note ?? '' }));
  const input = form.field('table');
  input.accept = '.xlsx,.xlsm,.csv,.tsv,.txt,text/csv,text/plain';
  input.addEventListener('change', () => {
    const file = input.files?.[0];
    if (!file) return;
    form.run(async () => {
      if (file.size > MOST_BYTES) throw new Trouble({ code: 'table', what: `${file.name} is larger than 20 MB.`, why: 'A table of counts is small.', what_now: 'Save the sheet with the counts alone.', place: { field: 'table' } });
      try {
        grid.fill(await ask('POST', '/api/challenge/table', { file: file.name, bytes: await inBase64(file) }));
      } catch (error) {
        if (!(error instanceof Trouble)) throw error;
        const line = error.told.place?.line;
        throw new Trouble({ ...error.told, what: line ? `Line ${line}: ${error.told.what}` : error.told.what, place: { field: 'table' } });
      } finally {
        input.value = '';
      }
    });
  });
  return () => {
    grid.take();
    const value = (/** @type {string} */ name) => form.value(name);
    return { version: Number(value('version')), trial: value('trial'), sample: value('sample'), laboratory: value('laboratory'), method: value('method'), started: value('started'), ph: value('ph'), age: value('age'), unit: value('unit'), recovered_percent: value('recovered_percent'), alone_percent: value('alone_percent'), note: value('note'), days: grid.days, rows: grid.rows };
  };
}

/** @param {File} file @returns {Promise<string>} */
function inBase64(file) {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.addEventListener('load', () => resolve(String(reader.result).replace(/^[^,]*,/, '')));
    reader.addEventListener('error', () => reject(reader.error));
    reader.readAsDataURL(file);
  });
}

/** @param {any} book @param {After} after */
export function challengeForm(book, after) {
  const form = new EntryForm('A challenge test', {
    word: 'Keep the test',
    act: async () => {
      const kept = await ask('POST', `/api/formulas/${book.formula}/challenge`, typed());
      await after.done(`Test ${kept.number} is kept.`, `test-${kept.number}`);
    },
    leave: after.leave,
  });
  const typed = fields(book, form, null);
  return form;
}

/** @param {any} book @param {any} test @param {After} after */
export function challengeCorrection(book, test, after) {
  const send = async (/** @type {any} */ instead) => {
    const kept = await ask('POST', `/api/challenges/${test.id}/correction`, { reason: form.value('reason'), instead });
    await after.done(instead ? `Test ${kept.number} stands in its place.` : 'It is struck out.', `test-${kept.number}`);
  };
  const form = new EntryForm(`Correct test ${test.number}`, { word: 'Put this in its place', act: () => send(typed()), leave: after.leave });
  const typed = fields(book, form, test);
  form.body.append(form.text('reason', 'Why', { width: 'whole', need: true, hint: 'The struck test stays to be seen, with the reason beside it.' }));
  form.verbs.append(h('button', { class: 'verb', type: 'button', onclick: () => form.run(() => send(null)) }, 'Take it back'));
  return form;
}
