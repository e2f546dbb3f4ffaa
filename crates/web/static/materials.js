// @ts-check
/** Raw materials: the list follows the letters as they are typed. */

import { ask } from './api.js';
import { byId, h, say } from './dom.js';

const input = /** @type {HTMLInputElement} */ (byId('words'));
const body = /** @type {HTMLElement} */ (document.querySelector('#hits tbody'));
let asked = 0;

input.addEventListener('input', async () => {
  asked += 1;
  const mine = asked;
  const words = input.value.trim();
  let hits;
  try {
    hits = await ask('GET', `/api/materials?most=500&words=${encodeURIComponent(words)}`);
  } catch {
    return;
  }
  if (mine !== asked) return;
  document.getElementById('none')?.remove();
  body.replaceChildren(...hits.map((/** @type {any} */ hit) => h('tr', {}, h('td', {}, h('a', { href: `/materials/${hit.key}` }, hit.name)), h('td', {}, hit.inci.join(', ')), h('td', { class: 'nowrap' }, hit.cas.join(', ')), h('td', {}, hit.functions.join(', ')), h('td', {}, hit.layer === 'shipped' ? h('span', { class: 'aside' }, 'shipped') : 'own'))));
  say(byId('count'), words ? `${hits.length} found for “${words}”` : `${hits.length} raw materials`);
  history.replaceState(null, '', words ? `/materials?words=${encodeURIComponent(words)}` : '/materials');
});
if (!input.value) input.focus({ preventScroll: true });
