// @ts-check
/** What the flow of a formula means in use: a calm table under the flow curve, with sizes that can be set. */

import { h, prose } from './dom.js';
import { know } from './derivation.js';
import { canonical, echo, plain } from './figures.js';
import { number } from './number.js';

/** What a size is called for those who hear it. @type {Record<string, string>} */
const SIZES = {
  dose_ml: 'Dose on the hand, mL', angle_deg: 'Tilt of the hand, degrees', time_s: 'Time it is watched, s', stroke_ml: 'Stroke of the pump, mL', pressure_kpa: 'Pressure of the finger in the pump, kPa',
  nozzle_mm: 'Bore of the nozzle, mm', finger_m_s: 'Speed of the finger, m/s', film_um: 'Film under the finger, µm', drop_um: 'Median drop, µm', months: 'Shelf life, months',
};
/** A drop of a centimetre is no drop any more. */
const LARGER_THAN_ANY_UM = 10000;

export class InUseView {
  /** @param {(sizes: Record<string, number>) => Promise<any>} ask */
  constructor(ask) {
    this.ask = ask;
    /** @type {Record<string, number>} */ this.set = {};
    /** @type {Map<string, HTMLInputElement>} */ this.fields = new Map();
    const f = (/** @type {string} */ name) => this.field(name);
    this.sentence = h('p', { class: 'sentence' }, 'A dose of ', f('dose_ml'), ' mL on a hand tilted by ', f('angle_deg'), '°, watched for ', f('time_s'), ' s; a stroke of ', f('stroke_ml'), ' mL pushed with ', f('pressure_kpa'), ' kPa through a nozzle of ', f('nozzle_mm'),
      ' mm; a finger at ', f('finger_m_s'), ' m/s on a film of ', f('film_um'), ' µm; drops of ', f('drop_um'), ' µm for ', f('months'), ' months.');
    this.answers = h('div', { class: 'in-use-parts' });
    this.words = h('div', {});
    this.trouble = h('div', { role: 'alert' });
    this.element = h('section', { class: 'in-use', 'aria-label': 'In use', hidden: true }, h('h3', {}, 'In use'), this.sentence, this.trouble, this.answers, this.words);
    this.number = 0;
  }

  /** @param {string} name */
  field(name) {
    const input = h('input', { type: 'text', inputMode: 'decimal', autocomplete: 'off', class: 'figure-field', 'aria-label': SIZES[name],
      onchange: () => {
        const value = Number(canonical(input.value) ?? NaN);
        const size = this.found?.sizes.find((/** @type {any} */ one) => one.name === name);
        const [least, most] = size?.limits ?? [0, Infinity];
        if (!(value >= least && value <= most)) {
          input.classList.add('bad');
          this.trouble.replaceChildren(h('div', { class: 'field-trouble' }, h('b', {}, `“${input.value}” cannot be: ${SIZES[name].toLowerCase()}.`), ` It lies between ${plain(least)} and ${plain(most)}. What stands below is still for ${plain(size?.value ?? 0)}.`));
          return;
        }
        this.set[name] = value;
        this.update();
      } });
    this.fields.set(name, input);
    return input;
  }

  async update() {
    this.number += 1;
    const mine = this.number;
    let found;
    try {
      found = await this.ask(this.set);
    } catch {
      // The sheet itself tells when the program does not answer; what stands here stays.
      return;
    }
    if (mine !== this.number) return;
    this.found = found;
    this.element.hidden = !found;
    if (!found) return;
    know({ citations: found.sources });
    this.trouble.replaceChildren(...(found.refused ? [h('p', { class: 'aside' }, `No answer: ${found.refused}.`)] : []));
    this.sentence.hidden = Boolean(found.refused);
    for (const size of found.sizes) {
      const input = this.fields.get(size.name);
      if (!input || document.activeElement === input && input.classList.contains('bad')) continue;
      input.classList.remove('bad');
      const text = echo(String(size.value));
      if (input.value !== text) input.value = text;
    }
    this.fill(found.answers, new Map(found.sizes.map((/** @type {any} */ one) => [one.name, echo(String(one.value))])));
  }

  /** @param {any} answers @param {Map<string, string>} size */
  fill(answers, size) {
    if (!answers) { this.answers.replaceChildren(); this.words.replaceChildren(); return; }
    const { dispense, drain, cream, words } = answers;
    this.answers.replaceChildren(
      part('Out of the pack', [['Dose of a stroke', dispense.dose], ['Force of the finger for a full one', dispense.force], ['Pressure before anything comes', dispense.start_pressure], ['Chamber full again after', dispense.refill]], dispense.verdicts),
      part('Over the skin', [[`Runs in ${size.get('time_s')} s`, drain.run], ['Height of the dose on a level hand', drain.heap_height], ['Thickest film that stays', drain.thickest_film], ['Marks of the finger gone after', drain.level_time], ['Stress on the skin under the finger', drain.drag]], drain.verdicts),
      part('On the shelf', [[`Way of a drop in ${size.get('months')} months`, cream.way], ['Largest drop that is held', cream.largest_held, cream.largest_held?.value > LARGER_THAN_ANY_UM ? 'more than any pack holds' : ''], ['Yield stress that would hold it', cream.yield_to_hold], ...cream.bubbles.slice(0, 3).map((/** @type {any} */ one) => /** @type {[string, any]} */ ([`Bubble of ${plain(one.diameter.value)} mm rises in`, one.time]))], cream.verdicts));
    const by = (/** @type {string} */ holds) => words.filter((/** @type {any} */ one) => one.holds === holds);
    const said = (/** @type {string} */ holds, /** @type {string} */ label) => (by(holds).length ? h('p', {}, h('b', {}, label), ' ', ...by(holds).flatMap((/** @type {any} */ one, /** @type {number} */ at) => [at ? ', ' : '', h('span', { title: `${one.means} ${one.reason}` }, `“${one.words}”`)]), '.') : null);
    const parts = [said('surely', 'Words it surely meets:'), said('perhaps', 'Perhaps:')].filter((one) => one !== null);
    this.words.replaceChildren(h('div', { class: 'in-use-words' }, ...parts, h('p', { class: 'hint' }, 'The numbers behind the words are a convention of this program, not a fact; a laboratory can lay its own over them.')));
  }
}

/** @param {string} title @param {Array<[string, any, string?]>} pairs @param {any[]} verdicts */
function part(title, pairs, verdicts) {
  const known = pairs.filter(([, outcome]) => outcome);
  return h('div', { class: 'in-use-part' }, h('h4', {}, title),
    h('dl', { class: 'pairs' }, ...known.map(([label, outcome, aside]) => h('div', {}, h('dt', {}, label), h('dd', {}, number(outcome, label), outcome.value === null ? h('span', { class: 'small aside' }, outcome.refused ?? '') : aside ? h('span', { class: 'small aside' }, aside) : null)))),
    h('ul', { class: 'verdicts' }, ...verdicts.map((one) => h('li', {}, `${upper(one.question)}: `, h('b', {}, one.holds === 'not' ? 'no' : one.holds), `. ${prose(upper(one.because)).replace(/ um\b/g, ' µm')}.`))));
}

/** @param {string} text */
function upper(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
