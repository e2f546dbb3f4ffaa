// A designed experiment by keyboard alone: planned from a formula, read, looked at, its best blend begun as a check batch.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { server, page, press, tabbing, type, wrong } from './opened.js';

/** Tabs until an element has the focus. */
const tabTo = tabbing(120);
/** Opens the experiment of the sample from the list, and waits for its figure. */
async function openSample() {
  await page.goto(`${server.url}formulas`);
  await page.getByRole('link', { name: 'Experiments', exact: true }).focus();
  await press('Enter');
  await page.waitForURL(/\/experiments$/);
  await page.locator('.shelf a', { hasText: 'Humectants of the hand gel' }).focus();
  await press('Enter');
  await page.waitForURL(/\/experiments\/[0-9a-f-]{30,}/);
  await page.locator('.sight .plate svg').waitFor();
}

describe('an experiment that is read', () => {
  test('says what its runs say: lines, terms, the best blend', async () => {
    await openSample();
    assert.match(await page.locator('#first').innerText(), /Make next: run 13/);
    assert.equal(await page.locator('#runs tbody tr').count(), 13);
    assert.match(await page.locator('.sight figcaption').innerText(), /Viscosity across Propanediol, Ectoin, Sodium PCA/);
    assert.equal(await page.locator('.response').count(), 2);
    assert.match(await page.locator('.response').first().innerText(), /quadratic model/i);
    assert.match(await page.locator('.best-told').innerText(), /The best blend by the wishes/);
    // The cursor goes from place to place and reads value and band; arrows up give more of the upper part.
    const figure = page.locator('.sight .plate-figure');
    await figure.focus();
    await press('ArrowUp');
    const read = page.locator('.sight .cursor-read');
    const first = await read.innerText();
    assert.match(first, /Propanediol, % w\/w\s*[\d.]+[\s\S]*Viscosity, mPa·s\s*\d+[\s\S]*Mean from[\s\S]*Next batch to/);
    await press('ArrowUp');
    const share = (/** @type {string} */ text) => Number(/Propanediol, % w\/w\s*([\d.]+)/.exec(text)?.[1]);
    assert.ok(share(await read.innerText()) > share(first), `${first} ${await read.innerText()}`);
    // The same numbers as a table.
    await page.locator('.sight summary').click();
    assert.ok(await page.locator('.sight .plate-table tbody tr').count() > 60);
    assert.deepEqual(wrong, []);
  });

  test('is read at the bench; what cannot be is told at its field', async () => {
    await openSample();
    await tabTo('#runs input');
    await type('12x');
    await press('Enter');
    await page.locator('.runs-table .field-trouble:not([hidden])', { hasText: 'is not a number for Viscosity' }).waitFor();
    await press('Control+A');
    await type('12180');
    await press('Tab');
    await type('3,8; 4,0');
    await press('Enter');
    await page.locator('#runs tbody tr').last().locator('.read-button', { hasText: '3,8; 4,0' }).waitFor();
    assert.match(await page.locator('#first').innerText(), /Every run is read/);
    // Corrected: the struck one stays.
    await page.locator('#runs tbody tr').last().locator('.read-button').first().focus();
    await press('Enter');
    await page.waitForFunction(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name === 'reason');
    await type('Digits exchanged');
    await press('Tab');
    await press('Control+A');
    await type('12810');
    await press('Enter');
    await page.locator('#runs tbody tr').last().locator('.read-button', { hasText: '12810' }).waitFor();
    await page.locator('summary', { hasText: '1 struck reading' }).waitFor();
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });

  test('answers about another blend and begins the best one as a trial', async () => {
    await openSample();
    await tabTo('.blend-form input');
    await type('4');
    await press('Tab');
    await type('1');
    await press('Tab');
    await type('1');
    await press('Enter');
    await page.locator('.blend-form .field-trouble:not([hidden])', { hasText: 'make 6 % together, not 6.5 %' }).waitFor();
    await tabTo('.blend-form [name="percent.2"]');
    await press('Control+A');
    await type('1,5');
    await press('Enter');
    await page.locator('.blend-told tbody tr', { hasText: 'Viscosity' }).waitFor();
    assert.match(await page.locator('.blend-told').innerText(), /Tack/);
    await page.locator('#make-best').focus();
    await press('Enter');
    const check = page.locator('#checks .runs-table tbody tr');
    await check.waitFor();
    assert.match(await check.innerText(), /check 1/);
    assert.match(await check.locator('.made-cell a').innerText(), /trial \d+/);
    await page.locator('#checks h3', { hasText: 'What was expected of check 1' }).waitFor();
    await check.locator('.made-cell a').focus();
    await press('Enter');
    await page.waitForURL(/\/trials/);
    await page.locator('main', { hasText: 'check 1 of experiment 1' }).waitFor();
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });
});

describe('a new experiment', () => {
  test('is planned by keyboard from a formula, and its runs begun as trials', async () => {
    await page.goto(`${server.url}experiments`);
    await tabTo('a[href="/experiments/new"]');
    await press('Enter');
    await page.waitForFunction(() => document.activeElement?.matches('.plan-formulas a'));
    await page.locator('.plan-formulas a', { hasText: 'Cooling hand gel' }).focus();
    await press('Enter');
    await page.waitForFunction(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name === 'name');
    await type('Gel, thinner and less sticky');
    for (const [line, least, most] of [['Carbomer', '0,3', '0,6'], ['Propanediol', '3', '6']]) {
      await page.locator(`.mix-row input[aria-label="${line} may move"]`).focus();
      await press('Space');
      await press('Tab');
      await type(least);
      await press('Tab');
      await type(most);
    }
    await page.locator('.look-told .lead-word', { hasText: 'runs are chosen' }).waitFor();
    await tabTo('[name^="read "][name$=".name"]');
    await type('Viscosity');
    await tabTo('.experiment-form button[type=submit]');
    await press('Enter');
    await page.locator('.field-trouble:not([hidden])', { hasText: 'Viscosity has no unit' }).waitFor();
    await type('mPa·s');
    await press('Enter');
    await page.waitForURL(/\/experiments\/[0-9a-f-]{30,}/);
    assert.equal(await page.locator('h1').innerText(), 'Gel, thinner and less sticky');
    await page.locator('.look-wrong', { hasText: 'No run is read yet' }).waitFor();
    await tabTo('#run-1 .made-cell button');
    await press('Enter');
    await page.waitForFunction(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name === 'size');
    await type('150');
    await press('Enter');
    await page.locator('#run-1 .made-cell a', { hasText: /trial \d+/ }).waitFor();
    assert.match(await page.locator('#run-1 .made-cell').innerText(), /version \d+/);
    // The sheet goes out as CSV and comes back with readings.
    const runs = await page.locator('#runs tbody tr').count();
    await page.locator('#bring-table').focus();
    await press('Enter');
    await page.waitForFunction(() => document.activeElement?.tagName === 'TEXTAREA');
    await page.locator('textarea[name=file]').fill(['run;Viscosity (mPa·s)', ...Array.from({ length: runs }, (_, at) => `${at + 1};${9000 + 310 * at}`)].join('\n'));
    await tabTo('.entry button[type=submit]');
    await press('Enter');
    await page.locator('.sight .plate svg').waitFor();
    // Two parts: a line with its band, not a triangle.
    assert.match(await page.locator('.sight figcaption').innerText(), /Viscosity along Carbomer/);
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });

  test('keeps what must hold of its parts together, and says it again when the plan is changed', async () => {
    await page.goto(`${server.url}experiments/new`);
    await page.locator('.plan-formulas a', { hasText: 'Cooling hand gel' }).click();
    await page.locator('[name="name"]').fill('Gel, not too much of one');
    for (const [line, least, most] of [['Propanediol', '2', '5'], ['Ectoin', '0,3', '3'], ['Sodium PCA 50 %', '0,5', '3']]) {
      await page.locator(`.mix-row input[aria-label="${line} may move"]`).check();
      const row = page.locator('.mix-row', { hasText: line });
      await row.locator('[name$=".least"]').fill(least);
      await row.locator('[name$=".most"]').fill(most);
    }
    await page.locator('[name="total_percent"]').fill('6,5');
    await page.locator('[name^="read "][name$=".name"]').fill('pH');
    await page.getByRole('button', { name: 'A condition' }).focus();
    await press('Enter');
    await page.locator('.condition-row [name$=".kind"]').selectOption('times');
    await page.locator('.condition-row [name$=".one"]').selectOption({ label: 'Ectoin' });
    await page.locator('.condition-row [name$=".amount"]').fill('0,5');
    await page.locator('.condition-row [name$=".other"]').selectOption({ label: 'Propanediol' });
    await page.getByRole('button', { name: 'A condition' }).click();
    const second = page.locator('.condition-row').nth(1);
    // The focus stays on a box that is ticked by the keyboard.
    await second.getByLabel('Ectoin').focus();
    await press('Space');
    assert.ok(await second.getByLabel('Ectoin').evaluate((box) => box === document.activeElement));
    await second.getByLabel('Sodium PCA 50 %').check();
    await second.locator('[name$=".amount"]').fill('many');
    await page.locator('.experiment-form button[type=submit]').click();
    await second.locator('[name$=".amount"][aria-invalid=true]').waitFor();
    await second.locator('[name$=".amount"]').fill('2');
    await page.locator('.look-told .lead-word', { hasText: 'runs are chosen' }).waitFor();
    await page.locator('.experiment-form button[type=submit]').click();
    await page.waitForURL(/\/experiments\/[0-9a-f-]{30,}/);
    await page.locator('#runs tbody tr').first().waitFor();
    const levels = await page.locator('#runs tbody tr').evaluateAll((rows) => rows.map((row) => [...row.querySelectorAll('td.figure')].slice(0, 3).map((cell) => Number(cell.textContent))));
    assert.ok(levels.length > 5);
    for (const [propanediol, ectoin, pca] of levels) assert.ok(ectoin <= 0.5 * propanediol + 1e-3 && ectoin + pca >= 2 - 1e-3, `${propanediol} ${ectoin} ${pca}`);
    await page.getByRole('button', { name: 'Change the plan' }).click();
    await page.locator('.condition-row').nth(1).waitFor();
    assert.equal(await page.locator('.condition-row [name$=".kind"]').first().inputValue(), 'times');
    assert.equal(await page.locator('.condition-row [name$=".amount"]').first().inputValue(), '0.5');
    assert.equal(await page.locator('.condition-row').nth(1).locator('input:checked').count(), 2);
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });
});
