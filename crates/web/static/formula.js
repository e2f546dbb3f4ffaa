// @ts-check
/** The formula page: puts the sheet, the plates and the readings together and keeps them in step. */

import { byId, pageData } from './dom.js';
import { know, listen } from './derivation.js';
import { PlatesView } from './plates.js';
import { SavingView, notice, told, when } from './saving.js';
import { Session, forgottenDraft } from './session.js';
import { SheetView } from './sheet.js';
import { InUseView } from './in_use.js';
import { LevelView } from './level.js';
import { MakingView } from './making.js';
import { sections } from './readings.js';
import { ScaledView } from './scaled.js';
import { SureView } from './sure.js';
import { completed } from './draft.js';
import { takenFor } from './taken.js';

const PLATES_AFTER_MS = 120;

const data = pageData();
const forgotten = data.id ? null : forgottenDraft();
if (forgotten) data.kept = { draft: forgotten, base: 0, kept_at: '' };
const session = new Session(data);
const sheet = new SheetView(session, byId('paper'));
const saving = new SavingView(session);
const plates = new PlatesView(byId('plates'), (id) => plateAgain(id));
const inUse = new InUseView((sizes) => session.inUse(sizes));
const level = new LevelView((line, mpaS) => session.level(line, mpaS));
const making = new MakingView(session, byId('making'));
const sure = new SureView(session, byId('sure'));
const scaled = new ScaledView(session, byId('scaled'));
let platesTimer = 0;
let platesAsked = 0;

listen();
know({ citations: session.judgement.sources ?? {}, goToLine: (line) => sheet.goToLine(line) });

function readingsNow() {
  const place = byId('readings');
  const open = new Set([...place.querySelectorAll('details[open]')].map((one) => one.querySelector('summary')?.textContent));
  place.replaceChildren(...sections(session.judgement.assessment, (index) => sheet.numberOf(index)));
  for (const one of place.querySelectorAll('details')) if (open.has(one.querySelector('summary')?.textContent)) one.open = true;
}

function platesSoon() {
  clearTimeout(platesTimer);
  platesTimer = window.setTimeout(async () => {
    platesAsked += 1;
    const mine = platesAsked;
    making.update();
    sure.update();
    scaled.update();
    try {
      const drawn = await session.figures(plates.looks());
      if (mine !== platesAsked) return;
      plates.update(drawn);
      const place = plates.views.get('flow')?.more;
      if (place && inUse.element.parentElement !== place) place.replaceChildren(level.element, inUse.element);
      if (place) inUse.update();
      level.update(session.judgement.assessment, session.judgement.line_ids ?? [], session.draft.target);
    } catch {
      // The sheet itself tells when the program does not answer; the figures stay as they were.
    }
  }, PLATES_AFTER_MS);
}

/** One figure as it is looked at now. @param {string} id */
async function plateAgain(id) {
  const look = JSON.stringify(plates.looks()[id] ?? {});
  try {
    const [drawn] = await session.figures(plates.looks(), id);
    // A newer look has asked for itself.
    if (drawn && look === JSON.stringify(plates.looks()[id] ?? {})) plates.renew(drawn);
  } catch {
    // As above: the figure stays as it was.
  }
}

session.addEventListener('draft', (event) => {
  if (/** @type {CustomEvent} */ (event).detail.newStep) sheet.newStep();
  sheet.update();
  saving.update();
});
let readingsTimer = 0;
session.addEventListener('judged', () => {
  know({ citations: session.judgement.sources ?? {} });
  sheet.update();
  // The tables lie below the sheet; they follow when the hand rests for a moment, so that typing stays light.
  clearTimeout(readingsTimer);
  readingsTimer = window.setTimeout(readingsNow, 60);
  document.documentElement.dataset.judged = String(session.number);
  platesSoon();
});
session.addEventListener('trouble', (event) => {
  const trouble = /** @type {CustomEvent} */ (event).detail;
  notice(told(trouble), trouble.code === 'old-page' ? [['Reload', () => location.reload()]] : [['Try again', () => { session.assess(); session.keep(); }]], true);
});
session.addEventListener('elsewhere', (event) => {
  notice(`Another tab kept a draft of this formula at ${when(/** @type {CustomEvent} */ (event).detail)}. What you type here stays on this page and is not kept until you decide.`,
    [['Keep mine instead', () => { session.keep(true); }], ['Show the other draft', () => location.reload()]], true);
});
session.addEventListener('travelled', (event) => {
  const said = document.getElementById('said');
  if (said) said.textContent = /** @type {CustomEvent} */ (event).detail;
});

document.addEventListener('keydown', (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  const inFold = /** @type {Element} */ (event.target).closest?.('.fold');
  if (key === 's') { event.preventDefault(); if (!session.lookingBack && !inFold) saving.openSave(); return; }
  if (inFold) return;
  if (key === 'z' && !event.shiftKey) { event.preventDefault(); travel(() => session.undo()); } else if (key === 'y' || (key === 'z' && event.shiftKey)) { event.preventDefault(); travel(() => session.redo()); }
});

/** Undo changes also the field that has the cursor. @param {() => void} go */
function travel(go) {
  const field = document.activeElement;
  const isField = field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement;
  if (isField) field.blur();
  go();
  if (isField && field.isConnected) field.focus();
}

window.addEventListener('storage', (event) => { if (event.key === 'levigate-settings') location.reload(); });

sheet.update();
sheet.newStep();
readingsNow();
platesSoon();
document.documentElement.dataset.judged = '0';
const taken = data.looking_back ? null : takenFor(data.id);
if (taken) {
  session.change(taken.what, '', (draft) => { Object.assign(draft, completed(taken.draft)); });
  notice(`On the sheet stands ${taken.what}; it is kept as your draft. Undo brings back what stood here before.`, []);
} else if (forgotten) {
  session.assess();
  notice('A new formula that was never saved is back on the sheet.', [['Begin with an empty sheet', () => { localStorage.removeItem('levigate-new-draft'); location.reload(); }]]);
} else if (data.kept) {
  const behind = data.kept.base < data.version;
  notice(`${data.kept.kept_at ? `Your draft of ${when(data.kept.kept_at)}` : 'Your draft'} is back on the sheet; it began from version ${data.kept.base}.${behind ? ` Version ${data.version} has been saved since.` : ''}`, [[`Go back to version ${data.version}`, () => { session.discard(); }]]);
} else if (data.looking_back) {
  notice(`You are looking at version ${data.version}. It cannot be changed.`, [['To the newest version', () => { location.href = `/formulas/${data.id}`; }]]);
  for (const field of byId('paper').querySelectorAll('input, textarea')) field.setAttribute('readonly', '');
  for (const field of byId('paper').querySelectorAll('select, input[type=checkbox]')) field.setAttribute('disabled', '');
}
