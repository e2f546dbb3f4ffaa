// A sheet brought in: pasted or chosen, its columns confirmed, what is unclear answered, all of it written or nothing; by keyboard alone too.
import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { server, page, wrong } from './opened.js';

const settled = () => page.waitForFunction(() => document.documentElement.dataset.reading === '0');
/** Does something and waits until the answer stands on the page. @param {() => Promise<unknown>} act */
async function answered(act) {
  const said = page.waitForResponse((response) => response.url().endsWith('/api/bring-in/preview'));
  await act();
  await said;
  await settled();
}
const paste = (/** @type {string} */ text) => answered(() => page.locator('#pasted').fill(text));
const fates = async () => (await page.locator('.rows-read tbody .fate').allTextContents()).map((text) => text.slice(1));

const FORMULA = ['Cooling gel, trial 3', '', 'Phase\tRaw material\tINCI\t% w/w', 'A\tWater\tAqua\tq.s.', '\tGlycerin 99.5 %\tGlycerin\t5,00', '\tHumecTop 13\tPropanediol\t3', 'B\tPhenoxyethanol\t\t0,9', '\tBetaine\t\t2-3', '\tTotal\t\t100', 'Heat A to 75 C, cool, add B'].join('\n');

describe('a formula', () => {
  test('is looked at row by row, answered, and opens on its page with what was not understood', async () => {
    await page.goto(`${server.url}formulas`);
    await page.getByRole('link', { name: 'Bring in a sheet' }).click();
    await paste(FORMULA);
    assert.equal(await page.locator('#formula-name').inputValue(), 'Cooling gel, trial 3');
    assert.deepEqual((await fates()).sort(), ['made', 'made', 'made', 'made', 'no entry', 'no entry', 'not understood'].sort());
    assert.equal(await page.locator('#bring').isDisabled(), true);
    // The name nobody knows is picked; the amount that is none is typed where it stands.
    await answered(() => page.locator('#name-0').selectOption({ index: 1 }));
    const cell = page.locator('.not-understood .mend input');
    await answered(async () => { await cell.fill('2,5'); await cell.press('Enter'); });
    assert.equal(await page.locator('.not-understood').count(), 0);
    assert.match(await page.locator('.sum-words').innerText(), /add up to 11\.4 %/);
    await page.locator('#bring').click();
    await page.waitForURL(/formulas\/[0-9a-f-]{30,}/);
    await page.locator('.rows .line').first().waitFor();
    assert.match(await page.getByLabel('Remark').inputValue(), /Brought in from pasted cells/);
    assert.deepEqual(wrong, []);
  });

  test('that is on file already is not made twice', async () => {
    await page.goto(`${server.url}bring-in?what=formula`);
    await paste(FORMULA);
    // What was picked before is remembered on this machine alone: another browser is asked again.
    await answered(() => page.locator('#name-0').selectOption({ index: 1 }));
    await answered(async () => { await page.locator('.not-understood .mend input').fill('2.5'); await page.locator('.not-understood .mend input').press('Enter'); });
    assert.match(await page.locator('.formula-head').innerText(), /version 1 of Cooling gel, trial 3 already/);
    assert.equal(await page.locator('#bring').isDisabled(), true);
    assert.deepEqual(wrong, []);
  });

  test('in grams is offered as percent, asked about, and comes in with the water filling up', async () => {
    await page.goto(`${server.url}bring-in?what=formula`);
    await paste(['Raw material\tWeight (g)', 'Water\t150', 'Glycerin 99.5 %\t40', 'Betaine\t10.3', 'Total\t200.3'].join('\n'));
    const question = page.locator('.question.open');
    await question.waitFor();
    assert.match(await question.innerText(), /grams of a batch, or percent[\s\S]*add up to 200\.3 g/);
    assert.equal(await page.locator('#bring').isDisabled(), true, 'nothing is taken for grams unasked');
    await answered(() => page.locator('#question-shares-grams').check());
    assert.match(await page.locator('.sum-words').innerText(), /batch of 200\.3 g[\s\S]*rounded to 4 places[\s\S]*Water, purified takes what that leaves[\s\S]*add up to 100 %/);
    await answered(() => page.getByRole('button', { name: 'Let the water fill up' }).click());
    assert.match(await page.locator('.sum-words').innerText(), /what a line fills up to[\s\S]*Water, purified fills up/);
    await page.locator('#formula-name').fill('Weighed gel');
    await answered(() => page.locator('#formula-name').press('Enter'));
    await page.locator('#bring').click();
    await page.waitForURL(/formulas\/[0-9a-f-]{30,}/);
    await page.locator('.rows .line').first().waitFor();
    const amounts = await page.locator('.rows .line input').evaluateAll((all) => all.map((one) => /** @type {HTMLInputElement} */ (one).value));
    // 40 / 200.3 and 10.3 / 200.3, by hand.
    for (const amount of ['19.97', '5.1423']) assert.ok(amounts.includes(amount), `${amount} in ${amounts}`);
    assert.deepEqual(wrong, []);
  });
});

const LOTS = ['Raw material,Lot No.,Received,Qty,Status', 'Mandelic acid,MA-E2E-1,03/04/2026,5 kg,approved', 'Propanediol,PD-E2E-2,05/06/2026,25 kg,', 'Unheard of,X-1,05/06/2026,1 kg,'].join('\n');

describe('lots', () => {
  test('of a file ask which number is the day, leave out what nobody knows, and stand on the page of their raw material', async () => {
    await page.goto(`${server.url}bring-in?what=lot`);
    await answered(() => page.locator('#file').setInputFiles({ name: 'stock.csv', mimeType: 'text/csv', buffer: Buffer.from(LOTS) }));
    await page.locator('.question.open').waitFor();
    await answered(() => page.locator('#question-days-day-first').check());
    assert.match(await page.locator('.fate-made .words').first().innerText(), /received 2026-04-03/);
    await answered(() => page.locator('#leave-4').click());
    await page.locator('#bring').click();
    await page.locator('#brought').waitFor();
    assert.match(await page.locator('#brought').innerText(), /2 lots brought in/);
    await page.goto(`${server.url}materials/mandelic-acid`);
    await page.getByText('MA-E2E-1').first().waitFor();
    assert.deepEqual(wrong, []);
  });

  test('nothing is written while a row is not understood, and a table that is none says so', async () => {
    await page.goto(`${server.url}bring-in?what=lot`);
    await paste('only words');
    assert.match(await page.locator('.troubles').first().innerText(), /parts the cells/);
    await paste('Raw material\tLot\nUnheard of\tX-2\nPropanediol\tPD-E2E-9');
    // A row that is not there names nothing: it is told, and what was read before stays.
    await answered(async () => { await page.locator('#head').fill('70'); await page.locator('#head').press('Enter'); });
    assert.match(await page.locator('.stage .troubles').nth(1).innerText(), /row 70 is empty or not there/i);
    assert.equal(await page.locator('#head').inputValue(), '1');
    assert.equal(await page.locator('#bring').isDisabled(), true);
    assert.match(await page.locator('#why-not').innerText(), /One row is not understood/);
    // The browser notes that the first was refused.
    assert.deepEqual(wrong.filter((one) => !one.includes('422')), []);
  });
});

describe('raw materials', () => {
  test('get their prices, and a new one is made like one on file, by keyboard alone', async () => {
    await page.goto(`${server.url}bring-in?what=material`);
    await page.locator('#pasted').focus();
    await answered(() => page.keyboard.insertText(['Raw material\tINCI\tSupplier\tArticle no.\tEUR/kg', 'Glycerin 99.5 %\tGlycerin\tFenwick\tGL-995\t1,90', 'Diolet E2E\tPropanediol\tFenwick\tPD-13\t6,20'].join('\n')));
    await page.locator('#name-0').focus();
    // The first candidate, by its letter keys as in any list of the system.
    await answered(() => page.keyboard.press('ArrowDown'));
    await page.locator('#bring').focus();
    await page.keyboard.press('Enter');
    await page.locator('#brought').waitFor();
    assert.match(await page.locator('#brought').innerText(), /2 records brought in/);
    await page.getByRole('link', { name: /diolet/ }).click();
    await page.getByText('Fenwick, code PD-13').first().waitFor();
    assert.deepEqual(wrong, []);
  });
});

test('the page holds on a tablet, without a bar to scroll it sideways', async () => {
  await page.setViewportSize({ width: 820, height: 1180 });
  await page.goto(`${server.url}bring-in?what=lot`);
  await paste(LOTS.replaceAll(',', '\t'));
  const wide = () => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.equal(await wide(), 0);
  await page.goto(`${server.url}bring-in?what=material`);
  await paste('Raw material\tINCI\tSupplier\nPropandiol\tPropanediol\tFenwick\nD-Panthenol seventy-five\tPanthenol, Aqua\tFenwick');
  await answered(() => page.locator('#take-all').click());
  assert.equal(await wide(), 0);
  assert.deepEqual(wrong, []);
});
