// @ts-check
/** What is read at a pull, entered at the bench: one large field for each reading that is missing, all of them kept together. */

import { ask } from './api.js';
import { EntryForm } from './entry_form.js';
import { h } from './dom.js';
import { day } from './study_words.js';

export class PullForm {
  /**
   * @param {any} study @param {any} pull
   * @param {{leave: () => void, kept: (many: number) => Promise<void>}} ending
   */
  constructor(study, pull, ending) {
    const start = pull.condition === 'start';
    const form = new EntryForm(start ? 'The start' : `${pull.pull} at ${pull.condition}`, { word: 'Keep what was read', leave: ending.leave, act: async () => {
      const values = places.map((one) => ({ batch: one.batch, pack: one.pack, attribute: one.attribute, value: form.value(one.name), measured_at: one.otherwise && form.value(one.otherwise).trim() ? { otherwise: form.value(one.otherwise) } : {}, note: form.value('note') }));
      const done = await ask('POST', `/api/studies/${study.id}/pulls`, { condition: pull.condition, pull: pull.pull, on: form.value('on'), values });
      await ending.kept(done.readings);
    } });
    this.form = form;
    form.element.classList.add('pull-form');
    /** @type {Array<{batch: string, pack: string, attribute: string, name: string, otherwise?: string}>} */ const places = [];
    const there = new Set(study.readings.filter((/** @type {any} */ read) => !read.struck && read.condition === pull.condition && read.pull === pull.pull).map((/** @type {any} */ read) => [read.batch, read.pack, read.attribute].join(' | ')));
    form.body.append(form.text('on', 'Pulled on', { type: 'date', value: study.today, hint: `due ${day(pull.due)}, window ${day(pull.from)} to ${day(pull.to)}` }), form.text('note', 'Remark', { width: 'wide' }));
    for (const batch of study.typed.batches) {
      for (const pack of study.typed.packs) {
        const fields = [];
        for (const attribute of study.typed.attributes) {
          const name = [batch.name, pack.name, attribute.name].join(' | ');
          if (there.has(name)) { fields.push(h('p', { class: 'read-already' }, `${attribute.name} is read.`)); continue; }
          /** @type {{batch: string, pack: string, attribute: string, name: string, otherwise?: string}} */ const one = { batch: batch.name, pack: pack.name, attribute: attribute.name, name };
          const at = Object.entries(attribute.measured_at ?? {}).map(([word, value]) => `${word} ${value}`).join(', ');
          if (attribute.reads === 'scale') fields.push(form.choice(name, attribute.name, [['', 'not read yet'], ...attribute.steps.map((/** @type {string} */ step, /** @type {number} */ number) => /** @type {[string, string]} */ ([String(number), `${number} ${step}`]))]));
          else fields.push(form.text(name, `${attribute.name}${attribute.unit ? `, ${attribute.unit}` : ''}`, { numeric: attribute.reads !== 'colour', hint: attribute.reads === 'colour' ? 'L*, a*, b* with blanks between them' : at }));
          if (at) {
            one.otherwise = `${name} | otherwise`;
            fields.push(form.text(one.otherwise, 'Measured otherwise', { hint: 'only where it was' }));
          }
          places.push(one);
        }
        form.body.append(h('fieldset', { class: 'pull-batch' }, h('legend', {}, study.typed.packs.length > 1 ? `${batch.name}, ${pack.name}` : batch.name), ...fields));
      }
    }
    form.body.append(h('p', { class: 'hint whole-hint' }, 'Replicates with a semicolon between them: 5,42; 5,44. What is left empty can be entered later.'));
    this.element = form.element;
  }

  focus() {
    /** @type {HTMLElement|null} */ (this.element.querySelector('.pull-batch input, .pull-batch select'))?.focus({ preventScroll: true });
  }
}
