// @ts-check
/** How much of a thickener gives a viscosity: asked for under the flow curve, answered with the levels to make. */

import { Trouble } from './api.js';
import { know } from './derivation.js';
import { h } from './dom.js';
import { canonical, echo, plain } from './figures.js';
import { number } from './number.js';

/** A number in two figures: levels side by side must be told apart even where each is only roughly known. @param {number} value */
const two = (value) => String(Number(value.toPrecision(2)));

/** The ends of a level in words; one may lie out of reach. @param {import('./figures.js').Outcome} level */
function ends(level) {
  const [low, high] = [level.low, level.high].map((end) => (typeof end === 'number' ? echo(String(Number(end.toPrecision(3)))) : ''));
  if (low && high) return `between ${low} and ${high} %, 95 times in 100`;
  if (low) return `at least ${low} %, 95 times in 100; its upper end is out of reach`;
  return high ? `at most ${high} %, 95 times in 100; its lower end is out of reach` : 'both ends out of reach';
}

export class LevelView {
  /** @param {(line: string, mpaS: number) => Promise<any>} ask */
  constructor(ask) {
    this.ask = ask;
    this.wanted = h('input', { type: 'text', inputMode: 'decimal', autocomplete: 'off', class: 'figure-field wide-figure', 'aria-label': 'Viscosity wanted, mPa·s' });
    this.choice = h('select', { 'aria-label': 'Thickener whose level is sought' });
    this.answer = h('div', { 'aria-live': 'polite' });
    this.element = h('section', { class: 'level', 'aria-label': 'Level of a thickener', hidden: true }, h('h3', {}, 'How much for it'),
      h('form', { class: 'sentence', onsubmit: (/** @type {SubmitEvent} */ event) => { event.preventDefault(); this.find(); } }, 'For ', this.wanted, ' mPa·s at the conditions of the brief, of ', this.choice, ' ', h('button', { class: 'verb', type: 'submit' }, 'Find the level')),
      this.answer);
  }

  /** The thickeners as the sheet has them now. What was found for the sheet before is taken away. @param {any} assessment @param {string[]} lineIds @param {{viscosity_low: string, viscosity_high: string}} target */
  update(assessment, lineIds, target) {
    const thickeners = assessment?.flow?.thickeners ?? [];
    this.element.hidden = !thickeners.length;
    const kept = this.choice.value;
    this.choice.replaceChildren(...thickeners.map((/** @type {any} */ one) => h('option', { value: lineIds[one.lines[0]] ?? '' }, one.name)));
    if ([...this.choice.options].some((option) => option.value === kept)) this.choice.value = kept;
    const [low, high] = [target.viscosity_low, target.viscosity_high].map((end) => Number(canonical(end) ?? NaN));
    if (!this.wanted.value && low > 0 && high > 0) this.wanted.value = echo(String(Number(Math.sqrt(low * high).toPrecision(2))));
    this.answer.replaceChildren();
  }

  async find() {
    const wanted = Number(canonical(this.wanted.value) ?? NaN);
    if (!(wanted > 0)) {
      this.answer.replaceChildren(h('div', { class: 'field-trouble', role: 'alert' }, h('b', {}, `“${this.wanted.value}” is no viscosity.`), ' Write a number above zero, in mPa·s.'));
      this.wanted.focus();
      return;
    }
    let found;
    try {
      found = await this.ask(this.choice.value, wanted);
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      this.answer.replaceChildren(h('p', { class: 'aside', role: 'alert' }, `${error.told.what} ${error.told.what_now}`));
      return;
    }
    if (!found) {
      this.answer.replaceChildren(h('p', { class: 'aside' }, 'The sheet cannot be assessed as it stands: mend what is marked in it first.'));
      return;
    }
    know({ citations: found.sources });
    this.answer.replaceChildren(
      found.level.value === null ? h('p', {}, `No level: ${found.level.refused}.`) : h('p', { class: 'found-level' }, number(found.level, `Level of ${found.material}`, { least: 2 }), h('span', { class: 'aside' }, ` ${[ends(found.level), found.condition].filter(Boolean).join('; ')}`)),
      ...found.level.notes.filter((/** @type {any} */ note) => ['outside-evidence', 'learned'].includes(note.code)).map((/** @type {any} */ note) => h('p', { class: 'aside' }, `${note.text.charAt(0).toUpperCase()}${note.text.slice(1)}.`)),
      ...(found.ladder.length ? [h('p', {}, found.advice), h('table', { class: 'calm' },
        h('thead', {}, h('tr', {}, h('th', { class: 'figure' }, 'Make, %'), h('th', { class: 'figure' }, 'Predicted'), h('th', {}, '95 times in 100'))),
        h('tbody', {}, ...found.ladder.map((/** @type {any} */ rung) => h('tr', {}, h('td', { class: 'figure' }, echo(String(Number(rung.percent.value.toPrecision(6))))), h('td', { class: 'figure' }, number(rung.viscosity, `Viscosity at ${plain(rung.percent.value)} %`, { exact: two(rung.viscosity.value) })), h('td', {}, `${two(rung.viscosity.low)} to ${two(rung.viscosity.high)}`)))))] : []));
  }
}
