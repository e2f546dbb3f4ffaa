// How a formula flows: the number in strip and margin, the curve under the sheet by pointer and keys, a measured curve read, fitted and kept.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { after, before, beforeEach, describe, test } from 'node:test';
import { chromium } from 'playwright-core';
import { CHROMIUM, FLAGS, start } from './server.js';
import { tooFaint } from './contrast.js';
import { watched } from './watch.js';

const GEL = new URL('../examples/scenarios/5-hypromellose-clear-gel.toml', import.meta.url);
/** A Herschel-Bulkley gel, 8 + 5 g^0.5 Pa, computed by hand: at 1 1/s 13 Pa, at 4 18 Pa, at 25 33 Pa, at 100 58 Pa. */
const MEASURED = ['shear rate [1/s];shear stress [Pa]', '0,25;10,5', '1;13', '4;18', '9;23', '16;28', '25;33', '49;43', '100;58'].join('\n');

/** Rest at 0.5 1/s, shear at 1000 1/s, rest again: made as 30 - 20 exp(-t / 50) after the shear, 40 before it. */
const RECOVERED = ['time;shear rate [1/s];viscosity [Pa.s]',
  ...Array.from({ length: 8 }, (_, at) => `${at * 5};0.5;40`), ...[40, 45, 50].map((time) => `${time};1000;0.2`),
  ...Array.from({ length: 25 }, (_, at) => `${60 + at * 10};0.5;${(30 - 20 * Math.exp(-(10 + at * 10) / 50)).toFixed(6)}`)].join('\n');
/** Up 5 + 0.2 g, down 2 + 0.2 g, both between 10 and 90 1/s: the area between them is 3 times 80 = 240 Pa/s. */
const LOOP = ['shear rate [1/s];shear stress [Pa]', ...[10, 30, 60, 100].map((rate) => `${rate};${5 + 0.2 * rate}`), ...[90, 50, 20, 10].map((rate) => `${rate};${2 + 0.2 * rate}`)].join('\n');

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
  await first.locator('#file').setInputFiles({ name: 'gel.toml', mimeType: 'text/plain', buffer: await readFile(GEL) });
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
});

const plate = () => page.locator('#plate-flow');
const figure = () => plate().locator('.plate-figure');
const read = () => plate().locator('.cursor-read').innerText();
const ends = () => plate().locator('g.plot').evaluate((group) => ['data-x-low', 'data-x-high'].map((name) => Number(group.getAttribute(name))));
const drawnAnew = async (/** @type {() => Promise<unknown>} */ act) => {
  const before = await ends();
  await act();
  await page.waitForFunction((was) => { const group = document.querySelector('#plate-flow g.plot'); return group && was.join() !== ['data-x-low', 'data-x-high'].map((name) => Number(group.getAttribute(name))).join(); }, before);
};

async function openFormula() {
  await page.goto(new URL(formula, server.url).href);
  await plate().waitFor();
}

async function measure(/** @type {string} */ text) {
  await page.goto(`${server.url}measurement`);
  await page.locator('#pasted').fill(text);
  await page.waitForTimeout(450);
  await page.waitForFunction(() => document.documentElement.dataset.measuring === '0');
}

describe('the flow of a formula', () => {
  test('the viscosity of the brief stands in the strip and in the margin, with its interval, grade and derivation', async () => {
    await openFormula();
    const number = page.locator('.strip div', { hasText: 'Viscosity' }).locator('.num').first();
    assert.match(await number.innerText(), /\d/);
    assert.match((await number.getAttribute('aria-label')) ?? '', /between .* and .* mPa·s/);
    assert.match(await page.locator('.margin .note.reading', { hasText: 'wanted 5000 to 7000' }).innerText(), /mPa·s.*\(\d+ to \d+\)/s);
    await number.focus();
    await page.keyboard.press('Enter');
    await page.locator('#derivation').getByText('What went in').waitFor();
    await page.keyboard.press('Escape');
    assert.ok(await number.evaluate((element) => element === document.activeElement));
    assert.deepEqual(wrong, []);
  });

  test('the cursor reads where the logarithmic axis says', async () => {
    await openFormula();
    await figure().scrollIntoViewIfNeeded();
    const at = await figure().evaluate((element) => {
      const group = /** @type {SVGGElement} */ (element.querySelector('g.plot'));
      const take = (/** @type {string} */ name) => Number(group.getAttribute(`data-${name}`));
      const matrix = /** @type {DOMMatrix} */ (/** @type {SVGSVGElement} */ (element.querySelector('svg')).getScreenCTM());
      const [low, high] = [take('x-low'), take('x-high')];
      const x = take('left') + (Math.log(10 / low) / Math.log(high / low)) * (take('right') - take('left'));
      const point = new DOMPoint(x, (take('top') + take('bottom')) / 2).matrixTransform(matrix);
      return [point.x, point.y];
    });
    await page.mouse.move(at[0], at[1]);
    assert.match(await read(), /Shear rate, 1\/s 10\.0\s/);
    // The cursor line stands under the pointer and its ring on the curve.
    const line = await figure().locator('.cursor line').boundingBox();
    assert.ok(line && Math.abs(line.x + line.width / 2 - at[0]) < 2);
    assert.equal(await figure().locator('.cursor circle').getAttribute('visibility'), 'visible');
    assert.deepEqual(wrong, []);
  });

  test('keys look closer, along and at the whole again; the table stays whole', async () => {
    await openFormula();
    await figure().focus();
    await page.keyboard.press('ArrowRight');
    assert.match(await read(), /Shear rate/);
    const rows = await plate().locator('.plate-table tbody tr').count();
    const whole = await ends();
    await drawnAnew(() => page.keyboard.press('+'));
    const closer = await ends();
    assert.ok(Math.log(closer[1] / closer[0]) < 0.6 * Math.log(whole[1] / whole[0]));
    await drawnAnew(() => page.keyboard.press('Shift+ArrowRight'));
    assert.ok((await ends())[0] > closer[0]);
    assert.equal(await plate().locator('.plate-table tbody tr').count(), rows);
    await page.keyboard.press('End');
    assert.match(await read(), /Shear rate/);
    await drawnAnew(() => page.keyboard.press('0'));
    assert.deepEqual(await ends(), whole);
    assert.deepEqual(wrong, []);
  });

  test('the pointer draws over the part to look at; the stress is a choice', async () => {
    await openFormula();
    await figure().scrollIntoViewIfNeeded();
    const box = await figure().boundingBox();
    assert.ok(box);
    await page.mouse.move(box.x + 0.4 * box.width, box.y + 0.4 * box.height);
    await page.mouse.down();
    await page.mouse.move(box.x + 0.5 * box.width, box.y + 0.4 * box.height);
    await page.mouse.move(box.x + 0.6 * box.width, box.y + 0.4 * box.height);
    await drawnAnew(() => page.mouse.up());
    await drawnAnew(() => plate().getByRole('button', { name: 'Wider' }).click());
    await drawnAnew(() => plate().getByRole('button', { name: 'Whole' }).click());
    await plate().getByRole('radio', { name: 'Stress' }).check();
    await plate().locator('svg text', { hasText: 'Stress, Pa' }).waitFor();
    assert.ok(await plate().getByRole('radio', { name: 'Stress' }).evaluate((element) => element === document.activeElement), 'the focus stays');
    assert.deepEqual(wrong, []);
  });

  test('what it means in use stands under the curve, with sizes that can be set and numbers that explain themselves', async () => {
    await openFormula();
    const use = page.locator('.in-use');
    await use.waitFor();
    const run = use.locator('dl.pairs > div', { hasText: 'Runs in' }).locator('.num');
    const before = await run.innerText();
    await use.getByLabel('Dose on the hand, mL').fill('2');
    await page.keyboard.press('Tab');
    await page.waitForFunction((was) => { const now = [...document.querySelectorAll('.in-use dl.pairs > div')].find((one) => /Runs in/.test(one.textContent ?? ''))?.querySelector('.num'); return now && /** @type {HTMLElement} */ (now).innerText !== was; }, before);
    await use.getByLabel('Tilt of the hand, degrees').fill('400');
    await page.keyboard.press('Tab');
    await use.getByText('“400” cannot be').waitFor();
    assert.equal(await use.getByLabel('Tilt of the hand, degrees').inputValue(), '400', 'what is typed stays');
    await run.click();
    await page.locator('#derivation').getByText('How far it holds').waitFor();
    await page.keyboard.press('Escape');
    assert.deepEqual(await page.evaluate(tooFaint), []);
    assert.deepEqual(wrong, []);
  });

  test('the level for a viscosity is found under the curve, with the levels to make', async () => {
    await openFormula();
    const level = page.locator('.level');
    await level.waitFor();
    await level.getByLabel('Viscosity wanted').fill('much');
    await level.getByRole('button', { name: 'Find the level' }).click();
    await level.getByText('“much” is no viscosity').waitFor();
    await level.getByLabel('Viscosity wanted').fill('6000');
    await page.keyboard.press('Enter');
    const rungs = level.locator('tbody tr');
    await rungs.first().waitFor();
    const percents = (await rungs.locator('td:first-child').allInnerTexts()).map(Number);
    assert.deepEqual([...percents].sort((a, b) => a - b), percents);
    assert.ok(percents.every((percent) => percent > 0.1 && percent < 10), String(percents));
    await level.locator('.found-level .num').click();
    await page.locator('#derivation').getByText('How far it holds').waitFor();
    await page.keyboard.press('Escape');
    assert.deepEqual(await page.evaluate(tooFaint), []);
    assert.deepEqual(wrong, []);
  });

  test('it is taken away as SVG, PNG and CSV, and prints', async () => {
    await openFormula();
    for (const kind of ['SVG', 'PNG', 'CSV']) {
      const waiting = page.waitForEvent('download');
      await plate().getByRole('button', { name: `Take the figure away as ${kind}` }).click();
      const download = await waiting;
      assert.equal(download.suggestedFilename(), `flow.${kind.toLowerCase()}`);
      const bytes = await readFile(await download.path());
      if (kind === 'SVG') assert.ok(!/var\(|currentColor|<script/.test(bytes.toString()));
      if (kind === 'PNG') assert.equal(bytes.subarray(1, 4).toString(), 'PNG');
      if (kind === 'CSV') assert.match(bytes.toString(), /^"Shear rate, 1\/s","predicted, mPa·s",from,to/);
    }
    await page.emulateMedia({ media: 'print' });
    assert.ok(await figure().isVisible());
    assert.ok(await plate().locator('.plate-view').isHidden());
    assert.deepEqual(wrong, []);
  });
});

describe('a measured flow curve', () => {
  test('columns are understood, a model is taken and why, another can be chosen and what it means is told', async () => {
    await measure(MEASURED);
    assert.match(await page.locator('.columns-table').innerText(), /shear rate/);
    assert.match(await page.locator('.book-first').innerText(), /Herschel-Bulkley describes 8 points/);
    // The points are 8 + 5 g^0.5 exactly.
    const parameters = await page.locator('.fits-table tr.chosen').innerText();
    assert.match(parameters, /yield stress\s+8/);
    assert.match(parameters, /flow index\s+0\.5/);
    await page.getByRole('radio', { name: /Power law/ }).check();
    await page.locator('.note', { hasText: 'Power law instead of Herschel-Bulkley' }).first().waitFor();
    await page.getByRole('button', { name: 'Take the one the points speak for' }).click();
    await page.waitForFunction(() => /Herschel-Bulkley/.test(document.querySelector('.fits-table tr.chosen')?.textContent ?? ''));
    await page.getByLabel('Highest shear rate that is fitted, 1/s').fill('25');
    await page.keyboard.press('Enter');
    await page.getByText('2 of 8 points lie outside').waitFor();
    assert.deepEqual(wrong, []);
  });

  test('what cannot be read is told with what to do, and stays as it was pasted', async () => {
    await measure('nothing here is a number\nnor here');
    const told = page.locator('.troubles .field-trouble');
    await told.first().waitFor();
    assert.equal(await page.locator('#pasted').inputValue(), 'nothing here is a number\nnor here');
    await measure(MEASURED.replace('shear stress [Pa]', 'shear stress'));
    await page.locator('.note', { hasText: 'to confirm' }).first().waitFor();
    await page.getByLabel('Unit of shear stress').selectOption({ label: 'mPa' });
    await page.waitForFunction(() => !/to confirm/.test(document.querySelector('.measured-part .in-margin')?.textContent ?? '') && /0\.001/.test(document.querySelector('.columns-table')?.textContent ?? ''));
    assert.deepEqual(wrong, []);
  });

  test('a file is dropped, named, and put aside', async () => {
    await page.goto(`${server.url}measurement`);
    await page.locator('#file').setInputFiles({ name: 'gel-7.csv', mimeType: 'text/csv', buffer: Buffer.from(MEASURED) });
    await page.getByText('gel-7.csv').waitFor();
    await page.locator('.fits-table').first().waitFor();
    await page.getByRole('button', { name: 'Put it aside' }).click();
    assert.ok(await page.locator('#pasted').isVisible());
    assert.deepEqual(wrong, []);
  });

  test('a curve is kept with a trial, seen among its readings and on the flow curve of the formula, and taken back', async () => {
    await page.goto(new URL(`${formula}/trials`, server.url).href);
    await page.getByRole('button', { name: 'Begin a trial' }).click();
    await page.locator('.entry .main-verb').click();
    await page.locator('#trial-1').waitFor();
    await page.getByRole('link', { name: 'Add a flow curve' }).click();
    await page.locator('#pasted').fill(MEASURED);
    await page.locator('.fits-table').first().waitFor();
    await page.waitForFunction(() => /trial 1/.test(/** @type {HTMLSelectElement} */ (document.querySelector('.entry [name=trial]'))?.selectedOptions[0]?.textContent ?? ''));
    await page.locator('.entry [name=temperature_c]').fill('25');
    await page.locator('.entry [name=age]').fill('7 d');
    await page.getByRole('button', { name: 'Keep the curve' }).click();
    await page.getByRole('link', { name: 'See it among the readings' }).click();
    const kept = page.locator('.curve').last();
    await kept.waitFor();
    assert.match(await kept.innerText(), /8\s+points[\s\S]*0\.25 to 100 1\/s, 25\s°C, 7 d old/);
    await kept.getByText('yield stress').waitFor();
    await openFormula();
    await plate().locator('svg text', { hasText: 'trial 1, 7 d' }).first().waitFor();
    assert.match((await plate().locator('.plate-table thead').textContent()) ?? '', /trial 1, 7 d, up, mPa·s/);
    await page.goto(new URL(`${formula}/trials`, server.url).href);
    await kept.getByRole('button', { name: 'Correct curve 1' }).click();
    await page.locator('.entry [name=reason]').fill('the wrong beaker');
    await page.getByRole('button', { name: 'Take it back' }).click();
    await page.getByText('the wrong beaker').first().waitFor();
    await openFormula();
    assert.equal(await plate().locator('svg text', { hasText: 'trial 1' }).count(), 0);
    assert.deepEqual(wrong, []);
  });

  test('a curve whose answer is lost waits here, is sent again and kept once', async () => {
    await page.goto(new URL(`${formula}/trials`, server.url).href);
    await page.locator('#trial-1').waitFor();
    const before = await page.locator('.curve').count();
    await page.getByRole('link', { name: 'Add a flow curve' }).first().click();
    await page.locator('#pasted').fill(MEASURED);
    await page.locator('.fits-table').first().waitFor();
    await page.waitForFunction(() => /trial \d/.test(/** @type {HTMLSelectElement} */ (document.querySelector('.entry [name=trial]'))?.selectedOptions[0]?.textContent ?? ''));
    await page.route('**/curves', async (route) => { await route.fetch(); await route.abort(); }, { times: 1 });
    await page.getByRole('button', { name: 'Keep the curve' }).click();
    await page.locator('.kept-with', { hasText: 'One curve waits to be sent' }).waitFor();
    assert.equal(await page.evaluate(() => JSON.parse(localStorage.getItem('levigate-curves') ?? '[]').length), 1);
    await page.locator('.kept-with', { hasText: 'It had arrived before, and is kept once' }).waitFor();
    assert.equal(await page.evaluate(() => localStorage.getItem('levigate-curves')), null);
    await page.getByRole('link', { name: 'See it among the readings' }).click();
    await page.locator('.curve').nth(before).waitFor();
    assert.equal(await page.locator('.curve').count(), before + 1);
    assert.deepEqual(wrong.filter((one) => !/ERR_FAILED|Failed to load resource|Failed to fetch/.test(one)), []);
  });

  test('a recovery after shear is understood, drawn, its laws told, and its clock put right', async () => {
    await measure(RECOVERED);
    assert.match(await page.locator('.columns-table').innerText(), /time/);
    // 30 - 20 exp(-t / 50); 55 s on the clock are 5 s after the shear, where it is 11.9.
    // The unit of the time is not written, and decides the time of recovery.
    await page.locator('.note', { hasText: 'to confirm' }).first().waitFor();
    await page.getByLabel('Unit of time').selectOption({ label: 's' });
    await page.locator('.book-first', { hasText: 'Read as a recovery after the shear at 1000 1/s' }).waitFor();
    await page.getByRole('heading', { name: 'Laws fitted to it' }).waitFor();
    const constants = await page.locator('.fits-table tr.chosen').innerText();
    assert.match(constants, /right after the shear\s+10/);
    assert.match(constants, /in the end\s+30/);
    assert.match(constants, /time of recovery\s+50/);
    const says = page.locator('.note', { hasText: 'what it says' });
    assert.match(await says.innerText(), /share of the way back at the last reading\s+0\.99/);
    assert.match(await says.innerText(), /last reading over that before the shear\s+0\.7/);
    const plate = page.locator('.measured-part', { hasText: 'The recovery' }).locator('.plate');
    await plate.locator('svg text', { hasText: 'before the shear' }).waitFor();
    assert.equal(await plate.locator('.plate-table tbody tr').count(), 25);
    assert.match((await plate.locator('.plate-table thead').textContent()) ?? '', /Time after the shear, s.*first order/);
    await plate.locator('.plate-figure').focus();
    await page.keyboard.press('ArrowRight');
    assert.match(await plate.locator('.cursor-read').innerText(), /Time after the shear/);
    await page.getByLabel('When the strong shear ended, s on the clock of the table').fill('55');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => /11\.9/.test(document.querySelector('.fits-table tr.chosen .parameter')?.textContent ?? ''));
    await page.getByLabel('When the strong shear ended, s on the clock of the table').fill('soon');
    await page.keyboard.press('Enter');
    await page.getByText('“soon” is no time').waitFor();
    assert.deepEqual(await page.evaluate(tooFaint), []);
    assert.deepEqual(wrong, []);
  });

  test('a recovery that cannot be told says why, and what was pasted stays', async () => {
    await measure('time [s];stress [Pa]\n0;3\n1;4\n2;5\n3;6\n4;7');
    await page.getByText('a viscosity only with the shear rate it was read at').first().waitFor();
    await measure('time [s];viscosity [Pa.s]\n0;3\n1;2.5\n2;2.2\n3;2.1\n4;2.05\n5;2.02');
    await page.getByText('this is no recovery').first().waitFor();
    assert.deepEqual(wrong, []);
  });

  test('the loop between a rising and a falling sweep is told', async () => {
    await measure(LOOP);
    const part = page.locator('.measured-part', { hasText: 'What the curves say together' });
    await part.waitFor();
    assert.match(await part.innerText(), /area of the loop\s+240/);
    assert.deepEqual(await page.evaluate(tooFaint), []);
    assert.deepEqual(wrong, []);
  });

  test('a recovery is kept with a trial and stands among its readings with its law', async () => {
    await page.goto(new URL(`${formula}/trials`, server.url).href);
    await page.getByRole('button', { name: 'Begin a trial' }).click();
    await page.locator('.entry .main-verb').click();
    const trial = page.locator('[id^=trial-]').first();
    await trial.waitFor();
    await page.getByRole('link', { name: 'Add a flow curve' }).first().click();
    await page.locator('#pasted').fill(RECOVERED.replace('time;', 'time [s];'));
    await page.locator('.fits-table').first().waitFor();
    await page.waitForFunction(() => /trial \d/.test(/** @type {HTMLSelectElement} */ (document.querySelector('.entry [name=trial]'))?.selectedOptions[0]?.textContent ?? ''));
    await page.getByRole('button', { name: 'Keep the curve' }).click();
    await page.getByRole('link', { name: 'See it among the readings' }).click();
    const kept = page.locator('.curve', { hasText: 'Recovery after shear' }).last();
    await kept.waitFor();
    assert.match(await kept.innerText(), /25\s+readings[\s\S]*over 250 s, at 0\.5 1\/s, after 1000 1\/s/);
    await kept.getByText('time of recovery').waitFor();
    assert.match(await kept.innerText(), /share of the way back at the last reading\s+0\.99/);
    await openFormula();
    assert.equal(await plate().locator('svg text', { hasText: 'trial 2' }).count(), 0, 'readings over time are no points of a flow curve');
    assert.deepEqual(wrong, []);
  });

  for (const light of /** @type {const} */ (['light', 'dark'])) {
    test(`what is drawn and told is strong enough to be read, ${light}`, async () => {
      await context.close();
      context = await browser.newContext({ viewport: { width: 1440, height: 900 }, colorScheme: light, locale: 'en-GB' });
      page = await watched(context, server.url, wrong);
      await measure(MEASURED);
      assert.deepEqual(await page.evaluate(tooFaint), []);
      await page.getByRole('radio', { name: /Power law/ }).check();
      await page.locator('.note', { hasText: 'Power law instead of' }).first().waitFor();
      assert.deepEqual(await page.evaluate(tooFaint), []);
      await measure('nothing here is a number\nnor here');
      assert.deepEqual(await page.evaluate(tooFaint), []);
      await openFormula();
      await figure().focus();
      await page.keyboard.press('ArrowRight');
      assert.deepEqual(await page.evaluate(tooFaint), []);
    });
  }

  test('nothing is wider than a tablet, and what is pressed with a glove is high enough', async () => {
    await context.close();
    context = await browser.newContext({ viewport: { width: 820, height: 1180 }, locale: 'en-GB', hasTouch: true, isMobile: true });
    page = await watched(context, server.url, wrong);
    await measure(MEASURED);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth + 1));
    const small = await page.evaluate(() => [...document.querySelectorAll('main button:not(.num), main input:not([type=radio]):not([type=file]), main select, main textarea, main summary, main label.model-choice, main .either label')]
      .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height > 1).map((one) => ({ what: (one.getAttribute('aria-label') ?? one.textContent ?? '').slice(0, 40), height: one.getBoundingClientRect().height })).filter((one) => one.height < 43.5));
    assert.deepEqual(small, []);
  });
});
