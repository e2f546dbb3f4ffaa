// @ts-check
/** The list of formulas: reading a formula file. */

import { Trouble, ask } from './api.js';
import { byId, h } from './dom.js';

const file = /** @type {HTMLInputElement} */ (byId('file'));
file.addEventListener('change', async () => {
  const chosen = file.files?.[0];
  if (!chosen) return;
  const trouble = byId('import-trouble');
  trouble.hidden = true;
  try {
    const saved = await ask('POST', '/api/formulas/import', { text: await chosen.text() });
    location.href = `/formulas/${saved.id}`;
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    const { what, why, what_now: now, place } = error.told;
    const where = place?.line ? ` (line ${place.line}${place.column ? `, column ${place.column}` : ''})` : '';
    trouble.hidden = false;
    trouble.replaceChildren(h('b', {}, `${chosen.name}${where}: ${what}`), ` ${why} ${now}`);
  }
  file.value = '';
});
