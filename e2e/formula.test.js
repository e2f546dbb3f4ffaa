// The formula page, driven like a person would: keyboard, paste, undo, two tabs, paper.
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

const openPage = () => watched(context, server.url, wrong);

/** @param {import('playwright-core').Page} target */
async function openFormula(target) {
  await target.goto(new URL(formula, server.url).href);
  await target.waitForFunction(() => document.documentElement.dataset.judged !== undefined);
}

/** Waits until the answer to the last edit is on the page. @param {() => Promise<void>} act */
async function judgedAfter(act) {
  const number = await page.evaluate(() => document.documentElement.dataset.judged);
  await act();
  await page.waitForFunction((was) => document.documentElement.dataset.judged !== was, number);
}

const line = (number) => page.locator(`input[aria-label="Raw material, line ${number}"]`);
const amount = (number) => page.locator('.rows .line').nth(number - 1).locator('.amount input');
const settled = (number) => page.locator('.rows .line').nth(number - 1).locator('.settled .num');
const lines = () => page.locator('.rows .line').count();
const shownPh = () => page.locator('.strip dd').first().innerText();

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
  context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB' });
  page = await openPage();
  await page.goto(`${server.url}formulas`);
  if (!formula) formula = (await page.locator('.shelf a', { hasText: 'andelic' }).first().getAttribute('href')) ?? '';
  await openFormula(page);
  const back = page.getByRole('button', { name: /^Go back to version/ });
  if (await back.count()) { await back.click(); await page.waitForTimeout(300); await openFormula(page); }
});

describe('the formula page', () => {
  test('a target that is read diluted says so, and the pH is told as it is wanted', async () => {
    const how = page.getByLabel('How the pH is read');
    assert.equal(await how.inputValue(), '');
    await judgedAfter(async () => { await how.selectOption('10 % in water'); });
    await judgedAfter(async () => { await page.getByLabel('Temperature at which the pH is read, °C').fill('20'); await page.keyboard.press('Tab'); });
    const note = page.locator('.note.reading', { hasText: 'is the pH as it is wanted: read 10 % in water, 20 °C; wanted 3.6 to 4.0' });
    await note.waitFor();
    assert.match(await note.innerText(), /^3\.\d/);
    // Without a window there is nothing to read.
    await judgedAfter(async () => { await page.getByLabel('Lower end of the pH window').fill(''); await page.getByLabel('Upper end of the pH window').fill(''); await page.keyboard.press('Tab'); });
    assert.equal(await how.isVisible(), false);
    assert.equal(await note.count(), 0);
  });

  test('an edited percentage shows its consequence at once, without a page load', async () => {
    let loads = 0;
    page.on('load', () => { loads += 1; });
    const typed = page.locator('.rows .line:has(select[data-field=kind]) .amount input');
    const many = await typed.count();
    let at = 1;
    while (at <= many && !/^\d/.test(await amount(at).inputValue())) at += 1;
    const first = await settled(1).getAttribute('aria-label');
    const took = await page.evaluate(async (index) => {
      const input = /** @type {HTMLInputElement} */ (document.querySelectorAll('.rows .line')[index].querySelector('.amount input'));
      const cell = document.querySelectorAll('.rows .line')[0].querySelector('.settled .num');
      const times = [];
      for (const value of ['1.1', '1.2', '1.3', '1.4', '1.5']) {
        const was = cell?.getAttribute('aria-label');
        const start = performance.now();
        input.focus();
        input.value = value;
        input.dispatchEvent(new Event('input', { bubbles: true }));
        while (cell?.getAttribute('aria-label') === was && performance.now() - start < 5000) await new Promise((resolve) => { requestAnimationFrame(resolve); });
        times.push(performance.now() - start);
      }
      return times.sort((a, b) => a - b)[2];
    }, at - 1);
    assert.notEqual(await settled(1).getAttribute('aria-label'), first);
    assert.equal(loads, 0);
    console.log(`keystroke to updated page: ${took.toFixed(0)} ms (median of 5)`);
    assert.ok(took < Number(process.env.KEYSTROKE_MS ?? 400), `${took} ms`);
    assert.match(await page.locator('.last-edit summary').innerText(), /moved \d+ number/);
    assert.deepEqual(wrong, []);
  });

  test('the keyboard alone edits, walks, restores, moves, takes out and adds', async () => {
    await line(2).focus();
    const name = await line(2).inputValue();
    await page.keyboard.press('Enter');
    assert.equal(await page.evaluate(() => document.activeElement?.getAttribute('aria-label')), 'Raw material, line 3');
    await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Tab');
    assert.match(await page.evaluate(() => document.activeElement?.getAttribute('aria-label') ?? ''), /^Amount of/);
    const was = await amount(2).inputValue();
    await page.keyboard.type('7.25');
    await page.keyboard.press('Escape');
    assert.equal(await amount(2).inputValue(), was);
    await line(2).focus();
    await page.keyboard.press('Alt+ArrowDown');
    assert.equal(await line(3).inputValue(), name);
    await page.keyboard.press('Alt+ArrowUp');
    assert.equal(await line(2).inputValue(), name);
    const many = await lines();
    await page.keyboard.press('Alt+Delete');
    assert.equal(await lines(), many - 1);
    await page.keyboard.press('Control+z');
    assert.equal(await lines(), many);
    await page.locator('input[data-field=ghost]').first().focus();
    await page.keyboard.type('Glycer');
    await page.locator('.offers [role=option]').first().waitFor();
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('Enter');
    assert.equal(await lines(), many + 1);
    assert.match(await page.evaluate(() => document.activeElement?.getAttribute('aria-label') ?? ''), /^Amount of Glycer/);
    await judgedAfter(() => page.keyboard.type('2'));
    assert.deepEqual(wrong, []);
  });

  test('undo goes back to the first keystroke of the session and redo forward again', async () => {
    const start = await amount(3).inputValue();
    const add = page.locator('input[data-field=ghost]').last();
    const many = await lines();
    await amount(3).fill('1.1');
    await amount(3).press('Enter');
    await amount(3).fill('1.2');
    await amount(3).press('Enter');
    await add.focus();
    await page.keyboard.type('Allantoin');
    assert.equal(await lines(), many + 1);
    for (let step = 0; step < 3; step += 1) await page.keyboard.press('Control+z');
    assert.equal(await amount(3).inputValue(), start);
    assert.equal(await lines(), many);
    assert.ok(await page.getByRole('button', { name: 'Undo' }).isDisabled());
    for (let step = 0; step < 3; step += 1) await page.keyboard.press('Control+y');
    assert.equal(await amount(3).inputValue(), '1.2');
    assert.equal(await lines(), many + 1);
    assert.deepEqual(wrong, []);
  });

  test('a block and a column from a spreadsheet fill the lines', async () => {
    /** @param {string} text */
    const paste = (text) => page.evaluate((content) => {
      const data = new DataTransfer();
      data.setData('text/plain', content);
      document.activeElement?.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
    }, text);
    const many = await lines();
    await page.locator('input[data-field=ghost]').last().focus();
    await paste('Glycerin\t3,5\nAllantoin\t0.15\nXanthan gum\t0.2\n');
    assert.equal(await lines(), many + 3);
    assert.equal(await amount(many + 1).inputValue(), '3.5');
    await amount(many + 1).focus();
    await paste('4\n0,2\n0,3');
    assert.equal(await amount(many + 2).inputValue(), '0.2');
    assert.equal(await amount(many + 3).inputValue(), '0.3');
    await page.keyboard.press('Control+z');
    await page.keyboard.press('Control+z');
    assert.equal(await lines(), many);
    assert.deepEqual(wrong, []);
  });

  test('a decimal comma is understood, and echoed to those who want it', async () => {
    await judgedAfter(() => amount(3).fill('1,25'));
    await amount(3).blur();
    assert.equal(await amount(3).inputValue(), '1.25');
    await page.evaluate(() => localStorage.setItem('levigate-settings', JSON.stringify({ sign: 'comma' })));
    await page.waitForTimeout(400);
    await openFormula(page);
    assert.equal(await amount(3).inputValue(), '1,25');
    assert.match((await settled(3).textContent()) ?? '', /1,25/);
    assert.deepEqual(wrong, []);
  });

  test('what cannot be read stays as typed and is told beside the field', async () => {
    await amount(3).fill('1.2.3');
    const trouble = page.locator('.rows .line').nth(2).locator('.field-trouble');
    await trouble.waitFor();
    assert.equal(await amount(3).inputValue(), '1.2.3');
    assert.ok((await trouble.innerText()).length > 20);
    await amount(3).fill('0.5');
    await trouble.waitFor({ state: 'detached' });
    assert.deepEqual(wrong, []);
  });

  test('a number opens how it came about, Escape closes it and the focus comes back', async () => {
    const ph = page.locator('.strip .num').first();
    await ph.focus();
    await page.keyboard.press('Enter');
    const panel = page.locator('#derivation');
    await panel.waitFor();
    assert.match(await panel.innerText(), /What went in|How far it holds/);
    assert.match(await panel.innerText(), /computed|measured|correlated|calibrated|rule of thumb/);
    await page.keyboard.press('Escape');
    assert.ok(await panel.isHidden());
    assert.ok(await ph.evaluate((element) => element === document.activeElement));
    await page.locator('.note .why').first().click();
    assert.match(await panel.innerText(), /Rule or model/);
    await page.keyboard.press('Escape');
    assert.deepEqual(wrong, []);
  });

  test('a draft survives a crash of the tab', async () => {
    await amount(3).fill('1.77');
    await page.waitForFunction(() => /kept at/.test(document.querySelector('.kept')?.textContent ?? ''));
    await page.close();
    page = await openPage();
    await openFormula(page);
    assert.equal(await amount(3).inputValue(), '1.77');
    await page.getByRole('button', { name: /^Go back to version/ }).click();
    await page.waitForFunction(() => !/1\.77/.test(/** @type {any} */ (document.querySelectorAll('.rows .line')[2].querySelector('.amount input')).value));
    assert.deepEqual(wrong, []);
  });

  test('two tabs: the later save is told, nothing is lost, and it can be saved on top', async () => {
    const other = await openPage();
    await openFormula(other);
    const there = other.locator('.rows .line').nth(2).locator('.amount input');
    await there.fill('1.31');
    await other.getByRole('button', { name: /^Save as version/ }).click();
    await other.getByLabel('Reason for this version').fill('the other tab');
    await other.locator('.fold button[type=submit]').click();
    await other.waitForFunction(() => /saved as version/.test(document.querySelector('.kept')?.textContent ?? ''));
    await amount(3).fill('1.32');
    await page.getByRole('button', { name: /^Save as version/ }).click();
    await page.getByLabel('Reason for this version').fill('this tab');
    await page.locator('.fold button[type=submit]').click();
    const told = page.locator('.fold[role=alert]');
    await told.waitFor();
    assert.match(await told.innerText(), /was saved while you were writing/);
    assert.equal(await amount(3).inputValue(), '1.32');
    await page.getByRole('button', { name: /^Save mine on top/ }).click();
    await page.waitForFunction(() => /saved as version/.test(document.querySelector('.kept')?.textContent ?? ''));
    await page.getByRole('button', { name: 'Versions' }).click();
    await page.getByText('the other tab').waitFor();
    await page.locator('.fold a', { hasText: 'what changed' }).first().click();
    await page.getByRole('heading', { name: 'Two versions side by side' }).waitFor();
    await page.locator('#difference table').first().waitFor();
    assert.match(await page.locator('#difference').innerText(), /1\.31[\s\S]*1\.32/);
    assert.deepEqual(wrong, []);
  });

  test('two tabs: a draft of the other is told and neither is lost', async () => {
    const other = await openPage();
    await openFormula(other);
    const there = other.locator('.rows .line').nth(2).locator('.amount input');
    await there.fill('1.41');
    await other.waitForFunction(() => /kept at/.test(document.querySelector('.kept')?.textContent ?? ''));
    await amount(3).fill('1.42');
    await page.getByText('Another tab kept a draft').waitFor();
    assert.equal(await amount(3).inputValue(), '1.42', 'what is typed stays');
    const third = await openPage();
    await openFormula(third);
    assert.equal(await third.locator('.rows .line').nth(2).locator('.amount input').inputValue(), '1.41', 'the draft of the other is not written over');
    await third.close();
    await page.getByRole('button', { name: 'Keep mine instead' }).click();
    await page.waitForFunction(() => /kept at/.test(document.querySelector('.kept')?.textContent ?? ''));
    await there.fill('1.43');
    await other.getByText('Another tab kept a draft').waitFor();
    await other.getByRole('button', { name: 'Show the other draft' }).click();
    await other.waitForFunction(() => /** @type {any} */ (document.querySelectorAll('.rows .line')[2]?.querySelector('.amount input'))?.value === '1.42');
    await other.close();
    assert.deepEqual(wrong, []);
  });

  test('metals are named, measured and taken off in the head of the sheet', async () => {
    await page.getByLabel('Add a metal that water or raw materials may bring').selectOption({ label: 'calcium' });
    const calcium = page.getByLabel('calcium, mg per kg of product');
    assert.ok(await calcium.evaluate((element) => element === document.activeElement));
    await judgedAfter(() => calcium.fill('40,5'));
    await calcium.blur();
    assert.equal(await calcium.inputValue(), '40.5');
    await page.waitForFunction(() => /calcium|Ca/.test(document.querySelector('#readings')?.textContent ?? ''));
    await calcium.fill('four');
    await page.locator('.head .field-trouble').waitFor();
    assert.ok(await calcium.evaluate((element) => element.classList.contains('bad')));
    await calcium.fill('');
    await calcium.blur();
    await calcium.waitFor({ state: 'detached' });
    await page.keyboard.press('Control+z');
    assert.deepEqual(wrong, []);
  });

  test('sheets are laid out for the paper of the person', async () => {
    const size = async () => /MediaBox ?\[ ?0 0 ([\d.]+) ([\d.]+)/.exec((await page.pdf({ preferCSSPageSize: true })).toString('latin1'))?.slice(1, 3).map((one) => Math.round(Number(one)));
    await page.goto(`${server.url}settings`);
    await page.getByLabel('Letter, 8½ by 11 in').check();
    await page.goto(new URL(`${formula}/batch-sheet`, server.url).href);
    await page.waitForLoadState('networkidle');
    assert.equal(await page.getByLabel('Paper').inputValue(), 'letter');
    assert.match((await page.locator('#pdf').getAttribute('href')) ?? '', /paper=letter/);
    assert.deepEqual(await size(), [612, 792]);
    await page.getByLabel('Paper').selectOption('a4');
    assert.match((await page.locator('#pdf').getAttribute('href')) ?? '', /paper=a4/);
    await page.waitForTimeout(200);
    assert.deepEqual(await size(), [595, 842]);
    await openFormula(page);
    assert.deepEqual(await size(), [595, 842]);
    assert.deepEqual(wrong, []);
  });

  test('figures have a cursor for the keyboard, a table and a caption', async () => {
    const figure = page.locator('.plate-figure[tabindex="0"]').first();
    await figure.waitFor();
    await figure.focus();
    await page.keyboard.press('ArrowRight');
    assert.match(await page.locator('.cursor-read').filter({ hasText: /\d/ }).first().innerText(), /pH/);
    const plate = page.locator('.plate').first();
    await plate.locator('summary').click();
    assert.ok((await plate.locator('.plate-table tr').count()) > 2);
    assert.match(await plate.locator('figcaption').innerText(), /^Plate 1\./);
    assert.deepEqual(wrong, []);
  });

  test('sixty lines stay fluent', async () => {
    await page.locator('input[data-field=ghost]').last().focus();
    await page.evaluate(() => {
      const data = new DataTransfer();
      data.setData('text/plain', Array.from({ length: 60 }, (_, index) => `Glycerin\t0.${index + 10}`).join('\n'));
      document.activeElement?.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
    });
    await page.waitForTimeout(1500);
    const took = await page.evaluate(async () => {
      const input = /** @type {HTMLInputElement} */ (document.querySelectorAll('.rows .line')[30].querySelector('.amount input'));
      const times = [];
      for (let index = 0; index < 7; index += 1) {
        const start = performance.now();
        input.focus();
        input.value = `0.${index + 31}`;
        input.dispatchEvent(new Event('input', { bubbles: true }));
        times.push(performance.now() - start);
        await new Promise((resolve) => { setTimeout(resolve, 120); });
      }
      return times.sort((a, b) => a - b)[3];
    });
    console.log(`60 more lines: a keystroke holds the page for ${took.toFixed(0)} ms (median of 7)`);
    assert.ok(took < 100, `${took} ms`);
    assert.deepEqual(wrong, []);
  });

  test('paper: the sheet prints without verbs, the notes under their lines; the batch sheet has boxes', async () => {
    await page.emulateMedia({ media: 'print' });
    assert.ok(await page.locator('.top').isHidden());
    assert.ok(await page.locator('.verb-row').isHidden());
    await page.waitForFunction(() => document.querySelectorAll('.slot .note').length > 0);
    const bytes = await page.pdf({ format: 'A4' });
    assert.ok(bytes.length > 10000);
    await page.emulateMedia({ media: 'screen' });
    await page.goto(new URL(`${formula}/batch-sheet?size=500`, server.url).href);
    assert.match(await page.locator('.batch-paper').innerText(), /500/);
    assert.ok((await page.locator('.batch-paper td.box').count()) > 6);
    assert.ok((await page.pdf({ format: 'Letter' })).length > 5000);
    assert.deepEqual(wrong, []);
  });

  test('nothing on the page is wider than a tablet', async () => {
    await page.setViewportSize({ width: 820, height: 1180 });
    await page.waitForTimeout(200);
    for (const path of [formula, '/formulas', '/materials?words=acid', '/measurement', '/settings', '/reading-numbers', '/materials/new', `${formula}/batch-sheet`]) {
      await page.goto(new URL(path, server.url).href);
      await page.waitForTimeout(200);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth + 1), path);
    }
    assert.deepEqual(wrong, []);
  });

  test('pages that are not there say so and lead back', async () => {
    const response = await page.goto(`${server.url}formulas/none-such`);
    assert.equal(response?.status(), 404);
    await page.getByRole('link', { name: 'To the formulas' }).click();
    await page.getByRole('heading', { name: 'Formulas' }).waitFor();
    void shownPh;
  });
});
