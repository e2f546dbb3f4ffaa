// Contrast of every visible text against what lies behind it, and of every field's edge, after WCAG 2.2 (relative luminance, success
// criteria 1.4.3 and 1.4.11). Runs inside the page.

/** @returns {Array<{what: string, where: string, ratio: number, least: number}>} what falls short, worst first */
export function tooFaint() {
  const pen = /** @type {CanvasRenderingContext2D} */ (Object.assign(document.createElement('canvas'), { width: 1, height: 1 }).getContext('2d', { willReadFrequently: true }));
  /** @type {Map<string, number[]>} */ const known = new Map();
  /** Any colour the browser knows as red, green, blue (0 to 255) and alpha. @param {string} colour */
  const read = (colour) => {
    let found = known.get(colour);
    if (!found) {
      pen.clearRect(0, 0, 1, 1);
      pen.fillStyle = colour;
      pen.fillRect(0, 0, 1, 1);
      const [r, g, b, a] = pen.getImageData(0, 0, 1, 1).data;
      found = [r, g, b, a / 255];
      known.set(colour, found);
    }
    return found;
  };
  /** @param {number[]} over @param {number[]} under */
  const laid = (over, under) => [0, 1, 2].map((at) => over[at] * over[3] + under[at] * (1 - over[3])).concat(1);
  /** @param {number[]} colour */
  const luminance = (colour) => {
    const [r, g, b] = colour.slice(0, 3).map((part) => { const share = part / 255; return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4; });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  /** @param {number[]} one @param {number[]} other */
  const ratio = (one, other) => { const [low, high] = [luminance(one), luminance(other)].sort((a, b) => a - b); return (high + 0.05) / (low + 0.05); };
  /** What lies behind an element, the element's own ground with it. @param {Element|null} element @returns {number[]} */
  const ground = (element) => {
    if (!element) return read(getComputedStyle(document.documentElement).backgroundColor)[3] ? read(getComputedStyle(document.documentElement).backgroundColor) : [255, 255, 255, 1];
    const style = getComputedStyle(element);
    const own = read(style.backgroundColor);
    return own[3] >= 0.999 ? own : laid(own, ground(element.parentElement));
  };
  /** How much of an element shows, with all it stands in. @param {Element|null} element */
  const opacity = (element) => { let share = 1; for (let at = element; at; at = at.parentElement) share *= Number(getComputedStyle(at).opacity); return share; };
  /** @param {Element} element */
  const seen = (element) => { const box = element.getBoundingClientRect(); return element.checkVisibility({ visibilityProperty: true, opacityProperty: true }) && box.width > 1 && box.height > 1 && !element.closest('.visually-hidden, .skip'); };
  /** @param {Element} element */
  const name = (element) => { const names = []; for (let at = /** @type {Element|null} */ (element); at && names.length < 3; at = at.parentElement) names.unshift(`${at.tagName.toLowerCase()}${typeof at.className === 'string' && at.className ? `.${at.className.trim().replace(/\s+/g, '.')}` : ''}`); return names.join(' > '); };
  /** @type {Map<string, {what: string, where: string, ratio: number, least: number}>} */ const found = new Map();
  /** @param {Element} element @param {string} colour @param {number} shown @param {number} least @param {string} what @param {number[]} behind */
  const hold = (element, colour, shown, least, what, behind) => {
    const [r, g, b, a] = read(colour);
    const measured = ratio(laid([r, g, b, a * shown], behind), behind);
    if (measured >= least - 0.005) return;
    const where = name(element);
    const known = found.get(where);
    if (!known || known.ratio > measured) found.set(where, { what: what.trim().slice(0, 40), where, ratio: Math.round(measured * 100) / 100, least });
  };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    const text = node.textContent ?? '';
    if (!element || !text.trim() || ['SCRIPT', 'STYLE', 'NOSCRIPT', 'OPTION', 'TEXTAREA', 'TITLE', 'DESC'].includes(element.tagName) || !seen(element)) continue;
    if (element.closest('[disabled]')) continue;
    const style = getComputedStyle(element);
    const size = parseFloat(style.fontSize);
    const least = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700) ? 3 : 4.5;
    hold(element, element instanceof SVGElement ? style.fill : style.color, opacity(element), least, text, ground(element));
  }
  for (const field of document.querySelectorAll('input:not([type=hidden]):not([type=checkbox]):not([type=radio]), select, textarea')) {
    if (!seen(field) || field.hasAttribute('disabled')) continue;
    const style = getComputedStyle(field);
    const shown = opacity(field);
    hold(field, style.color, shown, 4.5, /** @type {any} */ (field).value || 'value', ground(field));
    const hint = field.getAttribute('placeholder');
    if (hint) { const faint = getComputedStyle(field, '::placeholder'); hold(field, faint.color, shown * Number(faint.opacity), 4.5, `placeholder ${hint}`, ground(field)); }
    // A field that is told by its edge alone.
    if (parseFloat(style.borderLeftWidth) > 0 && parseFloat(style.borderBottomWidth) > 0) hold(field, style.borderBottomColor, shown, 3, 'edge of the field', ground(field.parentElement));
  }
  return [...found.values()].sort((a, b) => a.ratio - b.ratio);
}
