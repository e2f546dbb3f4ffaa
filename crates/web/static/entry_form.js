// @ts-check
/** A form that keeps one entry: fields with their labels above, what is wrong told beside the field, what was typed stays. */

import { Trouble } from './api.js';
import { announce, h } from './dom.js';

/**
 * @typedef {HTMLInputElement|HTMLSelectElement|HTMLTextAreaElement} Field
 * @typedef {{value?: string, width?: 'short'|'wide'|'whole', numeric?: boolean, type?: string, hint?: string, list?: string[], need?: boolean, rows?: number}} How
 */

let made = 0;

export class EntryForm {
  /**
   * @param {string} title
   * @param {{word: string, act: () => Promise<void>, leave: () => void}} ending what the main verb is called and does; what leaving does
   */
  constructor(title, ending) {
    /** @type {Map<string, {field: Field, place: HTMLElement}>} */ this.fields = new Map();
    this.ending = ending;
    this.body = h('div', { class: 'entry-fields' });
    this.trouble = h('div', { class: 'field-trouble', role: 'alert', hidden: true });
    this.keep = h('button', { class: 'verb main-verb', type: 'submit' }, ending.word);
    this.verbs = h('div', { class: 'verbs' }, this.keep, h('button', { class: 'verb', type: 'button', onclick: ending.leave }, 'Not now'));
    made += 1;
    const name = `entry-${made}`;
    this.element = h('form', { class: 'entry', noValidate: true, 'aria-labelledby': name, onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); this.run(ending.act); } },
      h('h3', { id: name }, title), this.body, this.trouble, this.verbs);
  }

  /** @param {string} name @param {string} label @param {Field} field @param {How} how */
  put(name, label, field, how) {
    made += 1;
    field.id = `field-${made}`;
    field.name = name;
    const wrong = h('div', { class: 'field-trouble', id: `${field.id}-wrong`, hidden: true });
    const hint = how.hint ? h('span', { class: 'hint', id: `${field.id}-hint` }, how.hint) : null;
    if (hint) field.setAttribute('aria-describedby', hint.id);
    if (how.need) field.setAttribute('aria-required', 'true');
    const place = h('div', { class: `field ${how.width ?? ''}` }, h('label', { htmlFor: field.id }, label), field, hint, wrong);
    this.fields.set(name, { field, place });
    return place;
  }

  /** @param {string} name @param {string} label @param {How} [how] */
  text(name, label, how = {}) {
    const field = h('input', { type: how.type ?? 'text', value: how.value ?? '', autocomplete: 'off', inputMode: how.numeric ? 'decimal' : undefined });
    const place = this.put(name, label, field, how);
    if (how.list?.length) {
      const list = h('datalist', { id: `${field.id}-list` }, ...how.list.map((value) => h('option', { value })));
      field.setAttribute('list', list.id);
      place.append(list);
    }
    return place;
  }

  /** @param {string} name @param {string} label @param {How} [how] */
  area(name, label, how = {}) {
    return this.put(name, label, h('textarea', { value: how.value ?? '', rows: how.rows ?? 2 }), { width: 'whole', ...how });
  }

  /** @param {string} name @param {string} label @param {Array<[string, string]>} options value and words @param {How} [how] */
  choice(name, label, options, how = {}) {
    return this.put(name, label, h('select', {}, ...options.map(([value, words]) => h('option', { value, selected: value === how.value }, words))), how);
  }

  /** @param {string} name @returns {any} */
  field(name) {
    return this.fields.get(name)?.field;
  }

  /** @param {string} name */
  place(name) {
    return /** @type {HTMLElement} */ (this.fields.get(name)?.place);
  }

  /** What stands in a field; nothing in one that is not shown. @param {string} name */
  value(name) {
    const one = this.fields.get(name);
    return one && !one.place.hidden ? one.field.value : '';
  }

  /** @param {() => Promise<void>} act */
  async run(act) {
    this.calm();
    this.keep.disabled = true;
    try {
      await act();
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      this.tell(error.told);
    } finally {
      this.keep.disabled = false;
    }
  }

  calm() {
    this.trouble.hidden = true;
    for (const { field, place } of this.fields.values()) {
      field.removeAttribute('aria-invalid');
      /** @type {HTMLElement} */ (place.querySelector('.field-trouble')).hidden = true;
    }
  }

  /** @param {import('./api.js').Told} told */
  tell(told) {
    const one = this.fields.get(told.place?.field ?? '');
    const wrong = one && !one.place.hidden ? /** @type {HTMLElement} */ (one.place.querySelector('.field-trouble')) : this.trouble;
    wrong.hidden = false;
    wrong.replaceChildren(h('b', {}, told.what), ` ${told.why} ${told.what_now}`);
    if (one && wrong !== this.trouble) {
      one.field.setAttribute('aria-invalid', 'true');
      one.field.setAttribute('aria-describedby', wrong.id);
      one.field.focus();
    }
    wrong.scrollIntoView({ block: 'nearest' });
  }
}

/**
 * The one form that is open on a page.
 * @param {() => Promise<void>} redraw asks anew and draws what is kept
 * @param {ScrollLogicalPosition} block where what was kept comes to stand
 */
export function oneForm(redraw, block) {
  /** @type {{form: EntryForm, opener: HTMLElement|null}|null} */ let open = null;
  /** Closes it and gives the focus back. */
  const leave = () => {
    const { form, opener } = open ?? {};
    open = null;
    form?.element.remove();
    opener?.focus();
  };
  /** Closes it and shows what was kept. @param {string} said @param {string} where */
  const done = async (said, where) => {
    leave();
    await redraw();
    announce(said);
    const kept = document.getElementById(where);
    kept?.scrollIntoView({ block });
    kept?.focus({ preventScroll: true });
  };
  /** Opens it in a place, in the place of the one that was open. @param {Element|null|undefined} place @param {() => EntryForm} make */
  const show = (place, make) => {
    if (!place) return;
    const opener = document.activeElement instanceof HTMLElement ? document.activeElement : null;
    if (open) leave();
    const form = make();
    open = { form, opener };
    place.replaceChildren(form.element);
    form.element.scrollIntoView({ block: 'nearest' });
    /** @type {HTMLElement|null} */ (form.element.querySelector('input:not([type=file]), select, textarea'))?.focus();
  };
  return { leave, done, show };
}
