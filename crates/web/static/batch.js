// @ts-check
/** The batch sheet: printing it, and the paper it is laid out for. */

import { byId } from './dom.js';
import { choose, settings } from './settings.js';

const paper = /** @type {HTMLSelectElement} */ (byId('paper'));
const pdf = /** @type {HTMLAnchorElement} */ (byId('pdf'));

function laidOut() {
  const address = new URL(pdf.href);
  address.searchParams.set('paper', paper.value);
  pdf.href = address.href;
}

// An address that names a paper is taken at its word; else the person's own counts.
const asked = new URLSearchParams(location.search).get('paper');
if (asked === 'a4' || asked === 'letter') choose({ paper: asked });
else paper.value = settings.paper;
laidOut();
paper.addEventListener('change', () => { choose({ paper: paper.value === 'letter' ? 'letter' : 'a4' }); laidOut(); });
byId('print').addEventListener('click', () => window.print());
