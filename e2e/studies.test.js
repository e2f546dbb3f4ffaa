// A stability study by keyboard alone: planned, seen as due, read at a pull, its trend looked at, a reading struck out.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { server, page, press, tabbing, type, wrong } from './opened.js';

/** Tabs until an element has the focus. */
const tabTo = tabbing(90);
/** Opens the study of the sample from the list. */
async function openSample() {
  await page.goto(`${server.url}studies`);
  const link = page.locator('.studies-shelf a', { hasText: 'Zinc serum in the airless pump' });
  await link.focus();
  await press('Enter');
  await page.waitForURL(/\/studies\/[0-9a-f-]{30,}/);
  await page.locator('.trend-told .lead-word').first().waitFor();
}
/** Chooses an attribute of the trend by typing. @param {string} words */
async function attribute(words) {
  await tabTo('.trend-choice select');
  await type(words);
  await page.waitForFunction((wanted) => document.querySelector('.trend-choice select')?.selectedOptions[0].text.startsWith(wanted), words);
}

describe('the calendar', () => {
  test('says first what is due, and leads to the pull', async () => {
    await page.goto(`${server.url}formulas`);
    await page.getByRole('link', { name: 'Studies', exact: true }).focus();
    await press('Enter');
    await page.waitForURL(/\/studies$/);
    assert.match(await page.locator('#first').innerText(), /3 pulls may be pulled now: 26 weeks/);
    const due = page.locator('.due-table .pull-due');
    assert.equal(await due.count(), 3);
    assert.match(await due.first().innerText(), /due today/i);
    await due.locator('a', { hasText: '25 °C' }).focus();
    await press('Enter');
    await page.locator('.pull-form').waitFor();
    assert.match(await page.locator('.pull-form h3').innerText(), /26 weeks at 25 °C, 60 % r\.h\./);
    assert.deepEqual(wrong, []);
  });
});

describe('a study', () => {
  test('is planned by keyboard, and what is missing is told', async () => {
    await page.goto(`${server.url}studies`);
    await tabTo('a[href="/studies/new"]');
    await press('Enter');
    await page.waitForFunction(() => document.activeElement?.matches('.plan-formulas a'));
    await page.locator('.plan-formulas a', { hasText: 'Cooling hand gel' }).focus();
    await press('Enter');
    await page.waitForFunction(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name === 'name');
    await press('Control+A');
    await type('Gel in the tube');
    // Enter in a line keeps the form; the reason is missing, and so is a batch.
    await press('Enter');
    await page.locator('.field-trouble:not([hidden])', { hasText: 'This is empty' }).waitFor();
    assert.equal(await page.evaluate(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name), 'why');
    await type('A new tube; the client wants to know whether it thins');
    await tabTo('.plan-ticks input');
    await press('Space');
    assert.match(await page.locator('.plan-count').innerText(), /^\d+ packs: 1 at the start/);
    await tabTo('[name=wanted_months]');
    await type('12');
    await press('Enter');
    await page.waitForURL(/\/studies\/[0-9a-f-]{30,}/);
    assert.equal(await page.locator('h1').innerText(), 'Gel in the tube');
    assert.match(await page.locator('#first').innerText(), /The start comes first: due today/i);
    assert.match(await page.locator('#plan').innerText(), /12 months/);
    // The start is read at once: one field, the rest later.
    await tabTo('button.pull[data-pull=start]');
    await press('Enter');
    await page.waitForFunction(() => document.activeElement?.closest('.pull-batch'));
    await type('61');
    await tabTo('.pull-form button[type=submit]');
    await press('Enter');
    await page.locator('.field-trouble:not([hidden])', { hasText: '"61" is not a pH' }).waitFor();
    await press('Control+A');
    await type('6,12; 6,10');
    await press('Enter');
    await page.locator('.readings-table .read-typed', { hasText: '6,12; 6,10' }).waitFor();
    assert.match(await page.locator('button.pull[data-pull=start]').innerText(), /1 of 3 read/);
    assert.match(await page.locator('.trend-told').first().innerText(), /No line yet/);
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });

  test('shows the trend with its limits, what may be stated, and the numbers as a table', async () => {
    await openSample();
    assert.equal(await page.locator('.trend-leaf .plate svg').count(), 1);
    const told = await page.locator('.trend-told').first().innerText();
    assert.match(told, /may be stated by these data/i);
    assert.match(told, /Wanted: not carried/);
    assert.match(told, /nothing binds a cosmetic to it/);
    await attribute('Odour');
    await page.locator('.trend-told', { hasText: 'words in an order' }).waitFor();
    // Up by two: what is typed soon after would be taken as one word with what was typed before.
    await press('ArrowUp');
    await press('ArrowUp');
    await page.waitForFunction(() => document.querySelector('.trend-choice select')?.selectedOptions[0].text.startsWith('Assay'));
    await page.locator('.trend-told .trend-pairs').first().waitFor();
    await page.getByRole('button', { name: 'Against temperature' }).focus();
    await press('Enter');
    await page.locator('.trend-told', { hasText: 'Activation energy' }).waitFor();
    // A number opens its derivation.
    await page.locator('.trend-pairs button.num').first().focus();
    await press('Enter');
    await page.locator('#derivation:not([hidden])').waitFor();
    await press('Escape');
    assert.equal(await page.locator('#derivation').isHidden(), true);
    assert.deepEqual(wrong, []);
  });

  test('keeps a struck reading to be seen, and the trend goes without it', async () => {
    await openSample();
    const struck = page.locator('.readings-table .struck-line');
    assert.equal(await struck.count(), 1);
    assert.match(await struck.innerText(), /5\.94[\s\S]*Struck out\. Digits exchanged/);
    const row = page.locator('.readings-table tbody tr:not(.struck-line)', { hasText: '13 weeks' }).first();
    const before = await page.locator('.readings-table tbody tr').count();
    await row.getByRole('button', { name: /Correct pH/ }).focus();
    await press('Enter');
    await page.waitForFunction(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name === 'reason');
    await press('Enter');
    await page.locator('.field-trouble:not([hidden])', { hasText: 'This is empty' }).waitFor();
    await type('Meter not calibrated that day');
    await tabTo('[name=value]');
    await press('Control+A');
    await type('5.44');
    await press('Enter');
    await struck.filter({ hasText: 'Meter not calibrated' }).waitFor();
    assert.equal(await page.locator('.readings-table tbody tr').count(), before + 1);
    await page.waitForFunction(() => document.activeElement?.id.startsWith('reading-'));
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });

  test('is changed with a reason, and nothing that was read may fall out of it', async () => {
    await openSample();
    await tabTo('#change-plan');
    await press('Enter');
    await page.waitForFunction(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name === 'reason');
    await type('One more pull in the cold');
    const cold = page.locator('.plan-form .plan-more:not([hidden]) input').first();
    await cold.focus();
    await press('End');
    await page.keyboard.press('Control+A');
    await type('8, 13, 26, 52 weeks');
    await press('Enter');
    await page.locator('.changes', { hasText: 'One more pull in the cold' }).waitFor();
    assert.match(await page.locator('button.pull[data-condition^="2 to 8"][data-pull="8 weeks"]').innerText(), /overdue/i);
    assert.deepEqual(wrong, []);
  });

  test('takes a table whole or not at all, looked at first', async () => {
    await openSample();
    await tabTo('#bring-table');
    await press('Enter');
    await page.waitForFunction(() => document.activeElement?.tagName === 'TEXTAREA');
    const rows = (/** @type {string} */ third) => `condition;weeks;batch;pH;Viscosity (mPa·s)\n2 to 8 °C;26;QL-2605-01;5,50;4200\n2 to 8 °C;26;QL-2605-02;5,51;4340\n2 to 8 °C;26;${third};5,49;4080`;
    await page.keyboard.insertText(rows('QL-2605-09'));
    await page.getByRole('button', { name: 'Look at it first' }).focus();
    await press('Enter');
    await page.locator('.table-preview', { hasText: 'is not a batch of this study' }).waitFor();
    await page.locator('.pull-form, .entry').getByRole('button', { name: 'Keep all of it' }).focus();
    await press('Enter');
    await page.locator('.field-trouble:not([hidden])', { hasText: 'Line 4' }).waitFor();
    await page.locator('.entry textarea').fill(rows('QL-2605-03'));
    await page.getByRole('button', { name: 'Look at it first' }).focus();
    await press('Enter');
    await page.locator('.table-preview', { hasText: '6 readings in 3 rows can be kept' }).waitFor();
    await page.getByRole('button', { name: 'Keep all of it' }).focus();
    await press('Enter');
    await page.locator('button.pull[data-condition^="2 to 8"][data-pull="26 weeks"]', { hasText: '6 of 18 read' }).waitFor();
    assert.deepEqual(wrong.filter((text) => !text.includes('422')), []);
  });

  test('says how much acid a pH that moved stands for, and what may stand behind it', async () => {
    await openSample();
    await tabTo('.trend-choice select');
    await press('Tab');
    await type('40');
    await page.waitForFunction(() => document.querySelectorAll('.trend-choice select')[1]?.selectedOptions[0].text.startsWith('40'));
    await page.getByRole('button', { name: 'What does the shift stand for' }).focus();
    await press('Enter');
    await page.locator('.shift-told', { hasText: 'Acid that would have had to form' }).waitFor();
    const causes = await page.locator('.causes').innerText();
    assert.match(causes, /polysorbate 20/);
    assert.match(causes, /Microbes/);
    assert.doesNotMatch(causes, /Urea/);
    assert.deepEqual(wrong, []);
  });
});
