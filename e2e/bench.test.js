// A batch at the beaker: weighed step by step, with slips, too much, undo, a connection that is lost and a page that is loaded again.
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

before(async () => {
  server = await start();
  browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
});
after(async () => {
  await browser?.close();
  server?.stop();
});
beforeEach(async () => {
  wrong = [];
  await fresh('block');
});

/** A new browser. Requests that pass a service worker cannot be held up by a test, so that only the tests of it have one. @param {'allow'|'block'} serviceWorkers */
async function fresh(serviceWorkers) {
  await context?.close();
  context = await browser.newContext({ viewport: { width: 820, height: 1180 }, locale: 'en-GB', serviceWorkers });
  page = await watched(context, server.url, wrong);
}

/** What a lost connection itself says. */
const serious = () => wrong.filter((one) => !/ERR_INTERNET_DISCONNECTED|ERR_FAILED|Failed to load resource|Failed to fetch/.test(one));

async function begin() {
  await page.goto(`${server.url}formulas`);
  await page.locator('.shelf li', { hasText: 'Night toner' }).locator('.shelf-trials').click();
  await page.getByRole('link', { name: 'Make it at the beaker' }).click();
  await page.locator('[name=size]').fill('200');
  await page.getByRole('button', { name: 'Begin', exact: true }).click();
  await page.waitForURL(/batches\/[0-9a-f-]{36}$/);
  await page.locator('.instruction h1').waitFor();
}

const state = () => page.evaluate(async () => (await fetch(`/api${location.pathname}`)).json());
const title = () => page.locator('#step h1').innerText();
const target = () => page.locator('#step .matter-number').first().innerText();
const kept = () => page.locator('#link', { hasText: 'Everything is kept' }).waitFor();

/** Weighs what is asked for, with Enter. @param {string} [grams] */
async function weigh(grams) {
  await page.locator('#step [name=net]').fill(grams ?? await target());
  await page.keyboard.press('Enter');
}

describe('a batch at the beaker', () => {
  test('goes from line to line by Enter alone, with the lot taken from the shelf', async () => {
    await begin();
    assert.equal(await title(), 'Weigh Water, purified');
    assert.equal(await target(), '160.54', '97 % of the line; the rest dissolves the salts later');
    await weigh();
    await page.locator('#step h1', { hasText: 'Betaine' }).waitFor();
    assert.equal(await page.evaluate(() => /** @type {any} */ (document.activeElement).name), 'net', 'the next field is ready');
    await weigh();
    await page.locator('#step h1', { hasText: 'Tetrasodium glutamate diacetate' }).waitFor();
    await kept();
    const now = await state();
    assert.equal(now.lines[0].actual.value, 160.54);
    assert.equal(now.lines[0].verdict, 'short', 'the rest of the water comes later');
    assert.deepEqual([now.steps[0].stands, now.steps[0].portion.actual.value], ['done', 160.54]);
    assert.equal(now.next, 3);
    assert.deepEqual(wrong, []);
  });

  test('a comma is a decimal sign for those who write it, and what was typed stays as typed', async () => {
    await context.close();
    context = await browser.newContext({ viewport: { width: 820, height: 1180 }, locale: 'de-DE', serviceWorkers: 'block' });
    page = await watched(context, server.url, wrong);
    await begin();
    assert.equal(await target(), '160,54');
    await weigh('165,4');
    await page.locator('#step h1', { hasText: 'Betaine' }).waitFor();
    await page.locator('#step [name=net]').fill('6,,0');
    await page.keyboard.press('Enter');
    assert.match(await page.locator('#step .field-trouble').innerText(), /6,,0.* is not a number the instrument can show/);
    await kept();
    const now = await state();
    assert.equal(now.lines[0].actual.value, 165.4);
    assert.equal(now.entries[0].mass.net.typed, '165,4');
    assert.equal(now.entries.length, 1);
    assert.deepEqual(wrong, []);
  });

  test('water that went off is told from the balance, with or without a connection', async () => {
    await begin();
    const note = async (/** @type {string} */ did, /** @type {string} */ grams) => {
      await page.getByRole('button', { name: 'Something else' }).click();
      await page.locator('#more [name=did]').selectOption(did);
      await page.locator('#more [name=net]').fill(grams);
      await page.locator('#more [name=net]').press('Enter');
      await page.locator('#more form').waitFor({ state: 'detached' });
    };
    // 182.46 g of vessel, 200 g in it, 375.62 g on the balance, 2.10 g taken out before: 4.74 g went off.
    const water = () => page.evaluate(async () => {
      const { after } = await import(/** @type {any} */ ('/static/bench/progress.js'));
      const batch = await (await fetch(`/api${location.pathname}`)).json();
      const { waiting, arrived } = JSON.parse(localStorage.getItem(`levigate-bench-${batch.id}`) ?? '{"waiting":[],"arrived":[]}');
      return after(batch, [...arrived, ...waiting]).water;
    });
    await note('vessel', '182.46');
    await weigh('200');
    await page.locator('.over').waitFor();
    await note('sample', '2.10');
    await kept();
    await page.route('**/entries', (route) => route.abort());
    await note('gross', '375.62');
    const alone = await water();
    await page.unroute('**/entries');
    await kept();
    const told = (await state()).water;
    assert.equal(alone.to_give_back.value, 4.74);
    assert.deepEqual([alone.should_weigh.value, alone.went_off.value, alone.to_give_back.value], [told.should_weigh.value, told.went_off.value, told.to_give_back.value]);
    assert.deepEqual(serious(), []);
  });

  test('a joined balance is read at a press, one that sends by its key without, and one that types like a keyboard too', async () => {
    /** @type {any} */
    const balance = { name: 'balance 1', reads: 'mass', writes: 'always', line: { digits: '165.40', unit: 'g', temperature: null, settled: false }, count: 3, age_ms: 80, trouble: null };
    let shown = [balance];
    await page.route('**/api/instruments', (route) => route.fulfill({ json: shown }));
    await begin();
    const row = page.locator('#step .joined-row:visible');
    await page.locator('#step .joined-row:visible', { hasText: 'still moving' }).waitFor();
    assert.equal((await row.innerText()).replace(/\s+/g, ' '), 'balance 1 shows 165.40 g, still moving Take it');
    shown = [{ ...balance, line: { ...balance.line, digits: '0.16551', unit: 'kg', settled: true }, count: 9 }];
    await page.locator('#step .joined-row:visible', { hasText: '0.16551 kg' }).getByRole('button', { name: 'Take it' }).click();
    assert.equal(await page.locator('#step [name=net]').inputValue(), '165.51');
    await page.keyboard.press('Enter');
    await page.locator('#step h1', { hasText: 'Betaine' }).waitFor();
    await kept();
    const [first] = (await state()).entries;
    assert.deepEqual([first.mass.net.typed, first.instrument], ['165.51', 'balance 1']);

    shown = [{ ...balance, writes: 'on_key', line: null, count: 9 }];
    await page.locator('#step .joined-row:visible', { hasText: 'press its key' }).waitFor();
    shown = [{ ...balance, writes: 'on_key', line: { ...balance.line, digits: '6.00', settled: null }, count: 10 }];
    const shows = (/** @type {string} */ digits) => page.waitForFunction((wanted) => /** @type {HTMLInputElement} */ (document.querySelector('#step [name=net]')).value === wanted, digits);
    await shows('6.00');
    // The key again puts the new reading in its place, but never in the place of what a person has typed.
    shown = [{ ...balance, writes: 'on_key', line: { ...balance.line, digits: '6.01', settled: null }, count: 11 }];
    await shows('6.01');
    await page.locator('#step [name=net]').selectText();
    await page.keyboard.type('5.99');
    await page.locator('#step h1').focus();
    shown = [{ ...balance, writes: 'on_key', line: { ...balance.line, digits: '7.00', settled: null }, count: 12 }];
    await page.locator('#step .joined-row:visible', { hasText: '7.00' }).waitFor();
    assert.equal(await page.locator('#step [name=net]').inputValue(), '5.99');
    await page.locator('#step [name=net]').focus();
    await page.keyboard.press('Enter');
    await page.locator('#step h1', { hasText: 'Tetrasodium glutamate' }).waitFor();

    shown = [];
    await page.locator('#step h1').focus();
    await page.keyboard.type('+   0.400 g');
    await page.keyboard.press('Enter');
    await page.locator('#step h1', { hasText: 'Tetrasodium glutamate' }).waitFor({ state: 'detached' });
    await kept();
    const now = await state();
    assert.deepEqual(now.entries.map((/** @type {any} */ one) => [one.mass.net.typed, one.instrument ?? '']), [['165.51', 'balance 1'], ['5.99', ''], ['0.400', '']]);
    assert.deepEqual(wrong, []);
  });

  test('what a silent or broken instrument showed last is offered to nobody', async () => {
    const balance = { name: 'balance 1', reads: 'mass', writes: 'always', line: { digits: '165.51', unit: 'g', temperature: null, settled: null }, count: 3, age_ms: 90_000, trouble: null };
    let shown = [/** @type {any} */ (balance)];
    await page.route('**/api/instruments', (route) => route.fulfill({ json: shown }));
    await begin();
    await page.locator('#step .joined-row:visible', { hasText: 'has stopped writing' }).waitFor();
    assert.equal(await page.getByRole('button', { name: 'Take it' }).count(), 0);
    shown = [{ ...balance, line: null, trouble: 'COM3 cannot be read: it is gone' }];
    await page.locator('#step .joined-row:visible', { hasText: 'COM3 cannot be read: it is gone' }).waitFor();
    shown = [{ ...balance, age_ms: 10 }];
    await page.getByRole('button', { name: 'Take it' }).waitFor();
    await page.unroute('**/api/instruments');
    await page.route('**/api/instruments', (route) => route.abort());
    await page.getByRole('button', { name: 'Take it' }).waitFor({ state: 'detached' });
    assert.deepEqual(serious(), []);
  });

  test('a boat that was weighed before is offered again, and its weight counts', async () => {
    await begin();
    await page.getByText('weighed with a boat').click();
    assert.equal(await page.getByRole('group', { name: 'Boats weighed before' }).count(), 0, 'none was weighed yet');
    await page.locator('#step [name=tare]').fill('10.02');
    await page.locator('#step [name=net]').fill((10.02 + Number(await target())).toFixed(2));
    await page.keyboard.press('Enter');
    await page.locator('#step h1', { hasText: 'Betaine' }).waitFor();
    await page.getByText('weighed with a boat').click();
    await page.getByRole('button', { name: '10.02 g as for Water, purified' }).click();
    assert.equal(await page.evaluate(() => /** @type {any} */ (document.activeElement).name), 'net');
    await page.keyboard.type('16.02');
    await page.keyboard.press('Enter');
    await page.locator('#step h1', { hasText: 'Tetrasodium' }).waitFor();
    await kept();
    const [, second] = (await state()).entries;
    assert.deepEqual([second.mass.tare.typed, second.mass.gross.typed], ['10.02', '16.02']);
    assert.equal((await state()).lines[1].actual.value, 6);
    assert.deepEqual(wrong, []);
  });

  test('a slip of the decimal sign is asked about before it counts', async () => {
    await begin();
    await weigh('16.55');
    const asked = page.locator('.slip');
    await asked.waitFor();
    assert.match(await asked.innerText(), /16\.55 g is a tenth of what is still to go in/);
    await page.getByRole('button', { name: 'Type it again' }).click();
    await weigh('165.5');
    await page.locator('#step h1', { hasText: 'Betaine' }).waitFor();
    await kept();
    assert.equal((await state()).entries.length, 1, 'the slip was never sent');
    assert.deepEqual(wrong, []);
  });

  test('too much shows the ways out with their numbers, and one press decides', async () => {
    await begin();
    await weigh();
    await weigh('9');
    const over = page.locator('.over');
    await over.waitFor();
    assert.match(await over.innerText(), /Too much Betaine[\s\S]*9\.00 g instead of 6\.00 g[\s\S]*Leave it in[\s\S]*Make all others more[\s\S]*(299|300)\.\d\d g in all/);
    await over.getByRole('button', { name: 'Make all others more' }).click();
    await page.waitForFunction(async () => (await (await fetch(`/api${location.pathname}`)).json()).size.value > 299);
    await kept();
    const [water, betaine] = (await state()).lines;
    assert.equal(betaine.verdict, 'within');
    assert.ok(Math.abs(water.target.value - 165.51 * 1.5) < 0.02, `${water.target.value}`);
    assert.deepEqual(wrong, []);
  });

  test('undo takes the last entry back, which stays on record struck out', async () => {
    await begin();
    await weigh('165.4');
    await kept();
    await page.getByRole('button', { name: 'Undo the last' }).click();
    await kept();
    await page.locator('#step h1', { hasText: 'Weigh Water' }).waitFor();
    assert.equal(await target(), '160.54', '97 % of the line; the rest dissolves the salts later');
    await page.locator('#entries .struck', { hasText: /165\.4[\s\S]*struck out: taken back at the bench/ }).waitFor();
    assert.equal((await state()).lines[0].actual?.value ?? null, null);
    assert.deepEqual(wrong, []);
  });

  test('a lost connection and a page loaded in the middle lose nothing, and nothing is kept twice', async () => {
    await begin();
    await weigh();
    await kept();
    await context.setOffline(true);
    await weigh();
    await page.locator('#step h1', { hasText: 'Tetrasodium glutamate diacetate' }).waitFor();
    await weigh();
    await page.locator('#link', { hasText: '2 entries wait' }).waitFor();
    assert.match(await page.locator('#entries').innerText(), /waits to be sent/);
    await context.setOffline(false);
    await kept();
    assert.deepEqual((await state()).lines.filter((/** @type {any} */ line) => [1, 2, 5].includes(line.number)).map((/** @type {any} */ line) => line.actual.value), [160.54, 6, 0.4]);
    // The answer is lost: the program has the entry, the page does not know it, is closed and opened again.
    /** @type {() => void} */ let gone = () => {};
    const lost = new Promise((resolve) => { gone = () => resolve(null); });
    await page.route('**/entries', async (route) => { await route.fetch(); await route.abort(); gone(); }, { times: 1 });
    await weigh();
    await lost;
    const before = (await state()).entries.length;
    await page.reload();
    await kept();
    const now = await state();
    assert.equal(now.entries.length, before, 'kept once');
    assert.equal(now.lines[5].actual.value, 4.96);
    assert.deepEqual(serious(), []);
  });

  test('opened again without a connection, it goes on from what was heard last', async () => {
    await fresh('allow');
    await begin();
    await page.evaluate(() => navigator.serviceWorker.ready);
    await page.reload();
    await page.locator('.instruction h1').waitFor();
    await weigh();
    await kept();
    await context.setOffline(true);
    await weigh();
    await page.locator('#link', { hasText: '1 entry waits' }).waitFor();
    await page.reload();
    await page.locator('#step h1', { hasText: 'Tetrasodium glutamate diacetate' }).waitFor();
    await weigh();
    await page.locator('#link', { hasText: '2 entries wait' }).waitFor();
    await context.setOffline(false);
    await kept();
    assert.deepEqual((await state()).lines.filter((/** @type {any} */ line) => [1, 2, 5].includes(line.number)).map((/** @type {any} */ line) => line.actual.value), [160.54, 6, 0.4]);
    assert.deepEqual(serious(), []);
  });

  test('a deviation with its reason, a temperature and a step left out go on record', async () => {
    await begin();
    await page.getByRole('button', { name: 'Something else' }).click();
    await page.locator('#more [name=did]').selectOption('deviation');
    await page.locator('#more [name=text]').fill('Water from the other tap');
    await page.getByRole('button', { name: 'Note it' }).last().click();
    assert.match(await page.locator('#more .field-trouble:not([hidden])').innerText(), /Something is missing/);
    await page.locator('#more [name=reason]').fill('filter change');
    await page.locator('#more [name=reason]').press('Enter');
    await kept();
    await page.getByRole('button', { name: 'Something else' }).click();
    await page.locator('#more [name=did]').selectOption('skipped');
    await page.locator('#more [name=reason]').fill('made up beforehand');
    await page.locator('#more [name=reason]').press('Enter');
    await page.locator('#step h1', { hasText: 'Betaine' }).waitFor();
    await kept();
    const now = await state();
    assert.equal(now.deviations.length, 1);
    assert.equal(now.steps[0].stands, 'skipped');
    assert.deepEqual(wrong, []);
  });

  test('a batch is signed with what was entered, and the list says so', async () => {
    await begin();
    for (let at = 0; at < 40 && !/All steps/.test(await title()); at += 1) {
      const before = await title();
      const put = page.getByRole('button', { name: 'Put it in' });
      if (/until the pH/.test(before)) {
        await page.getByRole('button', { name: 'The pH is right' }).click();
        await page.getByRole('button', { name: 'It is right all the same' }).click();
        assert.match(await page.locator('#step .entry .field-trouble:not([hidden])').innerText(), /does not say why/);
        await page.locator('#step [name=reason]').fill('no meter in this test');
        await page.locator('#step [name=reason]').press('Enter');
      } else if (await put.count()) await weigh();
      else await page.getByRole('button', { name: 'Done', exact: true }).click();
      await page.waitForFunction((was) => document.querySelector('#step h1')?.textContent !== was, before);
    }
    await page.locator('[name=net]').fill('193.2');
    await page.locator('[name=net]').press('Enter');
    await kept();
    await page.locator('.pairs', { hasText: 'Yield' }).waitFor();
    await page.locator('[name=who]').fill('R. Quill');
    await page.getByRole('button', { name: 'Sign' }).click();
    await page.locator('h1', { hasText: 'Signed off' }).waitFor();
    assert.match(await page.locator('.standing').innerText(), /R\. Quill: made it|R\. Quill: made/);
    assert.match((await state()).entries.find((/** @type {any} */ one) => one.did === 'deviation').text, /pH taken as right, wanted 3\.60 to 4\.00, not read/);
    await page.getByRole('link', { name: 'Batches' }).last().click();
    await page.locator('.shelf li').first().waitFor();
    assert.match(await page.locator('.shelf li').first().innerText(), /Night toner[\s\S]*made/);
    assert.deepEqual(wrong, []);
  });
});
