// @ts-check
import { askOnce } from './api.js';
import { byId } from './dom.js';
import { passwordForm } from './people_forms.js';

const place = byId('log-in');
const form = passwordForm('Who are you?', 'Log in', async () => {
  await askOnce('POST', '/api/login', { name: form.value('name'), password: form.value('password') });
  location.href = place.dataset.to || '/formulas';
});
form.body.append(form.text('name', 'Name or initials', { width: 'whole', need: true }), form.text('password', 'Password', { width: 'whole', type: 'password', need: true }));
form.field('name').autocomplete = 'username';
form.field('password').autocomplete = 'current-password';
place.append(form.element);
form.field('name').focus();
