// @ts-check
/** Forms in which a password is typed. */

import { EntryForm } from './entry_form.js';

/** @type {Array<[string, string]>} */
export const ROLES = [['bench', 'bench: enters work'], ['reviewer', 'reviewer: also signs off and releases'], ['admin', 'admin: also manages people']];

export const PASSWORD_HINT = 'At least 10 letters. A few words nobody would put together make a good one.';

/** A form that stands by itself: there is nothing to go back to. @param {string} title @param {string} word @param {() => Promise<void>} act */
export function passwordForm(title, word, act) {
  const form = new EntryForm(title, { word, act, leave: () => {} });
  form.verbs.lastElementChild?.remove();
  return form;
}

/** A field for a password that is new. @param {EntryForm} form @param {string} name @param {string} label */
export function newPassword(form, name, label) {
  const place = form.text(name, label, { width: 'whole', type: 'password', need: true, hint: PASSWORD_HINT });
  form.field(name).autocomplete = 'new-password';
  return place;
}
