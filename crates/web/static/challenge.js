// @ts-check
/** Challenge tests of a formula: what was counted on the sheet, what follows from it in the margin, criteria side by side, and how each organism dies. */

import { ask } from './api.js';
import { byId, h, pageData } from './dom.js';
import { know, listen } from './derivation.js';
import { oneForm } from './entry_form.js';
import { number } from './number.js';
import { PlateView } from './plate.js';
import { when } from './saving.js';
import { day } from './trial_view.js';
import { challengeCorrection, challengeForm } from './challenge_form.js';

let book = pageData();

/** Words and shapes of what a cell says. @type {Record<string, [string, string]>} */
const SAYS = { met: ['met', '✓'], not_counted: ['not counted', '·'], undecided: ['cannot decide', '?'], not_shown: ['not shown', '?'], not_met: ['not met', '✕'], not_valid: ['not valid', '✕'] };

listen();

const { leave, done, show } = oneForm(async () => {
  book = await ask('GET', `/api/formulas/${book.formula}/challenge`);
  draw();
}, 'start');
const after = { done, leave };

/** @param {string} says */
const word = (says) => h('span', { class: `says says-${says.replace('_', '-')}` }, h('span', { 'aria-hidden': 'true' }, `${SAYS[says][1]} `), SAYS[says][0]);

const capital = (/** @type {string} */ text) => `${text.charAt(0).toUpperCase()}${text.slice(1)}`;

/** One reduction or change as it is written: `≥ 4.7`. @param {any} found */
function reduction(found) {
  if (found.value === null) return '–';
  const sign = found.low !== null && found.high === null ? '≥ ' : found.high !== null && found.low === null ? '≤ ' : '';
  return `${sign}${found.value.toFixed(2).replace('-', '−')}`;
}

/** What is asked, in the room of a cell. @param {string} words */
const asked = (words) => words.replace(/^a reduction of (.*) at least$/, '$1').replace(' since the start', '');

/** Criteria side by side: a row per organism. @param {any} test */
function criteria(test) {
  const all = test.reading.criteria;
  const organisms = test.organisms.map((/** @type {any} */ one) => one.organism);
  const cells = (/** @type {any} */ judged, /** @type {string} */ organism) => judged.cells.filter((/** @type {any} */ cell) => cell.organism === organism).sort((/** @type {any} */ a, /** @type {any} */ b) => a.day - b.day);
  return h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': `Criteria side by side, test ${test.number}` }, h('table', { class: 'calm criteria' },
    h('caption', { class: 'visually-hidden' }, 'What each criterion asks of each organism, and what was found. Reductions in decades since the calculated initial count.'),
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Organism'), ...all.map((/** @type {any} */ one) => h('th', { scope: 'col' }, one.standard, h('span', { class: 'criterion' }, one.words), word(one.says))))),
    h('tbody', {}, ...organisms.map((/** @type {string} */ organism) => h('tr', {}, h('th', { scope: 'row' }, organism), ...all.map((/** @type {any} */ judged) => h('td', {}, ...cells(judged, organism).map((/** @type {any} */ cell) => h('div', { class: `cell${judged.decided_by.some((/** @type {string} */ one) => one === `${cell.organism}, day ${cell.day}: ${cell.asked}`) ? ' decides' : ''}` },
      h('span', { class: 'cell-day' }, `Day ${cell.day}: `), h('span', { class: 'cell-found' }, reduction(cell.found)), h('span', { class: 'cell-asked' }, `, asked ${asked(cell.asked)}: `), word(cell.says),
      cell.by_the_other_reading ? h('span', { class: 'aside' }, ` (by the other reading: ${SAYS[cell.by_the_other_reading][0]})`) : null)))))))));
}

/** @param {any} test */
function counted(test) {
  return h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': `Counts of test ${test.number}` }, h('table', { class: 'calm counted' },
    h('caption', {}, `Counts as typed, ${test.unit}`),
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Organism'), h('th', { scope: 'col', class: 'figure' }, 'Put in'), ...test.days.map((/** @type {number} */ one) => h('th', { scope: 'col', class: 'figure' }, `Day ${one}`)))),
    h('tbody', {}, ...test.organisms.map((/** @type {any} */ one) => h('tr', {}, h('th', { scope: 'row' }, one.organism, h('span', { class: 'aside' }, ` ${one.kind}`)), h('td', { class: 'figure' }, one.initial), ...one.counts.map((/** @type {string} */ count) => h('td', { class: 'figure' }, count || '–')))))));
}

/** @param {any} test */
function dying(test) {
  return h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': `How fast they die, test ${test.number}` }, h('table', { class: 'calm dying' },
    h('caption', {}, 'How fast they die, hours'),
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Organism'), ...['A tenth left', 'A thousandth left, straight', 'A thousandth left, with one bend', 'Shape of the bend'].map((head) => h('th', { scope: 'col', class: 'figure' }, head)))),
    h('tbody', {}, ...test.reading.dying.map((/** @type {any} */ one) => h('tr', {}, h('th', { scope: 'row' }, one.organism), ...[[one.d, 'time for a tenth to survive'], [one.three_log, 'time for a thousandth to survive, straight line'], [one.bend.three_log, 'time for a thousandth to survive, with one bend'], [one.bend.shape, 'shape of the bend']].map(([outcome, label]) => h('td', { class: 'figure' }, number(outcome, `${one.organism}: ${label}`, { most: 2 }))))))));
}

/** What follows, pencilled in the margin. @param {any} test */
function margin(test) {
  const notes = [...new Map([...test.reading.criteria.flatMap((/** @type {any} */ one) => one.notes), ...test.reading.notes].map((/** @type {any} */ note) => [note.text, note])).values()];
  return h('div', { class: 'note verdicts' },
    h('ul', {}, ...test.reading.criteria.map((/** @type {any} */ one) => h('li', {}, h('span', { class: 'shape', 'aria-hidden': 'true' }, SAYS[one.says][1]), `${capital(one.verdict)}.`, one.decided_by.length ? h('span', { class: 'change' }, ` Decided by ${one.decided_by.join('; ')}.`) : null))),
    h('details', {}, h('summary', {}, 'What must be known'), ...notes.map((/** @type {any} */ note) => h('p', { class: 'change' }, note.text.endsWith('.') ? note.text : `${note.text}.`))));
}

/** @param {any} test @param {any[]} plates */
function testView(test, plates) {
  const gone = test.struck || test.withdrawn;
  const conditions = [test.laboratory, test.method, test.started ? `inoculated ${day(test.started)}` : '', test.ph ? `pH ${test.ph.typed}` : '', test.age_h ? `${/[a-z]/i.test(test.age_h.typed) ? test.age_h.typed : `${test.age_h.typed} h`} old` : ''].filter(Boolean).join(', ');
  const neutraliser = test.recovered_percent ? `Neutraliser: ${test.recovered_percent.typed} % recovered with the product, ${test.alone_percent.typed} % alone.` : 'Nothing shows that the preservative was neutralised before counting.';
  const head = h('div', {}, h('h2', { id: `test-${test.number}-name` }, `Test ${test.number}`),
    h('p', { class: 'trial-what' }, h('a', { href: `/formulas/${book.formula}?version=${test.version}` }, `Version ${test.version}`), test.trial_number ? ', ' : null, test.trial_number ? h('a', { href: `/formulas/${book.formula}/trials#trial-${test.trial_number}` }, `trial ${test.trial_number}`) : null, conditions ? `: ${conditions}.` : '.'),
    test.withdrawn ? null : h('p', { class: 'written' }, test.sample),
    test.struck ? h('p', { class: 'struck-by' }, `Struck by test ${test.struck.by}: ${test.struck.reason} (${test.struck.who}, ${when(test.struck.when)})`) : null,
    test.withdrawn ? h('p', { class: 'struck-by' }, `Test ${test.corrects} was taken back.`) : null,
    gone ? null : h('p', { class: 'aside' }, neutraliser), test.note && !gone ? h('p', { class: 'seen' }, test.note) : null,
    gone ? null : counted(test));
  const foot = h('div', { class: 'trial-foot' }, h('p', { class: 'entered' }, `Entered by ${test.who}, ${when(test.when)}.`, gone ? null : h('button', { class: 'verb plain', type: 'button', onclick: () => show(document.querySelector(`#test-${test.number} .form-place`), () => challengeCorrection(book, test, after)) }, 'Correct')), h('div', { class: 'form-place' }));
  return h('article', { class: `trial challenge-test${gone ? ' struck' : ''}`, id: `test-${test.number}`, tabIndex: -1, 'aria-labelledby': `test-${test.number}-name` },
    h('div', { class: 'beside' }, h('div', { class: 'on-sheet' }, head), h('div', { class: 'in-margin' }, gone ? null : margin(test))),
    gone ? null : h('div', { class: 'across' }, h('h3', {}, 'Criteria side by side'), criteria(test), dying(test),
      h('h3', {}, 'How each organism dies'), h('div', { class: 'kill-plates' }, ...plates.map((plate) => { const view = new PlateView(); view.update(plate, null); return view.element; }))),
    h('div', { class: 'across' }, foot));
}

/** What to look at first. */
function first() {
  const standing = book.tests.filter((/** @type {any} */ one) => one.reading);
  const last = standing[standing.length - 1];
  if (!last) return [h('h2', {}, 'Begin here'), h('p', { class: 'found' }, 'No challenge test of this formula yet.'), h('p', { class: 'change' }, 'Send the worst pH of the window and an aged sample: a test speaks of what was sent. What comes back is typed here, pasted from a sheet, or brought in as a table.')];
  const met = last.reading.criteria.filter((/** @type {any} */ one) => one.says === 'met').map((/** @type {any} */ one) => `${one.words} of ${one.standard}`);
  const grave = last.reading.criteria.find((/** @type {any} */ one) => one.says !== 'met' && one.decided_by.length);
  return [h('h2', {}, 'Look at this first'), h('p', { class: 'found' }, met.length ? `Test ${last.number} meets ${met.join(' and ')} by these data.` : `Test ${last.number} meets none of the criteria by these data.`),
    grave ? h('p', { class: 'change' }, h('a', { href: `#test-${last.number}` }, `${grave.standard}, ${grave.words}`), `: ${grave.decided_by[0]}, ${SAYS[grave.says][0]}.`) : null].filter((one) => one !== null);
}

function draw() {
  know({ citations: book.sources });
  byId('first').replaceChildren(...first());
  byId('tests').replaceChildren(...book.tests.map((/** @type {any} */ test, /** @type {number} */ at) => testView(test, book.plates[at])).reverse());
  byId('begin').replaceChildren(h('div', { class: 'verbs' }, h('button', { class: `verb${book.tests.length ? '' : ' main-verb'}`, type: 'button', onclick: () => show(byId('begin').querySelector('.form-place'), () => challengeForm(book, after)) }, 'Enter a test')), h('div', { class: 'form-place' }));
}

draw();
if (location.hash) document.getElementById(location.hash.slice(1))?.scrollIntoView();
