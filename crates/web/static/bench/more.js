// @ts-check
/** What happens at a bench besides the plan: a remark, a deviation, a reading, a sample, a photo, a step left out. */

import { EntryForm } from '../entry_form.js';

/** What can be noted: word, what it is called, what it asks for, and what of that may be left empty. @type {Array<[string, string, string[], string[]]>} */
const KINDS = [
  ['note', 'A remark', ['text'], []],
  ['deviation', 'Something was done otherwise', ['text', 'reason', 'decision'], ['decision']],
  ['reading', 'A reading: pH, viscosity, density', ['quantity', 'value', 'method', 'temperature_c', 'age', 'spindle', 'speed', 'instrument'], ['age', 'instrument', 'spindle', 'speed', 'temperature_c']],
  ['temperature', 'A temperature, °C', ['value'], []],
  ['speed', 'The stirrer was set, rpm', ['value'], []],
  ['sample', 'A sample was taken out, g', ['net', 'text'], ['text']],
  ['retained', 'A sample is kept', ['label', 'net', 'container', 'location', 'until'], ['label', 'net', 'container', 'until']],
  ['vessel', 'The empty vessel was weighed, g', ['net'], []],
  ['gross', 'The vessel with the batch was weighed, g', ['net'], []],
  ['water', 'Water was put in, g', ['net'], []],
  ['added', 'Something outside the plan went in, g', ['material', 'lot', 'net'], ['lot']],
  ['lost', 'Product was lost, g', ['net', 'text'], ['text']],
  ['photo', 'A photo', ['photo', 'text'], ['photo']],
  ['skipped', 'Leave this step out', ['reason'], []],
];

/** What can be read: word, name, unit. @type {Array<[string, string, string]>} */
const QUANTITIES = [['ph', 'pH', ''], ['viscosity', 'Viscosity, mPa·s', 'mPa·s'], ['density', 'Density, g/mL', 'g/mL']];

/** A file as base 64. @param {File} file @returns {Promise<string>} */
function bytesOf(file) {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(String(reader.result).replace(/^[^,]*,/, ''));
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(file);
  });
}

/**
 * @param {any} step @param {string} chosen
 * @param {{keep: (body: Record<string, any>) => void, put: (route: 'readings'|'samples', body: Record<string, any>) => void, photo: (body: Record<string, any>, photo: string) => Promise<void>, leave: () => void}} after
 */
export function moreForm(step, chosen, after) {
  const form = new EntryForm('Something else', {
    word: 'Note it',
    leave: after.leave,
    act: async () => {
      const did = form.value('did');
      const [, , asked, free] = kind();
      /** @type {Record<string, any>} */
      const body = { did, step: step?.number ?? 0, unit: 'g' };
      for (const name of asked.filter((one) => one !== 'photo')) body[name] = form.value(name).trim();
      // A viscosity without them means nothing; a pH has its temperature.
      const conditions = did === 'reading' ? /** @type {Record<string, string[]>} */ ({ viscosity: ['spindle', 'speed', 'temperature_c'], ph: ['temperature_c'] })[body.quantity] ?? [] : [];
      const missing = asked.find((name) => !body[name] && (!free.includes(name) || conditions.includes(name)));
      if (missing) {
        form.tell({ code: 'missing', what: 'Something is missing.', why: conditions.includes(missing) ? 'Without its conditions a number means nothing.' : 'Who reads the record later has only what is written.', what_now: 'Fill it in.', place: { field: missing } });
        return;
      }
      if (did === 'reading') {
        const { spindle, speed } = body;
        after.put('readings', { quantity: body.quantity, value: body.value, unit: QUANTITIES.find(([word]) => word === body.quantity)?.[2] ?? '', method: body.method, temperature_c: body.temperature_c, age: body.age, instrument: body.instrument, conditions: { ...(spindle ? { spindle } : {}), ...(speed ? { speed: `${speed} rpm` } : {}) }, note: '' });
      } else if (did === 'retained') {
        after.put('samples', { label: body.label, net: body.net, unit: 'g', container: body.container, location: body.location, until: body.until, note: '' });
      } else if (did !== 'photo') {
        after.keep(body);
      } else {
        const file = form.field('photo').files?.[0];
        if (!file) {
          form.tell({ code: 'missing', what: 'There is no photo.', why: 'Only the picture itself is kept.', what_now: 'Choose one.', place: { field: 'photo' } });
          return;
        }
        try {
          await after.photo(body, await bytesOf(file));
        } catch {
          form.tell({ code: 'no-place', what: 'The photo could not be kept on this device.', why: 'The browser has no room for it, or keeps nothing.', what_now: 'Make room, or save the picture smaller.', place: { field: 'photo' } });
        }
      }
    },
  });
  const kind = () => KINDS.find(([word]) => word === form.value('did')) ?? KINDS[0];
  form.body.append(
    form.choice('did', 'What', KINDS.map(([word, name]) => [word, name]), { width: 'wide', value: chosen }),
    form.choice('quantity', 'What was read', QUANTITIES.map(([word, name]) => [word, name])),
    form.text('material', 'Raw material', { width: 'wide' }), form.text('lot', 'Lot'), form.text('label', 'On its label', { hint: 'the batch code when empty' }), form.text('net', 'The balance shows, g', { numeric: true, width: 'short' }), form.text('value', 'The instrument shows', { numeric: true, width: 'short' }),
    form.choice('method', 'Sample', [['neat', 'neat'], ['10 % in water', '10 % in water']]), form.text('temperature_c', 'Sample at, °C', { numeric: true, width: 'short', value: '25' }), form.text('age', 'Age of it', { width: 'short', hint: '24 h, 7 d' }),
    form.text('spindle', 'Spindle and its size', { hint: 'disc 30 mm' }), form.text('speed', 'Speed, rpm', { numeric: true, width: 'short' }), form.text('instrument', 'Instrument', { width: 'wide' }),
    form.text('container', 'In what'), form.text('location', 'Where it stands', { width: 'wide' }), form.text('until', 'To be kept until', { type: 'date' }),
    form.text('photo', 'Photo', { type: 'file', width: 'wide', hint: 'Kept on this device until the program has it.' }),
    form.area('text', 'In words'), form.text('reason', 'Why', { width: 'wide' }), form.text('decision', 'What was decided', { width: 'wide' }));
  form.field('photo').accept = 'image/png,image/jpeg,image/webp';
  const show = () => {
    const [did, , asked] = kind();
    for (const [name, { place }] of form.fields) place.hidden = name !== 'did' && !asked.includes(name);
    const read = form.value('quantity');
    for (const name of ['spindle', 'speed']) form.place(name).hidden = did !== 'reading' || read !== 'viscosity';
  };
  form.field('did').addEventListener('change', show);
  form.field('quantity').addEventListener('change', show);
  show();
  return form.element;
}
