// A batch whose plan comes from the procedure: what stands against it before it is frozen, a slurry in part of the polyol, a hold whose
// clock runs from the thermometer, the water that went off, a pH step; the same order and grams as the printed sheet.
import assert from 'node:assert/strict';
import { after, before, beforeEach, describe, test } from 'node:test';
import { chromium } from 'playwright-core';
import { CHROMIUM, FLAGS, start } from './server.js';
import { watched } from './watch.js';

/** @type {Awaited<ReturnType<typeof start>>} */ let server;
/** @type {import('playwright-core').Browser} */ let browser;
/** @type {import('playwright-core').BrowserContext} */ let context;
/** @type {import('playwright-core').Page} */ let page;
/** @type {string[]} */ let wrong = [];

const WARM = `
[product]
name = "Warm gel of the laboratory"
type = "gel"
site = "face"
leave_on = true
markets = ["eu"]

[target]
ph = [4.8, 5.4]

[batch]
size_g = 400
balance_g = 0.01

[[phase]]
name = "A"
temperature_c = 75

[[phase.line]]
material = "Water"
remainder = true

[[phase.line]]
material = "Glycerin"
percent = 12

[[phase.line]]
material = "Xanthan gum"
percent = 0.3

[[phase]]
name = "B"

[[phase.line]]
material = "Sodium benzoate"
percent = 0.4

[[phase.line]]
material = "Citric acid"
to_ph = 5.1
`;
/** The same with steps of its own: no step sets the pH, and the acid comes before the salt. */
const OWN = `${WARM.replace('Warm gel', 'Own steps')}
[[step]]
does = "add"
lines = [{ material = "Water" }, { material = "Citric acid" }, { material = "Sodium benzoate" }]

[[step]]
does = "disperse"
lines = [{ material = "Xanthan gum" }, { material = "Glycerin" }]
`;

before(async () => {
  server = await start();
  browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
});
after(async () => {
  await browser?.close();
  server?.stop();
});
beforeEach(async () => {
  await context?.close();
  wrong = [];
  context = await browser.newContext({ viewport: { width: 820, height: 1180 }, locale: 'en-GB' });
  page = await watched(context, server.url, wrong);
});

const state = () => page.evaluate(async () => (await fetch(`/api${location.pathname}`)).json());
const kept = () => page.locator('#link', { hasText: 'Everything is kept' }).waitFor();
const title = () => page.locator('#step h1').innerText();

/** Saves a formula and opens the form to begin a batch of it. @param {string} text @returns {Promise<string>} the formula */
async function form(text) {
  await page.goto(`${server.url}formulas`);
  const saved = await page.evaluate(async (text) => (await import(/** @type {any} */ ('/static/api.js'))).ask('POST', '/api/formulas/import', { text }), text);
  await page.goto(`${server.url}batches?formula=${saved.id}`);
  await page.locator('.against > *').first().waitFor();
  return saved.id;
}

describe('a batch made by its procedure', () => {
  test('what stands against the procedure is told before the plan is frozen, and forbids nothing', async () => {
    await form(OWN);
    const against = await page.locator('.objections').innerText();
    assert.match(against, /things stand against the procedure/);
    assert.match(against, /No step is the setting of the pH/);
    assert.match(against, /No step is the hold/);
    assert.match(against, /step 1/);
    await page.getByRole('button', { name: 'Begin', exact: true }).click();
    await page.waitForURL(/batches\/[0-9a-f-]{36}$/);
    await page.locator('#step h1').waitFor();
    const { steps } = await state();
    assert.ok(steps.some((/** @type {any} */ step) => step.kind === 'adjust'), 'the acid is added by the meter all the same');
    assert.deepEqual(steps.at(-1).checks, ['pH 4.8 to 5.4']);
    assert.deepEqual(wrong, []);
  });

  test('it is driven from the slurry over the hold to the pH, with the grams of the printed sheet', async () => {
    const formula = await form(WARM);
    assert.match(await page.locator('.against').innerText(), /nothing stands against the procedure/);
    await page.getByRole('button', { name: 'Begin', exact: true }).click();
    await page.waitForURL(/batches\/[0-9a-f-]{36}$/);
    await page.locator('#step h1').waitFor();
    const batch = page.url();
    const plan = (await state()).steps;

    // The printed sheet of the same size: the same steps with the same grams.
    const sheet = await context.newPage();
    await sheet.goto(`${server.url}formulas/${formula}/batch-sheet?size=400`);
    const printed = (await sheet.locator('tr', { has: sheet.locator('.does') }).allInnerTexts()).map((text) => [...text.matchAll(/ine\s(\d+) .*?, ([\d.]+)\sg/g)].map((found) => [Number(found[1]), found[2]]));
    await sheet.close();
    /** @type {any[][]} */ const asked = printed.map(() => []);
    for (const step of plan.filter((/** @type {any} */ one) => one.line !== null)) {
      const line = (await state()).lines.find((/** @type {any} */ one) => one.number === step.line);
      asked[step.procedure.number - 1].push([step.line, (step.portion ?? line).target.value.toFixed(2)]);
    }
    assert.deepEqual(asked, printed);

    await page.locator('[name=net]').fill('150.00');
    await page.keyboard.press('Enter');
    let [in_, slurry, clock] = [0, '', ''];
    for (let at = 0; at < 60 && !/All steps/.test(await title()); at += 1) {
      const before = await page.locator('#place').innerText();
      const now = await state();
      const step = now.steps.find((/** @type {any} */ one) => one.number === now.next);
      if (!step) break;
      if (/Slurry/.test(step.procedure?.premix ?? '') && step.line !== null) slurry += `${step.portion?.target.value ?? 'all'} `;
      if (step.kind === 'adjust') {
        // The meter reads what was wanted: nothing more goes in.
        await page.locator('.ph-form [name=ph]').fill(String(now.lines.find((/** @type {any} */ one) => one.number === step.line).to_ph));
        await page.getByRole('button', { name: 'It stands' }).click();
        await kept();
        await page.getByRole('button', { name: 'The pH is right' }).click();
      } else if (step.kind === 'make_up') {
        // 6.40 g went off, and it is given back.
        await page.locator('form', { hasText: 'Vessel with the batch' }).locator('input').fill((150 + in_ - 6.4).toFixed(2));
        await page.keyboard.press('Enter');
        await page.locator('.matter', { hasText: '6.40' }).waitFor();
        const water = page.locator('form', { hasText: 'Water put in' }).locator('input');
        await water.fill('6.40');
        // The step is drawn anew once the weight has arrived; what is half typed must not slip into the field above.
        await kept();
        await page.waitForTimeout(300);
        assert.equal(await water.inputValue(), '6.40');
        assert.equal(await page.locator('form', { hasText: 'Vessel with the batch' }).locator('input').inputValue(), '');
        await page.keyboard.press('Enter');
        await kept();
        await page.getByRole('button', { name: 'Done', exact: true }).click();
      } else if (step.line !== null) {
        const grams = await page.locator('#step .matter-number').first().innerText();
        in_ += Number(grams);
        await page.locator('#step [name=net]').fill(grams);
        await page.keyboard.press('Enter');
      } else if (step.procedure?.does === 'hold') {
        const read = async (/** @type {string} */ celsius) => {
          await page.locator('#step [name=value]').fill(celsius);
          await page.keyboard.press('Enter');
          await kept();
        };
        await read('68.5');
        assert.equal((await state()).steps[step.number - 1].stands, 'open', 'not warm enough yet');
        await context.setOffline(true);
        await page.locator('#step [name=value]').fill('71.5');
        await page.keyboard.press('Enter');
        await page.locator('.clock').waitFor();
        clock = await page.locator('.clock').innerText();
        await context.setOffline(false);
        await kept();
        await page.reload();
        await page.locator('.clock').waitFor();
        const hold = (await state()).steps[step.number - 1];
        assert.equal(hold.stands, 'started');
        assert.equal(hold.started, (await state()).entries.findLast((/** @type {any} */ one) => one.did === 'temperature').device_time);
        await page.getByRole('button', { name: 'Done', exact: true }).click();
      } else await page.getByRole('button', { name: 'Done', exact: true }).click();
      await page.waitForFunction((was) => document.querySelector('#place')?.textContent !== was, before);
      await kept();
    }
    assert.match(await title(), /All steps|Every step/i);
    assert.match(slurry, /^\d+(\.\d+)? all $/, 'part of the glycerin carries all of the gum');
    assert.match(clock, /^(20:00|19:5\d)$/);
    const made = await state();
    for (const line of made.lines.filter((/** @type {any} */ one) => one.to_ph === null)) assert.equal(line.verdict, 'within', line.name);
    assert.ok(Math.abs(made.water.went_off.value - 6.4) < 0.005);
    assert.equal(page.url(), batch);
    assert.deepEqual(wrong.filter((one) => !/ERR_INTERNET_DISCONNECTED|ERR_FAILED|Failed to fetch|Failed to load resource/.test(one)), []);
  });

  test('the temperature is drawn as planned, typed and logged, and says what the record does and does not do', async () => {
    const formula = await form(WARM);
    const batch = await page.evaluate(async (formula) => (await import(/** @type {any} */ ('/static/api.js'))).ask('POST', `/api/formulas/${formula}/batches`, { id: crypto.randomUUID(), version: 1, size: '400' }), formula);
    await page.goto(`${server.url}batches/${batch.id}`);
    const course = page.locator('.course');
    await course.locator('svg[role=img], svg').first().waitFor();
    assert.match(await course.innerText(), /time not known/);
    await page.getByRole('button', { name: 'Not this time' }).click();
    const hold = (await state()).steps.find((/** @type {any} */ step) => step.procedure.does === 'hold');
    await page.locator('.step-line', { hasText: hold.text }).click();
    for (const [name, value] of [['The thermometer shows', '71,5'], ['The stirrer turns at', '250'], ['The thermometer shows', '72.5']]) {
      await page.locator('#step form', { hasText: name }).locator('input').fill(value);
      await page.keyboard.press('Enter');
      await kept();
    }
    await course.locator('svg', { hasText: '250 rpm' }).waitFor();
    await course.locator('summary', { hasText: 'Vessel' }).click();
    await course.locator('[name=vessel]').selectOption('beaker-600-ml');
    await page.waitForFunction(() => !/time not known/.test(document.querySelector('.course')?.textContent ?? ''));
    // A logger whose file says nothing of when it began is asked; then it is read, and counts.
    const file = { name: 'probe.csv', mimeType: 'text/csv', buffer: Buffer.from('time (min),temperature (C)\n0,22\n20,72\n45,72\n60,50\n') };
    await course.locator('input[type=file]').setInputFiles(file);
    await course.locator('.field-trouble', { hasText: 'When did the record begin?' }).waitFor();
    await course.locator('[name=began]').fill('2026-11-27T09:00:00');
    await course.locator('input[type=file]').setInputFiles({ ...file, buffer: Buffer.from('nothing of use') });
    await course.locator('.field-trouble:not([hidden])', { hasText: /time/ }).waitFor();
    await course.locator('input[type=file]').setInputFiles(file);
    await page.locator('#entries', { hasText: 'Record of a logger: 4 points' }).waitFor();
    // At 70 C or above: from 19.2 min to 45 + 15 * 2 / 22 min.
    await course.locator('b', { hasText: 'Held: 27.2 min' }).waitFor();
    await course.locator('summary', { hasText: 'microbes' }).click();
    const said = await course.innerText();
    assert.match(said, /Escherichia coli\s+vegetative\s+12 or more/);
    assert.match(said, /Bacillus cereus\s+bacterial spores\s+0\.\d/);
    assert.match(said, /nothing here is sterile/);
    assert.match(said, /Water that goes off by the model/);
    assert.deepEqual(wrong.filter((one) => !/400|422|Failed to load resource/.test(one)), []);
  });
});
