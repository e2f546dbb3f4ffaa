// @ts-check
/** One trial on paper: what people did and read on the sheet, what is predicted for it in the margin beside. */

import { Trouble, ask } from './api.js';
import { h } from './dom.js';
import { echo, fixed, interval, decimalsKnown, plain, unitOf } from './figures.js';
import { number } from './number.js';
import { when } from './saving.js';
import { bounds, setBetween } from './trial_effects.js';

/** @typedef {{addReading: (trial: any) => void, addObservation: (trial: any) => void, copy: (trial: any) => void, correctReading: (reading: any) => void, correctCurve: (curve: any) => void, correctObservation: (seen: any) => void}} Hands */

/** How a reading stands, in the words at the head of a trial. @type {Record<string, string>} */
export const STANDS = { inside: 'inside', below: 'below', above: 'above', 'no-interval': 'beside the prediction', unlike: 'unlike conditions', 'not-predicted': 'not predicted', 'not-a-number': 'no number' };

/** A text from a person with the numbers in it as they typed them. @param {any} typed @param {string} unit */
const measured = (typed, unit) => (typed ? `${typed.typed}${/[a-z°]/i.test(typed.typed) ? '' : `\u00a0${unit}`}` : '');

/** The day a person reads. @param {string} iso */
export function day(iso) {
  const [year, month, date] = iso.split('-').map(Number);
  return `${date} ${['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December'][month - 1]} ${year}`;
}

/** @param {any} trial @param {any} book @param {Hands} hands */
export function trialView(trial, book, hands) {
  const version = book.versions.find((/** @type {any} */ one) => one.version === trial.version);
  return h('article', { class: 'trial', id: `trial-${trial.number}`, tabIndex: -1, 'aria-labelledby': `trial-${trial.number}-name` },
    beside(h('header', { class: 'trial-head' },
      h('h2', { id: `trial-${trial.number}-name` }, `Trial ${trial.number}`),
      h('p', { class: 'trial-what' }, h('a', { href: `/formulas/${book.formula}?version=${trial.version}` }, `Version ${trial.version}`), trial.batch_size ? `, ${echo(trial.batch_size.typed)}\u00a0${trial.batch_size.unit}` : '', `, made on ${day(trial.made)} by ${trial.who}.`, version ? h('span', { class: 'aside' }, ` The version was saved for: ${version.reason}`) : null),
      trial.process ? h('p', { class: 'written' }, trial.process) : null,
      changes(trial, book), effects(trial, book), lines(trial)), predicted(trial)),
    trial.readings.length ? h('div', { class: 'entries', role: 'list', 'aria-label': `Readings on trial ${trial.number}` }, ...trial.readings.map((/** @type {any} */ one) => reading(one, trial, hands))) : trial.curves?.length ? null : beside(h('p', { class: 'aside nothing' }, 'Nothing has been read on it yet.'), null),
    trial.observations.length ? h('div', { class: 'entries', role: 'list', 'aria-label': `Observations on trial ${trial.number}` }, ...trial.observations.map((/** @type {any} */ one) => observation(one, trial, hands))) : null,
    trial.curves?.length ? h('div', { class: 'entries', role: 'list', 'aria-label': `Flow curves of trial ${trial.number}` }, ...trial.curves.map((/** @type {any} */ one) => curve(one, trial, hands))) : null,
    beside(h('div', { class: 'trial-foot' }, h('div', { class: 'verbs' },
      h('button', { class: 'verb', type: 'button', onclick: () => hands.addReading(trial) }, 'Add a reading'),
      h('button', { class: 'verb', type: 'button', onclick: () => hands.addObservation(trial) }, 'Add an observation'),
      h('a', { class: 'verb', href: `/measurement?formula=${book.formula}&trial=${trial.id}` }, 'Add a flow curve'),
      h('button', { class: 'verb plain', type: 'button', onclick: () => hands.copy(trial) }, 'Copy as the next trial')), h('div', { class: 'form-place' })), taught(trial)));
}

/** A part of the sheet with what stands in the margin beside it. @param {HTMLElement} sheet @param {HTMLElement|null} margin @param {Record<string, any>} [properties] */
function beside(sheet, margin, properties = {}) {
  return h('div', { class: 'beside', ...properties }, h('div', { class: 'on-sheet' }, sheet), h('div', { class: 'in-margin' }, margin));
}

/** @param {any} trial @param {any} book */
function changes(trial, book) {
  if (!trial.parent) return null;
  const parent = book.trials.find((/** @type {any} */ one) => one.number === trial.parent);
  return h('div', { class: 'since' },
    h('p', {}, 'Copied from ', h('a', { href: `#trial-${trial.parent}` }, `trial ${trial.parent}`), '. ', trial.changed ? h('span', { class: 'pen' }, trial.changed) : h('span', { class: 'aside' }, 'What was changed is not written down.')),
    trial.changes.length ? h('table', { class: 'calm' }, h('thead', {}, h('tr', {}, h('th', {}, 'Found to differ'), h('th', {}, `trial ${trial.parent}`), h('th', {}, `trial ${trial.number}`))),
      h('tbody', {}, ...trial.changes.map((/** @type {any} */ one) => h('tr', {}, h('td', {}, one.what), h('td', {}, one.was || '–'), h('td', {}, one.now || '–'))))) : h('p', { class: 'aside' }, 'Lines, lots, size and making are the same.'),
    parent && parent.version !== trial.version ? h('p', {}, h('a', { href: `/formulas/${book.formula}/difference?left=${parent.version}&right=${trial.version}` }, 'What followed from it')) : null);
}

/** What lies between a trial and another one, and what each difference did: asked for, since it is worked out anew. @param {any} trial @param {any} book */
function effects(trial, book) {
  const others = book.trials.filter((/** @type {any} */ one) => one.number !== trial.number);
  if (!others.length || trial.prediction.refused) return null;
  const usual = trial.parent || others.filter((/** @type {any} */ one) => one.number < trial.number).at(-1)?.number || others[0].number;
  const place = h('div', { 'aria-live': 'polite' });
  const from = h('select', { 'aria-label': `Trial that trial ${trial.number} is told against`, onchange: () => { void tell(); } }, ...others.map((/** @type {any} */ one) => h('option', { value: String(one.number), selected: one.number === usual }, `trial ${one.number}`)));
  const tell = async () => {
    try {
      const told = await ask('GET', `/api/formulas/${book.formula}/trials/effects?left=${from.value}&right=${trial.number}`);
      setBetween(place, told, book.formula, 'h3');
    } catch (error) {
      place.replaceChildren(h('p', { class: 'fault' }, error instanceof Trouble ? error.message : 'The answer did not come. Try again.'));
    }
  };
  return h('details', { class: 'trial-effects', ontoggle: (/** @type {Event} */ event) => { if (/** @type {HTMLDetailsElement} */ (event.currentTarget).open && !place.firstChild) void tell(); } },
    h('summary', {}, 'What the differences did'),
    h('p', {}, 'Against ', from, '.'), place);
}

/** @param {any} trial */
function predicted(trial) {
  const { prediction } = trial;
  if (prediction.refused) return h('div', { class: 'note' }, h('p', { class: 'found' }, `Nothing is predicted for it: ${prediction.refused}.`));
  const rows = [['pH, neat', prediction.ph], ['pH, 10 % in water', prediction.ten_percent], ['Density', prediction.density], ['pH after standing in air', prediction.in_air]];
  return h('div', { class: 'note predicted' },
    h('p', { class: 'key' }, `Predicted for version ${trial.version}, 25\u00a0°C`),
    h('dl', { class: 'pairs' }, ...rows.filter(([, value]) => value).map(([name, value]) => h('div', {}, h('dt', {}, name), h('dd', {}, number(value, `${name}, trial ${trial.number}`, { most: 3, least: String(name).startsWith('pH') ? 1 : 2 }), h('span', { class: 'aside bounds' }, bounds(value)))))),
    ...trial.lines.filter((/** @type {any} */ line) => line.lot_remark).map((/** @type {any} */ line) => h('p', { class: 'found' }, `${line.material}, lot ${line.lot}: ${line.lot_remark}`)),
    prediction.viscosity ? h('dl', { class: 'pairs' }, h('div', {}, h('dt', {}, 'Viscosity'), h('dd', {}, number(prediction.viscosity, `Viscosity, trial ${trial.number}`, { most: 1 }), h('span', { class: 'aside bounds' }, bounds(prediction.viscosity)))), h('p', { class: 'change' }, `${prediction.viscosity_for ? `${prediction.viscosity_for}. ` : ''}From the trials before this one.`)) : null,
    prediction.water_lost_percent ? h('p', { class: 'change' }, `Counted with ${echo(prediction.water_lost_percent)}\u00a0% of water that went off and was not given back.`) : null,
    prediction.aim ? h('p', { class: 'change' }, prediction.aim.words) : null,
    prediction.with_lots.length ? h('p', { class: 'change' }, `With the assay of the lots taken: ${prediction.with_lots.join('; ')}.`) : null);
}

/** What the viscosities read on it say about its thickeners. @param {any} trial */
function taught(trial) {
  const lessons = trial.taught ?? [];
  if (!lessons.length) return null;
  const moved = lessons.flatMap((/** @type {any} */ lesson) => lesson.moved);
  const move = (/** @type {any} */ one) => h('div', {}, h('dt', {}, `${one.of}: ${one.number}`),
    h('dd', {}, number(one.before, `${one.number}, before trial ${trial.number}`, { least: 2 }), ' then ', number(one.after, `${one.number}, after trial ${trial.number}`, { least: 2 }), h('span', { class: 'aside bounds' }, bounds(one.after))));
  return h('div', { class: 'note predicted' }, h('p', { class: 'key' }, 'What it taught about the flow'),
    ...lessons.map((/** @type {any} */ lesson) => h('p', { class: 'found' }, lesson.words)),
    moved.length ? h('details', { class: 'trial-lines' }, h('summary', {}, moved.length === 1 ? 'One number moved' : `${moved.length} numbers moved`), h('dl', { class: 'pairs' }, ...moved.map(move))) : null);
}

/** @param {any} trial */
function lines(trial) {
  if (!trial.lines.length) return null;
  const named = trial.lines.filter((/** @type {any} */ line) => line.lot);
  const table = h('table', { class: 'calm lots-taken' }, h('thead', {}, h('tr', {}, h('th', {}, ''), h('th', {}, 'Raw material'), h('th', {}, 'Amount'), h('th', { class: 'figure' }, 'Weigh, g'), h('th', {}, 'Lot'), h('th', { class: 'figure' }, 'Assay, %'))),
    h('tbody', {}, ...trial.lines.map((/** @type {any} */ line) => h('tr', {}, h('td', { class: 'aside' }, line.phase), h('td', {}, line.material), h('td', {}, line.amount), h('td', { class: 'figure' }, line.grams ? number(line.grams, `${line.material}, grams to weigh`, { exact: line.exact, unit: false }) : ''),
      h('td', {}, line.lot ? (line.lot_remark === 'Not on file.' ? line.lot : h('a', { href: `/materials/${line.key}#lots` }, line.lot)) : h('span', { class: 'aside' }, '–'), line.lot_remark ? h('span', { class: 'small' }, line.lot_remark) : null), h('td', { class: 'figure' }, echo(line.lot_assay))))));
  const word = named.length ? `the lot named for ${named.length}` : 'no lot named';
  return h('details', { class: 'trial-lines' }, h('summary', {}, `${trial.lines.length} lines, ${word}`), table);
}

/** What struck an entry out, or what it corrects. @param {any} one @param {string} word */
function standing(one, word) {
  if (one.struck) return h('p', { class: 'struck-by' }, h('b', {}, 'Struck out. '), h('span', { class: 'pen' }, one.struck.reason), ` (${one.struck.who}, ${when(one.struck.when)}; see ${word} ${one.struck.by})`);
  if (one.withdrawn) return h('p', { class: 'struck-by' }, h('b', {}, 'Taken back. '), `${word} ${one.corrects} no longer stands; nothing is put in its place.`);
  if (one.corrects) return h('p', { class: 'struck-by' }, `Stands in the place of ${word} ${one.corrects}.`);
  return null;
}

/** @param {any} one @param {string} word @param {() => void} correct */
function entered(one, word, correct) {
  return h('p', { class: 'entered' }, `${word} ${one.number}, entered ${when(one.when)} by ${one.who}`, one.struck || one.withdrawn ? null : h('button', { class: 'verb plain', type: 'button', onclick: correct, 'aria-label': `Correct ${word.toLowerCase()} ${one.number}` }, 'Correct'));
}

/** @param {any} one @param {any} trial @param {Hands} hands */
function reading(one, trial, hands) {
  const conditions = [one.method, measured(one.temperature_c, '°C'), one.age_h ? `${measured(one.age_h, 'h')} old` : '', ...Object.entries(one.conditions ?? {}).map(([name, value]) => `${name} ${value}`)].filter(Boolean).join(', ');
  const sheet = h('div', {},
    one.withdrawn ? null : h('p', { class: 'read' }, h('span', { class: 'read-name' }, one.name), ' ', h('span', { class: 'read-value' }, one.typed, one.unit ? h('span', { class: 'unit' }, ` ${one.unit}`) : null), h('span', { class: 'read-how' }, conditions)),
    standing(one, 'reading'),
    one.withdrawn ? null : h('p', { class: 'entered' }, [one.instrument, one.note].filter(Boolean).join('. ')),
    entered(one, 'Reading', () => hands.correctReading(one)), h('div', { class: 'form-place' }));
  return beside(sheet, stands(one, trial), { class: `beside reading${one.struck || one.withdrawn ? ' struck' : ''}`, id: `reading-${one.id}`, role: 'listitem', tabIndex: -1 });
}

/** @param {any} one @param {any} trial */
function stands(one, trial) {
  if (!one.beside) return null;
  const { predicted: outcome, predicted_for: conditions, words, target, stands: word } = one.beside;
  if (!outcome && !words && !target) return null;
  const at = words.indexOf('. ');
  const [first, rest] = at < 0 ? [words, ''] : [words.slice(0, at + 1), words.slice(at + 2)];
  return h('div', { class: `note stands-${word}` },
    outcome ? h('p', { class: 'found' }, h('b', {}, first), ' Predicted ', number(outcome, `${one.name} predicted for trial ${trial.number}`, { most: 3, least: one.quantity === 'ph' ? 1 : (outcome.value ?? 0) >= 100 ? 0 : 2 }), h('span', { title: interval(outcome) }, bounds(outcome)), ` ${conditions}.`) : words ? h('p', { class: 'found' }, words) : null,
    outcome && rest ? h('p', { class: 'change' }, rest) : null,
    target ? h('p', { class: 'found' }, target) : null);
}

/** A measured flow curve; what its model comes to is computed anew and pencilled beside it. @param {any} one @param {any} trial @param {Hands} hands */
function curve(one, trial, hands) {
  const over = one.recovery;
  const along = over ? over.readings.map((/** @type {any} */ point) => Number(point.time_s)) : one.points.map((/** @type {any} */ point) => Number(point.shear_rate));
  const ends = [Math.min(...along), Math.max(...along)].map((end) => plain(Number(end.toPrecision(3))));
  const held = (/** @type {any} */ shear) => `${plain(Number(Number(shear.value).toPrecision(3)))} ${shear.unit}`;
  const across = over ? [`over ${ends[1]} s`, over.at ? `at ${held(over.at)}` : '', over.strong ? `after ${held(over.strong)}` : ''] : [`${ends[0]} to ${ends[1]} 1/s`];
  const count = along.length;
  const unit = over ? (count === 1 ? ' reading' : ' readings') : count === 1 ? ' point' : ' points';
  const conditions = [...across, measured(one.temperature_c, '°C'), one.age_h ? `${measured(one.age_h, 'h')} old` : '', one.direction ? `shear rates going ${one.direction}` : '', one.spindle].filter(Boolean).join(', ');
  const sheet = h('div', {},
    one.withdrawn ? null : h('p', { class: 'read' }, h('span', { class: 'read-name' }, over ? 'Recovery after shear' : 'Flow curve'), ' ', h('span', { class: 'read-value' }, String(count), h('span', { class: 'unit' }, unit)), h('span', { class: 'read-how' }, conditions)),
    standing(one, 'curve'),
    one.withdrawn ? null : h('p', { class: 'entered' }, [one.file, one.instrument, one.geometry, one.waiting, one.note].filter(Boolean).join('. ')),
    entered(one, 'Curve', () => hands.correctCurve(one)), h('div', { class: 'form-place' }));
  const note = h('div', { class: 'note predicted' });
  if (!one.struck && !one.withdrawn) fitNote(note, one, trial);
  return beside(sheet, note, { class: `beside curve${one.struck || one.withdrawn ? ' struck' : ''}`, id: `curve-${one.id}`, role: 'listitem', tabIndex: -1 });
}

/** @param {HTMLElement} note @param {any} one @param {any} trial */
async function fitNote(note, one, trial) {
  try {
    const fit = await ask('GET', `/api/curves/${one.id}/fit`);
    const model = fit.laws ? fit.laws.find((/** @type {any} */ other) => other.law === fit.taken?.law) : fit.models.find((/** @type {any} */ other) => other.model === fit.taken?.model);
    if (!model) { if (fit.trouble) note.replaceChildren(h('p', { class: 'found' }, `No fit: ${fit.trouble.what}.`)); return; }
    note.replaceChildren(h('p', { class: 'key' }, `${model.name.charAt(0).toUpperCase()}${model.name.slice(1)}, ${one.fit ? 'as it was taken' : 'for the points speak for it'}`),
      h('dl', { class: 'pairs' }, ...model.parameters.map((/** @type {any} */ p) => h('div', {}, h('dt', {}, p.words, p.not_settled ? ' (not settled)' : ''), h('dd', {}, number(p, `${p.words}, trial ${trial.number}`, {}))))),
      fit.laws ? reached(fit, trial) : h('p', { class: 'change' }, h('a', { href: `/formulas/${location.pathname.split('/')[2]}#plate-flow` }, 'On the flow curve of the formula')));
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    note.replaceChildren(h('p', { class: 'found' }, error.told.what));
  }
}

/** How far a recovery had come at its last reading. @param {any} fit @param {any} trial */
function reached(fit, trial) {
  const pairs = [['share of the way back at the last reading', fit.reached], ['last reading over that before the shear', fit.share_of_before]].filter(([, outcome]) => outcome.value !== null);
  return h('dl', { class: 'pairs' }, ...pairs.map(([words, outcome]) => h('div', {}, h('dt', {}, words), h('dd', {}, number(outcome, `${words}, trial ${trial.number}`, {})))));
}

/** @param {any} one @param {any} trial @param {Hands} hands */
function observation(one, trial, hands) {
  const shows = one.shows || one.text;
  const sheet = h('div', {},
    one.withdrawn || !one.text ? null : h('p', { class: 'seen' }, one.text),
    one.photo && !one.struck ? h('figure', { class: 'photo' }, h('a', { href: `/photos/${one.photo}`, 'aria-label': `The photo in full: ${shows}` }, h('img', { src: `/photos/${one.photo}`, alt: shows, loading: 'lazy' })), h('figcaption', {}, one.shows ? h('span', {}, one.shows) : null, one.taken_out.length ? h('span', { class: 'small' }, `Taken out of the file before it was kept: ${one.taken_out.join(', ')}.`) : null)) : null,
    standing(one, 'observation'), entered(one, 'Observation', () => hands.correctObservation(one)), h('div', { class: 'form-place' }));
  return beside(sheet, null, { class: `beside observation${one.struck || one.withdrawn ? ' struck' : ''}`, id: `observation-${one.id}`, role: 'listitem', tabIndex: -1 });
}
