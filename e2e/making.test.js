// How a formula is made: the proposed steps with their reasons, moved by buttons and keys, what that breaks, and that it is saved and printed.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { after, before, beforeEach, describe, test } from 'node:test';
import { chromium } from 'playwright-core';
import { CHROMIUM, FLAGS, start } from './server.js';
import { tooFaint } from './contrast.js';
import { watched } from './watch.js';

const TONER = new URL('../examples/scenarios/2-aha-toner-serum.toml', import.meta.url);

/** @type {Awaited<ReturnType<typeof start>>} */ let server;
/** @type {import('playwright-core').Browser} */ let browser;
/** @type {import('playwright-core').BrowserContext} */ let context;
/** @type {import('playwright-core').Page} */ let page;
/** @type {string[]} */ let wrong = [];
let formula = '';

before(async () => {
  server = await start();
  browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
  const first = await browser.newPage();
  await first.goto(`${server.url}formulas`);
  await first.locator('#file').setInputFiles({ name: 'toner.toml', mimeType: 'text/plain', buffer: await readFile(TONER) });
  await first.waitForURL(/formulas\/[0-9a-f-]{30,}/);
  formula = new URL(first.url()).pathname;
  await first.close();
});
after(async () => {
  await browser?.close();
  server?.stop();
});
beforeEach(async () => {
  await context?.close();
  wrong = [];
  context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB', acceptDownloads: true });
  page = await watched(context, server.url, wrong);
  await page.goto(new URL(formula, server.url).href);
  await steps().first().waitFor();
});

const steps = () => page.locator('.making-step');
const titles = () => steps().locator('h3').allInnerTexts();
const says = () => page.locator('.making-head .says').innerText();
/** The number of the step with this title. @param {RegExp} title */
const numberOf = async (title) => (await titles()).findIndex((one) => title.test(one)) + 1;
/** Waits until the steps have been held against the rules again. @param {() => Promise<unknown>} act */
async function again(act) {
  const answered = page.waitForResponse((response) => response.url().endsWith('/api/procedure') && response.request().postData()?.includes('"steps"') === true);
  await act();
  await answered;
  await page.waitForTimeout(150);
}

describe('how it is made', () => {
  test('steps are proposed with what goes in, why they stand there, and what can hurt', async () => {
    assert.match(await says(), /^Proposed from the raw materials/);
    const base = await numberOf(/Add Sodium hydroxide/);
    const salt = await numberOf(/Add solution of Sodium benzoate/);
    const acid = await numberOf(/Add Glycolic acid/);
    assert.ok(acid > 0 && acid < base && base < salt, `${acid} ${base} ${salt}`);
    const step = page.locator(`#step-${base}`);
    assert.match(await step.locator('.care').innerText(), /Goggles and gloves/);
    assert.match(await step.locator('.step-margin').innerText(), /Before Sodium benzoate and Potassium sorbate/);
    assert.equal(await page.locator('.making .broken').count(), await page.locator('.departures .broken').count(), 'a proposal breaks nothing');
    await page.locator('.departures summary').click();
    assert.match(await page.locator('.departures').innerText(), /pH\s2\.4\d and benzoic acid/);
    await step.locator('.num').first().click();
    assert.match(await page.locator('#derivation').innerText(), /imits and needs of what is in the vessel/);
    assert.deepEqual(wrong, []);
  });

  test('a step moved by the keyboard is told what it breaks, undone, and saved with the formula', async () => {
    const salt = await numberOf(/Add solution of Sodium benzoate/);
    await page.locator(`#step-${salt}`).getByRole('button', { name: /^Move up/ }).focus();
    // Past its own premix it cannot go in: the premix moves first, then both stand before the base.
    await page.locator(`#step-${salt - 1}`).getByRole('button', { name: /^Move up/ }).focus();
    await again(() => page.keyboard.press('Alt+ArrowUp'));
    assert.match(await says(), /^Your own steps/);
    assert.equal(await page.evaluate(() => document.activeElement?.closest('.making-step')?.id), `step-${salt - 2}`, 'the cursor stays with the step');
    await page.locator(`#step-${salt}`).getByRole('button', { name: /^Move up/ }).focus();
    await again(() => page.keyboard.press('Enter'));
    const moved = page.locator(`#step-${salt - 1}`);
    assert.match(await moved.locator('.broken').first().innerText(), /change\s+Sodium benzoate stands in step 6, before Sodium hydroxide 20\s% in step 7\..*White crystals fall/s);
    assert.match(await page.locator('#said').innerText(), /is now step/);

    await again(() => page.keyboard.press('Control+z'));
    assert.equal(await page.locator('.making-step .broken').count(), 0);
    await again(() => page.keyboard.press('Control+y'));
    assert.equal(await page.locator('.making-step .broken').count() > 0, true);

    await page.getByRole('button', { name: /^Save as version/ }).click();
    await page.locator('.fold input').fill('own order of addition');
    await page.locator('.fold').getByRole('button', { name: /^Save as version/ }).click();
    await page.waitForFunction(() => /saved as version/.test(document.querySelector('.kept')?.textContent ?? ''));
    await page.reload();
    await steps().first().waitFor();
    assert.match(await says(), /^Your own steps/);
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Formula file' }).click()]);
    const text = await readFile(await download.path(), 'utf8');
    assert.match(text, /\[\[step\]\]\ndoes = "premix"/);
    await again(() => page.getByRole('button', { name: 'Back to the proposal' }).click());
    assert.match(await says(), /^Proposed/);
    assert.deepEqual(wrong, []);
  });

  test('the step that sets the pH is offered where it was taken out, and put in at a press', async () => {
    const set = await numberOf(/Set the pH$/);
    assert.ok(set > 0, (await titles()).join());
    const base = await numberOf(/Add Sodium hydroxide/);
    assert.match(await page.locator(`#step-${base} .step-margin`).innerText(), /First [\d.]+\sg of the [\d.]+\sg of Sodium hydroxide.*far edge of the window/s);
    await again(() => page.locator(`#step-${set}`).getByRole('button', { name: /^Take out/ }).click());
    const offer = page.locator('.making-whole .note', { hasText: 'no step sets the pH' });
    await offer.waitFor();
    assert.match(await offer.innerText(), /A step more, as step \d+: set the pH to 3\.8/);
    await again(() => offer.getByRole('button', { name: 'Add this step' }).click());
    assert.equal(await offer.count(), 0);
    assert.ok(await numberOf(/Set the pH$/) > base);
    await again(() => page.keyboard.press('Control+z'));
    await offer.waitFor();
    assert.deepEqual(wrong, []);
  });

  test('numbers, lines and steps are changed in place; what goes in nowhere is told', async () => {
    const add = await numberOf(/Add Glycolic acid/);
    await page.locator(`#step-${add}`).getByRole('button', { name: /^Change/ }).click();
    await page.getByLabel('Temperature to').fill('abc');
    await page.keyboard.press('Tab');
    assert.match(await page.locator('.step-fields .field-trouble').innerText(), /“abc” cannot be/);
    await again(async () => { await page.getByLabel('Temperature to').fill('30,5'); await page.keyboard.press('Tab'); });
    assert.match(await page.locator(`#step-${add} .step-how`).innerText(), /20 to 30\.5/);
    await again(async () => { await page.getByLabel(/goes in with$/).first().selectOption({ label: 'nowhere' }); });
    assert.match(await page.locator('.making-whole').innerText(), /stop\s+Glycolic acid 70\s% solution goes in nowhere\./);
    await again(() => page.getByRole('button', { name: 'Glycolic acid 70 %', exact: true }).click());
    assert.doesNotMatch(await page.locator('.making-whole').innerText(), /goes in nowhere/);
    await again(() => page.locator(`#step-${add}`).getByRole('button', { name: /^Take out/ }).click());
    assert.match(await page.locator('.making-whole').innerText(), /goes in nowhere/);
    await again(() => page.keyboard.press('Control+z'));
    const many = await steps().count();
    await page.getByLabel('Kind of the new step').selectOption('hold');
    await again(() => page.getByRole('button', { name: 'Add it at the end' }).click());
    assert.equal(await steps().count(), many + 1);
    assert.deepEqual(wrong, []);
    await again(() => page.getByRole('button', { name: 'Back to the proposal' }).click());
  });

  test('the batch sheet prints it with boxes to write in', async () => {
    await page.goto(new URL(`${formula}/batch-sheet`, server.url).href);
    const making = page.locator('.batch-making');
    assert.match(await making.innerText(), /How it is made/);
    assert.ok(await making.locator('tbody tr').count() >= 8);
    assert.match(await making.innerText(), /Part of line\s1 Water, purified, \d+\.\d\d\sg/);
    assert.ok(await making.locator('td.box').count() >= 24);
  });

  test('text is dark enough on paper and slate', async () => {
    for (const scheme of /** @type {Array<'light'|'dark'>} */ (['light', 'dark'])) {
      await page.emulateMedia({ colorScheme: scheme });
      assert.deepEqual(await page.evaluate(tooFaint), [], scheme);
    }
  });
});
