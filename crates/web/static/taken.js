// @ts-check
/** A formula proposed on another page is put on the sheet as one change of it: nothing that was saved or typed is lost, undo takes it back. */

const KEY = 'levigate-taken';

/** @param {string} formula @param {any} draft @param {string} what in words, for undo */
export function takeToSheet(formula, draft, what) {
  sessionStorage.setItem(KEY, JSON.stringify({ formula, draft, what }));
  location.href = `/formulas/${formula}`;
}

/**
 * What was taken for this sheet; it is given once.
 * @param {string} formula
 * @returns {{draft: any, what: string}|null}
 */
export function takenFor(formula) {
  try {
    const taken = JSON.parse(sessionStorage.getItem(KEY) ?? 'null');
    if (!taken || taken.formula !== formula) return null;
    sessionStorage.removeItem(KEY);
    return taken;
  } catch {
    return null;
  }
}
