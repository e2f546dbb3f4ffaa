// @ts-check
/** How it is made: the steps under the sheet, each with why it stands there in the margin. They are moved by buttons and keys, and saved with the formula. */

import { know } from './derivation.js';
import { h, mark, prose, say } from './dom.js';
import { allLines, newId } from './draft.js';
import { canonical, echo, plain } from './figures.js';
import { number } from './number.js';

/**
 * @typedef {{line: string, share_percent: string}} StepLine
 * @typedef {{id: string, does: string, name: string, lines: StepLine[], premixes: string[], temperature_low: string, temperature_high: string, stirring: string, minutes_low: string, minutes_high: string, checks: string[], note: string}} Step
 */

/** What a step does, in the words of the page. @type {Record<string, string>} */
const DOES = {
  premix: 'Premix', add: 'Add', disperse: 'Disperse', hydrate: 'Let it swell', heat: 'Heat', hold: 'Hold', cool: 'Cool', 'make-up': 'Make up the water', 'de-air': 'Let the air out', 'adjust-ph': 'Set the pH', check: 'Look and measure',
};
/** Reasons shown at once; the others wait behind them. */
const AT_ONCE = 2;

export class MakingView {
  /** @param {import('./session.js').Session} session @param {HTMLElement} place */
  constructor(session, place) {
    this.session = session;
    this.place = place;
    this.asked = 0;
    this.open = '';
    /** @type {any} */ this.made = null;
    this.says = h('p', { class: 'says' });
    this.verbs = h('div', { class: 'verbs' });
    this.whole = h('div', { class: 'making-whole' });
    this.steps = h('ol', { class: 'making-steps' });
    this.foot = h('div', { class: 'making-foot' });
    place.replaceChildren(h('div', { class: 'making-head' }, h('div', {}, h('h2', {}, 'How it is made'), this.says, this.verbs), this.whole), this.steps, this.foot);
    place.addEventListener('keydown', (event) => this.key(event));
  }

  async update() {
    this.asked += 1;
    const mine = this.asked;
    let made;
    try {
      made = await this.session.procedure();
    } catch {
      // The sheet itself tells when the program does not answer; what stands here stays.
      return;
    }
    if (mine !== this.asked || !made) return;
    this.made = made;
    know({ citations: made.sources });
    this.draw();
  }

  /** Puts the steps on the page; what had the cursor has it again. */
  draw() {
    const { made } = this;
    const active = /** @type {HTMLElement|null} */ (document.activeElement);
    const held = active && this.place.contains(active) ? active.dataset.keep : '';
    this.place.hidden = false;
    say(this.says, made.written
      ? 'Your own steps, held against what the handling of the raw materials asks.'
      : 'Proposed from the raw materials and the order of the phases. Whatever you change here becomes your own procedure and is saved with the formula. How long heating and cooling take depends on the vessel.');
    this.verbs.replaceChildren(...(made.written && !this.session.lookingBack ? [h('button', { class: 'verb', type: 'button', data: { keep: 'back' }, onclick: () => this.change('go back to the proposed procedure', (draft) => { draft.steps = []; }) }, 'Back to the proposal')] : []));
    this.whole.replaceChildren(...made.questions.map((/** @type {any} */ one) => this.question(one)), ...made.conflicts.map((/** @type {any} */ one) => this.conflict(one)), ...made.broken.map((/** @type {any} */ one) => broken(one)), ...(made.offer && !this.session.lookingBack ? [this.offer(made.offer)] : []), ...this.departures());
    this.steps.replaceChildren(...made.steps.map((/** @type {any} */ step, /** @type {number} */ at) => this.step(step, at)));
    this.foot.replaceChildren(...(this.session.lookingBack ? [] : [this.adding()]));
    if (held) /** @type {HTMLElement|null} */ (this.place.querySelector(`[data-keep="${CSS.escape(held)}"]`))?.focus();
  }

  /** Changes the steps; the proposal becomes the person's own with the first change. @param {string} what @param {(draft: any) => void} alter @param {string} [key] */
  change(what, alter, key = '') {
    const fields = structuredClone(this.made.fields);
    this.session.change(what, key, (draft) => {
      const own = /** @type {any} */ (draft);
      if (!own.steps?.length) own.steps = fields;
      alter(own);
    });
  }

  /** @param {any} one */
  question(one) {
    const line = this.lineName(one.line);
    return h('div', { class: 'note' }, h('p', {}, h('span', { class: 'gravity gravity-check' }, mark('check', 'shape'), 'ask'), ' ', h('span', { class: 'key' }, `line ${one.line + 1}`)), h('p', { class: 'found' }, prose(one.asks)),
      h('p', { class: 'change' }, `Taken here: ${one.taken}.${one.otherwise.length ? ` If not, write ${one.otherwise.join(' or ')} on the line of ${line}.` : ''}`), h('p', { class: 'change' }, prose(one.why), cited(one, this.made)));
  }

  /** @param {any} one */
  conflict(one) {
    return h('div', { class: 'note' }, h('p', {}, h('span', { class: `gravity gravity-${one.gravity}` }, mark(one.gravity, 'shape'), one.gravity), ' ', h('span', { class: 'key' }, 'no procedure keeps all of these')),
      h('ul', { class: 'demands' }, ...one.demands.map((/** @type {any} */ demand, /** @type {number} */ at) => h('li', {}, h('b', {}, prose(demand.stands)), at + 1 === one.left_out ? ' (left out here)' : '', `. ${prose(demand.why)}`, cited(demand, this.made)))), h('p', { class: 'change' }, prose(one.breaks)));
  }

  departures() {
    const list = this.made.departures;
    if (!list.length) return [];
    return [h('details', { class: 'note departures' }, h('summary', {}, list.length === 1 ? 'One line stands elsewhere than in the phases' : `${list.length} lines or pairs stand elsewhere than in the phases`), ...list.map((/** @type {any} */ one) => broken(one)))];
  }

  /** The step that sets the pH, where a person's own steps have none; one press puts it in. @param {any} one */
  offer(one) {
    const id = this.made.line_ids[one.line];
    const add = () => {
      this.change('add the step that sets the pH', (draft) => {
        const part = draft.steps.flatMap((/** @type {Step} */ step) => step.lines).find((/** @type {StepLine} */ own) => own.line === id);
        if (one.brings && !one.stays_percent) for (const step of draft.steps) step.lines = step.lines.filter((/** @type {StepLine} */ own) => own.line !== id);
        else if (one.brings && part) part.share_percent = one.stays_percent;
        const rest = one.stays_percent ? String(Math.round((100 - Number(one.stays_percent)) * 1e6) / 1e6) : '';
        draft.steps.splice(one.number - 1, 0, { ...emptyStep(), id: newId(), does: 'adjust-ph', lines: one.brings ? [{ line: id, share_percent: rest }] : [] });
      });
      this.tell(`The step that sets the pH is step ${one.number}. Undo takes it out.`);
    };
    return h('div', { class: 'note' }, h('p', {}, h('span', { class: 'gravity gravity-check' }, mark('check', 'shape'), 'offer'), ' ', h('span', { class: 'key' }, 'no step sets the pH')), h('p', { class: 'found' }, prose(one.says)), h('p', { class: 'change' }, prose(one.why), cited(one, this.made)),
      h('div', { class: 'verbs' }, h('button', { class: 'verb', type: 'button', data: { keep: 'offer-ph' }, onclick: add }, 'Add this step')));
  }

  /** @param {number} line */
  lineName(line) {
    const id = this.made.line_ids[line];
    return allLines(this.session.draft).find((one) => one.id === id)?.material ?? '';
  }

  /** @param {any} step @param {number} at */
  step(step, at) {
    const field = this.made.fields[at];
    const title = this.title(step);
    const open = this.open === field.id;
    const small = (/** @type {string} */ word, /** @type {string} */ spoken, /** @type {() => void} */ act, /** @type {any} */ more = {}) => h('button', { class: 'verb plain', type: 'button', 'aria-label': `${spoken}, step ${step.number}`, data: { keep: `${field.id}-${word}` }, onclick: act, ...more }, word);
    const verbs = this.session.lookingBack ? null : h('div', { class: 'step-verbs' },
      small('Up', 'Move up', () => this.move(at, -1), { disabled: at === 0 }), small('Down', 'Move down', () => this.move(at, 1), { disabled: at === this.made.fields.length - 1 }),
      small('Change', 'Change', () => { this.open = open ? '' : field.id; this.draw(); }, { 'aria-expanded': String(open) }), small('Take out', 'Take out', () => this.takeOut(at)));
    const after = this.made.steps.slice(0, at).flatMap((/** @type {any} */ one) => one.because.map((/** @type {any} */ because) => because.why));
    return h('li', { class: `making-step${step.broken.length ? ' has-broken' : ''}`, id: `step-${step.number}`, data: { step: field.id } },
      h('span', { class: 'step-number', 'aria-hidden': 'true' }, step.number),
      h('div', { class: 'step-body' },
        h('div', { class: 'step-title' }, h('h3', { tabIndex: -1 }, h('span', { class: 'visually-hidden' }, `Step ${step.number}: `), title), conditions(step), verbs),
        h('p', { class: 'instruction' }, prose(step.note ?? step.instruction)),
        lines(step, (this.session.draft.bench.balance_g.split('.')[1] ?? '').length),
        ...step.adding.map((/** @type {any} */ one) => adding(one)),
        bubbles(step),
        step.cautions.length ? h('ul', { class: 'care', 'aria-label': 'Take care' }, ...step.cautions.map((/** @type {any} */ one) => h('li', {}, h('b', {}, 'Take care. '), prose(one.text)))) : null,
        step.checks.length ? h('p', { class: 'look' }, h('b', {}, 'Look: '), step.checks.join(' ')) : null,
        open && !this.session.lookingBack ? this.fields(step, at) : null),
      h('div', { class: 'step-margin' }, ...step.broken.map((/** @type {any} */ one) => broken(one)), this.reasons(step, after)));
  }

  /** What a step is called: by what goes in, where that says more than its kind. @param {any} step */
  title(step) {
    if (step.name) return step.name;
    const word = DOES[step.does] ?? step.does;
    if (step.does !== 'add' && step.does !== 'disperse') return word;
    const names = [...step.lines.map((/** @type {any} */ line) => this.lineName(line.line)), ...step.premixes.map((/** @type {string} */ name) => name.toLowerCase().startsWith('premix') ? `the ${name.charAt(0).toLowerCase()}${name.slice(1)}` : name.charAt(0).toLowerCase() + name.slice(1))];
    if (!names.length) return word;
    return names.length > 3 ? `${word} ${names[0]}, ${names[1]} and ${names.length - 2} others` : `${word} ${names.length > 1 ? `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}` : names[0]}`;
  }

  /** Reasons; one that was told beside an earlier step is told short. @param {any} step @param {string[]} told */
  reasons(step, told) {
    const one = (/** @type {any} */ because) => h('p', { class: 'reason' }, h('b', {}, prose(because.stands)), told.includes(because.why) ? h('span', { class: 'aside', title: because.why }, ', as above.') : `. ${prose(because.why)}`, told.includes(because.why) ? '' : cited(because, this.made));
    const list = [...step.because].sort((a, b) => Number(told.includes(a.why)) - Number(told.includes(b.why)));
    if (!list.length) return h('p', { class: 'reason aside' }, this.made.written || !step.lines.length ? '' : 'In the order of the phases.');
    // How much goes in unread is an instruction as much as a reason: it is never behind the others.
    const [amount, others] = [true, false].map((own) => list.filter((because) => (because.rule === 'first-portion') === own));
    return h('div', {}, ...amount.map(one), ...others.slice(0, AT_ONCE).map(one), others.length > AT_ONCE ? h('details', {}, h('summary', {}, others.length === AT_ONCE + 1 ? 'one more reason' : `${others.length - AT_ONCE} more reasons`), ...others.slice(AT_ONCE).map(one)) : null);
  }

  /** @param {number} at @param {-1|1} by */
  move(at, by) {
    const to = at + by;
    if (to < 0 || to >= this.made.fields.length) return;
    this.change(`move step ${at + 1} ${by < 0 ? 'up' : 'down'}`, (draft) => { [draft.steps[at], draft.steps[to]] = [draft.steps[to], draft.steps[at]]; });
    this.tell(`Step ${at + 1} is now step ${to + 1}.`);
  }

  /** @param {number} at */
  takeOut(at) {
    this.change(`take out step ${at + 1}`, (draft) => { draft.steps.splice(at, 1); });
    this.tell(`Step ${at + 1} is taken out. Undo brings it back.`);
  }

  /** @param {string} text */
  tell(text) {
    const said = document.getElementById('said');
    if (said) said.textContent = text;
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (!event.altKey || !['ArrowUp', 'ArrowDown'].includes(event.key)) return;
    const id = /** @type {HTMLElement} */ (event.target).closest?.('.making-step')?.getAttribute('data-step');
    const at = this.made?.fields.findIndex((/** @type {Step} */ one) => one.id === id) ?? -1;
    if (at < 0 || this.session.lookingBack) return;
    event.preventDefault();
    this.move(at, event.key === 'ArrowUp' ? -1 : 1);
  }

  adding() {
    const kind = h('select', { 'aria-label': 'Kind of the new step', data: { keep: 'new-kind' } }, ...Object.entries(DOES).map(([word, words]) => h('option', { value: word }, words)));
    return h('div', { class: 'verbs' }, 'A step more: ', kind, h('button', { class: 'verb', type: 'button', data: { keep: 'new' }, onclick: () => {
      const id = newId();
      this.open = id;
      this.change('add a step', (draft) => { draft.steps.push({ ...emptyStep(), id, does: kind.value }); });
    } }, 'Add it at the end'));
  }

  /** The fields of a step. @param {any} step @param {number} at */
  fields(step, at) {
    const field = /** @type {Step} */ (this.made.fields[at]);
    const alter = (/** @type {string} */ what, /** @type {(step: any, draft: any) => void} */ act) => this.change(what, (draft) => { const own = draft.steps.find((/** @type {Step} */ one) => one.id === field.id); if (own) act(own, draft); });
    const figure = (/** @type {'temperature_low'|'temperature_high'|'minutes_low'|'minutes_high'} */ name, /** @type {string} */ label, /** @type {number} */ most) => {
      const input = h('input', { type: 'text', inputMode: 'decimal', autocomplete: 'off', class: 'figure-field', value: field[name] ? echo(field[name]) : '', 'aria-label': label, data: { keep: `${field.id}-${name}` }, onchange: () => {
        const typed = input.value.trim();
        const value = typed === '' ? '' : canonical(typed);
        const fits = value === '' || value !== null && value !== undefined && Number(value) >= 0 && Number(value) <= most;
        input.classList.toggle('bad', !fits);
        trouble.hidden = fits;
        if (!fits) { trouble.replaceChildren(h('b', {}, `“${typed}” cannot be.`), ` ${label} lies between 0 and ${most}.`); return; }
        alter(`${label.toLowerCase()} of step ${at + 1}`, (own) => { own[name] = value; });
      } });
      return input;
    };
    const trouble = h('div', { class: 'field-trouble', role: 'alert', hidden: true });
    const ways = [...this.made.ways];
    if (field.stirring && !ways.some((one) => one.key === field.stirring)) ways.push({ key: field.stirring, words: field.stirring });
    const stirring = h('select', { 'aria-label': `Stirring in step ${step.number}`, data: { keep: `${field.id}-stirring` }, onchange: () => alter(`stirring of step ${at + 1}`, (own) => { own.stirring = stirring.value; }) }, h('option', { value: '' }, 'not said'), ...ways.map((one) => h('option', { value: one.key, selected: one.key === field.stirring }, one.words)));
    const name = h('input', { type: 'text', value: field.name, maxLength: 120, 'aria-label': `Name of the premix of step ${step.number}`, data: { keep: `${field.id}-name` }, onchange: () => alter(`name of step ${at + 1}`, (own) => { own.name = name.value; }) });
    const note = h('input', { type: 'text', value: field.note, maxLength: 600, placeholder: step.instruction, 'aria-label': `Instruction of step ${step.number} in your own words`, data: { keep: `${field.id}-note` }, onchange: () => alter(`words of step ${at + 1}`, (own) => { own.note = note.value; }) });
    const material = (/** @type {string} */ id) => allLines(this.session.draft).find((one) => one.id === id)?.material ?? '';
    const to = (/** @type {StepLine} */ part, /** @type {number} */ nth) => {
      const choice = h('select', { 'aria-label': `${material(part.line)} goes in with`, data: { keep: `${field.id}-line-${part.line}` }, onchange: () => alter(`move ${material(part.line)}`, (own, draft) => {
        const [moved] = own.lines.splice(nth, 1);
        if (choice.value) draft.steps.find((/** @type {Step} */ one) => one.id === choice.value)?.lines.push(moved);
      }) }, ...this.made.fields.map((/** @type {Step} */ one, /** @type {number} */ index) => h('option', { value: one.id, selected: one.id === field.id }, `step ${index + 1}${one.id === field.id ? ', here' : `: ${one.name || DOES[one.does] || one.does}`}`)), h('option', { value: '' }, 'nowhere'));
      return h('li', {}, material(part.line), part.share_percent ? ` (${echo(part.share_percent)} %) ` : ' ', choice);
    };
    const missing = allLines(this.session.draft).filter((line) => line.material.trim() && !this.made.fields.some((/** @type {Step} */ one) => one.lines.some((part) => part.line === line.id)));
    const idle = this.made.fields.slice(0, at).filter((/** @type {Step} */ one) => one.does === 'premix' && !this.made.fields.some((/** @type {Step} */ other) => other.premixes.includes(one.id)));
    const bring = (/** @type {string} */ label, /** @type {Array<[string, string]>} */ choices, /** @type {(own: any, id: string) => void} */ act) => (choices.length ? h('div', {}, h('p', { class: 'label' }, label), h('span', {}, ...choices.map(([id, words]) => h('button', { class: 'verb', type: 'button', data: { keep: `${field.id}-bring-${id}` }, onclick: () => alter(`bring ${words} into step ${at + 1}`, (own) => act(own, id)) }, words)))) : null);
    return h('div', { class: 'step-fields', role: 'group', 'aria-label': `Step ${step.number}` },
      field.does === 'premix' ? h('label', { class: 'wide' }, 'Name of the premix', name) : null,
      h('label', {}, 'Temperature, °C', h('span', {}, figure('temperature_low', 'Temperature from', 100), ' to ', figure('temperature_high', 'Temperature to', 100))),
      h('label', {}, 'Minutes', h('span', {}, figure('minutes_low', 'Minutes from', 250000), ' to ', figure('minutes_high', 'Minutes to', 250000))),
      h('label', {}, 'Stirring', stirring),
      h('label', { class: 'wide' }, 'In your own words', note),
      field.lines.length ? h('div', { class: 'wide' }, h('p', { class: 'label' }, 'What goes in'), h('ul', {}, ...field.lines.map(to))) : null,
      field.premixes.length ? h('div', { class: 'wide' }, h('p', { class: 'label' }, 'Premixes'), h('ul', {}, ...field.premixes.map((id, nth) => h('li', {}, this.made.fields.find((/** @type {Step} */ one) => one.id === id)?.name ?? '', ' ', h('button', { class: 'verb plain', type: 'button', onclick: () => alter(`take a premix out of step ${at + 1}`, (own) => { own.premixes.splice(nth, 1); }) }, 'not here'))))) : null,
      bring('Goes in nowhere yet', missing.map((line) => /** @type {[string, string]} */ ([line.id, line.material])), (own, id) => { own.lines.push({ line: id, share_percent: '' }); }),
      field.does === 'premix' ? null : bring('Premix nobody adds', idle.map((/** @type {Step} */ one) => /** @type {[string, string]} */ ([one.id, one.name])), (own, id) => { own.premixes.push(id); }),
      trouble);
  }
}

function emptyStep() {
  return { id: '', does: 'add', name: '', lines: [], premixes: [], temperature_low: '', temperature_high: '', stirring: '', minutes_low: '', minutes_high: '', checks: [], note: '' };
}

/** Temperature, time and stirring in one line. @param {any} step */
function conditions(step) {
  const parts = [];
  const span = (/** @type {any} */ outcome) => (outcome.low === outcome.high ? plain(outcome.value) : `${plain(outcome.low)} to ${plain(outcome.high)}`);
  if (step.temperature) parts.push(number(step.temperature.range, 'Temperature', { exact: span(step.temperature.range) }));
  if (step.minutes) parts.push(number(step.minutes, 'Time', { exact: span(step.minutes) }));
  if (step.stirring) parts.push(h('span', {}, step.stirring.words, step.stirring.tip_speed ? ' (tip ' : '', step.stirring.tip_speed ? number(step.stirring.tip_speed, 'Speed of the tip', { exact: span(step.stirring.tip_speed) }) : '', step.stirring.tip_speed ? ')' : ''));
  return parts.length ? h('p', { class: 'step-how' }, ...parts) : null;
}

/** What goes in. @param {any} step @param {number} decimals of the balance */
function lines(step, decimals) {
  if (!step.lines.length) return null;
  const share = (/** @type {any} */ line) => (line.share_percent ? h('span', { class: 'aside' }, ` ${plain(line.share_percent.value)} % of the line`) : null);
  return h('table', { class: 'calm step-lines' }, h('thead', { class: 'visually-hidden' }, h('tr', {}, ...['Line', 'Raw material', '%', 'g'].map((head) => h('th', { scope: 'col' }, head)))),
    h('tbody', {}, ...step.lines.map((/** @type {any} */ line) => h('tr', {}, h('td', { class: 'line-no' }, line.line + 1), h('td', {}, line.name, share(line)), h('td', { class: 'figure' }, number(line.percent, `Percent of ${line.name}`, { exact: echo(String(Number(line.percent.value.toPrecision(4)))) })), h('td', { class: 'figure' }, number(line.grams, `Grams of ${line.name}`, { exact: echo(line.grams.value.toFixed(Math.min(decimals, 6))) }))))),
    step.parts ? h('tfoot', {}, h('tr', {}, h('td', {}), h('td', { colSpan: 3 }, number(step.parts, 'Parts of carrier to one', { exact: echo(String(Number(step.parts.value.toPrecision(2)))) }), ' parts of carrier to one'))) : null);
}

/** How acid or base goes in. @param {any} one */
function adding(one) {
  const parts = [];
  if (one.first_g) parts.push(h('span', {}, 'First ', number(one.first_g, 'First addition', { most: 4 }), '.'));
  if (one.for_0_05_ph) parts.push(h('span', {}, 'Near the end ', number(one.for_0_05_ph, 'For 0.05 pH', { most: 3 }), ' moves the pH by 0.05.'));
  if (one.warms_by) parts.push(one.warms_by.value === null ? h('span', {}, `Its heat is not known: ${one.warms_by.refused}.`) : h('span', {}, 'All at once it warms the batch by ', number(one.warms_by, 'Warming'), '.'));
  return parts.length ? h('p', { class: 'adding' }, ...parts.flatMap((part, at) => (at ? [' ', part] : [part]))) : null;
}

/** Hours in a year. */
const YEAR_H = 8766;

/** How long bubbles take in the finished product. @param {any} step */
function bubbles(step) {
  const [first] = step.bubbles;
  if (first && (first.time.value === null || first.time.value > YEAR_H)) return h('p', { class: 'adding' }, first.time.value === null ? `In the finished product bubbles do not rise (${first.time.refused}).` : `In the finished product even a bubble of ${plain(first.diameter.value)} mm needs longer than a year to rise.`);
  const rising = step.bubbles.filter((/** @type {any} */ one) => one.time.value !== null).slice(0, 3);
  if (rising.length) return h('p', { class: 'adding' }, 'In the finished product ', ...rising.flatMap((/** @type {any} */ one, /** @type {number} */ at) => [at ? ', ' : '', `a bubble of ${plain(one.diameter.value)} mm rises in `, number(one.time, `Bubble of ${plain(one.diameter.value)} mm`)]), '.');
  return null;
}

/** A rule that is broken. @param {any} one */
function broken(one) {
  return h('div', { class: 'note broken' }, h('p', {}, h('span', { class: `gravity gravity-${one.gravity}` }, mark(one.gravity, 'shape'), one.gravity)), h('p', { class: 'found' }, prose(one.found)), h('p', { class: 'change' }, prose(one.breaks), ' ', prose(one.why)));
}

/** Where a reason comes from, short: who wrote it, or that nobody did. @param {any} one @param {any} made */
function cited(one, made) {
  const words = one.sources.map((/** @type {string} */ key) => made.sources[key] ?? key);
  if (!words.length) return '';
  return h('span', { class: 'cited', title: words.join(' ') }, ` ${one.sources.map((/** @type {string} */ key) => (key === 'common-practice' ? 'Common practice, no source.' : key === 'from-memory' ? 'From memory.' : made.sources[key] ?? key)).join(' ')}`);
}
