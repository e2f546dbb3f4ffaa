// @ts-check
/** Links and forms to documents: on the paper the person prints on. */

import { settings } from './settings.js';

for (const link of document.querySelectorAll('a.paper-link')) {
  const address = new URL(/** @type {HTMLAnchorElement} */ (link).href);
  address.searchParams.set('paper', settings.paper);
  /** @type {HTMLAnchorElement} */ (link).href = address.href;
}
for (const field of document.querySelectorAll('input.paper-field')) /** @type {HTMLInputElement} */ (field).value = settings.paper;
