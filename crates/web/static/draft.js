// @ts-check
/** The draft as the page holds it, and what can be done to it. Numbers are kept with a point; fields show the person's sign. */

import { canonical } from './figures.js';

/** Sites of use and product types that have a word here; others from a file stay as they are. */
export const SITES = ['face', 'eye', 'lips', 'neck', 'body', 'hand', 'scalp', 'foot'];
export const TYPES = ['serum', 'gel', 'toner', 'essence', 'lotion', 'cream', 'cream-gel', 'spray', 'micellar water'];

/**
 * @typedef {'percent'|'active_percent'|'remainder'|'to_ph'} Kind
 * @typedef {{id: string, material: string, kind: Kind, amount: string, assay_percent: string, lot: string, note: string, tolerance_percent: string}} Line
 * @typedef {{id: string, name: string, temperature_c: string, step: string, lines: Line[]}} Phase
 * @typedef {{product: any, target: any, phases: Phase[], steps: import('./making.js').Step[], bench: {size_g: string, balance_g: string}}} Draft
 */

let made = 0;

/** An identifier no other line or phase has. */
export function newId() {
  made += 1;
  return `n${Date.now().toString(36)}${made.toString(36)}`;
}

/** @param {Partial<Line>} [given] @returns {Line} */
export function newLine(given = {}) {
  return { id: newId(), material: '', kind: 'percent', amount: '', assay_percent: '', lot: '', note: '', tolerance_percent: '', ...given };
}

/** @param {string} name @returns {Phase} */
export function newPhase(name) {
  return { id: newId(), name, temperature_c: '', step: '', lines: [] };
}

/**
 * The letter after the last phase.
 * @param {Draft} draft
 */
export function nextLetter(draft) {
  const last = draft.phases[draft.phases.length - 1]?.name ?? '';
  return /^[A-Y]$/.test(last) ? String.fromCharCode(last.charCodeAt(0) + 1) : draft.phases.length ? String(draft.phases.length + 1) : 'A';
}

/** Gives ids to what came without. @param {Draft} draft */
export function completed(draft) {
  const seen = new Set();
  for (const phase of draft.phases) {
    if (!phase.id || seen.has(phase.id)) phase.id = newId();
    seen.add(phase.id);
    for (const line of phase.lines) {
      if (!line.id || seen.has(line.id)) line.id = newId();
      seen.add(line.id);
    }
  }
  draft.steps ??= [];
  for (const step of draft.steps) {
    if (!step.id || seen.has(step.id)) step.id = newId();
    seen.add(step.id);
  }
  if (!draft.phases.length) draft.phases.push(newPhase('A'));
  return draft;
}

/**
 * @param {Draft} draft
 * @param {string} id
 * @returns {{phase: number, line: number}|null}
 */
export function whereIs(draft, id) {
  for (let phase = 0; phase < draft.phases.length; phase += 1) {
    const line = draft.phases[phase].lines.findIndex((one) => one.id === id);
    if (line >= 0) return { phase, line };
  }
  return null;
}

/** @param {Draft} draft @param {string} id */
export function lineOf(draft, id) {
  const at = whereIs(draft, id);
  return at ? draft.phases[at.phase].lines[at.line] : null;
}

/** All lines in order. @param {Draft} draft */
export function allLines(draft) {
  return draft.phases.flatMap((phase) => phase.lines);
}

/**
 * What a person typed in an amount cell: a number, a number of the active, q.s., or a pH to reach.
 * Returns the change it means for the line.
 * @param {string} typed
 * @param {Kind} kind the kind the line has now
 * @returns {{kind: Kind, amount: string}}
 */
export function readAmount(typed, kind) {
  const text = typed.trim();
  if (/^(q\.?\s*s\.?|qs|ad)(\s*(to\s*)?100)?$/i.test(text)) return { kind: 'remainder', amount: '' };
  const ph = /^(?:q\.?s\.?\s*)?(?:to\s*)?ph\s*([\d.,٫٠-٩]+)$/i.exec(text);
  if (ph) return { kind: 'to_ph', amount: canonical(ph[1]) ?? ph[1] };
  const active = /^([\d.,٫٠-٩]+)\s*%?\s*(?:a|act|active)\.?$/i.exec(text);
  if (active) return { kind: 'active_percent', amount: canonical(active[1]) ?? active[1] };
  const next = kind === 'remainder' && text ? 'percent' : kind;
  return { kind: next, amount: canonical(text) ?? text };
}

/**
 * Moves a line up or down, over the edge of its phase into the next.
 * @param {Draft} draft @param {string} id @param {-1|1} step
 */
export function moveLine(draft, id, step) {
  const at = whereIs(draft, id);
  if (!at) return;
  const from = draft.phases[at.phase].lines;
  const target = at.line + step;
  if (target >= 0 && target < from.length) {
    [from[at.line], from[target]] = [from[target], from[at.line]];
    return;
  }
  const other = draft.phases[at.phase + step];
  if (!other) return;
  const [line] = from.splice(at.line, 1);
  if (step > 0) other.lines.unshift(line);
  else other.lines.push(line);
}

/** @param {Draft} draft @param {string} id */
export function removeLine(draft, id) {
  const at = whereIs(draft, id);
  if (at) draft.phases[at.phase].lines.splice(at.line, 1);
}

/**
 * Rows of a block copied from a spreadsheet.
 * @param {string} text
 * @returns {string[][]}
 */
export function blockOf(text) {
  return text.replace(/\r\n?/g, '\n').replace(/\n+$/, '').split('\n').map((row) => row.split('\t').map((cell) => cell.trim()));
}

/**
 * Lays a pasted block over the sheet from a line on. A block that begins in the material column brings names and, beside
 * them, amounts; one that begins in the amount column brings amounts only. Lines that are missing are added to the phase.
 * @param {Draft} draft @param {string} phaseId @param {string|null} lineId @param {'material'|'amount'} field @param {string[][]} block
 * @returns {string[]} ids of the lines filled
 */
export function layBlock(draft, phaseId, lineId, field, block) {
  const phase = draft.phases.find((one) => one.id === phaseId) ?? draft.phases[0];
  let at = lineId ? phase.lines.findIndex((line) => line.id === lineId) : phase.lines.length;
  if (at < 0) at = phase.lines.length;
  const filled = [];
  for (const cells of block) {
    if (cells.every((cell) => cell === '')) continue;
    if (!phase.lines[at]) phase.lines.splice(at, 0, newLine());
    const line = phase.lines[at];
    if (field === 'material') {
      if (cells[0]) line.material = cells[0];
      const amount = cells.slice(1).find((cell) => cell !== '');
      if (amount !== undefined) Object.assign(line, readAmount(amount, line.kind));
    } else {
      Object.assign(line, readAmount(cells[0], line.kind));
    }
    filled.push(line.id);
    at += 1;
  }
  return filled;
}
