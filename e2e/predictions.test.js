// How well we predict: a formula with trials, the whole workspace, nothing yet, and what was learned set aside.
import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { chromium } from 'playwright-core';
import { CHROMIUM, FLAGS, start } from './server.js';
import { toner } from './predictions.js';
import { watched } from './watch.js';

/** @type {Awaited<ReturnType<typeof start>>} */ let server;
/** @type {import('playwright-core').Browser} */ let browser;
/** @type {import('playwright-core').BrowserContext} */ let context;
/** @type {import('playwright-core').Page} */ let page;
/** @type {string[]} */ const wrong = [];
let id = '';

before(async () => {
  server = await start();
  browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
  context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB', acceptDownloads: true });
  page = await watched(context, server.url, wrong);
  await page.goto(`${server.url}formulas`);
  id = await toner(page, ['4,44', '4,41', '4,45', '4,43', '4,42', '4,44', '4,43', '4,43']);
});
after(async () => {
  await browser?.close();
  server?.stop();
});

/** @param {string} name */
const section = (name) => page.locator('.foretold', { has: page.getByRole('heading', { name, exact: true }) });

describe('how well we predict', () => {
  test('stands one step from the trials, with a figure, its table and what it comes to', async () => {
    await page.goto(`${server.url}formulas/${id}/trials`);
    await page.getByRole('link', { name: 'How well we predict' }).click();
    await page.locator('.foretold .plate svg').first().waitFor();
    assert.equal(await page.locator('h1').innerText(), 'How well we predict');
    const ph = section('pH');
    assert.equal(await ph.locator('.foretold-table tbody tr').count(), 8);
    assert.match(await ph.locator('.lead-word').innerText(), /fell in the band meant to hold 95\s%[\s\S]*errors/);
    assert.match(await ph.locator('.foretold-table tbody tr').first().innerText(), /Trial 1[\s\S]*neat, 25\s°C[\s\S]*4\.44[\s\S]*(inside|outside)/);
    // What the first reading missed, the last does not.
    const errors = await ph.locator('.foretold-table tbody tr').evaluateAll((rows) => rows.map((row) => Math.abs(Number((row.querySelectorAll('td')[4].textContent ?? '').replace('−', '-').replace(/[^0-9.-]/g, '')))));
    assert.ok(errors[7] < 0.5 * errors[0], errors.join(' '));
    assert.match(await section('Clarity').innerText(), /fewer than two trials before[\s\S]*as if nothing had been changed/);
    assert.match(await section('Density').innerText(), /1\.02/);
    assert.match(await section('The newest version').innerText(), /With what trials taught[\s\S]*From the papers alone/);
    assert.match(await section('What trials taught').innerText(), /Sodium lactate 60 % solution: base bound in it[\s\S]*trials? 1/);
    await ph.locator('.num').first().click();
    assert.match(await page.locator('#derivation').innerText(), /How far it holds|What went in/);
    await page.keyboard.press('Escape');
  });

  test('gives its numbers away as a table of commas, by the keyboard alone', async () => {
    const plate = section('pH').locator('.plate');
    const coming = page.waitForEvent('download');
    await plate.getByRole('button', { name: 'CSV' }).focus();
    await page.keyboard.press('Enter');
    const path = await (await coming).path();
    const { readFile } = await import('node:fs/promises');
    const text = await readFile(path, 'utf8');
    assert.match(text, /No\.[\s\S]*Foretold[\s\S]*Read[\s\S]*Error/);
    assert.equal(text.trim().split('\r\n').length, 9);
    await plate.locator('summary').focus();
    await page.keyboard.press('Enter');
    await plate.locator('.plate-table td').first().waitFor();
  });

  test('sets aside what trials taught, and takes it back', async () => {
    await page.locator('#set-aside').focus();
    await page.keyboard.press('Enter');
    await page.locator('#set-aside', { hasText: 'With what trials taught' }).waitFor();
    assert.match(await page.locator('#say').innerText(), /set aside/);
    assert.equal(await page.locator('#taught').count(), 0);
    await page.locator('#set-aside').click();
    await page.locator('#taught').waitFor();
  });

  test('a reading struck out disappears from what was learned', async () => {
    const rows = () => section('pH').locator('.foretold-table tbody tr').count();
    const had = await rows();
    await page.evaluate(async (formula) => {
      const { ask } = await import(/** @type {any} */ ('/static/api.js'));
      const book = await ask('GET', `/api/formulas/${formula}/trials`);
      const reading = book.trials[7].readings.find((/** @type {any} */ one) => one.quantity === 'ph');
      await ask('POST', `/api/readings/${reading.id}/correction`, { reason: 'taken back', instead: null });
    }, id);
    await page.reload();
    await page.locator('#taught').waitFor();
    assert.equal(await rows(), had - 1);
  });

  test('stands on the margin of the formula, taught beside untaught', async () => {
    await page.goto(`${server.url}formulas/${id}`);
    const note = page.locator('[data-code="taught-ph"]');
    await note.waitFor();
    assert.match(await note.innerText(), /pH\s+4\.4\d[\s\S]*learned from 7 readings of 7 trials[\s\S]*from the papers alone/);
  });

  test('tells of all formulas, and what to do first where there is nothing', async () => {
    await page.goto(`${server.url}formulas`);
    await page.getByRole('link', { name: 'How well we predict' }).click();
    await page.locator('.foretold .plate svg').first().waitFor();
    assert.match(await section('pH').innerText(), /Night toner with mandelic acid, trial 1[\s\S]*is solved for the pH/);
    assert.match(await section('Viscosity').innerText(), /Cooling hand gel, trial 2/);
    const fresh = await page.evaluate(async () => {
      const { ask } = await import(/** @type {any} */ ('/static/api.js'));
      return (await ask('POST', '/api/formulas/import', { text: '[product]\nname = "Nothing yet"\ntype = "toner"\nsite = "face"\nleave_on = true\nmarkets = ["eu"]\n[[phase]]\nname = "A"\n[[phase.line]]\nmaterial = "Water"\nremainder = true\n' })).id;
    });
    await page.goto(`${server.url}formulas/${fresh}/predictions`);
    assert.match(await page.locator('#say').innerText(), /Nothing has been read on a trial yet/);
    await page.getByRole('link', { name: 'Begin a trial' }).click();
    await page.locator('h1', { hasText: 'Trials' }).waitFor();
    assert.deepEqual(wrong, []);
  });
});
