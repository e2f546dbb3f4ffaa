// How sure the batch is: the targets and the chance of each, what would help, fields that change it, and what cannot be.
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
  context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB' });
  page = await watched(context, server.url, wrong);
  await page.goto(new URL(formula, server.url).href);
  await page.locator('.making-step').first().waitFor();
});

const sure = () => page.locator('#sure');
const row = (/** @type {RegExp} */ name) => sure().locator('.sure-lines tbody tr', { hasText: name });
/** @param {() => Promise<unknown>} act */
async function again(act) {
  const answered = page.waitForResponse((response) => response.url().endsWith('/api/sure'));
  await act();
  const status = (await answered).status();
  await page.waitForTimeout(100);
  return status;
}

describe('how sure the batch is', () => {
  test('is worked out when it comes into sight: chance of each target, lines, what would help', async () => {
    assert.equal(await sure().locator('.sure-target').count(), 0, 'not before it is seen');
    await again(() => sure().scrollIntoViewIfNeeded());
    await sure().locator('.sure-target').first().waitFor();
    const ph = sure().locator('.sure-target', { hasText: 'pH of the batch' });
    assert.match(await ph.innerText(), /Wanted: pH\s3\.7 to 3\.9\.[\s\S]+lands in it\s+\d\d\s*of 100/);
    assert.match(await ph.locator('svg').first().getAttribute('aria-label') ?? '', /As predicted between 3\.\d+ and 4\.\d+/);
    assert.match(await sure().locator('.sure-target', { hasText: 'Glycolic acid' }).innerText(), /does not aim into it; no weighing mends that/);
    assert.match(await row(/Sodium gluconate/).innerText(), /0\.25\s+8\.5\s*%\s+5 %\s+75\s*of 100/);
    const help = sure().locator('.sure-help', { hasText: 'Sodium gluconate' });
    assert.match(await help.innerText(), /Weigh it on the 0\.001\sg balance\s+0\.85\s*%\s+over 99\s*of 100/);
    assert.equal(await sure().locator('.sure-help', { hasText: 'Glycolic acid' }).count(), 0, 'no weighing is offered where the formula itself is wrong');
    await ph.locator('.num').first().click();
    assert.match(await page.locator('#derivation').innerText(), /share of the draws that meet the target/i);
    assert.deepEqual(wrong, []);
  });

  test('a finer balance makes the lines surer; what cannot be is refused beside its field', async () => {
    await again(() => sure().scrollIntoViewIfNeeded());
    const balance = sure().getByLabel('Readability of the balance, g');
    assert.equal(await balance.inputValue(), '0.01', 'as the sheet says');
    await balance.fill('0.001');
    assert.equal(await again(() => balance.press('Tab')), 200);
    assert.match(await row(/Sodium gluconate/).innerText(), /0\.85\s*%\s+5 %\s+over 99/);
    await balance.fill('-1');
    assert.equal(await again(() => balance.press('Tab')), 422);
    assert.match(await sure().locator('[role=alert]').innerText(), /-1 cannot be.*Type a number between/s);
    await balance.fill('');
    assert.equal(await again(() => balance.press('Tab')), 200);
    assert.equal(await balance.inputValue(), '0.01', 'an empty field is the sheet again');
    assert.match(await row(/Sodium gluconate/).innerText(), /8\.5\s*%/);
    assert.deepEqual(wrong.filter((one) => !one.includes('422')), []);
  });

  test('another balance takes what is small, a line is named for one, a certificate narrows a lot; all by keyboard', async () => {
    await again(() => sure().scrollIntoViewIfNeeded());
    await sure().locator('.sure-target').first().waitFor();
    assert.match(await row(/Sodium gluconate/).innerText(), /0\.01 g balance/);
    await sure().getByRole('button', { name: 'Another balance' }).press('Enter');
    const shows = sure().getByLabel('Balance 2: shows, g');
    assert.equal(await shows.evaluate((field) => field === document.activeElement), true, 'the hand is in the new row');
    await sure().getByLabel('Balance 2: Name').fill('fine');
    await shows.fill('0.0001');
    await sure().getByLabel('Balance 2: for what weighs up to, g').fill('5');
    assert.equal(await again(() => sure().getByLabel('Balance 2: for what weighs up to, g').press('Tab')), 200);
    await row(/Sodium gluconate/).filter({ hasText: 'fine' }).waitFor();
    assert.match(await row(/Sodium gluconate/).innerText(), /fine[\s\S]+over 99/);
    assert.equal(await sure().locator('.sure-help', { hasText: 'Sodium gluconate' }).count(), 0, 'what needed help needs none');
    const summary = sure().locator('.sure-each summary');
    await summary.press('Enter');
    const on = sure().getByLabel(/Sodium gluconate: balance/);
    assert.equal(await again(() => on.selectOption('usual')), 200);
    await row(/Sodium gluconate/).filter({ hasText: '0.01 g balance' }).waitFor();
    assert.match(await row(/Sodium gluconate/).innerText(), /0\.01 g balance/, 'named for the one above, whatever it weighs');
    const glycolic = sure().locator('.sure-each tr', { hasText: 'Glycolic acid' });
    await glycolic.getByLabel(/assay of the lot/).fill('70,4');
    assert.equal(await again(() => glycolic.getByLabel(/assay of the lot/).press('Tab')), 422);
    assert.match(await sure().locator('[role=alert]').innerText(), /nothing says how sure it is/);
    await glycolic.getByLabel(/percentage points/).fill('0.2');
    assert.equal(await again(() => glycolic.getByLabel(/percentage points/).press('Tab')), 200);
    assert.equal(await sure().locator('[role=alert]').innerText(), '');
    await page.reload();
    await again(() => sure().scrollIntoViewIfNeeded());
    assert.equal(await sure().getByLabel('Balance 2: Name').inputValue(), 'fine', 'still there after a reload');
    await row(/Sodium gluconate/).waitFor();
    assert.match(await row(/Sodium gluconate/).innerText(), /0\.01 g balance/);
    assert.equal(await again(() => sure().getByRole('button', { name: 'Leave out balance 2' }).press('Enter')), 200);
    assert.equal(await sure().getByLabel('Balance 2: Name').count(), 0);
    assert.deepEqual(wrong.filter((one) => !one.includes('422')), []);
  });

  test('of each target the line that does most is named, and what would help is drawn anew', async () => {
    await again(() => sure().scrollIntoViewIfNeeded());
    const balance = sure().getByLabel('Readability of the balance, g');
    await balance.fill('0.5');
    assert.equal(await again(() => balance.press('Tab')), 200);
    const lead = sure().locator('.sure-target', { hasText: 'pH of the batch' }).locator('.sure-lead');
    await lead.waitFor();
    assert.match(await lead.innerText(), /line \d+, .+ does most: its weighing,\s+\d+\s*% of the variance/);
    assert.match(await lead.innerText(), /weigh line \d+ on the 0\.0\d+\s?g balance/i);
    assert.match(await lead.innerText(), /make \d+\s?g instead of/i);
    assert.deepEqual(wrong, []);
  });

  test('everything can be read, in light and dark', async () => {
    for (const scheme of /** @type {const} */ (['light', 'dark'])) {
      await page.emulateMedia({ colorScheme: scheme });
      await sure().scrollIntoViewIfNeeded();
      await sure().locator('.sure-target').first().waitFor();
      const faint = (await page.evaluate(tooFaint)).filter((one) => /sure/.test(one.where));
      assert.deepEqual(faint, []);
    }
  });
});

describe('from the bench to the plant', () => {
  const scaled = () => page.locator('#scaled');
  const field = (/** @type {string} */ name) => scaled().locator(`[data-scale="${name}"]`);
  const cells = async (/** @type {string} */ row) => (await scaled().locator('.scaled-table tbody tr').filter({ has: page.getByRole('rowheader', { name: row, exact: true }) }).locator('td').allInnerTexts()).map((text) => text.replace(/\s+/g, ' ').trim());

  test('a speed typed at the bench gives bench, pilot and plant side by side; it is still there after a reload', async () => {
    await scaled().scrollIntoViewIfNeeded();
    await field('bench.rpm').waitFor();
    assert.match(await scaled().innerText(), /Type the speed that works at the bench/);
    await field('bench.rpm').fill('700');
    await field('bench.rpm').press('Tab');
    await scaled().locator('.scaled-table').waitFor();
    assert.equal((await cells('Speed of the tip')).length, 2);
    assert.match(await scaled().innerText(), /made cold: no step of the formula is warmer/);
    assert.match(await scaled().innerText(), /What does not scale[\s\S]+Surface and wall for each kilogram fall with size/);
    await field('pilot.vessel').selectOption('kettle-10-l');
    await field('pilot.batch').fill('8');
    await field('plant.heat_c').fill('90');
    await field('plant.cool_c').fill('15');
    await field('heat.to').fill('75');
    await field('heat.down').fill('40');
    await field('heat.down').press('Tab');
    await page.waitForFunction(() => document.querySelectorAll('#scaled .scaled-table thead th').length === 3 && /In all/.test(document.querySelector('#scaled .scaled-table')?.textContent ?? ''));
    const [bench, pilot, plant] = await cells('Warming');
    assert.match(bench, /min/);
    assert.match(pilot, /give \[pilot\.jacket\]|nothing says what its jacket is fed with/);
    assert.match(plant, /min/);
    assert.match(await scaled().innerText(), /steam burn/, 'what can hurt is said');
    await page.reload();
    await scaled().scrollIntoViewIfNeeded();
    await scaled().locator('.scaled-table').waitFor();
    assert.equal(await field('bench.rpm').inputValue(), '700');
    const faint = (await page.evaluate(tooFaint)).filter((one) => /scaled/.test(one.where));
    assert.deepEqual(faint, []);
    assert.deepEqual(wrong, []);
  });

  test('what cannot be is said in words, and what stood there stays', async () => {
    await scaled().scrollIntoViewIfNeeded();
    await field('bench.rpm').fill('600');
    await field('bench.rpm').press('Tab');
    await scaled().locator('.scaled-table').waitFor();
    await field('plant.batch').fill('90000');
    await field('plant.batch').press('Tab');
    await scaled().locator('[role=alert] .field-trouble').waitFor();
    assert.match(await scaled().locator('[role=alert]').innerText(), /batch_kg is 90000/i);
    await field('plant.batch').fill('1,5,0');
    await field('plant.batch').press('Tab');
    await scaled().locator('[role=alert] .field-trouble', { hasText: 'is no number' }).waitFor();
  });
});
