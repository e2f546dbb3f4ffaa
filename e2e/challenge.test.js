// Challenge tests: judged side by side, drawn, entered by keyboard, pasted, brought in as a table, corrected and still there.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { server, page, wrong } from './opened.js';

/** @param {string} name */
async function openTests(name) {
  await page.goto(`${server.url}formulas`);
  await page.locator('.shelf li', { hasText: name }).locator('.shelf-trials').click();
  await page.getByRole('link', { name: 'Challenge tests' }).click();
  await page.getByRole('heading', { name: 'Challenge tests' }).waitFor();
  // The page is there before its script has drawn what it holds.
  await page.locator('#first', { hasText: /\S/ }).waitFor();
}

const cell = (/** @type {string} */ name) => page.locator(`.count-grid [name="${name}"], .count-grid [aria-label="${name}"]`);

describe('challenge tests', () => {
  test('stand with criteria side by side, what decides, and a figure for each organism', async () => {
    await openTests('Night toner');
    const shown = page.locator('#test-1');
    assert.match(await page.locator('#first').innerText(), /Test 1 meets criterion B of ISO 11930/);
    assert.match(await shown.locator('.verdicts').innerText(), /Does not meet criterion A of ISO 11930\.[\s\S]*Candida albicans, day 7/);
    assert.equal(await shown.locator('.criteria thead th').count(), 6);
    assert.match(await shown.locator('.criteria .decides').first().innerText(), /not met/);
    assert.equal(await shown.locator('.kill-plates svg').count(), 5);
    // Counted and below the floor differ by their shape.
    assert.ok(await shown.locator('.kill-plates svg').first().locator('circle').count());
    assert.ok(!/\bsafe\b/i.test(await shown.innerText()));
    await shown.locator('.dying .num').first().click();
    assert.match(await page.locator('#derivation').innerText(), /log₁₀ N = a − t\/D/);
    await page.keyboard.press('Escape');
    await shown.locator('.kill-plates summary').first().click();
    assert.match(await shown.locator('.kill-plates .plate-table').first().innerText(), /below this floor/);
    assert.deepEqual(wrong, []);
  });

  test('are typed by keyboard, refused beside the cell, pasted from a sheet, and corrected', async () => {
    await openTests('Balancing serum');
    assert.match(await page.locator('#first').innerText(), /No challenge test of this formula yet/);
    await page.getByRole('button', { name: 'Enter a test' }).press('Enter');
    await cell('Put in, Pseudomonas aeruginosa').focus();
    await page.keyboard.type('4,7e5');
    await page.keyboard.press('Enter');
    assert.equal(await page.evaluate(() => document.activeElement?.getAttribute('aria-label')), 'Put in, Staphylococcus aureus');
    await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Tab');
    await page.keyboard.type('many');
    await page.getByRole('button', { name: 'Keep the test' }).click();
    await page.locator('.count-grid .field-trouble:not([hidden])').waitFor();
    assert.match(await page.locator('.count-grid .field-trouble:not([hidden])').innerText(), /"many" is not a count/);
    assert.equal(await page.evaluate(() => document.activeElement?.getAttribute('aria-invalid')), 'true');
    // A sheet pasted into the first cell of the counts fills rows and columns.
    await cell('Put in, Pseudomonas aeruginosa').evaluate((field) => {
      const data = new DataTransfer();
      data.setData('text/plain', '4.7e5\t1.1e3\t<10\t<10\t<10\r\n5.2e5\t\t210 190\t<10\t<10\r\n6.1e5\t\t<10\t<10\t<10\r\n6.1e4\t\t1.2e3\t420\t<10\r\n3.2e4\t\t\t2.1e4\t2.6e3');
      field.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
    });
    assert.equal(await cell('Day 28, Aspergillus brasiliensis').inputValue(), '2.6e3');
    await page.getByLabel('Recovered with product and neutraliser, %').fill('80');
    await page.getByRole('button', { name: 'Keep the test' }).click();
    await page.locator('.entry .field-trouble:not([hidden])', { hasText: 'the other recovery' }).or(page.locator('.entry .field-trouble:not([hidden])', { hasText: 'The other recovery' })).waitFor();
    await page.getByLabel('Recovered with the neutraliser alone, %').fill('95');
    await page.getByRole('button', { name: 'Keep the test' }).click();
    await page.locator('#test-1').waitFor();
    assert.match(await page.locator('#test-1 .verdicts').innerText(), /Meets criterion A of ISO 11930 by these data/);
    await page.locator('#test-1').getByRole('button', { name: 'Correct' }).click();
    await cell('Day 7, Pseudomonas aeruginosa').fill('8e4');
    await page.getByLabel('Why').fill('Plates of another day');
    await page.getByRole('button', { name: 'Put this in its place' }).click();
    await page.locator('#test-2').waitFor();
    assert.match(await page.locator('#test-2 .verdicts').innerText(), /Does not meet criterion A of ISO 11930/);
    assert.match(await page.locator('#test-1').innerText(), /Struck by test 2: Plates of another day/);
    assert.deepEqual(wrong.filter((one) => !/status of 4(00|22)/.test(one)), []);
  });

  test('are filled from a table, all of it or nothing, and nothing is kept before the last button', async () => {
    await openTests('Cooling hand gel');
    await page.getByRole('button', { name: 'Enter a test' }).click();
    const table = (/** @type {string} */ text) => page.locator('.entry [name=table]').setInputFiles({ name: 'counts.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
    await table('organism;initial;7;14\n;1e5;10;10\n');
    await page.locator('.entry .field-trouble:not([hidden])', { hasText: 'names no organism' }).waitFor();
    assert.equal(await cell('Put in, Escherichia coli').inputValue(), '');
    await table('organism;initial;Day 7;Day 14;Day 28\nEscherichia coli;4,1e5;30;<10;<10\nCandida albicans;5e4;900;80;<10\n');
    await page.waitForFunction(() => document.querySelectorAll('.count-grid tbody tr').length === 2);
    assert.equal(await cell('Day 7, Escherichia coli').inputValue(), '30');
    assert.equal(await page.locator('[id="test-1"]').count(), 0);
    await page.getByRole('button', { name: 'Keep the test' }).click();
    await page.locator('#test-1').waitFor();
    // No mould was tested, and nothing shows that the neutraliser works: no criterion is met.
    assert.match(await page.locator('#first').innerText(), /meets none of the criteria/);
    assert.deepEqual(wrong.filter((one) => !/status of 4(00|22)/.test(one)), []);
  });
});
