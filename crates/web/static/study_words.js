// @ts-check
/** Words and marks of studies that several pages use. */

/** How a pull stands: its shape. @type {Record<string, {shape: string, words: string}>} */
export const PULLS = {
  overdue: { shape: 'stop', words: 'overdue' },
  due: { shape: 'check', words: 'due' },
  coming: { shape: 'lot-undecided', words: 'coming' },
  read: { shape: 'lot-released', words: 'read' },
};

/** How a reading stands to its limits. @type {Record<string, [string, string]>} */
export const VERDICTS = { within: ['know', 'within'], below: ['stop', 'below the least'], above: ['stop', 'above the most'], 'not-compared': ['check', 'not compared: look yourself'], 'no-limit': ['know', 'no limit'] };

/** A day as a person says it. @param {string} iso */
export function day(iso) {
  const date = new Date(`${iso}T12:00:00`);
  return Number.isNaN(date.getTime()) ? iso : date.toLocaleDateString('en-GB', { weekday: 'short', day: 'numeric', month: 'short', year: 'numeric' });
}

/** Where a pull is entered. @param {string} study @param {string} condition @param {string} pull */
export function pullAddress(study, condition, pull) {
  return `/studies/${study}?${new URLSearchParams({ condition, pull })}#enter`;
}
