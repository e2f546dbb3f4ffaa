// @ts-check
/** Building elements without a template language: everything is text unless it is an element, so nothing typed can become markup. */

/**
 * @param {string} tag
 * @param {Record<string, any>} [properties]
 * @param {...(Node | string | null | undefined | false)} children
 * @returns {any}
 */
export function h(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else if (name === 'class') element.className = value;
    else if (name === 'data') Object.assign(element.dataset, value);
    else if (name in element && !name.startsWith('aria') && name !== 'list' && name !== 'form') /** @type {any} */ (element)[name] = value;
    else element.setAttribute(name, value === true ? '' : String(value));
  }
  for (const child of children) if (child !== null && child !== undefined && child !== false) element.append(child);
  return element;
}

const SVG = 'http://www.w3.org/2000/svg';

/**
 * @param {string} tag
 * @param {Record<string, string | number | undefined>} [attributes]
 * @param {...(Node | string)} children
 * @returns {any}
 */
export function s(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) if (value !== undefined) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/**
 * A mark from the shared file.
 * @param {string} name
 * @param {string} className
 */
export function mark(name, className) {
  return s('svg', { class: className, 'aria-hidden': 'true' }, s('use', { href: `/static/marks.svg#${name}` }));
}

/**
 * Sets text only when it differs, so that nothing flickers and a selection stays.
 * @param {Element} element
 * @param {string} text
 */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/**
 * A sentence from the engine as it is printed: powers of ten written out, the number kept with its unit.
 * @param {string} text
 */
export function prose(text) {
  return String(text ?? '').replace(/^[a-z](?=[a-z ])(?!H )/, (letter) => letter.toUpperCase()).replace(/(\d(?:\.\d+)?)e([-+]?)(\d+)/g, (_, factor, sign, exponent) => `${factor} × 10${sign === '-' ? '⁻' : ''}${exponent.replace(/\d/g, (/** @type {string} */ digit) => '⁰¹²³⁴⁵⁶⁷⁸⁹'[Number(digit)])}`).replace(/(\d) (%|g|mg|kg|mL|°C|C|mmol)(?![a-z])/g, '$1\u00a0$2').replace(/(\d)\u00a0C(?![a-z])/g, '$1\u00a0°C').replace(/\bpH (\d)/g, 'pH\u00a0$1');
}

/**
 * The JSON the server put into the page.
 * @returns {any}
 */
export function pageData() {
  return JSON.parse(document.getElementById('data')?.textContent || 'null');
}

/**
 * @param {string} id
 * @returns {HTMLElement}
 */
export function byId(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`no element ${id}`);
  return element;
}

/**
 * Speaks to those who listen instead of look.
 * @param {string} text
 */
export function announce(text) {
  const place = document.getElementById('said');
  if (place) place.textContent = text;
}
