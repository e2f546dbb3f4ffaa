// The shelf by keyboard alone: a lot is found by typing, judged with a reason, a little is taken from it, too much is asked about, and what was struck stays.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { server, page, press, tabbing, type, wrong } from './opened.js';

/** Tabs until an element has the focus. */
const tabTo = tabbing(60);
/** From the list of lots to the page of one, by typing. @param {string} words */
async function find(words) {
  await page.goto(`${server.url}lots`);
  await page.waitForFunction(() => document.activeElement?.id === 'words');
  await type(words);
  await page.waitForFunction(() => document.querySelectorAll('#lots a.lot-code').length === 1);
  await press('Enter');
  await page.waitForURL(/\/lots\/[0-9a-f-]{30,}/);
  await page.locator('#move').waitFor();
}

describe('the shelf', () => {
  test('says what stands there, which lot goes first and what waits, and is walked with the arrows', async () => {
    await page.goto(`${server.url}materials`);
    // Which lot goes first is told where there are more: this one expires later, and that one has no day.
    for (const lot of [{ code: 'MA-E2E-2', expiry: '2031-01-31' }, { code: 'MA-E2E-1', expiry: '' }]) {
      await page.evaluate(async (typed) => (await import(/** @type {any} */ ('/static/api.js'))).ask('POST', '/api/lots', { material: 'mandelic-acid', quantity: '1', quantity_unit: 'kg', ...typed }), lot);
    }
    await page.getByRole('link', { name: 'Lots', exact: true }).focus();
    await press('Enter');
    await page.waitForURL(/\/lots$/);
    assert.match(await page.locator('#first').innerText(), /PX-2609-22/);
    const row = page.locator('tr', { hasText: 'MA-2608-14' });
    assert.match(await row.innerText(), /released/);
    assert.match(await row.innerText(), /use this one first/);
    assert.match(await row.innerText(), /cabinet A, shelf 2/);
    assert.deepEqual(await page.locator('#lots a.lot-code', { hasText: /^MA-/ }).allInnerTexts(), ['MA-2608-14', 'MA-E2E-2', 'MA-E2E-1']);
    assert.equal(await page.locator('.use-first').count(), 1);
    const waits = await page.locator('tr', { hasText: 'PX-2609-22' }).innerText();
    assert.match(waits, /in quarantine/);
    assert.doesNotMatch(waits, /use this one first/);
    await press('ArrowDown');
    await press('ArrowDown');
    assert.equal(await page.evaluate(() => [...document.querySelectorAll('#lots a.lot-code')].indexOf(/** @type {Element} */ (document.activeElement))), 1);
    await press('ArrowUp');
    await press('ArrowUp');
    assert.equal(await page.evaluate(() => document.activeElement?.id), 'words');
    // A state is chosen with the arrows too, and stands in the address.
    await tabTo('.states input:checked');
    await press('ArrowDown');
    await press('ArrowDown');
    await page.waitForURL(/state=quarantine/);
    assert.deepEqual(await page.locator('#lots a.lot-code').allInnerTexts(), ['MA-E2E-2', 'MA-E2E-1', 'PX-2609-22']);
    await page.reload();
    assert.deepEqual(await page.locator('#lots a.lot-code').allInnerTexts(), ['MA-E2E-2', 'MA-E2E-1', 'PX-2609-22']);
    await page.locator('#words').focus();
    await type('nothing is called so');
    await page.locator('#lots', { hasText: 'No lot is like that' }).waitFor();
    assert.deepEqual(wrong, []);
  });

  test('leads to a lot from its raw material too', async () => {
    await page.goto(`${server.url}materials/mandelic-acid`);
    await page.locator('a.lot-code', { hasText: 'MA-2608-14' }).focus();
    await press('Enter');
    await page.waitForURL(/\/lots\//);
    assert.equal(await page.locator('h1').innerText(), 'Lot MA-2608-14');
    assert.deepEqual(wrong, []);
  });
});

describe('a lot', () => {
  test('is released with a reason, who and when', async () => {
    await find('px-2609');
    await tabTo('#decide');
    await press('Enter');
    await tabTo('[name=status]');
    await type('released');
    await tabTo('[name=reason]');
    await press('Enter');
    await page.locator('.field-trouble:not([hidden])', { hasText: 'This is empty' }).waitFor();
    await type('Certificate came, looked through');
    await press('Enter');
    const newest = page.locator('.decisions li').first();
    await newest.filter({ hasText: 'Certificate came' }).waitFor();
    assert.match(await newest.innerText(), /released[\s\S]*initialled, not authenticated/);
    // The decision before it stays.
    assert.match(await page.locator('.decisions li').nth(1).innerText(), /in quarantine[\s\S]*Certificate not here yet/);
    assert.equal(await page.evaluate(() => document.activeElement?.id), 'decide');
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });

  test('has a ledger: a comma is a decimal sign, more than there is is asked about, and what is taken back stays to be seen', async () => {
    await find('ma-2608');
    const lines = page.locator('.ledger tbody tr');
    const before = await lines.count();
    assert.match(await lines.first().innerText(), /received[\s\S]*\+500/);
    const take = async (/** @type {string} */ net, /** @type {string} */ reason) => {
      await tabTo('#move');
      await press('Enter');
      await tabTo('[name=net]');
      await type(net);
      await tabTo('[name=reason]');
      await type(reason);
      await press('Enter');
    };
    await take('2,5', 'Spilled at the balance');
    const spilled = lines.filter({ hasText: 'Spilled at the balance' });
    await spilled.waitFor();
    assert.match(await spilled.locator('.by').innerText(), /−2\.5/);
    // A slip of the decimal sign is asked about, and the number stays as typed.
    await take('2500', 'Given away');
    await page.locator('.field-trouble:not([hidden])', { hasText: '2500 g are to be taken' }).waitFor();
    assert.equal(await page.locator('[name=net]').inputValue(), '2500');
    await page.locator('[name=net]').fill('25');
    await tabTo('[name=reason]');
    await press('Enter');
    await lines.filter({ hasText: 'Given away' }).waitFor();
    assert.equal(await lines.count(), before + 2);
    const left = async () => Number((await page.locator('.lot-left .num .value').innerText()).trim());
    const after = await left();
    // Taken back by its own button, with a reason.
    await lines.filter({ hasText: 'Given away' }).getByRole('button', { name: /Take the movement/ }).focus();
    await press('Enter');
    await page.waitForFunction(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name === 'reason');
    await type('It came back');
    await press('Enter');
    const struck = page.locator('.ledger .struck-line', { hasText: 'Given away' });
    await struck.waitFor();
    assert.match(await struck.innerText(), /Struck out\. It came back/);
    assert.equal(await lines.count(), before + 2);
    assert.ok(Math.abs(await left() - after - 25) < 1e-9);
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });

  test('is traced to the batches that hold it, and from there', async () => {
    await find('zp-2608');
    const link = page.locator('#trace a');
    assert.equal(await link.innerText(), 'QL-2611-04');
    await link.focus();
    await press('Enter');
    await page.waitForURL(/\/batches\//);
    assert.deepEqual(wrong, []);
  });
});
