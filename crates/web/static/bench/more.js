// @ts-check
/** What happens at a bench besides the plan: a remark, a deviation, a sample, a photo, a step left out. */

import { EntryForm } from '../entry_form.js';

/** What can be noted: word, what it is called, what it asks for. @type {Array<[string, string, string[]]>} */
const KINDS = [
  ['note', 'A remark', ['text']],
  ['deviation', 'Something was done otherwise', ['text', 'reason', 'decision']],
  ['temperature', 'A temperature, °C', ['value']],
  ['speed', 'The stirrer was set, rpm', ['value']],
  ['sample', 'A sample was taken out, g', ['net', 'text']],
  ['vessel', 'The empty vessel was weighed, g', ['net']],
  ['gross', 'The vessel with the batch was weighed, g', ['net']],
  ['water', 'Water was put in, g', ['net']],
  ['added', 'Something outside the plan went in, g', ['material', 'lot', 'net']],
  ['lost', 'Product was lost, g', ['net', 'text']],
  ['photo', 'A photo', ['photo', 'text']],
  ['skipped', 'Leave this step out', ['reason']],
];

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
 * @param {string} batch
 * @param {any} step
 * @param {{keep: (body: Record<string, any>) => void, photo: (body: Record<string, any>) => Promise<void>, leave: () => void}} after
 */
export function moreForm(batch, step, after) {
  const form = new EntryForm('Something else', {
    word: 'Note it',
    leave: after.leave,
    act: async () => {
      const did = form.value('did');
      const asked = KINDS.find(([word]) => word === did)?.[2] ?? [];
      /** @type {Record<string, any>} */
      const body = { did, step: step?.number ?? 0, unit: 'g' };
      for (const name of asked.filter((one) => one !== 'photo')) body[name] = form.value(name).trim();
      const missing = asked.find((name) => !['decision', 'lot', 'photo'].includes(name) && !body[name] && !(name === 'text' && ['sample', 'lost'].includes(did)));
      if (missing) {
        form.tell({ code: 'missing', what: 'Something is missing.', why: 'Who reads the record later has only what is written.', what_now: 'Fill it in.', place: { field: missing } });
        return;
      }
      if (did !== 'photo') { after.keep(body); return; }
      const file = form.field('photo').files?.[0];
      if (!file) {
        form.tell({ code: 'missing', what: 'There is no photo.', why: 'Only the picture itself is kept.', what_now: 'Choose one.', place: { field: 'photo' } });
        return;
      }
      const { identity } = await import('./outbox.js');
      // A photo is too large for this browser's storage, so it is sent at once or not at all, and says so.
      await after.photo({ ...body, id: identity(), at: new Date().toISOString(), photo: await bytesOf(file) });
    },
  });
  form.body.append(
    form.choice('did', 'What', KINDS.map(([word, name]) => [word, name]), { width: 'wide' }),
    form.text('material', 'Raw material', { width: 'wide' }), form.text('lot', 'Lot'), form.text('net', 'The balance shows, g', { numeric: true, width: 'short' }), form.text('value', 'The instrument shows', { numeric: true, width: 'short' }),
    form.text('photo', 'Photo', { type: 'file', width: 'wide', hint: 'Sent at once; it needs the program to answer.' }),
    form.area('text', 'In words'), form.text('reason', 'Why', { width: 'wide' }), form.text('decision', 'What was decided', { width: 'wide' }));
  form.field('photo').accept = 'image/png,image/jpeg,image/webp';
  const show = () => {
    const asked = KINDS.find(([word]) => word === form.value('did'))?.[2] ?? [];
    for (const [name, { place }] of form.fields) place.hidden = name !== 'did' && !asked.includes(name);
  };
  form.field('did').addEventListener('change', show);
  show();
  return form.element;
}
