// @ts-check
/** Who logs in and what they may do: listed, added, changed. */

import { ask } from './api.js';
import { announce, byId, h, pageData } from './dom.js';
import { EntryForm } from './entry_form.js';
import { PASSWORD_HINT, ROLES, newPassword } from './people_forms.js';
import { when } from './saving.js';

const given = pageData();

class PeopleView {
  constructor() {
    this.people = given.people;
    this.list = h('div', {});
    this.place = h('div', { class: 'form-place' });
    this.element = h('div', {}, this.list, h('div', { class: 'verbs' }, h('button', { class: 'verb', type: 'button', onclick: () => this.add() }, 'Add a person')), this.place);
    this.draw();
  }

  draw() {
    this.list.replaceChildren(h('table', { class: 'calm people-table' }, h('thead', {}, h('tr', {}, h('th', {}, 'Name'), h('th', {}, 'Initials'), h('th', {}, 'Role'), h('th', {}, 'Changed last'), h('th', {}, h('span', { class: 'visually-hidden' }, 'Verbs')))),
      h('tbody', {}, ...this.people.map((/** @type {any} */ person) => this.row(person)))));
  }

  /** @param {any} person */
  row(person) {
    const own = person.id === given.own;
    return h('tr', { id: `person-${person.id}`, tabIndex: -1, class: person.active ? '' : 'left' },
      h('td', {}, h('b', {}, person.name), own ? h('span', { class: 'small' }, 'you') : null, person.active ? null : h('span', { class: 'small' }, 'may no longer log in')),
      h('td', {}, person.initials), h('td', {}, person.role), h('td', {}, when(person.changed), h('span', { class: 'small' }, `by ${person.changed_by}`)),
      h('td', {}, h('button', { class: 'verb plain', type: 'button', 'aria-label': `Change ${person.name}`, onclick: () => this.change(person) }, 'Change')));
  }

  /** @param {EntryForm} form */
  show(form) {
    this.place.replaceChildren(form.element);
    form.element.scrollIntoView({ block: 'nearest' });
    form.element.querySelector('input')?.focus();
  }

  /** @returns {() => void} */
  leaving() {
    const opener = document.activeElement instanceof HTMLElement ? document.activeElement : null;
    return () => { this.place.replaceChildren(); opener?.focus(); };
  }

  /** @param {any} card @param {string} said */
  async kept(card, said) {
    this.people = await ask('GET', '/api/people');
    this.draw();
    this.place.replaceChildren();
    announce(said);
    document.getElementById(`person-${card.id}`)?.focus();
  }

  add() {
    const form = new EntryForm('A new person', { word: 'Let them in', leave: this.leaving(), act: async () => {
      const names = ['name', 'initials', 'role', 'password'];
      const card = await ask('POST', '/api/people', Object.fromEntries(names.map((name) => [name, form.value(name)])));
      await this.kept(card, `${card.name} may log in.`);
    } });
    form.body.append(form.text('name', 'Full name', { width: 'wide', need: true, hint: 'It stands on everything they write.' }), form.text('initials', 'Initials', { width: 'short', hint: 'Empty: from the name.' }),
      form.choice('role', 'Role', ROLES, { value: 'bench', width: 'wide' }), newPassword(form, 'password', 'First password'));
    this.show(form);
  }

  /** @param {any} person */
  change(person) {
    const form = new EntryForm(`Change ${person.name}`, { word: 'Keep the change', leave: this.leaving(), act: async () => {
      /** @type {Record<string, any>} */ const change = {};
      for (const name of ['name', 'initials', 'role']) if (form.value(name) !== person[name]) change[name] = form.value(name);
      if ((form.value('active') === 'yes') !== person.active) change.active = form.value('active') === 'yes';
      if (form.value('password')) change.password = form.value('password');
      const card = await ask('POST', `/api/people/${person.id}`, change);
      await this.kept(card, `${card.name} is changed.`);
    } });
    form.body.append(form.text('name', 'Full name', { width: 'wide', need: true, value: person.name, hint: 'What was written under the old name keeps it.' }), form.text('initials', 'Initials', { width: 'short', value: person.initials }),
      form.choice('role', 'Role', ROLES, { value: person.role, width: 'wide' }), form.choice('active', 'Logging in', [['yes', 'may log in'], ['no', 'may no longer log in']], { value: person.active ? 'yes' : 'no', width: 'wide' }),
      form.text('password', 'New password', { width: 'whole', type: 'password', hint: `Empty: as it is. ${PASSWORD_HINT} They are logged out everywhere.` }));
    form.field('password').autocomplete = 'new-password';
    this.show(form);
  }
}

const place = document.getElementById('people');
if (place) byId('people').append(new PeopleView().element);
