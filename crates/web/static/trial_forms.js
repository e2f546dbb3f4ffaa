// @ts-check
/** What can be entered at the bench: a trial, a reading, an observation, and corrections of the last two. */

import { Trouble, ask } from './api.js';
import { identity } from './bench/outbox.js';
import { EntryForm } from './entry_form.js';
import { h } from './dom.js';

/** Largest photo kept, bytes; the program checks it again. */
const PHOTO_LIMIT = 8 * 1024 * 1024;

/** Kind of reading: word, name, usual unit. @type {Array<[string, string, string]>} */
const KINDS = [['ph', 'pH', ''], ['viscosity', 'Viscosity', 'mPa·s'], ['density', 'Density', 'g/mL'], ['weight', 'Weight', 'g'], ['temperature', 'Temperature', '°C'], ['water-lost', 'Water that went off, not given back', '%'], ['', 'something else', '']];

/** @typedef {{done: (said: string, where: string) => Promise<void>, leave: () => void}} After */

/**
 * Begins a trial, empty or copied from another.
 * @param {any} book @param {any[]} lots @param {any} from the trial to copy, or null @param {After} after
 */
export function trialForm(book, lots, from, after) {
  const form = new EntryForm(from ? `The next trial, copied from trial ${from.number}` : 'A new trial', {
    word: 'Begin the trial',
    act: async () => {
      const codes = [...taken.querySelectorAll('input')].map((input) => ({ line: Number(input.dataset.line), code: input.value }));
      const kept = await ask('POST', `/api/formulas/${book.formula}/trials`, { version: Number(form.value('version')), parent: from?.id ?? '', changed: form.value('changed'), size: form.value('size'), unit: form.value('unit'), process: form.value('process'), made: form.value('made'), lots: codes });
      await after.done(`Trial ${kept.number} is begun.`, `trial-${kept.number}`);
    },
    leave: after.leave,
  });
  const versions = book.versions.map((/** @type {any} */ one) => [String(one.version), `version ${one.version}: ${one.reason}`.slice(0, 90)]);
  const taken = h('div', { class: 'taken' });
  const today = new Date();
  const two = (/** @type {number} */ value) => String(value).padStart(2, '0');
  form.body.append(
    form.choice('version', 'Version that is made', versions, { value: String(book.versions[0]?.version ?? ''), width: 'wide', hint: 'Only saved versions: what was made must be found again.' }),
    form.text('made', 'Made on', { type: 'date', value: `${today.getFullYear()}-${two(today.getMonth() + 1)}-${two(today.getDate())}` }),
    form.text('size', 'Batch size', { numeric: true, width: 'short', value: from?.batch_size?.typed ?? book.versions[0]?.size_g ?? '' }),
    form.choice('unit', 'Unit', [['g', 'g'], ['kg', 'kg']], { width: 'short', value: from?.batch_size?.unit ?? 'g' }),
    ...(from ? [form.area('changed', `What is changed against trial ${from.number}, and why`)] : []),
    form.area('process', 'How it is made', { value: from?.process ?? '', hint: 'Vessel, stirrer, order, times, whatever is not on the sheet.' }),
    taken);
  const lay = () => {
    const version = book.versions.find((/** @type {any} */ one) => String(one.version) === form.value('version'));
    taken.replaceChildren(h('p', { class: 'label' }, 'Lots taken'), ...(version?.lines ?? []).map((/** @type {any} */ line) => {
      const before = from?.lines.find((/** @type {any} */ other) => other.material === line.material && other.lot);
      const known = lots.filter((lot) => lot.material === line.key && !lot.struck);
      const id = `lot-${line.line}`;
      return h('div', { class: 'taken-line' }, h('label', { htmlFor: id }, line.material, h('span', { class: 'aside' }, ` ${line.amount}`)),
        h('input', { id, type: 'text', autocomplete: 'off', value: before?.lot ?? line.lot, placeholder: known.length ? known.map((lot) => lot.code).join(', ') : 'lot', list: known.length ? `${id}-known` : undefined, data: { line: line.line } }),
        known.length ? h('datalist', { id: `${id}-known` }, ...known.map((lot) => h('option', { value: lot.code }, [lot.supplier, lot.dates].filter(Boolean).join('; ')))) : null);
    }));
  };
  form.field('version').addEventListener('change', lay);
  lay();
  return form;
}

/** What a form sends beside what was typed: sent again because no answer came, it is kept once. */
function once() {
  const id = identity();
  let at = '';
  return () => {
    at ||= new Date().toISOString();
    return { id, at };
  };
}

/** @param {EntryForm} form */
function readingOf(form) {
  /** @type {Record<string, string>} */
  const conditions = {};
  for (const name of ['spindle', 'speed']) if (form.value(name)) conditions[name] = form.value(name);
  return {
    quantity: form.value('kind') || form.value('quantity'), value: form.value('value'), unit: form.value('unit'),
    method: form.value('method') || form.value('otherwise'), temperature_c: form.value('temperature_c'), age: form.value('age'),
    instrument: form.value('instrument'), conditions, note: form.value('note'),
  };
}

/** The fields of a reading, as they stand in one that is kept. @param {EntryForm} form @param {any} given @param {boolean} again it is a correction */
function readingFields(form, given, again) {
  const kind = given ? (KINDS.some(([word]) => word === given.quantity) ? given.quantity : '') : 'ph';
  const methods = /** @type {Array<[string, string]>} */ ([['neat', 'neat'], ['10 % in water', '10 % in water'], ['', 'otherwise']]);
  const method = given ? (methods.some(([word]) => word === given.method) ? given.method : '') : 'neat';
  form.body.append(
    form.choice('kind', 'What was read', KINDS.map(([word, name]) => [word, name]), { value: kind }),
    form.text('quantity', 'Name of it', { value: kind === '' ? given?.quantity ?? '' : '' }),
    form.text('value', 'Reading', { numeric: true, width: 'short', need: true, value: again ? given.typed : '' }),
    form.text('unit', 'Unit', { width: 'short', value: given?.unit ?? '' }),
    form.choice('method', 'Sample', methods, { value: method }),
    form.text('otherwise', 'In words', { value: method === '' ? given?.method ?? '' : '' }),
    form.text('temperature_c', 'Sample at, °C', { numeric: true, width: 'short', value: again ? given.temperature_c?.typed ?? '' : '' }),
    form.text('age', 'Age of the sample', { width: 'short', value: again ? given.age_h?.typed ?? '' : '', hint: '24 h, 7 d, 4 weeks' }),
    form.text('spindle', 'Spindle', { value: given?.conditions?.spindle ?? '' }),
    form.text('speed', 'Speed', { width: 'short', value: given?.conditions?.speed ?? '', hint: '20 rpm' }),
    form.text('instrument', 'Instrument', { width: 'wide', value: given?.instrument ?? '' }),
    form.text('note', 'Remark', { width: 'wide', value: again ? given.note ?? '' : '' }));
  const follow = (/** @type {boolean} */ chosen) => {
    const word = form.value('kind');
    form.place('quantity').hidden = word !== '';
    form.place('otherwise').hidden = form.value('method') !== '';
    form.place('unit').hidden = word === 'ph';
    for (const name of ['spindle', 'speed']) form.place(name).hidden = word !== 'viscosity';
    if (chosen) form.field('unit').value = KINDS.find(([one]) => one === word)?.[2] ?? '';
  };
  form.field('kind').addEventListener('change', () => follow(true));
  form.field('method').addEventListener('change', () => follow(false));
  follow(!given);
}

/** @param {any} trial @param {any} last the last reading, whose conditions are offered again @param {After} after */
export function readingForm(trial, last, after) {
  const sent = once();
  const form = new EntryForm(`A reading on trial ${trial.number}`, {
    word: 'Keep the reading',
    act: async () => {
      const kept = await ask('POST', `/api/trials/${trial.id}/readings`, { ...sent(), ...readingOf(form) });
      await after.done(`Reading ${kept.number} on trial ${trial.number} is kept.`, `reading-${kept.id}`);
    },
    leave: after.leave,
  });
  readingFields(form, last, false);
  return form;
}

/** @param {any} reading @param {After} after */
export function readingCorrection(reading, after) {
  const send = async (/** @type {any} */ instead) => {
    const kept = await ask('POST', `/api/readings/${reading.id}/correction`, { reason: form.value('reason'), instead });
    await after.done(instead ? `Reading ${kept.number} stands in its place.` : 'It is struck out.', `reading-${kept.id}`);
  };
  const form = new EntryForm(`Correct reading ${reading.number}`, { word: 'Put this in its place', act: () => send(readingOf(form)), leave: after.leave });
  readingFields(form, reading, true);
  withReason(form, () => send(null));
  return form;
}

/** @param {EntryForm} form @param {() => Promise<void>} takeBack */
function withReason(form, takeBack) {
  form.body.prepend(form.text('reason', 'Why', { width: 'whole', need: true, hint: 'The struck entry stays to be seen, with the reason beside it.' }));
  form.verbs.insertBefore(h('button', { class: 'verb', type: 'button', onclick: () => form.run(takeBack) }, 'Only take it back'), form.verbs.lastElementChild);
}

/** @param {any} trial @param {After} after */
export function observationForm(trial, after) {
  /** @type {string|null} */ let photo = null;
  const sent = once();
  const form = new EntryForm(`An observation on trial ${trial.number}`, {
    word: 'Keep the observation',
    act: async () => {
      if (form.field('photo').files?.length && photo === null) throw new Trouble({ code: 'photo', what: 'The photo is still being read.', why: 'It is a large file.', what_now: 'Wait a moment and keep it again.', place: { field: 'photo' } });
      const kept = await ask('POST', `/api/trials/${trial.id}/observations`, { ...sent(), text: form.value('text'), shows: form.value('shows'), photo });
      await after.done(`Observation ${kept.number} on trial ${trial.number} is kept.`, `observation-${kept.id}`);
    },
    leave: after.leave,
  });
  const preview = h('img', { class: 'preview', alt: '', hidden: true });
  const chooser = form.text('photo', 'Photo', { type: 'file', width: 'wide', hint: 'PNG, JPEG or WebP, at most 8 MB. Only the picture is kept: the place, the time and the notes of the camera are taken out of the file.' });
  chooser.append(preview);
  form.body.append(form.area('text', 'What you saw, smelled or felt', { rows: 3 }), chooser, form.text('shows', 'What the photo shows', { width: 'whole', hint: 'For those who cannot see it, and for finding it again.' }));
  const input = form.field('photo');
  input.accept = 'image/png,image/jpeg,image/webp';
  const shows = form.place('shows');
  shows.hidden = true;
  input.addEventListener('change', () => {
    form.calm();
    photo = null;
    const file = input.files?.[0];
    shows.hidden = !file;
    preview.hidden = !file;
    if (!file) return;
    if (file.size > PHOTO_LIMIT) {
      input.value = '';
      preview.hidden = true;
      shows.hidden = true;
      form.tell({ code: 'photo', what: `${file.name} is larger than 8 MB.`, why: 'The workspace keeps every photo whole.', what_now: 'Save it smaller; 2,000 pixels along the longer side are plenty.', place: { field: 'photo' } });
      return;
    }
    const reader = new FileReader();
    reader.addEventListener('load', () => {
      photo = String(reader.result).replace(/^[^,]*,/, '');
      preview.src = URL.createObjectURL(file);
    });
    reader.readAsDataURL(file);
  });
  return form;
}

/** @param {any} seen @param {After} after */
export function observationCorrection(seen, after) {
  const send = async (/** @type {any} */ instead) => {
    const kept = await ask('POST', `/api/observations/${seen.id}/correction`, { reason: form.value('reason'), instead });
    await after.done(instead ? `Observation ${kept.number} stands in its place.` : 'It is struck out.', `observation-${kept.id}`);
  };
  const form = new EntryForm(`Correct observation ${seen.number}`, { word: 'Put this in its place', act: () => send({ text: form.value('text'), shows: form.value('shows') }), leave: after.leave });
  form.body.append(form.area('text', 'What it should have said', { value: seen.text, rows: 3 }));
  if (seen.photo) form.body.append(form.text('shows', 'What the photo shows', { width: 'whole', value: seen.shows }));
  withReason(form, () => send(null));
  return form;
}

/** @param {any} curve @param {After} after */
export function curveCorrection(curve, after) {
  const form = new EntryForm(`Take curve ${curve.number} back`, {
    word: 'Take it back',
    act: async () => {
      const kept = await ask('POST', `/api/curves/${curve.id}/correction`, { reason: form.value('reason'), instead: null });
      await after.done('It is struck out.', `curve-${kept.id}`);
    },
    leave: after.leave,
  });
  form.body.append(form.text('reason', 'Why', { width: 'whole', need: true, hint: 'The struck curve stays to be seen, with the reason beside it. Another one is read on the page Measurement.' }));
  return form;
}
