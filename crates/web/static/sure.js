// @ts-check
/** How sure the batch is: how often it lands in each target, which line decides, what would help. Asked when it comes into sight, and again when the sheet rests. */

import { Trouble } from './api.js';
import { know } from './derivation.js';
import { h, prose, s } from './dom.js';
import { canonical, echo, fixed, plain } from './figures.js';
import { number } from './number.js';

/** @typedef {import('./figures.js').Outcome} Outcome */

const AFTER_MS = 500;
/** What a field is called for those who hear it, and how wide. @type {Record<string, string>} */
const FIELDS = {
  batch_g: 'Size of the batch, g', balance_g: 'Readability of the balance, g', repeatability_g: 'Repeatability of the balance, g', meter_ph: 'Standard uncertainty of a pH reading', price_percent: 'Half-width of the prices, %',
};
/** Classes of verified balances. */
const CLASSES = ['I', 'II', 'III', 'IIII'];
/** Most further balances. */
const MOST = 12;
/** Fields of a further balance: name, words before it, what it is called for those who hear it. @type {Array<[string, string, string, boolean]>} */
const OTHER = [['name', '', 'Name', false], ['readability_g', 'shows', 'shows, g', true], ['repeatability_g', 'repeats to', 'repeats to, g', true], ['up_to_g', 'for what weighs up to', 'for what weighs up to, g', true]];
/** The strip of a target: width, height, and what is left free at its sides. */
const STRIP = { width: 400, height: 58, side: 14 };

export class SureView {
  /** @param {import('./session.js').Session} session @param {HTMLElement} place */
  constructor(session, place) {
    this.session = session;
    this.place = place;
    const kept = this.kept();
    /** @type {Record<string, string>} */ this.set = kept.set ?? {};
    /** Further balances. @type {Array<Record<string, string>>} */ this.balances = kept.balances ?? [];
    /** What is said of single lines, by id. @type {Record<string, Record<string, string>>} */ this.lines = kept.lines ?? {};
    /** @type {Map<string, HTMLInputElement>} */ this.fields = new Map();
    this.timer = 0;
    this.seen = false;
    this.asking = false;
    this.again = false;
    this.answered = '';
    /** @type {any} */ this.found = null;
    const f = (/** @type {string} */ name) => this.field(name);
    this.trouble = h('div', { role: 'alert' });
    this.state = h('p', { class: 'aside sure-state', 'aria-live': 'polite' });
    this.body = h('div', { class: 'sure-body' });
    this.others = h('div', { class: 'sure-others' });
    this.each = h('details', { class: 'sure-each' });
    this.each.open = Object.keys(this.lines).length > 0;
    this.listed = '';
    place.replaceChildren(
      h('h2', {}, 'How sure the batch is'),
      h('p', { class: 'sentence' }, 'A batch of ', f('batch_g'), ' g, each line weighed on a balance that shows ', f('balance_g'), ' g and repeats to ', f('repeatability_g'), ' g', this.classes(), '; a pH meter sure to ', f('meter_ph'), ' and prices sure to ± ', f('price_percent'), ' %.'),
      this.others, this.each, this.trouble, this.state, this.body);
    this.drawOthers();
    place.hidden = false;
    new IntersectionObserver((entries) => {
      this.seen = entries.some((entry) => entry.isIntersecting);
      if (this.seen) this.soon(0);
    }, { rootMargin: '300px' }).observe(place);
  }

  /** What was typed here before, on this machine. @returns {any} */
  kept() {
    try { return JSON.parse(localStorage.getItem(`levigate-sure-${this.session.id}`) ?? '{}'); } catch { return {}; }
  }

  /** What is asked, and kept. */
  asked() {
    const balances = this.balances.map((one) => ({ ...one }));
    const lines = Object.fromEntries(Object.entries(this.lines).filter(([, line]) => line.balance || line.assay_percent || line.spread));
    return { ...this.set, balances, lines };
  }

  changed() {
    try { if (this.session.id) localStorage.setItem(`levigate-sure-${this.session.id}`, JSON.stringify({ set: this.set, balances: this.balances, lines: this.lines })); } catch { /* The page itself still has it. */ }
    this.soon(0);
  }

  /** The class of the usual balance. */
  classes() {
    return h('span', {}, ', ', pick('Class of the balance, where it is verified', [['', 'not verified'], ...CLASSES.map((one) => /** @type {[string, string]} */ ([one, `class ${one}`]))], this.set.class ?? '', (value) => { if (value) this.set.class = value; else delete this.set.class; this.changed(); }));
  }

  /** A field that is read as a number. @param {Record<string, string>} into @param {string} name @param {string} key @param {string} label @param {boolean} figure */
  part(into, name, key, label, figure) {
    const input = h('input', { type: 'text', inputMode: figure ? 'decimal' : 'text', autocomplete: 'off', class: figure ? 'figure-field' : 'sure-called', placeholder: figure ? '–' : 'its name', 'aria-label': label, value: figure ? echo(into[name] ?? '') : into[name] ?? '', data: { sure: key },
      onchange: () => {
        const text = input.value.trim();
        input.classList.remove('bad');
        if (figure && text && canonical(text) === null) { this.refuse(key, `“${text}” is no number.`, 'Write it with one decimal sign.'); return; }
        if (text) into[name] = figure ? canonical(text) ?? '' : text.slice(0, 60); else delete into[name];
        this.changed();
        if (key.startsWith('balances.')) this.drawEach();
      } });
    this.fields.set(key, input);
    return input;
  }

  /** The further balances, drawn anew only when one comes or goes. */
  drawOthers() {
    const rows = this.balances.map((one, at) => h('div', { class: 'sure-other' },
      ...OTHER.flatMap(([name, before, label, figure]) => [before ? ` ${before} ` : '', this.part(one, name, `balances.${at}.${name}`, `Balance ${at + 2}: ${label}`, figure), figure ? ' g' : '']),
      pick(`Balance ${at + 2}: class`, [['', 'not verified'], ...CLASSES.map((name) => /** @type {[string, string]} */ ([name, `class ${name}`]))], one.class ?? '', (value) => { one.class = value; this.changed(); }),
      h('button', { class: 'verb', type: 'button', 'aria-label': `Leave out balance ${at + 2}`, onclick: () => this.leave(at) }, 'Leave out')));
    const more = h('button', { class: 'verb', type: 'button', disabled: this.balances.length >= MOST, onclick: () => { this.balances.push({}); this.drawOthers(); this.drawEach(); this.fields.get(`balances.${this.balances.length - 1}.readability_g`)?.focus(); } }, 'Another balance');
    this.others.replaceChildren(...rows, h('p', {}, more));
  }

  /** @param {number} at */
  leave(at) {
    this.balances.splice(at, 1);
    for (const line of Object.values(this.lines)) {
      if (!line.balance || line.balance === 'usual') continue;
      if (Number(line.balance) === at) delete line.balance;
      else if (Number(line.balance) > at) line.balance = String(Number(line.balance) - 1);
    }
    this.drawOthers();
    this.drawEach();
    this.others.querySelector('p button')?.focus();
    this.changed();
  }

  /** Balance and certificate of each line; drawn anew only when lines or balances change, so that nobody's field is taken away. */
  drawEach() {
    if (!this.found) return;
    const names = this.balances.map((one, at) => one.name || `balance ${at + 2}`);
    const list = JSON.stringify([names, this.found.lines.map((/** @type {any} */ line) => [line.line, line.name, line.assay_of, this.found.line_ids[line.line]])]);
    if (list === this.listed) return;
    this.listed = list;
    const row = (/** @type {any} */ line) => {
      const id = this.found.line_ids[line.line];
      const own = this.lines[id] ??= {};
      const label = (/** @type {string} */ what) => `Line ${line.line + 1}, ${line.name}: ${what}`;
      return h('tr', {}, h('td', {}, `${line.line + 1} ${line.name}`),
        h('td', {}, pick(label('balance'), [['', 'by its weight'], ['usual', 'the balance above'], ...names.map((name, at) => /** @type {[string, string]} */ ([String(at), name]))], own.balance ?? '', (value) => { own.balance = value; this.changed(); })),
        ...(line.assay_of ? [
          h('td', { class: 'figure' }, this.part(own, 'assay_percent', `lines.${id}.assay_percent`, label(`assay of the lot, % ${line.assay_of}`), true), ' %'),
          h('td', { class: 'figure' }, '± ', this.part(own, 'spread', `lines.${id}.spread`, label('sure to, percentage points'), true)),
          h('td', {}, pick(label('what that is'), [['', 'limits'], ['standard', 'standard uncertainty']], own.spread_is ?? '', (value) => { own.spread_is = value; this.changed(); })),
        ] : [h('td', { colSpan: 3, class: 'aside' }, 'its record names nothing an assay could speak of')]));
    };
    this.each.replaceChildren(h('summary', {}, 'The balance of single lines, and what the certificates of their lots say'),
      h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, h('th', {}, 'Line'), h('th', {}, 'Weighed on'), h('th', { class: 'figure' }, 'Assay of the lot'), h('th', { class: 'figure' }, 'Sure to'), h('th', {}, 'which are'))), h('tbody', {}, ...this.found.lines.map(row))));
  }

  /** @param {string} name */
  field(name) {
    const input = h('input', { type: 'text', inputMode: 'decimal', autocomplete: 'off', class: 'figure-field', 'aria-label': FIELDS[name], data: { sure: name },
      onchange: () => {
        const text = input.value.trim();
        if (text && canonical(text) === null) { this.refuse(name, `“${text}” is no number.`, 'Write it with one decimal sign.'); return; }
        if (text) this.set[name] = canonical(text) ?? ''; else delete this.set[name];
        this.changed();
      } });
    this.fields.set(name, input);
    return input;
  }

  /** @param {string} name @param {string} what @param {string} now */
  refuse(name, what, now) {
    this.fields.get(name)?.classList.add('bad');
    const called = FIELDS[name] ?? this.fields.get(name)?.getAttribute('aria-label') ?? 'Here';
    this.trouble.replaceChildren(h('div', { class: 'field-trouble' }, h('b', {}, `${called}: ${what}`), ` ${now} What stands below is from before.`));
  }

  /** The sheet has changed: what stands here is from before, and is asked anew when the hand rests. */
  update() {
    if (this.found) this.state.textContent = 'What stands below is from before the last change; it is worked out anew in a moment.';
    this.echo();
    this.soon(AFTER_MS);
  }

  /** Fields nobody set show what the sheet says. */
  echo() {
    const bench = /** @type {any} */ (this.session.draft.bench);
    /** @type {Record<string, string>} */ const own = { batch_g: bench.size_g, balance_g: bench.balance_g, repeatability_g: 'balance_g' in this.set ? '' : bench.repeatability_g };
    for (const [name, input] of this.fields) {
      if (document.activeElement === input) continue;
      input.classList.remove('bad');
      if (!(name in FIELDS)) continue;
      const text = echo(this.set[name] ?? own[name] ?? '');
      if (input.value !== text) input.value = text;
      input.placeholder = '–';
    }
  }

  /** @param {number} wait */
  soon(wait) {
    clearTimeout(this.timer);
    this.timer = window.setTimeout(() => this.find(), wait);
  }

  async find() {
    const asked = JSON.stringify([this.asked(), this.session.judged()]);
    if (!this.seen || asked === this.answered) return;
    // One question at a time: it is a costly one.
    if (this.asking) { this.again = true; return; }
    this.asking = true;
    if (!this.found) this.state.textContent = 'Weighing twenty thousand batches …';
    try {
      const found = await this.session.sure(this.asked());
      this.trouble.replaceChildren();
      this.answered = asked;
      this.found = found;
      if (found) know({ citations: found.sources });
      this.draw();
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      // The same question is not asked again until something in it changes.
      if (error.told.status === 422) this.answered = asked;
      const { told } = error;
      if (told.place?.field && this.fields.has(told.place.field)) this.refuse(told.place.field, told.what, told.what_now);
      else this.state.textContent = `${told.what} ${told.what_now}`;
    } finally {
      this.asking = false;
      if (this.again) { this.again = false; this.soon(0); }
    }
  }

  draw() {
    const { found } = this;
    this.echo();
    if (!found) {
      this.state.textContent = 'The sheet cannot be assessed as it stands: mend what is marked in it first.';
      this.body.replaceChildren();
      return;
    }
    this.drawEach();
    const repeats = this.fields.get('repeatability_g');
    this.state.textContent = repeats && !repeats.value ? 'No repeatability was given: it is taken as large as the readability, a rule of thumb.' : '';
    const aimed = found.results.filter((/** @type {any} */ one) => one.target);
    const others = found.results.filter((/** @type {any} */ one) => !one.target);
    this.body.replaceChildren(
      aimed.length ? h('div', { class: 'sure-targets' }, h('p', { class: 'aside' }, key('box', 'what is wanted'), key('thin', '95 of 100 batches with everything that is uncertain'), key('thick', 'the same by weighing and lots alone, as if the prediction were right in its middle')), ...aimed.map((/** @type {any} */ one) => target(one))) : h('p', { class: 'aside' }, 'The brief sets no target that a batch could miss: give it a window of pH, a viscosity or a cost.'),
      h('div', { class: 'sure-parts' },
        h('div', {}, h('h3', {}, 'At the balance'), lines(found)),
        h('div', {}, h('h3', {}, 'What would help'), ...helps(found), ...(others.length ? [h('h3', {}, 'Besides'), besides(others)] : []))),
      h('details', { class: 'sure-counted' }, h('summary', {}, `What is counted in this and what is not: ${plain(found.draws).replace(/(\d)(?=(\d{3})+$)/g, '$1\u202f')} draws, seed ${found.seed}`),
        h('p', {}, h('b', {}, 'Counted: '), found.counted.join('; '), '.'), h('p', {}, h('b', {}, 'Not counted: '), found.not_counted.join('; '), '.')));
  }
}

/** A choice. @param {string} label @param {Array<[string, string]>} options @param {string} value @param {(value: string) => void} take */
function pick(label, options, value, take) {
  const select = h('select', { 'aria-label': label, onchange: () => take(select.value) }, ...options.map(([one, words]) => h('option', { value: one, selected: one === value }, words)));
  return select;
}

/** @param {string} what @param {string} words */
function key(what, words) {
  const draw = { box: () => [s('rect', { x: 1, y: 1, width: 26, height: 12, class: 'wanted' })], thin: () => [s('path', { d: 'M1 7h26M1 3v8M27 3v8', class: 'all' })], thick: () => [s('path', { d: 'M1 7h26', class: 'making' })] };
  return h('span', { class: 'sure-key' }, s('svg', { viewBox: '0 0 28 14', 'aria-hidden': 'true' }, .../** @type {any} */ (draw)[what]()), words);
}

/** A chance in whole batches, never rounded to certainty. @param {number} percent */
function of100(percent) {
  if (percent < 1) return 'under 1';
  return percent > 99 ? 'over 99' : fixed(percent, 0);
}

/** @param {Outcome} outcome @param {string} label */
function chance(outcome, label) {
  return number({ ...outcome, unit: 'of 100' }, label, { exact: of100(outcome.value ?? 0) });
}

/** @param {any} one */
function target(one) {
  const first = one.from[0];
  const making = one.from_making[0];
  const most = (/** @type {any} */ share) => `${share.name} (${fixed(share.percent.value, 0)} % of the variance)`;
  return h('div', { class: 'sure-target' },
    h('div', { class: 'sure-name' }, h('h3', {}, prose(one.name)), h('p', { class: 'aside' }, `Wanted: ${one.target.words}.`)),
    strip(one),
    h('dl', { class: 'sure-chances' },
      h('div', {}, h('dt', {}, 'lands in it'), h('dd', {}, chance(one.target.as_predicted, `${one.name} in its target, as predicted`))),
      h('div', {}, h('dt', {}, 'by weighing and lots alone'), h('dd', {}, chance(one.target.batch_to_batch, `${one.name} in its target, from batch to batch`)))),
    h('p', { class: 'sure-most' }, one.target.aimed ? '' : h('b', {}, 'The formula itself does not aim into it; no weighing mends that. '), first ? `Most of it from: ${most(first)}.` : '', making && making.name !== first?.name ? ` From batch to batch: ${most(making)}.` : '', one.agree ? '' : ' The law of propagation and the draws part here; the draws stand.'),
    one.target.help ? targetHelp(one) : null);
}

/** The line that does most to a target, and what would help there. @param {any} one */
function targetHelp(one) {
  const { help } = one.target;
  const what = help.group === 'lots' ? 'what its lots hold' : 'its weighing';
  return h('div', { class: 'sure-lead' },
    h('p', {}, 'From batch to batch ', h('b', {}, `line ${help.line + 1}, ${help.name}`), ` does most: ${what}, `, number(help.percent, `Share of ${help.name} in the variance of ${one.name}`, { exact: fixed(help.percent.value, 0), unit: false }), ' % of the variance. ', help.remedies.length ? 'Drawn anew with one thing changed:' : 'Its certificate is in this already.'),
    help.remedies.length ? h('table', { class: 'calm sure-remedies' },
      h('thead', { class: 'visually-hidden' }, h('tr', {}, h('th', {}, 'Remedy'), h('th', {}, 'Lands in the target'))),
      h('tbody', {}, ...help.remedies.map((/** @type {any} */ remedy) => h('tr', {}, h('td', {}, prose(remedy.words)), h('td', { class: 'figure' }, chance(remedy.batch_to_batch, `${one.name} in its target so`)))))) : null);
}

/** The target with both intervals on one scale. @param {any} one */
function strip(one) {
  const turn = one.key === 'viscosity' ? Math.log : (/** @type {number} */ value) => value;
  const ends = [one.target.least?.value, one.target.most?.value];
  const all = [...ends, one.drawn.low, one.drawn.high, one.batch_to_batch.low, one.batch_to_batch.high].filter((value) => typeof value === 'number').map(turn);
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const wide = (high - low) || Math.abs(high) * 0.01 || 1;
  const { width, height, side } = STRIP;
  const x = (/** @type {number} */ value) => side + (width - 2 * side) * ((turn(value) - low) / wide * 0.84 + 0.08);
  const [from, to] = [typeof ends[0] === 'number' ? x(ends[0]) : 0, typeof ends[1] === 'number' ? x(ends[1]) : width];
  const label = (/** @type {number} */ value, /** @type {number} */ at, /** @type {string} */ anchor) => s('text', { x: at, y: height - 3, 'text-anchor': anchor }, plain(value));
  const spread = (/** @type {Outcome} */ outcome) => `between ${plain(outcome.low ?? 0, outcome)} and ${plain(outcome.high ?? 0, outcome)}`;
  const drawn = [
    s('rect', { x: from, y: 1, width: Math.max(to - from, 1), height: height - 18, class: 'wanted' }),
    s('path', { d: `M${x(one.drawn.low)} 13H${x(one.drawn.high)}M${x(one.drawn.low)} 8v10M${x(one.drawn.high)} 8v10`, class: 'all' }),
    s('path', { d: `M${x(one.batch_to_batch.low)} 29H${Math.max(x(one.batch_to_batch.high), x(one.batch_to_batch.low) + 2)}`, class: 'making' }),
  ];
  if (typeof ends[0] === 'number') drawn.push(label(ends[0], from, typeof ends[1] === 'number' && to - from < 60 ? 'end' : 'middle'));
  if (typeof ends[1] === 'number') drawn.push(label(ends[1], to, typeof ends[0] === 'number' && to - from < 60 ? 'start' : 'middle'));
  return s('svg', { class: 'sure-strip', viewBox: `0 0 ${width} ${height}`, role: 'img', 'aria-label': `Wanted: ${one.target.words}. As predicted ${spread(one.drawn)}; by weighing and lots alone ${spread(one.batch_to_batch)} ${one.drawn.unit}, 95 of 100.` }, ...drawn);
}

/** @param {any} found */
function lines(found) {
  const two = (/** @type {number} */ value) => String(Number(value.toPrecision(2)));
  return h('table', { class: 'calm sure-lines' },
    h('thead', {}, h('tr', {}, h('th', {}, 'Line'), h('th', { class: 'figure' }, 'To weigh, g'), h('th', { class: 'figure' }, 'Sure to ±'), h('th', { class: 'figure' }, 'Tolerance'), h('th', { class: 'figure' }, 'Keeps in it'))),
    h('tbody', {}, ...found.lines.map((/** @type {any} */ line) => h('tr', {},
      h('td', {}, `${line.line + 1} ${line.name}`, h('span', { class: 'small aside' }, [line.balance, line.portions > 1 ? `in ${line.portions} portions` : ''].filter(Boolean).join(', '))),
      h('td', { class: 'figure' }, plain(line.grams.value)),
      h('td', { class: 'figure' }, number(line.expanded_percent, `Expanded uncertainty of ${line.name}`, { exact: two(line.expanded_percent.value), unit: false }), ' %'),
      h('td', { class: 'figure' }, line.tolerance_percent ? `${plain(line.tolerance_percent)} %` : '–'),
      h('td', { class: 'figure' }, line.within_tolerance ? chance(line.within_tolerance, `${line.name} within its tolerance`) : '–')))));
}

/** @param {any} found */
function helps(found) {
  if (!found.helps.length) return [h('p', { class: 'aside' }, 'Every line keeps within its tolerance in at least 95 of 100 batches on its balance, and no weighing decides whether a target is met.')];
  const two = (/** @type {number} */ value) => String(Number(value.toPrecision(2)));
  return found.helps.map((/** @type {any} */ one) => h('div', { class: 'sure-help' },
    h('p', {}, h('b', {}, `${one.line + 1} ${one.name}`), ` ${one.why}:`),
    one.remedies.length ? h('table', { class: 'calm sure-remedies' },
      h('thead', { class: 'visually-hidden' }, h('tr', {}, h('th', {}, 'Remedy'), h('th', {}, 'Sure to ±'), h('th', {}, 'Keeps in it'))),
      h('tbody', {}, ...one.remedies.map((/** @type {any} */ remedy) => h('tr', {}, h('td', {}, prose(remedy.words)),
        h('td', { class: 'figure' }, number(remedy.expanded_percent, `Expanded uncertainty of ${one.name} so`, { exact: two(remedy.expanded_percent.value), unit: false }), ' %'),
        h('td', { class: 'figure' }, remedy.within_tolerance ? chance(remedy.within_tolerance, `${one.name} within its tolerance so`) : '–')))))
      : h('p', { class: 'aside' }, 'Neither a finer balance, a stock solution nor a larger batch alone does it.')));
}

/** Results nobody set a target for. @param {any[]} others */
function besides(others) {
  return h('dl', { class: 'pairs' }, ...others.map((one) => h('div', {}, h('dt', {}, prose(one.name), one.from[0] ? h('span', { class: 'small' }, `most from: ${one.from[0].name}, ${fixed(one.from[0].percent.value, 0)} %`) : null), h('dd', {}, number(one.drawn, one.name), h('span', { class: 'small aside' }, `${plain(one.drawn.low, one.drawn)} to ${plain(one.drawn.high, one.drawn)}`)))));
}
