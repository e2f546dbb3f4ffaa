// @ts-check
/** Typing part of a name, INCI name, CAS number or function, and picking from what the shelf has. */

import { ask } from './api.js';
import { announce, h } from './dom.js';

let made = 0;

/**
 * @param {HTMLInputElement} input
 * @param {(name: string) => void} pick
 * @param {() => void} [onward] where the cursor goes after a pick
 */
export function attachShelfSearch(input, pick, onward) {
  made += 1;
  const id = `offers${made}`;
  input.setAttribute('role', 'combobox');
  input.setAttribute('aria-autocomplete', 'list');
  input.setAttribute('aria-expanded', 'false');
  input.autocomplete = 'off';
  input.spellcheck = false;
  /** @type {HTMLUListElement|null} */ let list = null;
  /** @type {any[]} */ let hits = [];
  let chosen = -1;
  let asked = 0;
  let timer = 0;

  const shut = () => {
    clearTimeout(timer);
    asked += 1;
    list?.remove();
    list = null;
    chosen = -1;
    input.setAttribute('aria-expanded', 'false');
    input.removeAttribute('aria-activedescendant');
  };

  /** @param {number} index */
  const choose = (index) => {
    chosen = index;
    list?.querySelectorAll('[role=option]').forEach((option, at) => {
      option.setAttribute('aria-selected', String(at === index));
      if (at === index) {
        input.setAttribute('aria-activedescendant', option.id);
        option.scrollIntoView({ block: 'nearest' });
      }
    });
  };

  const show = () => {
    if (document.activeElement !== input) return;
    if (!list) {
      list = h('ul', { class: 'offers', id, role: 'listbox', 'aria-label': 'Raw materials found' });
      input.parentElement?.append(/** @type {HTMLElement} */ (list));
      input.setAttribute('aria-controls', id);
    }
    const rows = hits.map((hit, index) => h('li', {
      role: 'option', id: `${id}-${index}`, 'aria-selected': 'false',
      onpointerdown: (/** @type {Event} */ event) => event.preventDefault(),
      onclick: () => { pick(hit.name); shut(); onward?.(); },
    },
      h('span', {}, hit.name), h('span', { class: 'cas' }, hit.cas[0] ?? ''),
      h('small', {}, hit.matched || hit.inci.join(', ')), h('small', { class: 'fn' }, hit.layer === 'shipped' ? hit.functions.slice(0, 2).join(', ') : 'own')));
    if (!rows.length) rows.push(h('li', { class: 'none' }, 'Nothing on the shelf under these letters. Finish the name, or ', h('a', { href: '/materials/new' }, 'add it as your own raw material'), '.'));
    list?.replaceChildren(...rows);
    input.setAttribute('aria-expanded', 'true');
    // A number key or Enter must not swallow a name the person finished by hand: nothing is chosen before an arrow key.
    choose(-1);
    announce(`${hits.length} raw materials found`);
  };

  const seek = () => {
    clearTimeout(timer);
    const words = input.value.trim();
    if (words.length < 2) { shut(); return; }
    timer = window.setTimeout(async () => {
      asked += 1;
      const mine = asked;
      try {
        const found = await ask('GET', `/api/materials?most=9&words=${encodeURIComponent(words)}`);
        if (mine !== asked) return;
        hits = found;
        show();
      } catch {
        // Searching is a help; the name can be typed without it.
      }
    }, 60);
  };

  input.addEventListener('input', seek);
  input.addEventListener('blur', shut);
  input.addEventListener('keydown', (event) => {
    if (!list) return;
    const last = hits.length - 1;
    if (event.key === 'ArrowDown') choose(chosen >= last ? 0 : chosen + 1);
    else if (event.key === 'ArrowUp') choose(chosen <= 0 ? last : chosen - 1);
    else if (event.key === 'Escape') shut();
    else if ((event.key === 'Enter' || event.key === 'Tab') && (chosen >= 0 || onlyOne())) {
      const hit = hits[Math.max(chosen, 0)];
      shut();
      pick(hit.name);
      // Tab goes on to the next cell by itself; Enter does so here, since the amount is what is typed next.
      if (event.key === 'Tab') return;
      onward?.();
    } else return;
    event.preventDefault();
    event.stopImmediatePropagation();
  });

  /** Whether the letters leave only one candidate, or name the first exactly. */
  function onlyOne() {
    const typed = input.value.trim().toLowerCase();
    if (!hits.length || hits.some((hit) => hit.name.toLowerCase() === typed)) return false;
    return hits.length === 1 || hits[0].inci.some((/** @type {string} */ name) => name.toLowerCase() === typed) || hits[0].cas.includes(typed);
  }
}
