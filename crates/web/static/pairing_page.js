// @ts-check
import { askOnce } from './api.js';
import { byId } from './dom.js';
import { newPassword, passwordForm } from './people_forms.js';

const form = passwordForm('The first person', 'Let them in', async () => {
  await askOnce('POST', '/api/people/first', { code: form.value('code'), name: form.value('name'), initials: form.value('initials'), password: form.value('password') });
  location.href = '/login?to=/pairing';
});
form.body.append(form.text('code', 'Code from the terminal', { need: true }), form.text('name', 'Full name', { width: 'wide', need: true, hint: 'It stands on everything they write.' }),
  form.text('initials', 'Initials', { width: 'short', hint: 'Empty: from the name.' }), newPassword(form, 'password', 'Password'));
byId('first-person').append(form.element);
form.field('code').focus();
