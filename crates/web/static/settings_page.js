// @ts-check
import { byId } from './dom.js';
import { choose, settings } from './settings.js';

const form = /** @type {HTMLFormElement} */ (byId('settings'));
for (const input of form.querySelectorAll('input')) {
  const name = /** @type {keyof typeof settings} */ (input.name);
  input.checked = settings[name] === input.value;
  input.addEventListener('change', () => choose(/** @type {any} */ ({ [name]: input.value })));
}
