// The tree of trials: drawn, walked with the keys, two picked, what lies between told and taken along; and the list where there is no script.
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
let formula = '';

before(async () => {
  server = await start();
  browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
  page = await browser.newPage();
  await page.goto(`${server.url}formulas`);
  formula = (await page.locator('.shelf li > a', { hasText: 'Night toner' }).getAttribute('href')) ?? '';
  // Two side lines: trials 3 and 4 both come from trial 1, trial 5 from 3; trial 6 from the newest of the main line.
  await page.evaluate(async (path) => {
    const { ask } = await import(/** @type {any} */ ('/static/api.js'));
    const id = path.split('/').pop();
    const book = () => ask('GET', `/api/formulas/${id}/trials`);
    for (const [from, version, changed] of [[1, 1, 'stirred by hand'], [1, 1, 'half the batch'], [3, 1, 'stirred by hand, colder'], [2, 2, 'the same again']]) {
      const trial = (await book()).trials.find((/** @type {any} */ one) => one.number === from);
      await ask('POST', `/api/formulas/${id}/trials`, { version, parent: trial.id, changed, size: '200', unit: 'g', process: from === 1 ? 'by hand' : '', made: '', lots: [] });
    }
  }, formula);
  await page.close();
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
});

const focused = () => page.evaluate(() => /** @type {HTMLElement} */ (document.activeElement).dataset.number ?? '');

describe('the tree of trials', () => {
  test('a line goes on in its lane, side lines stand beside it, and each says what it came from', async () => {
    await page.goto(new URL(`${formula}/tree`, server.url).href);
    const rows = page.locator('.tree-row');
    await page.locator('.tree .knot').nth(5).waitFor();
    assert.deepEqual(await rows.evaluateAll((all) => all.map((row) => row.dataset.number)), ['1', '3', '5', '4', '2', '6']);
    assert.deepEqual(await rows.evaluateAll((all) => all.map((row) => row.getAttribute('aria-level'))), ['1', '2', '2', '2', '1', '1']);
    assert.match(await rows.nth(2).innerText(), /Trial 5[\s\S]*stirred by hand, colder[\s\S]*from trial 3[\s\S]*nothing read/);
    assert.match(await rows.nth(4).getAttribute('aria-label') ?? '', /^Trial 2, version 2, .*, from trial 1: .*pH 3\.8.*Readings: pH .*inside/);
    // Shapes differ, not colours alone.
    assert.equal(await rows.nth(4).locator('circle.full-inside').count() + await rows.nth(4).locator('polygon').count(), 1);
    assert.equal(await rows.nth(2).locator('circle.hollow').count(), 1);
    await page.locator('.tree-table summary').click();
    assert.equal(await page.locator('.tree-table tbody tr').count(), 6);
    const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Take it away as CSV' }).click()]);
    assert.equal(file.suggestedFilename(), 'trials.csv');
    assert.deepEqual(wrong, []);
  });

  test('is walked with the arrow keys; space picks two, enter opens one', async () => {
    await page.goto(new URL(`${formula}/tree?left=1&right=2`, server.url).href);
    await page.locator('#between .overview').waitFor();
    const rows = page.locator('.tree-row');
    await rows.last().focus();
    await page.keyboard.press('Home');
    assert.equal(await focused(), '1');
    await page.keyboard.press('ArrowDown');
    assert.equal(await focused(), '3');
    await page.keyboard.press('ArrowRight');
    assert.equal(await focused(), '5');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('ArrowLeft');
    assert.equal(await focused(), '1');
    await page.keyboard.press('ArrowRight');
    assert.equal(await focused(), '2', 'the line that goes on before one that leaves it');
    await page.keyboard.press('End');
    assert.equal(await focused(), '6');
    await page.keyboard.press('Space');
    await page.getByRole('heading', { name: 'From trial 2 to trial 6' }).waitFor();
    assert.deepEqual(await page.locator('.tree-row[aria-selected=true]').evaluateAll((all) => all.map((row) => row.dataset.number)), ['2', '6']);
    assert.match(await page.locator('#said').innerText(), /are picked/);
    assert.equal(new URL(page.url()).search, '?left=2&right=6');
    await page.keyboard.press('Enter');
    await page.waitForURL(/\/trials#trial-6$/);
    assert.deepEqual(wrong, []);
  });

  test('what lies between two is told for every reading and taken along', async () => {
    await page.goto(new URL(`${formula}/tree?left=1&right=2`, server.url).href);
    const between = page.locator('#between');
    await between.locator('.overview tbody tr').nth(3).waitFor();
    assert.match(await between.locator('.differs').innerText(), /Sodium hydroxide 20 %[\s\S]*q\.s\. to pH 4\.4[\s\S]*q\.s\. to pH 3\.8/);
    const overview = await between.locator('.overview').innerText();
    for (const name of ['pH', 'Viscosity', 'Density', 'Dry matter', 'Sodium Benzoate at work', 'Cost per kg in EUR']) assert.match(overview, new RegExp(name));
    assert.match(await between.locator('.overview tr', { hasText: /^pH/ }).innerText(), /−0\.60[\s\S]*−0\.54[\s\S]*agrees/);
    assert.match(await between.locator('#effects-1-2-ph').innerText(), /The differences explain a change of the pH by -0\.60 ± 0\.07/);
    await between.locator('.overview').getByRole('link', { name: 'Sodium Benzoate at work' }).click();
    await between.locator('#effects-1-2-preservative-sodium-benzoate .found').first().waitFor();
    assert.match(await between.locator('#effects-1-2-preservative-sodium-benzoate').innerText(), /It is not read on a trial\. The engine expects/);
    const [csv] = await Promise.all([page.waitForEvent('download'), between.getByRole('button', { name: 'CSV' }).click()]);
    assert.equal(csv.suggestedFilename(), 'trial-1-to-2.csv');
    const [book] = await Promise.all([page.waitForEvent('download'), between.getByRole('link', { name: 'XLSX' }).click()]);
    assert.equal(book.suggestedFilename(), 'trial-1-to-2.xlsx');
    assert.deepEqual(wrong, []);
  });

  test('stands as a nested list where there is no script', async () => {
    const bare = await browser.newContext({ javaScriptEnabled: false });
    const plain = await bare.newPage();
    await plain.goto(new URL(`${formula}/tree`, server.url).href);
    assert.equal(await plain.locator('.plain-tree li').count(), 6);
    assert.equal(await plain.locator('.plain-tree ul > li').count(), 3, 'side lines stand inside');
    assert.match(await plain.locator('.plain-tree').innerText(), /Trial 5, version 1, .*, after trial 3: stirred by hand, colder\. Readings: nothing read\./);
    await bare.close();
  });
});
