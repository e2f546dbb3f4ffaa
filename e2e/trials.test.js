// Trials, readings, observations with photos, lots: entered by keyboard and pointer, corrected, and still there.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { describe, test } from 'node:test';
import { server, page, wrong } from './opened.js';

const PHOTO = new URL('../crates/project/tests/photos/telephone.jpg', import.meta.url);

/** Opens the trials of a sample formula from the list, as a person would. @param {string} name */
async function openTrials(name) {
  await page.goto(`${server.url}formulas`);
  await page.locator('.shelf li', { hasText: name }).locator('.shelf-trials').click();
  await page.locator('.trial').first().waitFor();
}

const focused = () => page.evaluate(() => document.activeElement?.id ?? '');

describe('the trials of a formula', () => {
  test('stand in order with lots, changes, readings beside predictions and struck entries', async () => {
    await openTrials('Night toner');
    assert.deepEqual(await page.locator('.trial h2').allInnerTexts(), ['Trial 1', 'Trial 2']);
    const second = page.locator('#trial-2');
    assert.match(await second.locator('.since').innerText(), /Copied from trial 1[\s\S]*pH 3\.8 instead of 4\.4[\s\S]*q\.s\. to pH 4\.4[\s\S]*q\.s\. to pH 3\.8/);
    assert.match(await second.locator('.predicted').innerText(), /Predicted for version 2[\s\S]*pH, neat[\s\S]*assay of the lots taken/);
    const struck = second.locator('.reading.struck');
    assert.match(await struck.innerText(), /8\.33[\s\S]*Struck out\. Digits swapped/);
    assert.match(await second.locator('.reading', { hasText: '3.83' }).innerText(), /Inside the interval|above the interval|below the interval/);
    const diluted = second.locator('.reading', { hasText: '10 % in water' });
    assert.match(await diluted.innerText(), /10 % in water, 25 °C[\s\S]*target is for a pH read neat/i);
    await second.locator('.trial-lines summary').click();
    assert.match(await second.locator('.lots-taken').innerText(), /MA-2608-14[\s\S]*99\.2/);
    await second.locator('.predicted .num').first().click();
    assert.match(await page.locator('#derivation').innerText(), /What went in|How far it holds/);
    await page.keyboard.press('Escape');
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });

  test('what the differences did is told on request, for every reading, against any other trial', async () => {
    await openTrials('Night toner');
    const effects = page.locator('#trial-2 .trial-effects');
    await effects.locator('summary').focus();
    await page.keyboard.press('Enter');
    await effects.locator('.overview').waitFor();
    assert.match(await effects.innerText(), /The differences explain a change of the pH by -0\.60 ± 0\.07/);
    const row = effects.locator('#effects-1-2-ph tbody tr', { hasText: 'Sodium hydroxide 20 %' });
    assert.match(await row.innerText(), /5\.64 % for pH 4\.4\s+4\.28 % for pH 3\.8\s+−0\.60/);
    await row.locator('button.num').click();
    await page.getByText('mean over all orders of the differences').waitFor();
    await page.keyboard.press('Escape');
    // The first trial has no parent and is told against the other one, the other way round.
    const first = page.locator('#trial-1 .trial-effects');
    await first.locator('summary').click();
    await first.locator('.overview').waitFor();
    assert.match(await first.innerText(), /by \+0\.60 ± 0\.07/);
    assert.deepEqual(wrong, []);
  });

  test('a reading is added by keyboard, with a comma, and a fault is told beside its field', async () => {
    await openTrials('Night toner');
    const verb = page.locator('#trial-2').getByRole('button', { name: 'Add a reading' });
    await verb.focus();
    await page.keyboard.press('Enter');
    assert.equal(await page.evaluate(() => /** @type {any} */ (document.activeElement).name), 'kind');
    await page.keyboard.press('Tab');
    await page.keyboard.type('382');
    await page.keyboard.press('Enter');
    const fault = page.locator('.entry .field-trouble:not([hidden])');
    await fault.waitFor();
    assert.match(await fault.innerText(), /pH 382 cannot be/);
    assert.equal(await page.evaluate(() => /** @type {any} */ (document.activeElement).name), 'value');
    assert.equal(await page.locator('.entry [name=value]').inputValue(), '382', 'what was typed stays');
    await page.locator('.entry [name=value]').fill('3,82');
    await page.locator('.entry [name=age]').fill('14 d');
    await page.locator('.entry [name=temperature_c]').fill('24,5');
    await page.locator('.entry [name=value]').press('Enter');
    const kept = page.locator('#trial-2 .reading', { hasText: '3,82' });
    await kept.waitFor();
    assert.match(await kept.innerText(), /neat, 24,5\s°C, 14 d old/);
    assert.match(await focused(), /^reading-/, 'the focus is on what was kept');
    assert.match(await page.locator('#said').innerText(), /is kept/);
    await page.reload();
    await page.locator('#trial-2 .reading', { hasText: '3,82' }).waitFor();
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });

  test('a viscosity asks for spindle and speed, and is held to the target with what differs', async () => {
    await openTrials('Cooling hand gel');
    await page.locator('#trial-2').getByRole('button', { name: 'Add a reading' }).click();
    await page.locator('.entry [name=kind]').selectOption('viscosity');
    await page.locator('.entry [name=value]').fill('10500');
    await page.locator('.entry [name=spindle]').fill('disc, 30 mm');
    await page.locator('.entry [name=speed]').fill('50 rpm');
    await page.locator('.entry [name=temperature_c]').fill('25');
    await page.locator('.entry [name=age]').fill('24 h');
    await page.getByRole('button', { name: 'Keep the reading' }).click();
    const kept = page.locator('#trial-2 .reading', { hasText: /Viscosity\s*10500 mPa·s/ });
    await kept.waitFor();
    assert.match(await kept.innerText(), /Target 9000 to 15000 mPa·s: inside it\. Unlike conditions: speed 50 instead of 20 rpm/);
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });

  test('a correction strikes out and says why, and can only take back', async () => {
    await openTrials('Balancing serum');
    await page.locator('.reading', { hasText: '5.46' }).getByRole('button', { name: /^Correct reading/ }).click();
    await page.locator('.entry [name=value]').fill('5.64');
    await page.locator('.entry [name=value]').press('Enter');
    assert.match(await page.locator('.entry .field-trouble:not([hidden])').innerText(), /what was struck stays/i);
    await page.locator('.entry [name=reason]').fill('misread the display');
    await page.getByRole('button', { name: 'Put this in its place' }).click();
    await page.locator('.reading', { hasText: '5.64' }).waitFor();
    assert.match(await page.locator('.reading.struck').innerText(), /5\.46[\s\S]*Struck out\. misread the display/);
    await page.locator('.observation').getByRole('button', { name: /^Correct observation/ }).click();
    await page.locator('.entry [name=reason]').fill('another beaker');
    await page.getByRole('button', { name: 'Only take it back' }).click();
    await page.locator('.observation', { hasText: 'Taken back' }).waitFor();
    assert.match(await page.locator('.observation.struck').first().innerText(), /Slight haze[\s\S]*Struck out\. another beaker/);
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });

  test('the next trial is copied with size, making and lots, and says what differs', async () => {
    await openTrials('Night toner');
    await page.locator('#trial-2').getByRole('button', { name: 'Copy as the next trial' }).click();
    await page.locator('.entry').waitFor();
    assert.equal(await page.locator('.entry [name=size]').inputValue(), '200');
    assert.match(await page.locator('.entry [name=process]').inputValue(), /magnetic bar/);
    const lot = page.locator('.taken-line', { hasText: 'Mandelic acid' }).locator('input');
    assert.equal(await lot.inputValue(), 'MA-2608-14');
    await lot.fill('MA-2610-02');
    await page.locator('.entry [name=changed]').fill('New lot of mandelic acid');
    await page.getByRole('button', { name: 'Begin the trial' }).click();
    const third = page.locator('#trial-3');
    await third.waitFor();
    assert.match(await third.innerText(), /Copied from trial 2\. New lot of mandelic acid[\s\S]*lot of Mandelic acid[\s\S]*MA-2610-02/);
    assert.match(await third.locator('.predicted').innerText(), /MA-2610-02: Not on file/);
    assert.equal(await focused(), 'trial-3');
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });

  test('an observation with a photo shows it, its words, and what was taken out of the file', async () => {
    await openTrials('Cooling hand gel');
    await page.locator('#trial-1').getByRole('button', { name: 'Add an observation' }).click();
    await page.locator('.entry [name=text]').fill('Fish eyes at the wall.');
    await page.locator('.entry [name=photo]').setInputFiles({ name: 'notes.png', mimeType: 'image/png', buffer: Buffer.from('<!doctype html>') });
    await page.getByRole('button', { name: 'Keep the observation' }).click();
    assert.match(await page.locator('.entry .field-trouble:not([hidden])').innerText(), /neither PNG, JPEG nor WebP/);
    await page.locator('.entry [name=photo]').setInputFiles({ name: 'telephone.jpg', mimeType: 'image/jpeg', buffer: await readFile(PHOTO) });
    await page.locator('.entry [name=shows]').fill('Clear lumps at the wall of the beaker');
    await page.getByRole('button', { name: 'Keep the observation' }).click();
    const kept = page.locator('.observation', { hasText: 'Fish eyes' });
    await kept.waitFor();
    const image = kept.getByRole('img', { name: 'Clear lumps at the wall of the beaker' });
    await image.scrollIntoViewIfNeeded();
    await page.waitForFunction(() => /** @type {HTMLImageElement} */ (document.querySelector('.observation img')).naturalWidth > 0);
    // The picture is 24 by 16 and says that its left side is up: shown upright it is 16 by 24.
    assert.deepEqual(await image.evaluate((/** @type {HTMLImageElement} */ one) => [one.naturalWidth, one.naturalHeight]), [16, 24]);
    assert.match(await kept.innerText(), /Taken out of the file before it was kept: .*the place where it was taken/);
    const source = await image.getAttribute('src');
    const answer = await page.request.get(new URL(String(source), server.url).href);
    assert.equal(answer.headers()['content-type'], 'image/jpeg');
    assert.equal(answer.headers()['x-content-type-options'], 'nosniff');
    assert.ok(!(await answer.body()).includes('GPS'));
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });

  test('Escape or leaving gives the focus back, and every field has a name', async () => {
    await openTrials('Night toner');
    const verb = page.locator('#trial-1').getByRole('button', { name: 'Add a reading' });
    await verb.click();
    const unnamed = await page.locator('.entry').evaluate((form) => [...form.querySelectorAll('input, select, textarea')].filter((field) => !/** @type {any} */ (field).labels?.length && !field.getAttribute('aria-label')).length);
    assert.equal(unnamed, 0);
    await page.getByRole('button', { name: 'Not now' }).click();
    assert.ok(await verb.evaluate((element) => element === document.activeElement));
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });
});

describe('lots of a raw material', () => {
  test('are listed, added and corrected on its page', async () => {
    await page.goto(`${server.url}materials/mandelic-acid`);
    const lots = page.locator('#lots');
    assert.match(await lots.innerText(), /MA-2608-14[\s\S]*99\.2[\s\S]*Loss on drying 0\.2 %[\s\S]*certificate-MA-2608-14\.pdf/);
    await lots.getByRole('button', { name: 'Add a lot' }).click();
    await page.locator('.entry [name=code]').fill('ma-2608-14');
    await page.locator('.entry [name=code]').press('Enter');
    assert.match(await page.locator('.entry .field-trouble:not([hidden])').innerText(), /on file already/);
    await page.locator('.entry [name=code]').fill('MA-2610-02');
    await page.locator('.entry [name=assay_percent]').fill('98,4');
    await page.locator('.entry [name=received]').fill('2026-10-05');
    await page.locator('.entry [name=retest]').fill('2026-11-01');
    await page.locator('.certificate-row').first().locator('input').nth(0).fill('Loss on drying');
    await page.locator('.certificate-row').first().locator('input').nth(1).fill('0,4');
    await page.getByRole('button', { name: 'Keep the lot' }).click();
    const row = lots.locator('tr', { hasText: 'MA-2610-02' });
    await row.waitFor();
    assert.match(await row.innerText(), /98\.4|98,4/);
    assert.match(await row.innerText(), /To be tested again since 2026-11-01/);
    await row.getByRole('button', { name: /^Correct lot/ }).click();
    await page.locator('.entry [name=assay_percent]').fill('98,9');
    await page.locator('.entry [name=reason]').fill('second certificate');
    await page.getByRole('button', { name: 'Put this in its place' }).click();
    await lots.locator('.struck-lot', { hasText: 'MA-2610-02' }).waitFor();
    assert.match(await lots.locator('.struck-lot').innerText(), /Struck out\. second certificate/);
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });

  test('a line names its lot and takes its assay', async () => {
    await page.goto(`${server.url}formulas`);
    await page.locator('.shelf li > a', { hasText: 'Night toner' }).click();
    await page.waitForFunction(() => document.documentElement.dataset.judged !== undefined);
    const line = page.locator('.rows .line', { has: page.getByRole('button', { name: 'Assay, lot, tolerance and more of Sodium hydroxide 20 %' }) });
    await line.locator('.more').click();
    await line.locator('.lot-offer', { hasText: 'On file' }).waitFor();
    await line.getByLabel('Lot', { exact: true }).fill('nh-2609-03');
    assert.match(await line.locator('.lot-offer').innerText(), /Lot NH-2609-03: 20\.1 % sodium hydroxide/i);
    await line.getByRole('button', { name: 'Take its assay' }).click();
    assert.equal(await line.getByLabel('Assay of the lot, %').inputValue(), '20.1');
    await page.waitForFunction(() => /assay 20\.1 %, lot nh-2609-03/.test([...document.querySelectorAll('.rows')].map((one) => one.textContent).join()));
    assert.match(await line.locator('.lot-offer').innerText(), /decides what is weighed/);
    assert.deepEqual(wrong.filter((one) => !/status of 422/.test(one)), []);
  });
});
