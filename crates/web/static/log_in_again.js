// @ts-check
/** Logging in again where the session has ended, above the page as it stands: what was typed stays, and nothing is in its way. */

import { Trouble, askOnce, renewToken } from './api.js';
import { h } from './dom.js';

/** @type {Promise<void> | null} */ let waiting = null;

/** Waits until the person has logged in again; however many ask, they are asked once. @returns {Promise<void>} */
export function logInAgain() {
  waiting ??= new Promise((done) => show(() => { waiting = null; done(); }));
  return waiting;
}

/** @param {() => void} done */
function show(done) {
  const person = document.querySelector('meta[name="levigate-person"]')?.getAttribute('content') ?? '';
  const name = h('input', { type: 'text', name: 'name', id: 'again-name', value: person, autocomplete: 'username', readOnly: person !== '' });
  const password = h('input', { type: 'password', name: 'password', id: 'again-password', autocomplete: 'current-password' });
  const wrong = h('p', { class: 'field-trouble', role: 'alert', hidden: true });
  const keep = h('button', { class: 'verb main-verb', type: 'submit' }, 'Log in again');
  const strip = h('section', { class: 'log-in-again', 'aria-labelledby': 'again-title' },
    h('div', { role: 'alert' }, h('h2', { id: 'again-title' }, 'You are no longer logged in'),
      h('p', {}, 'The session has ended, or the program was started again. What you typed is still on this page and is kept once you have logged in.')),
    h('form', { onsubmit: async (/** @type {Event} */ event) => {
      event.preventDefault();
      keep.disabled = true;
      wrong.hidden = true;
      try {
        await renewToken('/login');
        await askOnce('POST', '/api/login', { name: name.value, password: password.value });
        strip.remove();
        document.body.classList.remove('asks-for-login');
        done();
      } catch (error) {
        const told = error instanceof Trouble ? error.told : { what: 'The program does not answer.', why: 'It may have been closed.', what_now: 'Start it again and log in here.' };
        wrong.hidden = false;
        wrong.replaceChildren(h('b', {}, told.what), ` ${told.why} ${told.what_now}`);
        password.focus();
        password.select();
      } finally {
        keep.disabled = false;
      }
    } }, h('span', { class: 'field' }, h('label', { htmlFor: 'again-name' }, 'Name'), name), h('span', { class: 'field' }, h('label', { htmlFor: 'again-password' }, 'Password'), password), keep, wrong));
  document.body.prepend(strip);
  document.body.classList.add('asks-for-login');
}
