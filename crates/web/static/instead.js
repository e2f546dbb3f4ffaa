// @ts-check
/** What could stand in the place of a raw material: candidates property by property, and what each does to every formula that uses it. */

import { Trouble, ask } from './api.js';
import { csvVerb, fileName } from './csv.js';
import { know, listen } from './derivation.js';
import { announce, byId, h, mark, pageData, prose } from './dom.js';
import { plain, unitOf } from './figures.js';
import { number } from './number.js';
import { takeToSheet } from './taken.js';

const page = pageData();
const { reading, formulas } = page;
const keys = reading.candidates.map((/** @type {any} */ one) => one.key);
/** What each formula said, by its identifier. @type {Map<string, any>} */
const told = new Map();
/** @type {Record<string, string>} */
const citations = {};

listen();

/** @param {any} outcome @param {string} label */
const cell = (outcome, label) => h('td', { class: 'figure' }, number(outcome, label, { unit: false }), typeof outcome.low === 'number' && typeof outcome.high === 'number' && outcome.low !== outcome.high ? h('span', { class: 'small' }, `${plain(outcome.low, outcome)} to ${plain(outcome.high, outcome)}`) : null);
const heads = (/** @type {Array<[string, string]>} */ names) => h('thead', {}, h('tr', {}, ...names.map(([words, kind]) => h('th', { scope: 'col', class: kind }, words))));

/** @param {any} candidate */
function properties(candidate) {
  return h('div', { class: 'wide-table', tabIndex: 0, role: 'region', 'aria-label': `${candidate.material}, property by property` }, h('table', { class: 'calm' },
    h('caption', { class: 'visually-hidden' }, `How near ${candidate.material} is, property by property`),
    heads([['Property', ''], [reading.material, ''], [candidate.material, ''], ['Distance, 0 to 1', 'figure']]),
    h('tbody', {}, ...candidate.properties.map((/** @type {any} */ own) => h('tr', {}, h('th', { scope: 'row' }, prose(own.name.replace('usual level', 'middle of the usual level'))), h('td', {}, own.gone || '–'), h('td', {}, own.other || '–'),
      h('td', { class: 'figure' }, own.distance.value === null ? h('span', { class: 'not-known' }, 'not known: counts as half way') : number(own.distance, `${candidate.material}: ${own.name}`, { unit: false, most: 2 })))))));
}

/** @param {any[]} findings @param {string} words */
const brief = (findings, words) => findings.map((one) => h('p', { class: 'brief' }, `${words}: `, h('span', { class: `gravity gravity-${one.gravity}` }, mark(one.gravity, 'shape'), one.gravity), ` ${prose(one.found)}`));

/** One formula with one candidate. @param {any} formula @param {any} candidate @param {any} one */
function consequence(formula, candidate, one) {
  const head = h('h4', {}, h('a', { href: `/formulas/${formula.id}` }, formula.name), `, version ${formula.version}`);
  const amounts = h('p', {}, `Line ${one.line + 1}: `, number(one.before, `${formula.name}: ${reading.material}`), ' becomes ', number(one.amount, `${formula.name}: ${candidate.material}`, { most: 3 }), `. ${prose(one.rule)}.`);
  if (one.refused) return h('section', { class: 'instead-formula' }, head, h('p', { class: 'not-known' }, `With ${candidate.material} it cannot be solved: ${one.refused}.`));
  const changes = one.changes.filter((/** @type {any} */ change) => change.before.value !== null || change.after.value !== null);
  return h('section', { class: 'instead-formula' }, head, amounts,
    h('table', { class: 'calm' }, h('caption', { class: 'visually-hidden' }, `What follows in ${formula.name}`), heads([['', ''], ['Now', 'figure'], [`With ${candidate.material}`, 'figure']]),
      h('tbody', {}, ...changes.map((/** @type {any} */ change) => h('tr', {}, h('th', { scope: 'row' }, change.name === 'pH' ? 'pH' : prose(change.name), h('span', { class: 'small' }, unitOf(change.after.unit || change.before.unit))), cell(change.before, `${change.name} now`), cell(change.after, `${change.name} with ${candidate.material}`))))),
    ...(one.gained.length || one.lost.length ? [...brief(one.gained, 'Comes'), ...brief(one.lost, 'Goes')] : [h('p', { class: 'aside' }, 'No finding comes or goes.')]),
    one.label ? h('details', {}, h('summary', {}, 'The ingredient list then'), h('p', {}, one.label)) : null,
    h('button', { class: 'verb', type: 'button', 'aria-label': `Put ${formula.name} with ${candidate.material} on its sheet`, onclick: (/** @type {Event} */ event) => put(/** @type {HTMLButtonElement} */ (event.currentTarget), formula, candidate, one.line) }, 'Put it on the sheet'));
}

/** @param {HTMLButtonElement} verb @param {any} formula @param {any} candidate @param {number} line */
async function put(verb, formula, candidate, line) {
  verb.disabled = true;
  try {
    const draft = await ask('GET', `/api/materials/${page.key}/instead/${formula.id}/draft?${new URLSearchParams({ with: candidate.key, line: String(line) })}`);
    takeToSheet(formula.id, draft, `version ${formula.version} with ${candidate.material} in the place of ${reading.material}`);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    verb.disabled = false;
    verb.after(h('div', { class: 'field-trouble', role: 'alert' }, h('b', {}, error.told.what), ` ${error.told.why} ${error.told.what_now}`));
  }
}

/** Places of the formulas, by candidate. @type {Map<string, any>} */
const places = new Map();

/** @param {any} candidate @param {number} at */
function section(candidate, at) {
  const place = h('div', {});
  places.set(candidate.key, place);
  return h('section', { class: 'instead-candidate', 'aria-labelledby': `candidate-${at}` }, h('h2', { id: `candidate-${at}` }, candidate.material),
    h('p', {}, 'Distance ', number(candidate.distance, `${candidate.material}: distance`, { unit: false, most: 2 }), ' of 1. ', h('a', { href: `/materials/${candidate.key}` }, 'What is known of it')),
    h('h3', {}, 'How near it is'), properties(candidate), formulas.length ? h('h3', {}, 'In the formulas that use it') : null, place);
}

/** The raw material a person means by a name, a part of it, an INCI name or a number. @param {string} typed @returns {Promise<string>} its key, empty where there is none */
async function named(typed) {
  if (!typed) return '';
  const exact = page.others.find((/** @type {[string, string]} */ [, name]) => name.toLowerCase() === typed.toLowerCase());
  if (exact) return exact[0];
  const hits = await ask('GET', `/api/materials?${new URLSearchParams({ words: typed })}`);
  return hits.find((/** @type {any} */ hit) => hit.matched !== 'a name that comes near' && hit.key !== page.key)?.key ?? '';
}

/** Another candidate by its name. */
function another() {
  const field = h('input', { type: 'text', id: 'another', autocomplete: 'off' });
  const list = h('datalist', { id: 'another-list' }, ...page.others.map((/** @type {[string, string]} */ [, name]) => h('option', { value: name })));
  field.setAttribute('list', list.id);
  const wrong = h('div', { class: 'field-trouble', id: 'another-wrong', role: 'alert', hidden: true });
  return h('form', { class: 'better-row', noValidate: true, onsubmit: async (/** @type {Event} */ event) => {
    event.preventDefault();
    const found = await named(field.value.trim());
    if (found) { location.search = new URLSearchParams({ with: [found, ...keys.filter((/** @type {string} */ key) => key !== found)].slice(0, 12).join(',') }).toString(); return; }
    wrong.hidden = false;
    wrong.replaceChildren(h('b', {}, field.value.trim() ? `No raw material here is called “${field.value.trim()}”.` : 'No raw material is named.'), ' Choose a name from the list that opens while you type.');
    field.setAttribute('aria-invalid', 'true');
    field.setAttribute('aria-describedby', wrong.id);
    field.focus();
  } }, h('div', { class: 'field grow' }, h('label', { htmlFor: 'another' }, 'Look at another raw material'), field, list, wrong), h('button', { class: 'verb', type: 'submit' }, 'Look at it too'));
}

/** Every number of the page as rows. */
function rows() {
  const text = (/** @type {any} */ one) => (one.value === null ? '' : String(Number(one.value.toPrecision(8))));
  const all = [['candidate', 'distance', 'formula', 'version', 'line', 'what', 'unit', 'now', 'then']];
  for (const candidate of reading.candidates) {
    if (!formulas.length) all.push([candidate.material, text(candidate.distance), '', '', '', '', '', '', '']);
    for (const formula of formulas) {
      for (const one of told.get(formula.id)?.candidates.find((/** @type {any} */ it) => it.key === candidate.key)?.formulas ?? []) {
        const lead = [candidate.material, text(candidate.distance), formula.name, String(formula.version), String(one.line + 1)];
        all.push([...lead, 'percent', '% w/w', text(one.before), text(one.amount)]);
        for (const change of one.changes) all.push([...lead, change.name, change.after.unit || change.before.unit, text(change.before), text(change.after)]);
        for (const finding of one.gained) all.push([...lead, 'finding that comes', '', '', `${finding.gravity}: ${finding.found}`]);
        for (const finding of one.lost) all.push([...lead, 'finding that goes', '', `${finding.gravity}: ${finding.found}`, '']);
      }
    }
  }
  return all;
}

const progress = h('p', { class: 'aside', role: 'status' });
const take = csvVerb('All of it as CSV', fileName(reading.material, 'instead.csv'), rows);
const kept = formulas.filter((/** @type {any} */ one) => one.draft);
byId('instead').append(h('div', {},
  h('p', {}, `Functions: ${reading.functions.join(', ') || 'none on file'}. `, formulas.length ? `${formulas.length === 1 ? 'One formula uses' : `${formulas.length} formulas use`} it in the newest version.` : 'No formula uses it in its newest version, so only the raw materials themselves are set side by side.'),
  page.same_substance.length ? h('p', {}, 'The same substance also comes from elsewhere, and is not exchanged there: ', ...page.same_substance.flatMap((/** @type {any} */ one, /** @type {number} */ at) => [at ? '; ' : '', h('a', { href: `/formulas/${one.id}` }, one.name), ` from ${one.material}`]), '.') : null,
  kept.length ? h('p', { class: 'aside' }, `A draft of ${kept.map((/** @type {any} */ one) => one.name).join(', ')} is kept; here its newest version is looked at. Putting it on the sheet lays it over the draft, and undo brings that back.`) : null,
  another(), progress,
  ...(reading.candidates.length ? reading.candidates.map(section) : [h('p', { class: 'lead-word' }, 'No raw material on file shares its main function. Name one above, or enter an own raw material first.')]),
  h('div', { class: 'verbs' }, take, h('button', { class: 'verb plain', type: 'button', onclick: () => window.print() }, 'Print')),
  h('div', { class: 'mind' }, h('h3', {}, 'Mind'), ...reading.notes.map((/** @type {any} */ note) => h('p', { class: 'aside' }, prose(note.text))))));

/** Formulas one after the other: each answer is short, and the first stand while the next are computed. */
async function look() {
  if (!keys.length) return;
  for (const [at, formula] of formulas.entries()) {
    progress.textContent = `Looking at ${formula.name}, ${at + 1} of ${formulas.length}.`;
    try {
      const answer = await ask('GET', `/api/materials/${page.key}/instead/${formula.id}?${new URLSearchParams({ with: keys.join(',') })}`);
      told.set(formula.id, answer.reading);
      know({ citations: Object.assign(citations, answer.sources) });
      for (const candidate of answer.reading.candidates) places.get(candidate.key)?.append(...candidate.formulas.map((/** @type {any} */ one) => consequence(formula, candidate, one)));
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      for (const place of places.values()) place.append(h('section', { class: 'instead-formula' }, h('h4', {}, h('a', { href: `/formulas/${formula.id}` }, formula.name)), h('p', { class: 'not-known' }, `${error.told.what} ${error.told.why} ${error.told.what_now}`)));
    }
  }
  progress.textContent = '';
  if (formulas.length) announce('All formulas were looked at.');
}

look().finally(() => { document.documentElement.dataset.looked = String(told.size); });
