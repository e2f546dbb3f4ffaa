// @ts-check
/** The lots of a raw material: what came in, what its certificate says, what its dates say today. */

import { ask } from './api.js';
import { EntryForm } from './entry_form.js';
import { announce, h } from './dom.js';
import { echo } from './figures.js';
import { when } from './saving.js';

export class LotsView {
  /** @param {any} card */
  constructor(card) {
    this.card = card;
    this.lots = card.lots;
    this.list = h('div', {});
    this.place = h('div', { class: 'form-place' });
    this.add = h('button', { class: 'verb', type: 'button', onclick: () => this.show(null) }, 'Add a lot');
    this.element = h('section', { id: 'lots', class: 'lots', 'aria-labelledby': 'lots-name' }, h('h2', { id: 'lots-name' }, 'Lots'), this.list, h('div', { class: 'verbs' }, this.add), this.place);
    this.draw();
  }

  draw() {
    if (!this.lots.length) {
      this.list.replaceChildren(h('p', { class: 'aside' }, `No lot on file. A lot has the code on its drum, its dates, and what its certificate says; its assay decides what to weigh where a line asks for a percent of active.`));
      return;
    }
    this.list.replaceChildren(h('table', { class: 'calm stack lot-table' }, h('thead', {}, h('tr', {}, h('th', {}, 'Lot'), h('th', { class: 'figure' }, 'Assay, %'), h('th', {}, 'Received'), h('th', {}, 'Test again'), h('th', {}, 'Expires'), h('th', {}, 'Certificate and documents'), h('th', {}, ''))),
      h('tbody', {}, ...this.lots.map((/** @type {any} */ lot) => this.row(lot)))));
  }

  /** @param {any} lot */
  row(lot) {
    const certificate = (lot.certificate ?? []).map((/** @type {any} */ value) => `${value.name} ${value.typed}${value.unit ? ` ${value.unit}` : ''}`);
    const cell = (/** @type {string} */ name, /** @type {string} */ value) => h('td', {}, value ? h('span', { class: 'cell-name' }, `${name} `) : null, value || '');
    return h('tr', { class: lot.struck ? 'struck-lot' : '', id: `lot-${lot.id}`, tabIndex: -1 },
      h('td', {}, lot.struck ? h('b', { class: 'lot-code' }, lot.code) : h('a', { class: 'lot-code', href: `/lots/${lot.id}` }, lot.code), lot.supplier ? h('span', { class: 'small' }, lot.supplier) : null, lot.dates ? h('span', { class: 'lot-dates' }, lot.dates) : null,
        lot.struck ? h('span', { class: 'small' }, h('b', {}, 'Struck out. '), `${lot.struck.reason} (${lot.struck.who}, ${when(lot.struck.when)})`) : null, lot.corrects ? h('span', { class: 'small' }, 'Stands in the place of a struck entry.') : null),
      h('td', { class: 'figure' }, lot.assay_percent ? h('span', {}, h('span', { class: 'cell-name' }, 'Assay '), echo(lot.assay_percent.typed), h('span', { class: 'cell-name' }, ' %')) : ''),
      cell('Received', lot.received ?? ''), cell('Test again', lot.retest ?? ''), cell('Expires', lot.expiry ?? ''),
      h('td', {}, ...certificate.map((/** @type {string} */ text) => h('span', { class: 'certificate' }, text)), ...(lot.documents ?? []).map((/** @type {string} */ name) => h('span', { class: 'small' }, name)), lot.note ? h('span', { class: 'small' }, lot.note) : null),
      h('td', {}, lot.struck ? null : h('button', { class: 'verb plain', type: 'button', 'aria-label': `Correct lot ${lot.code}`, onclick: () => this.show(lot) }, 'Correct')));
  }

  /** @param {any} lot the lot to correct, or null for a new one */
  show(lot) {
    const opener = document.activeElement instanceof HTMLElement ? document.activeElement : null;
    const leave = () => { this.place.replaceChildren(); opener?.focus(); };
    const form = new EntryForm(lot ? `Correct lot ${lot.code}` : `A new lot of ${this.card.hit.name}`, { word: lot ? 'Put this in its place' : 'Keep the lot', leave, act: async () => {
      const typed = this.typed(form, rows);
      const kept = await ask('POST', lot ? `/api/lots/${lot.id}/correction` : '/api/lots', lot ? { reason: form.value('reason'), instead: typed } : typed);
      this.lots = await ask('GET', `/api/lots?material=${encodeURIComponent(this.card.hit.key)}`);
      this.draw();
      this.place.replaceChildren();
      announce(`Lot ${typed.code} is kept.`);
      document.getElementById(`lot-${kept.id}`)?.focus();
    } });
    const rows = h('div', { class: 'certificate-rows' });
    const row = (/** @type {any} */ given) => {
      const cell = (/** @type {string} */ part, /** @type {string} */ label, /** @type {string} */ value) => h('input', { type: 'text', 'aria-label': label, value, autocomplete: 'off', data: { part } });
      rows.append(h('div', { class: 'certificate-row' }, cell('name', 'What was determined', given.name ?? ''), cell('value', 'Value as printed', given.typed ?? ''), cell('unit', 'Unit', given.unit ?? '')));
    };
    for (const value of lot?.certificate ?? []) row(value);
    row({});
    if (!lot?.certificate?.length) row({});
    const date = (/** @type {string} */ name, /** @type {string} */ label) => form.text(name, label, { type: 'date', value: lot?.[name] ?? '' });
    form.body.append(
      ...(lot ? [form.text('reason', 'Why', { width: 'whole', need: true, hint: 'The struck entry stays to be seen, with the reason beside it.' })] : []),
      form.text('code', 'Lot code on the drum', { value: lot?.code ?? '', need: true }), form.text('supplier', 'Supplier', { width: 'wide', value: lot?.supplier ?? this.lots[0]?.supplier ?? '' }),
      form.text('assay_percent', 'Assay, % w/w', { numeric: true, width: 'short', value: lot?.assay_percent?.typed ?? '', hint: this.card.record?.active ? `of ${String(this.card.record.active).replace(/-/g, ' ')}` : '' }),
      date('received', 'Received'), date('retest', 'Test again on'), date('expiry', 'Expires'),
      h('div', { class: 'field whole' }, h('p', { class: 'label' }, 'Certificate of analysis: what was determined, the value as printed, its unit'), rows, h('div', { class: 'verbs' }, h('button', { class: 'verb plain', type: 'button', onclick: () => { row({}); /** @type {HTMLElement|null} */ (rows.lastElementChild?.querySelector('input') ?? null)?.focus(); } }, 'One more value'))),
      form.text('documents', 'Documents by name', { width: 'whole', value: (lot?.documents ?? []).join('; '), hint: 'As the files are called in your folder, separated by semicolons. Levigate keeps the names, not the files.' }),
      form.text('note', 'Remark', { width: 'whole', value: lot?.note ?? '' }));
    this.place.replaceChildren(form.element);
    form.element.scrollIntoView({ block: 'nearest' });
    form.element.querySelector('input')?.focus();
  }

  /** @param {EntryForm} form @param {HTMLElement} rows */
  typed(form, rows) {
    const certificate = [...rows.children].map((row) => {
      /** @type {Record<string, string>} */
      const value = {};
      for (const input of row.querySelectorAll('input')) value[input.dataset.part ?? ''] = input.value;
      return value;
    });
    const names = ['code', 'supplier', 'assay_percent', 'received', 'retest', 'expiry', 'documents', 'note'];
    return { material: this.card.hit.key, certificate, .../** @type {{code: string}} */ (Object.fromEntries(names.map((name) => [name, form.value(name)]))) };
  }
}
