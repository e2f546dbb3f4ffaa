// @ts-check
/** Choices of the person, kept in this browser. */

const KEY = 'levigate-settings';

/** @typedef {{sign: 'point'|'comma', theme: 'system'|'light'|'dark', size: 'normal'|'large'|'larger', spacing: 'normal'|'wide', paper: 'a4'|'letter'}} Settings */

/** @returns {Settings} */
function read() {
  const comma = (1.5).toLocaleString(navigator.language).includes(',');
  /** @type {Settings} */
  const usual = { sign: comma ? 'comma' : 'point', theme: 'system', size: 'normal', spacing: 'normal', paper: /^(en-(US|CA|PH)|es-(MX|CO|CL|VE))$/.test(navigator.language) ? 'letter' : 'a4' };
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
  layOutPaper();
}

/** The paper that is printed on: a style sheet of one rule, since a page size cannot hang on anything on the page. */
function layOutPaper() {
  const sheet = /** @type {HTMLLinkElement} */ (document.getElementById('paper-size') ?? Object.assign(document.createElement('link'), { id: 'paper-size', rel: 'stylesheet' }));
  const href = `/static/style/paper-${settings.paper === 'letter' ? 'letter' : 'a4'}.css`;
  if (sheet.getAttribute('href') !== href) sheet.href = href;
  if (!sheet.isConnected) document.head.append(sheet);
}

layOutPaper();
