// A formula whose base is weighed and not solved for, with trials read on it: what the pages of predictions need to show anything.

const TONER = `[product]
name = "Quillfen lactate toner"
type = "toner"
site = "face"
leave_on = true
markets = ["eu"]

[[phase]]
name = "A"
[[phase.line]]
material = "Water"
remainder = true
[[phase.line]]
material = "Sodium lactate 60 % solution"
percent = 6
[[phase.line]]
material = "Lactic acid 90 %"
percent = 0.4
`;

/**
 * Keeps the formula and its trials, each read as told: a pH, a density and a clarity by eye.
 * @param {import('playwright-core').Page} page on any page of the program @param {string[]} phs
 * @returns {Promise<string>} identity of the formula
 */
export async function toner(page, phs) {
  return page.evaluate(async ({ text, phs }) => {
    const { ask } = await import(/** @type {any} */ ('/static/api.js'));
    const saved = await ask('POST', '/api/formulas/import', { text });
    for (const [at, ph] of phs.entries()) {
      const trial = await ask('POST', `/api/formulas/${saved.id}/trials`, { version: 1, size: '200', unit: 'g', made: `2026-11-${10 + at}` });
      const read = (/** @type {any} */ reading) => ask('POST', `/api/trials/${trial.id}/readings`, { temperature_c: '25', age: '24', instrument: 'bench', ...reading });
      await read({ quantity: 'ph', value: ph });
      if (at % 2 === 0) await read({ quantity: 'density', value: ['1,024', '1,025', '1,0245', '1,0255'][at / 2] ?? '1,025' });
      await read({ quantity: 'clarity', value: ['8', '9', '8', '7', '8', '9', '8', '8'][at] ?? '8' });
    }
    return saved.id;
  }, { text: TONER, phs });
}
