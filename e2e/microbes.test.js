// Counts of a finished product: typed by keyboard, answered while typing, wrong ones told beside their field, kept as readings of a trial.
import assert from 'node:assert/strict';
import { beforeEach, describe, test } from 'node:test';
import { server, page, wrong } from './opened.js';

beforeEach(async () => {
  await page.goto(`${server.url}formulas`);
  await page.locator('.shelf li', { hasText: 'Night toner' }).locator('.shelf-trials').click();
  await page.getByRole('link', { name: 'Challenge tests' }).click();
  await page.getByRole('link', { name: 'Counts of the finished product' }).click();
  await page.locator('#first .found').waitFor();
});

describe('counts of a finished product', () => {
  test('with nothing counted it cannot say, and the formula alone speaks of low risk', async () => {
    assert.match(await page.locator('#first').innerText(), /cannot say/i);
    assert.match(await page.locator('#answer').innerText(), /Of low risk by itself/);
    assert.deepEqual(wrong, []);
  });

  test('counts are typed by keyboard, answered while typing, and still there after a reload', async () => {
    await page.locator('[name="title"]').focus();
    await page.keyboard.type('QL-1');
    await page.keyboard.press('Tab');
    await page.keyboard.press('Tab');
    await page.keyboard.type('144 138');
    await page.locator('table.counted tbody tr', { hasText: '1400' }).first().waitFor();
    await page.locator('[name="counts.1.rows.0.colonies"]').fill('0 0');
    // 1400 lies above the limit of 1000, and no farther than a count may be off.
    await page.locator('#margin li', { hasText: 'within the tolerance of a count' }).first().waitFor();
    await page.reload();
    await page.locator('table.counted tbody tr', { hasText: '1400' }).first().waitFor();
    assert.equal(await page.locator('[name="title"]').inputValue(), 'QL-1');
    assert.deepEqual(wrong, []);
  });

  test('what cannot be read is told beside its field, and what was typed stays', async () => {
    await page.locator('[name="counts.0.rows.0.colonies"]').fill('many');
    // The answer above is an older one, and says so.
    await page.locator('#first .behind', { hasText: 'Not of what is typed now' }).waitFor();
    await page.keyboard.press('Enter');
    await page.locator('[name="counts.0.rows.0.colonies"][aria-invalid=true]').waitFor();
    assert.match(await page.locator('.grid-cell .field-trouble:visible').innerText(), /many.*colonies are whole/is);
    assert.equal(await page.locator('[name="counts.0.rows.0.colonies"]').inputValue(), 'many');
  });

  test('the counts are kept as readings of a trial', async () => {
    await page.locator('[name="counts.0.rows.0.colonies"]').fill('44 38');
    await page.getByRole('button', { name: 'Keep the counts with it' }).click();
    await page.getByText('Kept as readings of the trial.').waitFor();
    await page.goto(page.url().replace('/microbes', '/trials'));
    await page.locator('.trial', { hasText: /count of/i }).first().waitFor();
    assert.deepEqual(wrong, []);
  });
});
