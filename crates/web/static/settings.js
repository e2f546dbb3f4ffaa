// @ts-check
/** Choices of the person, kept in this browser. */

const KEY = 'levigate-settings';

/** @typedef {{sign: 'point'|'comma', theme: 'system'|'light'|'dark', size: 'normal'|'large'|'larger', spacing: 'normal'|'wide'}} Settings */

/** @returns {Settings} */
function read() {
  const comma = (1.5).toLocaleString(navigator.language).includes(',');
  /** @type {Settings} */
  const usual = { sign: comma ? 'comma' : 'point', theme: 'system', size: 'normal', spacing: 'normal' };
  try {
    return { ...usual, ...JSON.parse(localStorage.getItem(KEY) || '{}') };
  } catch {
    return usual;
  }
}

export const settings = read();

/** @param {Partial<Settings>} change */
export function choose(change) {
  Object.assign(settings, change);
  try {
    localStorage.setItem(KEY, JSON.stringify(settings));
  } catch {
    // Without storage the choice holds for this page only.
  }
  const root = document.documentElement;
  if (settings.theme === 'system') delete root.dataset.theme;
  else root.dataset.theme = settings.theme;
  root.dataset.size = settings.size;
  root.dataset.spacing = settings.spacing;
}
