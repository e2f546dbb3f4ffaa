// Papers: a batch as PDF and workbook, and a sheet that was filled by hand typed back by the keyboard alone.
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
  context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB', timezoneId: 'Europe/Paris', acceptDownloads: true });
  page = await watched(context, server.url, wrong);
});

/** What a lost connection itself says. */
const serious = () => wrong.filter((one) => !/ERR_INTERNET_DISCONNECTED|ERR_FAILED|Failed to load resource|Failed to fetch/.test(one));

/** A batch of the night toner, begun, and the page that types its sheet back. @param {string} size */
async function begin(size = '200') {
  await page.goto(`${server.url}formulas`);
  await page.locator('.shelf li', { hasText: 'Night toner' }).locator('.shelf-trials').click();
  await page.getByRole('link', { name: 'Make it at the beaker' }).click();
  await page.locator('[name=size]').fill(size);
  await page.getByRole('button', { name: 'Begin', exact: true }).click();
  await page.waitForURL(/batches\/[0-9a-f-]{36}$/);
  await page.locator('.papers').waitFor();
  const id = page.url().split('/').pop();
  const { code } = await page.evaluate(async (id) => (await fetch(`/api/batches/${id}`)).json(), id);
  await page.getByRole('link', { name: 'Type a filled sheet back' }).click();
  await page.locator('.typed-rows').first().waitFor();
  const version = await page.evaluate(() => JSON.parse(document.getElementById('data')?.textContent ?? '').version_code);
  return { id, code, version };
}

/** @param {string|undefined} id */
const state = (id) => page.evaluate(async (id) => (await fetch(`/api/batches/${id}`)).json(), id);
const kept = () => page.locator('#link', { hasText: 'Everything is kept' }).waitFor();
const focused = () => page.evaluate(() => ({ name: /** @type {any} */ (document.activeElement)?.name ?? '', label: document.activeElement?.getAttribute('aria-label') ?? '' }));

/** Types into the field that has the focus and presses Enter, one after the other. @param {string[]} texts */
async function typed(...texts) {
  for (const text of texts) {
    if (text) await page.keyboard.insertText(text);
    await page.keyboard.press('Enter');
  }
}

describe('a filled sheet typed back', () => {
  test('goes number after number by Enter alone, and is kept as written on paper', async () => {
    const { id, code, version } = await begin();
    assert.equal((await focused()).name, 'code', 'the code is asked for first');
    await typed(`levigate/blank/${code}/${version}/1`, '', 'ik');
    assert.match((await focused()).label, /Vessel and stirrer/);
    await typed(''); // no vessel on this sheet
    assert.match((await focused()).label, /^1, Water, purified: reading 1/);
    await typed('', '165.50', '', '10:05', '');
    assert.match((await focused()).label, /^2, Betaine anhydrous: reading 1/, 'the next row is ready');
    await typed('10,02', '16,02', 'BT-1', '1007', 'mh');
    await kept();
    const now = await state(id);
    const [water, betaine] = now.entries;
    assert.equal(water.mass.net.typed, '165.50');
    assert.deepEqual([water.paper.initials, water.paper.timed, water.who.length > 0], ['ik', true, true]);
    assert.match(water.device_time, /T09:05:00.001Z$/, 'the time on the sheet is that of the wall in Paris');
    assert.ok(water.paper.typed_at > water.device_time || water.paper.typed_at.slice(0, 10) >= water.device_time.slice(0, 10));
    assert.deepEqual([betaine.mass.tare.typed, betaine.mass.gross.typed, betaine.lot.code, betaine.paper.initials], ['10,02', '16,02', 'BT-1', 'mh']);
    assert.equal(now.lines[1].actual.value, 6);
    assert.match(await page.locator('.typed-rows tr', { hasText: 'Betaine' }).first().innerText(), /6\.00 g in, within/);
    assert.deepEqual(wrong, []);
  });

  test('a sheet of another batch is refused at once, and nothing is kept without a code', async () => {
    const { id, version } = await begin();
    await typed(`LEVIGATE/BLANK/QL-0000-00/${version}/1`);
    assert.match(await page.locator('#sheet-code-wrong').innerText(), /batch QL-0000-00, not of/);
    assert.equal((await focused()).name, 'code');
    await page.locator('[aria-label^="1, Water"][name=reading_2]').focus();
    await typed('165.50', '', '', '');
    assert.equal((await focused()).name, 'code', 'the code is wanted first');
    assert.equal((await state(id)).entries.length, 0);
    assert.deepEqual(wrong, []);
  });

  test('a slip of the decimal sign is asked about, and one more Enter keeps what stands on the sheet', async () => {
    const { id, code, version } = await begin();
    await typed(`LEVIGATE/BLANK/${code}/${version}/1`);
    await page.locator('[aria-label^="2, Betaine"][name=reading_2]').focus();
    await typed('60.00', '', '', '');
    assert.match(await page.locator('.row-told:not([hidden])').innerText(), /ten times what is still to go in/);
    assert.deepEqual([(await focused()).name, (await state(id)).entries.length], ['reading_2', 0]);
    await page.keyboard.press('Enter');
    await kept();
    assert.equal((await state(id)).lines[1].actual.value, 60);
    await page.locator('#over .way').first().waitFor();
    await page.getByRole('button', { name: /^Undo the last entry of Betaine/ }).click();
    await kept();
    assert.equal((await state(id)).entries[0].struck.reason, 'taken back while typing the sheet back');
    await page.locator('[aria-label^="3,"][name=time]').focus();
    await page.keyboard.press('ArrowDown');
    assert.match((await focused()).label, /^4, .*: time/);
    assert.deepEqual(wrong, []);
  });

  test('steps come back with their times and readings, and what was found when it was looked at', async () => {
    const { id, code, version } = await begin();
    await typed(`LEVIGATE/BLANK/${code}/${version}/2`, '', 'ik');
    const step = (await state(id)).steps.find((/** @type {any} */ one) => one.kind === 'work');
    await page.locator(`[aria-label^="${step.number}, "][name=from]`).focus();
    await typed('10.30', '10:50', '24,5', '200', '');
    await kept();
    const found = page.locator('[name=found]').first();
    await found.focus();
    await typed('3.81', '11:00', '');
    await kept();
    const now = await state(id);
    assert.deepEqual(now.entries.map((/** @type {any} */ one) => [one.did, one.step === step.number, one.paper.initials]).slice(0, 4), [['started', true, 'ik'], ['temperature', true, 'ik'], ['speed', true, 'ik'], ['finished', true, 'ik']]);
    assert.deepEqual([now.entries[1].value.typed, now.entries[4].did, now.entries[4].found], ['24,5', 'checked', '3.81']);
    assert.equal(now.steps[step.number - 1].stands, 'done');
    assert.match(now.steps[step.number - 1].started, /T09:30/);
    await page.locator(`[aria-label^="${step.number}, "][name=to]`).focus();
    await typed('25:00', '', '', '');
    assert.match(await page.locator('.row-told:not([hidden])').innerText(), /not a time of day/);
    assert.deepEqual(wrong, []);
  });

  test('what is typed while the program does not answer waits, survives a reload, and is kept once', async () => {
    const { id, code, version } = await begin();
    await typed(`LEVIGATE/BLANK/${code}/${version}/1`);
    await context.setOffline(true);
    await page.locator('[aria-label^="2, Betaine"][name=reading_2]').focus();
    await typed('6.00', '', '10:20', '');
    await page.locator('#link', { hasText: '1 entry waits' }).waitFor();
    await context.setOffline(false);
    await page.reload();
    await kept();
    const now = await state(id);
    assert.deepEqual(now.entries.map((/** @type {any} */ one) => [one.did, one.paper.timed]), [['weighed', true]]);
    assert.deepEqual(serious(), []);
  });
});

describe('papers to take away', () => {
  test('the batch page gives a PDF to look at and a workbook to save', async () => {
    await page.goto(`${server.url}batches`);
    await page.locator('.shelf li a', { hasText: 'Balancing serum' }).first().click();
    const link = page.locator('.papers tr', { hasText: 'Record as it stands' }).locator('a[href*="paper="]', { hasText: 'PDF' });
    const address = await link.evaluate((one) => /** @type {HTMLAnchorElement} */ (one).href);
    assert.match(address, /record\.pdf\?paper=a4$/);
    const answer = await context.request.get(address);
    assert.equal(answer.headers()['content-type'], 'application/pdf');
    assert.match((await answer.body()).subarray(0, 5).toString(), /%PDF-/);
    const waiting = page.waitForEvent('download');
    await page.locator('.papers tr', { hasText: 'Sheet to be filled' }).getByRole('link', { name: 'Workbook' }).click();
    const download = await waiting;
    assert.match(download.suggestedFilename(), /^[A-Z0-9.-]+-blank\.xlsx$/);
    assert.equal((await readFile(await download.path())).subarray(0, 2).toString(), 'PK');
    assert.deepEqual(wrong, []);
  });

  test('the batch sheet page gives the specification and the label, and the list the deviations of a span', async () => {
    await page.goto(`${server.url}formulas`);
    await page.locator('.shelf li > a', { hasText: 'Night toner' }).click();
    await page.getByRole('link', { name: 'Specification, label' }).click();
    await page.locator('#papers').waitFor();
    for (const one of await page.locator('#papers a').all()) {
      const answer = await context.request.get(await one.evaluate((link) => /** @type {HTMLAnchorElement} */ (link).href));
      assert.equal(answer.status(), 200);
    }
    const span = await context.request.get(`${server.url}papers/deviations.xlsx?from=2020-01-01&to=2040-01-01`);
    assert.equal(span.status(), 200);
    for (const bad of ['papers/deviations.xlsx?from=x&to=y', 'papers/deviations.pdf?from=2026-01-02&to=2026-01-01', 'papers/other.pdf?from=2026-01-01&to=2026-01-02', 'batches/QL-2611-04/papers/record.doc', 'batches/QL-2611-04/papers/record.pdf?paper=a0', 'batches/NONE/papers/record.pdf']) {
      assert.ok([400, 404, 422].includes((await context.request.get(`${server.url}${bad}`)).status()), bad);
    }
    assert.deepEqual(wrong, []);
  });
});
