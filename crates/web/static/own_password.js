// @ts-check
import { ask } from './api.js';
import { byId, h } from './dom.js';
import { newPassword, passwordForm } from './people_forms.js';

const done = h('p', { role: 'status', class: 'aside' });
const form = passwordForm('Your password', 'Change the password', async () => {
  await ask('POST', '/api/me/password', { old: form.value('old'), new: form.value('password') });
  form.field('old').value = '';
  form.field('password').value = '';
  done.textContent = 'The password is changed. Everywhere else you were logged in, you are logged out.';
});
form.body.append(form.text('old', 'Password so far', { width: 'whole', type: 'password', need: true }), newPassword(form, 'password', 'New password'));
form.field('old').autocomplete = 'current-password';
form.verbs.append(h('button', { class: 'verb', type: 'button', onclick: async () => {
  await ask('POST', '/api/me/logout', { everywhere: true });
  location.href = '/login';
} }, 'Log out everywhere'));
form.element.append(done);
byId('own-password').append(form.element);
