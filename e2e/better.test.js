// Find a better formula, and what could stand in the place of a raw material: by keyboard alone, with what is wrong told beside its field, taken onto the sheet and undone.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { after, before, beforeEach, describe, test } from 'node:test';
import { chromium } from 'playwright-core';
import { CHROMIUM, FLAGS, start } from './server.js';
import { watched } from './watch.js';

/** @type {Awaited<ReturnType<typeof start>>} */ let server;
/** @type {import('playwright-core').Browser} */ let browser;
/** @type {import('playwright-core').BrowserContext} */ let context;
/** @type {import('playwright-core').Page} */ let page;
/** @type {string[]} */ let wrong = [];

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
  context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB', acceptDownloads: true, serviceWorkers: 'block' });
  page = await watched(context, server.url, wrong);
});

const press = (/** @type {string} */ key) => page.keyboard.press(key);
const type = (/** @type {string} */ text) => page.keyboard.type(text);
/** Tabs until an element has the focus. @param {string} selector */
async function tabTo(selector) {
  for (let at = 0; at < 140; at += 1) {
    if (await page.evaluate((wanted) => document.activeElement?.matches(wanted), selector)) return;
    await press('Tab');
  }
  throw new Error(`${selector} is not reached by Tab`);
}
/** The address of a sample formula. @param {string} name */
async function addressOf(name) {
  await page.goto(`${server.url}formulas`);
  return (await page.locator('.shelf li > a', { hasText: name }).getAttribute('href')) ?? '';
}
/** Opens the page of a formula with the question it begins with. @param {string} name */
async function open(name) {
  const address = await addressOf(name);
  await page.goto(new URL(`${address}/better`, server.url).href);
  await page.locator('.better-lines tbody tr').first().waitFor();
  return address;
}
/** Presses Find and waits for what is found. */
async function find() {
  await page.locator('.better-verbs button[type=submit]').focus();
  await press('Enter');
  await page.locator('#answers h2').waitFor();
}

describe('find a better one', () => {
  test('is reached from the sheet, asked and answered by keyboard, taken onto the sheet, and undone', async () => {
    const address = await addressOf('Night toner');
    await page.goto(new URL(address, server.url).href);
    await tabTo('a[href$="/better"]');
    await press('Enter');
    await page.waitForURL(/\/better$/);
    await page.locator('.better-lines tbody tr').first().waitFor();
    // It begins with what the formula is and shall be.
    assert.match(await page.locator('.better-wishes').innerText(), /at least[\s\S]*mg\/kg/);
    assert.equal(await page.locator('[data-field="lines.8.least"]').inputValue(), '3.6');
    await tabTo('.better-verbs button[type=submit]');
    await press('Enter');
    await page.locator('.answers-table').waitFor();
    assert.equal(await page.evaluate(() => document.activeElement?.id), 'found-name');
    const table = await page.locator('.answers-table').innerText();
    assert.match(table, /As it is[\s\S]*Best found/);
    assert.match(table, /least cost/);
    assert.match(await page.locator('.binds').innerText(), /giving way by .* buys .* less cost/);
    const cost = async (/** @type {number} */ column) => Number((await page.locator('.answers-table tr', { hasText: 'least cost' }).first().locator('td').nth(column).locator('.value').innerText()).replace(',', '.'));
    assert.ok(await cost(1) < await cost(0));
    await tabTo('.take');
    await press('Enter');
    await page.waitForURL(new URL(address, server.url).href);
    await page.locator('#notice', { hasText: 'On the sheet stands the formula that was found' }).waitFor();
    const betaine = page.locator('.rows .line', { hasText: 'Betaine' }).or(page.locator('.rows .line').nth(1)).first().locator('.amount input');
    const taken = await betaine.inputValue();
    assert.notEqual(taken, '3.00');
    await page.waitForFunction(() => /kept at/.test(document.querySelector('#verbs .kept')?.textContent ?? ''));
    await page.locator('.rows .line .amount input').first().focus();
    await press('Escape');
    await page.getByRole('button', { name: 'Undo' }).focus();
    await press('Enter');
    await page.waitForFunction((was) => document.querySelectorAll('.rows .line')[1]?.querySelector('.amount input')?.value !== was, taken);
    assert.match(await betaine.inputValue(), /^3/);
    assert.deepEqual(wrong, []);
  });

  test('tells what is wrong beside its field, keeps the question, and gives it as a file', async () => {
    const address = await open('Cooling hand gel');
    const moving = page.locator('[data-field$=".least"]').first();
    const name = await moving.getAttribute('data-field') ?? '';
    await moving.focus();
    await press('Control+A');
    await type('much');
    await page.locator('.better-verbs button[type=submit]').focus();
    await press('Enter');
    await page.locator('.better-lines .field-trouble:not([hidden])').waitFor();
    assert.equal(await page.evaluate(() => document.activeElement?.getAttribute('data-field')), name);
    await press('Control+A');
    await type('0,3');
    await page.locator('.kept', { hasText: 'kept with the formula' }).waitFor();
    await page.waitForTimeout(700);
    await page.goto(new URL(`${address}/better`, server.url).href);
    await page.locator('.better-lines tbody tr').first().waitFor();
    assert.equal(await page.locator(`[data-field="${name}"]`).inputValue(), '0.3');
    assert.match(await page.locator('.better-verbs .kept').innerText(), /as you left it/);
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'The question as a file' }).press('Enter')]);
    assert.match(download.suggestedFilename(), /better\.toml$/);
    const text = await readFile(await download.path(), 'utf8');
    assert.match(text, /\[product\][\s\S]*\[optimise\][\s\S]*\[\[optimise\.line\]\][\s\S]*least = 0\.3/);
    await page.getByRole('button', { name: 'Begin again from the sheet' }).press('Enter');
    await page.waitForFunction((field) => document.querySelector(`[data-field="${field}"]`)?.value !== '0.3', name);
    // The browser itself notes the refusal of the wrong number.
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });

  test('says which wishes contradict each other, and shows the nearest', async () => {
    await open('Night toner');
    const least = page.locator('[data-field="wishes.0.least"]');
    await least.focus();
    await press('Control+A');
    await type('9000');
    await find();
    assert.match(await page.locator('#answers .lead-word').innerText(), /cannot be had|not found to be possible|were not found/);
    assert.match(await page.locator('.answers-table thead').innerText(), /Nearest/);
    assert.match(await page.locator('.answers-table').innerText(), /missed/);
    await page.getByRole('button', { name: 'Begin again from the sheet' }).press('Enter');
    await page.locator('.kept', { hasText: 'begins with' }).waitFor();
    assert.deepEqual(wrong, []);
  });

  test('shows how far it is, and stops with the best so far', async () => {
    await open('Night toner');
    // A search that goes on until it is stopped, as the page hears of it.
    let stopped = false;
    await page.route('**/api/searches/*', async (route) => {
      if (route.request().method() === 'DELETE') { stopped = true; await route.fulfill({ json: { running: true, read: 1300, best: 2.3, seconds: 1, found: null } }); return; }
      if (stopped) { await route.continue(); return; }
      await route.fulfill({ json: { running: true, read: 1200, best: 2.31, seconds: 0.8, found: null } });
    });
    await page.locator('.better-verbs button[type=submit]').focus();
    await press('Enter');
    await page.locator('.search-said', { hasText: '1,200 formulas solved' }).waitFor();
    assert.match(await page.locator('.search-said').innerText(), /best so far 2\.31 EUR\/kg/);
    assert.match(await page.evaluate(() => document.activeElement?.textContent ?? ''), /Stop, and show the best/);
    await press('Enter');
    await page.locator('#answers h2').waitFor();
    assert.equal(await page.locator('.search-under-way').count(), 0);
    assert.deepEqual(wrong, []);
  });

  test('sets two aims against each other, walked by key', async () => {
    await open('Night toner');
    await page.getByRole('button', { name: 'Set another aim against it' }).press('Enter');
    await page.locator('[data-field="aims.1.of"]').selectOption('viscosity_mpa_s');
    await page.locator('[data-field="aims.1.want"]').selectOption('most');
    await find();
    await page.locator('.front').waitFor();
    const points = page.locator('.front-point');
    const count = await points.count();
    assert.ok(count >= 3, `${count} points`);
    assert.match(await page.locator('.front').innerText().catch(() => page.locator('.front').textContent()) ?? '', /as it is[\s\S]*cost, EUR\/kg \(less is better\)/);
    await tabTo('.front-point');
    await press('ArrowRight');
    assert.equal(await page.locator('.front-point[aria-checked=true]').getAttribute('data-place'), '1');
    assert.match(await page.locator('#front-formula > h3').innerText(), /Point 2/);
    await press('End');
    assert.match(await page.locator('#front-formula > h3').innerText(), new RegExp(`Point ${count}$`));
    assert.equal(await page.locator('.front-table tbody tr').count(), count + 1);
    assert.match(await page.locator('.front-table').innerText(), /shown below/);
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'The points as CSV' }).press('Enter')]);
    const rows = (await readFile(await download.path(), 'utf8')).split('\r\n');
    assert.equal(rows.length, count + 2);
    assert.match(rows[0], /^point,"least cost, EUR\/kg"/);
    await page.getByRole('button', { name: 'Begin again from the sheet' }).press('Enter');
    await page.locator('.kept', { hasText: 'begins with' }).waitFor();
    assert.deepEqual(wrong, []);
  });

  test('draws three aims as two figures that share their points', async () => {
    await open('Night toner');
    await page.getByRole('button', { name: 'Set another aim against it' }).press('Enter');
    await page.locator('[data-field="aims.1.of"]').selectOption('viscosity_mpa_s');
    await page.locator('[data-field="aims.1.want"]').selectOption('most');
    await page.getByRole('button', { name: 'Set another aim against it' }).press('Enter');
    await page.locator('[data-field="aims.2.of"]').selectOption('osmolality_mol_kg');
    await find();
    await page.locator('.front').nth(1).waitFor();
    assert.equal(await page.locator('.front').count(), 2);
    await page.locator('.front').nth(1).locator('.front-point').nth(1).press('Enter');
    assert.equal(await page.locator('.front-point[aria-checked=true]').count(), 2);
    await page.getByRole('button', { name: 'Begin again from the sheet' }).press('Enter');
    await page.locator('.kept', { hasText: 'begins with' }).waitFor();
    assert.deepEqual(wrong, []);
  });
});

describe('in the place of a raw material', () => {
  test('is reached from the raw material, told for each formula, taken onto a sheet, and undone', async () => {
    await page.goto(`${server.url}materials/xanthan-gum`);
    await tabTo('a[href$="/instead"]');
    await press('Enter');
    await page.waitForURL(/\/instead$/);
    await page.waitForFunction(() => document.documentElement.dataset.looked !== undefined);
    const first = page.locator('.instead-candidate').first();
    await first.locator('.instead-formula').first().waitFor();
    assert.match(await first.innerText(), /How near it is[\s\S]*not known: counts as half way[\s\S]*Night toner/);
    assert.match(await first.locator('.instead-formula').first().innerText(), /becomes[\s\S]*(Same viscosity|No rule|same percent)/i);
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'All of it as CSV' }).press('Enter')]);
    assert.match(await readFile(await download.path(), 'utf8'), /^candidate,distance,formula[\s\S]*Night toner/);
    const verb = first.locator('.instead-formula', { hasText: 'Night toner' }).getByRole('button', { name: /on its sheet/ });
    await verb.focus();
    await press('Enter');
    await page.waitForURL(/\/formulas\/[0-9a-f-]{30,}$/);
    await page.locator('#notice', { hasText: 'in the place of Xanthan gum' }).waitFor();
    const names = () => page.evaluate(() => [...document.querySelectorAll('.rows .line input')].map((one) => /** @type {HTMLInputElement} */ (one).value));
    assert.ok(!(await names()).includes('Xanthan gum'));
    await page.getByRole('button', { name: 'Undo' }).press('Enter');
    await page.waitForFunction(() => [...document.querySelectorAll('.rows .line input')].some((one) => /** @type {HTMLInputElement} */ (one).value === 'Xanthan gum'));
    assert.deepEqual(wrong, []);
  });

  test('takes another candidate by its name, and says where a name is none', async () => {
    await page.goto(`${server.url}materials/xanthan-gum/instead`);
    await page.locator('.instead-candidate').first().waitFor();
    await tabTo('#another');
    await type('No such gum');
    await press('Enter');
    await page.locator('#another-wrong:not([hidden])').waitFor();
    assert.equal(await page.evaluate(() => document.activeElement?.id), 'another');
    await press('Control+A');
    await type('Hydroxyethylcellulose');
    await press('Enter');
    await page.waitForURL(/with=/);
    await page.waitForFunction(() => document.documentElement.dataset.looked !== undefined);
    const heads = await page.locator('.instead-candidate > h2').allInnerTexts();
    assert.ok(heads.some((head) => head.startsWith('Hydroxyethylcellulose')), heads.join(', '));
    assert.equal(new URL(page.url()).searchParams.get('with')?.split(',')[0].startsWith('hydroxyethylcellulose'), true);
    assert.deepEqual(wrong, []);
  });

  test('of a raw material nothing uses, the candidates alone are told', async () => {
    await page.goto(`${server.url}materials/carnosine/instead`);
    await page.locator('#instead p').first().waitFor();
    const said = await page.locator('#instead').innerText();
    assert.match(said, /No formula uses it/);
    assert.doesNotMatch(said, /null|undefined/);
    assert.deepEqual(wrong, []);
  });
});
