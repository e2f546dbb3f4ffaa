// @ts-check
/** The sheet: phases and lines, keyboard, paste, and the notes in its margin. */

import { announce, h, say } from './dom.js';
import { alike, banded, findingNote, flowNote, gravestFirst, onMarginChange, placeNotes, readingNote, taughtNote, whyButton } from './margin.js';
import { FirstView, HeadView, StripView, aboutWhat, troubleBox } from './head.js';
import { RowView } from './row.js';
import { allLines, blockOf, layBlock, lineOf, moveLine, newLine, newPhase, nextLetter, removeLine } from './draft.js';
import { canonical, echo } from './figures.js';
import { number, numberButton, setNumber } from './number.js';

/** @typedef {import('./session.js').Session} Session */
/** @typedef {import('./draft.js').Phase} Phase */

const WEIGHT = ['stop', 'change', 'check', 'know'];

export class SheetView {
  /** @param {Session} session @param {HTMLElement} paper */
  constructor(session, paper) {
    this.session = session;
    this.paper = paper;
    /** @type {Map<string, RowView>} */ this.rows = new Map();
    /** @type {Map<string, any>} */ this.phases = new Map();
    /** @type {Map<string, {label: string, text: string}>} */ this.texts = new Map();
    /** @type {Map<string, {label: string, text: string}>} */ this.before = new Map();
    /** @type {Map<string, HTMLElement>} */ this.buttons = new Map();
    /** @type {Map<string, HTMLButtonElement>} */ this.stripButtons = new Map();
    this.head = new HeadView(session);
    const goToLine = (/** @type {number} */ line) => this.goToLine(line);
    const numberOf = (/** @type {number} */ index) => this.numberOf(index);
    this.first = new FirstView(goToLine, numberOf);
    this.strip = new StripView((gravity) => this.goToGravity(gravity));
    this.lines = h('div', { class: 'rows-all' });
    this.margin = h('div', { class: 'margin', 'aria-label': 'Notes in the margin' });
    this.sum = numberButton({ aligned: true, unit: false });
    this.lastEdit = h('details', {}, h('summary', {}, h('span', {})), h('ul', {}));
    this.benchSize = this.benchField('size_g', 'Batch size, g');
    this.benchBalance = this.benchField('balance_g', 'Balance reads to, g');
    this.top = h('div', { class: 'bench-block' }, h('div', { class: 'bench-fields sentence row-like' }, 'Weighed for a batch of ', this.benchSize, ' g on a balance that reads to ', this.benchBalance, ' g.'), h('div', { class: 'slot' }));
    this.sheet = h('div', { class: 'sheet', role: 'table', 'aria-label': 'Lines of the formula' },
      this.top,
      h('div', { class: 'cols', role: 'row' }, h('span', {}), h('span', {}, 'Raw material'), h('span', { class: 'figure' }, 'Amount'), h('span', {}, 'meant as'), h('span', { class: 'figure' }, '% w/w'), h('span', { class: 'figure bench' }, 'Weigh, g'), h('span', {})),
      this.lines,
      h('div', { class: 'sheet-foot' },
        h('div', { class: 'first-cell' }, h('button', { class: 'verb plain', type: 'button', onclick: () => this.addPhase() }, 'Add a phase'), h('span', { class: 'aside' }, 'Sum of the lines')),
        h('div', { class: 'sum' }, this.sum)),
      h('div', { class: 'last-edit' }, this.lastEdit));
    paper.replaceChildren(h('div', { class: 'paper-head' }, this.head.element, this.first.element), this.strip.element, h('div', { class: 'grid' }, this.sheet, this.margin));
    onMarginChange(() => this.layOut());
    this.margin.addEventListener('toggle', () => this.layOut(), true);
    new ResizeObserver(() => this.layOut()).observe(this.sheet);
    document.fonts?.ready.then(() => this.layOut());
  }

  /** @param {'size_g'|'balance_g'} name @param {string} label */
  benchField(name, label) {
    const input = h('input', { type: 'text', inputMode: 'decimal', 'aria-label': label, autocomplete: 'off',
      onfocus: () => this.session.settle(),
      oninput: () => this.session.change(label.toLowerCase(), `bench.${name}`, (draft) => { draft.bench[name] = canonical(input.value) ?? input.value; }),
      onblur: () => { this.session.settle(); this.update(); } });
    return input;
  }

  /** Number on the sheet of a line of the assessment. @param {number} index */
  numberOf(index) {
    const id = this.session.judgement.line_ids[index];
    const at = allLines(this.session.draft).findIndex((line) => line.id === id);
    return at < 0 ? '–' : String(at + 1);
  }

  /** @param {number} index */
  goToLine(index) {
    const id = this.session.judgement.line_ids[index];
    const row = this.rows.get(id);
    row?.element.scrollIntoView({ block: 'center' });
    row?.material.focus();
  }

  /** @param {string} gravity */
  goToGravity(gravity) {
    const note = [...this.paper.querySelectorAll('.note, .first')].find((one) => one.querySelector(`.gravity-${gravity}`));
    if (!note) return;
    note.scrollIntoView({ block: 'center' });
    note.classList.add('lit');
    setTimeout(() => note.classList.remove('lit'), 1600);
    /** @type {HTMLElement|null} */ (note.querySelector('.why'))?.focus({ preventScroll: true });
  }

  addPhase() {
    const phase = newPhase(nextLetter(this.session.draft));
    this.session.settle();
    this.session.change(`add phase ${phase.name}`, '', (draft) => { draft.phases.push(phase); });
    this.phases.get(phase.id)?.ghost.focus();
  }

  /** @param {string} lineId @param {string} field @param {number} step */
  walk(lineId, field, step) {
    const order = [];
    for (const phase of this.session.draft.phases) {
      for (const line of phase.lines) order.push({ line: line.id, phase: phase.id });
      order.push({ line: '', phase: phase.id });
    }
    const at = order.findIndex((one) => one.line === lineId);
    const next = order[at + step];
    if (!next) return;
    if (next.line) {
      const row = this.rows.get(next.line);
      const target = field === 'material' || field === 'kind' ? row?.[/** @type {'material'|'kind'} */ (field)] : row?.amount;
      target?.focus();
    } else if (step > 0 && field !== 'material') {
      // From the last amount of a phase: on to the first of the next phase, or to a new line.
      const after = order[at + 2];
      if (after?.line) this.rows.get(after.line)?.amount.focus();
      else this.phases.get(next.phase)?.ghost.focus();
    } else if (step < 0 && field !== 'material') {
      const above = order[at + 2 * step];
      if (above?.line) this.rows.get(above.line)?.amount.focus();
    } else {
      this.phases.get(next.phase)?.ghost.focus();
    }
  }

  /** @param {string} id @returns {RowView} */
  makeRow(id) {
    return new RowView(id, {
      alter: (what, key, alter) => {
        const at = allLines(this.session.draft).findIndex((line) => line.id === id) + 1;
        this.session.change(`${what}, line ${at}`, key, (draft) => { const line = lineOf(draft, id); if (line) alter(line); });
      },
      settle: () => this.session.settle(),
      walk: (field, step) => this.walk(id, field, step),
      paste: (event, field) => this.paste(event, id, '', field),
      move: (step) => {
        this.session.settle();
        const active = /** @type {HTMLElement} */ (document.activeElement);
        this.session.change('move a line', '', (draft) => moveLine(draft, id, step));
        active?.focus();
      },
      remove: () => {
        const lines = allLines(this.session.draft);
        const at = lines.findIndex((line) => line.id === id);
        const name = lines[at]?.material || `line ${at + 1}`;
        const near = lines[at + 1]?.id ?? lines[at - 1]?.id;
        this.session.settle();
        this.session.change(`take out ${name}`, '', (draft) => removeLine(draft, id));
        if (near) this.rows.get(near)?.material.focus();
        announce(`${name} taken out. Control Z brings it back.`);
      },
      lit: () => {
        const note = [...this.margin.querySelectorAll('.note')].find((one) => /** @type {HTMLElement} */ (one).dataset.anchor === id);
        if (!note) return;
        note.classList.add('lit');
        setTimeout(() => note.classList.remove('lit'), 1400);
      },
    });
  }

  /** @param {ClipboardEvent} event @param {string} lineId @param {string} phaseId @param {'material'|'amount'} field */
  paste(event, lineId, phaseId, field) {
    const text = event.clipboardData?.getData('text/plain') ?? '';
    if (!/[\t\n]/.test(text.trim())) return;
    event.preventDefault();
    const block = blockOf(text);
    if (block.length > 200) { announce('At most 200 lines can be pasted at once.'); return; }
    const phase = phaseId || this.session.draft.phases.find((one) => one.lines.some((line) => line.id === lineId))?.id || '';
    /** @type {string[]} */ let filled = [];
    this.session.settle();
    this.session.change(`paste ${block.length} lines`, '', (draft) => { filled = layBlock(draft, phase, lineId || null, field, block); });
    const last = this.rows.get(filled[filled.length - 1]);
    const active = /** @type {HTMLInputElement} */ (document.activeElement);
    active?.blur?.();
    (field === 'material' ? last?.material : last?.amount)?.focus();
    announce(`${filled.length} lines filled.`);
  }

  /** @param {Phase} phase */
  makePhase(phase) {
    const id = phase.id;
    const alter = (/** @type {string} */ what, /** @type {string} */ key, /** @type {(phase: Phase) => void} */ change) => this.session.change(what, key, (draft) => { const one = draft.phases.find((other) => other.id === id); if (one) change(one); });
    /** @param {'name'|'temperature_c'|'step'} name @param {string} tag @param {Record<string, any>} properties */
    const field = (name, tag, properties) => {
      const input = h(tag, { autocomplete: 'off', ...properties,
        onfocus: () => this.session.settle(),
        oninput: () => alter(properties['aria-label'].toLowerCase(), `${id}.${name}`, (one) => { one[name] = name === 'temperature_c' ? canonical(input.value) ?? input.value : input.value; }),
        onblur: () => { this.session.settle(); this.update(); } });
      return input;
    };
    const view = {
      name: field('name', 'input', { class: 'phase-letter', 'aria-label': 'Name of the phase', maxLength: 24 }),
      temperature: field('temperature_c', 'input', { 'aria-label': 'Temperature of the phase, °C', inputMode: 'decimal', placeholder: 'any' }),
      step: field('step', 'textarea', { 'aria-label': 'What is done in this phase', placeholder: 'What is done with it', rows: 1 }),
      sumNumber: numberButton({ aligned: true, unit: false }),
      sum: h('div', { class: 'phase-sum' }),
      troubles: h('div', {}),
      rows: h('div', { class: 'rows', role: 'rowgroup' }),
      ghost: h('input', { type: 'text', placeholder: 'Add: name, INCI name, CAS number or function', autocomplete: 'off', spellcheck: false, 'data-field': 'ghost' }),
      slot: h('div', { class: 'slot' }),
      element: /** @type {any} */ (null),
    };
    view.sum.append(view.sumNumber);
    view.ghost.setAttribute('aria-label', `Add a raw material to phase ${phase.name}`);
    const begin = () => {
      const typed = view.ghost.value;
      if (!typed) return;
      const line = newLine({ material: typed });
      view.ghost.value = '';
      this.session.settle();
      this.session.change('add a line', `${line.id}.material`, (draft) => { draft.phases.find((one) => one.id === id)?.lines.push(line); });
      const input = this.rows.get(line.id)?.material;
      input?.focus();
      input?.setSelectionRange(typed.length, typed.length);
      this.session.openKey = `${line.id}.material`;
      input?.dispatchEvent(new Event('input'));
    };
    view.ghost.addEventListener('input', begin);
    view.ghost.addEventListener('paste', (/** @type {ClipboardEvent} */ event) => this.paste(event, '', id, 'material'));
    view.ghost.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
      if (event.key === 'ArrowUp' || (event.key === 'Enter' && event.shiftKey)) {
        const lines = this.session.draft.phases.find((one) => one.id === id)?.lines ?? [];
        this.rows.get(lines[lines.length - 1]?.id)?.material.focus();
      } else if (event.key === 'ArrowDown' || event.key === 'Enter') {
        const at = this.session.draft.phases.findIndex((one) => one.id === id);
        const next = this.session.draft.phases[at + 1];
        if (next) (this.rows.get(next.lines[0]?.id)?.material ?? this.phases.get(next.id)?.ghost).focus();
      } else return;
      event.preventDefault();
    });
    const removePhase = h('button', { class: 'verb plain', type: 'button', onclick: () => { this.session.settle(); this.session.change('take out a phase', '', (draft) => { draft.phases = draft.phases.filter((one) => one.id !== id); }); } }, 'Take out this empty phase');
    view.element = h('section', { class: 'phase line', 'data-id': id },
      h('div', { class: 'phase-head' }, view.name, h('div', { class: 'step-line' }, h('span', { class: 'heat' }, 'at ', view.temperature, ' °C'), view.step), view.sum),
      view.troubles, view.slot, view.rows,
      h('div', { class: 'row ghost' }, h('span', { class: 'no' }), h('div', { class: 'cell name' }, view.ghost), removePhase));
    removePhase.style.gridColumn = '3 / -1';
    /** @type {any} */ (view).removePhase = removePhase;
    return view;
  }

  /** Brings everything on the paper up to the draft and its judgement. */
  update() {
    const { draft, judgement } = this.session;
    const assessment = judgement.assessment;
    this.texts = new Map();
    this.buttons = new Map();
    const note = (/** @type {string} */ path, /** @type {string} */ label, /** @type {string} */ text, /** @type {HTMLElement} */ button) => {
      this.texts.set(path, { label, text });
      this.buttons.set(path, button);
    };
    this.head.update();
    for (const [input, value] of [[this.benchSize, draft.bench.size_g], [this.benchBalance, draft.bench.balance_g]]) {
      if (document.activeElement !== input && input.value !== echo(value)) input.value = echo(value);
    }
    /** @type {Map<string, number>} */
    const index = new Map(judgement.line_ids.map((/** @type {string} */ id, /** @type {number} */ at) => [id, at]));
    const gravities = this.gravities(assessment);
    let position = 0;
    const active = document.activeElement;
    order(this.lines, draft.phases.map((phase) => {
      let view = this.phases.get(phase.id);
      if (!view) { view = this.makePhase(phase); this.phases.set(phase.id, view); }
      for (const [input, value] of [[view.name, phase.name], [view.temperature, echo(phase.temperature_c)], [view.step, phase.step]]) if (document.activeElement !== input && input.value !== value) input.value = value;
      view.removePhase.hidden = phase.lines.length > 0 || draft.phases.length < 2;
      let sum = 0;
      order(view.rows, phase.lines.map((line) => {
        let row = this.rows.get(line.id);
        if (!row) { row = this.makeRow(line.id); this.rows.set(line.id, row); }
        position += 1;
        const at = index.get(line.id);
        const reading = at === undefined ? null : assessment?.lines[at];
        sum += reading?.percent?.value ?? 0;
        const remarks = judgement.remarks.filter((/** @type {any} */ one) => one.line_id === line.id);
        row.update(line, position, reading, at === undefined ? null : judgement.weighing[at], remarks, at === undefined ? '' : gravities.get(at) ?? '', note);
        return row.element;
      }));
      view.sum.hidden = !assessment || !sum;
      setNumber(view.sumNumber, sumOf(sum, `the lines of phase ${phase.name}`), `Sum of phase ${phase.name}`, { exact: sum.toFixed(2) });
      view.troubles.replaceChildren(...judgement.remarks.filter((/** @type {any} */ one) => one.phase_id === phase.id).map((/** @type {any} */ one) => troubleBox(one)));
      return view.element;
    }));
    if (active instanceof HTMLElement && active !== document.activeElement && active.isConnected) active.focus({ preventScroll: true });
    this.forget();
    this.paper.classList.toggle('stale', this.session.stale);
    this.putStrip(assessment, note);
    const total = assessment?.composition?.total ?? null;
    setNumber(this.sum, total, 'Sum of the lines', { exact: Number(total?.value).toFixed(2) });
    this.first.update(assessment, judgement.remarks, whyButton);
    this.notes = this.makeNotes(assessment);
    this.layOut();
    this.markMoved();
  }

  /** Forgets rows and phases that undo cannot bring back to the same element anyway. */
  forget() {
    const live = new Set(allLines(this.session.draft).map((line) => line.id));
    for (const id of this.rows.keys()) if (!live.has(id)) this.rows.delete(id);
    const phases = new Set(this.session.draft.phases.map((phase) => phase.id));
    for (const id of this.phases.keys()) if (!phases.has(id)) this.phases.delete(id);
  }

  /** The gravest finding of each line. @param {any} assessment @returns {Map<number, string>} */
  gravities(assessment) {
    const found = new Map();
    for (const finding of assessment?.findings ?? []) {
      // A note about nearly every line is about the product; it marks none of them.
      const lines = finding.concerns.lines ?? [];
      if (lines.length > 4) continue;
      for (const line of lines) {
        const have = found.get(line);
        if (have === undefined || WEIGHT.indexOf(finding.gravity) < WEIGHT.indexOf(have)) found.set(line, finding.gravity);
      }
    }
    return found;
  }

  /** @param {any} assessment @param {(path: string, label: string, text: string, button: HTMLElement) => void} note */
  putStrip(assessment, note) {
    const put = (/** @type {string} */ label, /** @type {any} */ outcome, how = {}) => {
      let button = this.stripButtons.get(label);
      if (!button) { button = numberButton(); this.stripButtons.set(label, button); }
      const text = setNumber(button, outcome, label, how);
      this.strip.put(label, button);
      if (outcome) note(`strip.${label}`, label, text, button);
    };
    put('pH', assessment?.ph?.neat);
    const weakest = weakestPreservative(assessment);
    put('Preservative at work', weakest ? asPercent(weakest.share) : null, { most: 1 });
    put('Viscosity', assessment?.flow?.at_brief);
    put('Water', assessment?.composition?.water, { most: 1 });
    put('Density', assessment?.composition?.density, { most: 3 });
    put('Bulk cost', assessment?.cost?.per_kg, { most: 2, least: 2 });
    this.strip.count(assessment?.findings ?? []);
  }

  /** @param {any} assessment @returns {import('./margin.js').Note[]} */
  makeNotes(assessment) {
    if (!assessment) return [];
    /** @type {import('./margin.js').Note[]} */
    const notes = [];
    const ids = this.session.judgement.line_ids;
    const numberOf = (/** @type {number} */ index) => this.numberOf(index);
    const add = (/** @type {string} */ anchor, /** @type {HTMLElement} */ element, /** @type {number|null} */ line) => { element.dataset.anchor = anchor; notes.push({ line, anchor, element }); };
    const findings = gravestFirst(assessment.findings);
    const gravest = findings[0]?.gravity === 'know' ? null : findings[0];
    for (const [finding, ...others] of alike(findings.filter((one) => one !== gravest))) {
      const { kind, lines, phase } = finding.concerns;
      if (kind === 'lines' && lines.length && ids[lines[0]]) {
        // The note stands beside the first line it speaks of; one about nearly every line stands at the top.
        const first = Math.min(...[finding, ...others].flatMap((one) => one.concerns.lines ?? []));
        if (lines.length > 4) add('top', findingNote(finding, numberOf, '', others), null);
        else add(ids[others.length ? first : lines[0]], findingNote(finding, numberOf, '', others), lines[0]);
      } else if (kind === 'phase' && this.session.draft.phases[phase]) {
        add(this.session.draft.phases[phase].id, findingNote(finding, numberOf, `phase ${this.session.draft.phases[phase].name}`, others), null);
      } else {
        add('top', findingNote(finding, numberOf, aboutWhat(finding), others), null);
      }
    }
    for (const adjuster of assessment.adjusters ?? []) {
      if (ids[adjuster.line]) add(ids[adjuster.line], readingNote(adjuster.percent, `${adjuster.name} to pH ${adjuster.to_ph}`, `brings it to pH ${echo(String(adjuster.to_ph))}`), adjuster.line);
    }
    const taught = this.session.judgement.taught_ph;
    if (taught) add('top', taughtNote(taught, this.session.id), null);
    for (const one of taught?.amounts ?? []) {
      if (ids[one.line]) add(ids[one.line], readingNote(one.taught, `${one.name}, with what trials taught`, `with what trials taught; ${banded(one.untaught)} from the papers alone`), one.line);
    }
    for (const one of standing(assessment)) {
      const line = one.lines?.[0] ?? one.line;
      if (ids[line] === undefined || !one.share || one.share.value === null || isWhole(one.share)) continue;
      add(ids[line], readingNote(asPercent(one.share), `${one.acts_as_name ?? one.acts_as}, working share`, `of it is at work as ${one.acts_as_name ?? one.acts_as}`), line);
    }
    const { ph } = assessment;
    if (ph?.at_target && ph.at_target.value !== null) add('top', readingNote(ph.at_target, `pH read ${ph.target_read}`, `is the pH as it is wanted: read ${ph.target_read}; wanted ${echo(this.session.draft.target.ph_low)} to ${echo(this.session.draft.target.ph_high)}`), null);
    const { flow } = assessment;
    if (flow?.at_brief && flow.at_brief.value !== null) add('top', flowNote(flow, this.session.draft.target), null);
    for (const one of flow?.thickeners ?? []) {
      if (ids[one.lines?.[0]] !== undefined && one.alone?.value !== null && flow.thickeners.length > 1) add(ids[one.lines[0]], readingNote(one.alone, `${one.name} alone`, 'is what it alone would make of the solvent'), one.lines[0]);
    }
    const rank = new Map([['top', -1]]);
    let at = 0;
    for (const phase of this.session.draft.phases) { rank.set(phase.id, at); at += 1; for (const line of phase.lines) { rank.set(line.id, at); at += 1; } }
    return notes.map((note, order) => ({ note, order })).sort((a, b) => ((rank.get(a.note.anchor) ?? 0) - (rank.get(b.note.anchor) ?? 0)) || (a.order - b.order)).map((one) => one.note);
  }

  layOut() {
    cancelAnimationFrame(this.layFrame ?? 0);
    const now = () => {
      const places = new Map([['top', this.top]]);
      for (const [id, row] of this.rows) places.set(id, row.element);
      for (const [id, view] of this.phases) places.set(id, view.element);
      placeNotes(this.margin, this.notes ?? [], places);
    };
    if (window.matchMedia('print').matches) now();
    else this.layFrame = requestAnimationFrame(now);
  }

  /** A new step began: what is shown now is what it will be compared with. */
  newStep() {
    this.before = this.texts;
  }

  markMoved() {
    const moved = [];
    for (const [path, now] of this.texts) {
      const was = this.before.get(path);
      const differs = was !== undefined && was.text !== now.text;
      this.buttons.get(path)?.classList.toggle('moved', differs);
      if (differs) moved.push({ label: now.label, was: was.text, now: now.text });
    }
    this.lastEdit.hidden = !moved.length;
    if (!moved.length) return;
    say(/** @type {Element} */ (this.lastEdit.querySelector('summary span')), `The last edit moved ${moved.length} ${moved.length === 1 ? 'number' : 'numbers'}`);
    this.lastEdit.querySelector('ul')?.replaceChildren(...moved.map((one) => h('li', {}, one.label, h('b', {}, `${one.was} → ${one.now}`))));
  }
}

/** @param {number} value @param {string} what @returns {import('./figures.js').Outcome} */
function sumOf(value, what) {
  return { value, unit: '% w/w', grade: 'computed', method: `sum of ${what}`, equation: 'Σ w', proof: 'addition', range: 'any' };
}

/** Puts children in order, moving only those out of place. @param {HTMLElement} parent @param {HTMLElement[]} children */
function order(parent, children) {
  children.forEach((child, at) => { if (parent.children[at] !== child) parent.insertBefore(child, parent.children[at] ?? null); });
  while (parent.children.length > children.length) parent.lastElementChild?.remove();
}

/** The preservatives as the product stands. @param {any} assessment @returns {any[]} */
export function standing(assessment) {
  const reading = assessment?.preservatives;
  if (Array.isArray(reading)) return reading;
  const now = reading?.at?.find((/** @type {any} */ one) => one.edge === 'as it stands') ?? reading?.at?.[0];
  return now?.preservatives ?? [];
}

/** @param {any} share */
function isWhole(share) {
  return share.unit === '' && share.value === 1;
}

/** The preservative that works least. @param {any} assessment */
function weakestPreservative(assessment) {
  const all = standing(assessment).filter((one) => one.share && one.share.value !== null);
  all.sort((a, b) => (asPercent(a.share).value ?? 0) - (asPercent(b.share).value ?? 0));
  return all[0];
}

/** A share of one as percent; the rest of what stands behind it unchanged. @param {any} outcome */
export function asPercent(outcome) {
  if (!outcome || outcome.unit !== '' || outcome.value === null) return outcome;
  const times = (/** @type {number|null|undefined} */ value) => (typeof value === 'number' ? value * 100 : value);
  return { ...outcome, value: times(outcome.value), low: times(outcome.low), high: times(outcome.high), unit: '%' };
}
