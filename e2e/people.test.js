// People: the first one by the code, logging in, wrong passwords and waiting, roles, a session that ends under what is typed, the door to the network.
import assert from 'node:assert/strict';
import { after, before, beforeEach, describe, test } from 'node:test';
import { chromium } from 'playwright-core';
import { tooFaint } from './contrast.js';
import { CHROMIUM, FLAGS, start } from './server.js';
import { watched } from './watch.js';

const PASSWORD = 'grey pestle 41';
const OTHER = 'slate and chalk 7';

/** @type {Awaited<ReturnType<typeof start>>} */ let server;
/** @type {import('playwright-core').Browser} */ let browser;
/** @type {import('playwright-core').BrowserContext} */ let context;
/** @type {import('playwright-core').Page} */ let page;
/** @type {string[]} */ let wrong = [];

before(async () => {
  server = await start(['--lan', '127.0.0.1', '--lan-port', '0']);
  browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
});
after(async () => {
  await browser?.close();
  server?.stop();
});
beforeEach(async () => {
  await context?.close();
  wrong = [];
  // Requests that pass a service worker cannot be held up by a test.
  context = await browser.newContext({ viewport: { width: 820, height: 1180 }, locale: 'en-GB', serviceWorkers: 'block' });
  page = await watched(context, server.url, wrong);
});

const lan = () => /https:\/\/127\.0\.0\.1:\d+\//.exec(server.said())?.[0] ?? '';

/** @param {string} name @param {string} password @param {string} [home] */
async function logIn(name, password, home = server.url) {
  await page.goto(`${home}login`);
  await page.locator('[name=name]').fill(name);
  await page.locator('[name=password]').fill(password);
  await page.keyboard.press('Enter');
  await page.waitForURL((url) => url.pathname === '/formulas');
}

/** What the browser itself says of a refused request is expected where one is refused. */
const unexpected = () => wrong.filter((one) => !/status of (401|403|422|429)/.test(one));

describe('people', () => {
  test('the first one comes in by keyboard with the code from the terminal; from then on everybody logs in', async () => {
    await page.goto(`${server.url}formulas`);
    assert.equal(await page.locator('h1').innerText(), 'Formulas', 'nobody has to log in yet');
    await page.goto(`${server.url}pairing`);
    const told = (await page.locator('#fingerprint').innerText()).replace(/\s+/g, ' ').trim();
    assert.ok(server.said().includes(told), 'the fingerprint on the page is the one on the terminal');
    assert.equal(await page.locator('.pairing-code svg').count(), 1);
    const code = /pairing page: (\w{4} \w{4})/.exec(server.said())?.[1] ?? '';
    assert.equal(await page.evaluate(() => /** @type {any} */ (document.activeElement).name), 'code');
    await page.keyboard.type('2222 2222');
    await page.keyboard.press('Enter');
    const fault = page.locator('.field-trouble:not([hidden])');
    await fault.waitFor();
    assert.match(await fault.innerText(), /not the code[\s\S]*9 tries are left/);
    await page.keyboard.press('ControlOrMeta+a');
    await page.keyboard.type(code.toLowerCase());
    await page.keyboard.press('Tab');
    await page.keyboard.type('Ines Marrow');
    await page.keyboard.press('Tab');
    await page.keyboard.press('Tab');
    await page.keyboard.type(PASSWORD);
    await page.keyboard.press('Enter');
    await page.waitForURL((url) => url.pathname === '/login');
    // The way goes on to where it led.
    await page.locator('[name=name]').waitFor();
    assert.equal(await page.evaluate(() => /** @type {any} */ (document.activeElement).name), 'name');
    await page.keyboard.type('im');
    await page.keyboard.press('Tab');
    await page.keyboard.type(PASSWORD);
    await page.keyboard.press('Enter');
    await page.waitForURL((url) => url.pathname === '/pairing');
    assert.match(await page.locator('.studio').innerText(), /Ines Marrow, admin/);
    assert.equal(await page.locator('#first-person').count(), 0);
    assert.deepEqual(unexpected(), []);
  });

  test('an admin lets others in, and a role that is missing is told with who has it', async () => {
    await logIn('Ines Marrow', PASSWORD);
    await page.locator('nav').getByRole('link', { name: 'People' }).click();
    for (const [name, role] of [['Una Reed', 'reviewer'], ['Ivo Stone', 'bench']]) {
      await page.getByRole('button', { name: 'Add a person' }).click();
      await page.keyboard.type(name ?? '');
      await page.locator('.entry [name=role]').selectOption(role ?? '');
      await page.locator('.entry [name=password]').fill('short');
      await page.keyboard.press('Enter');
      assert.match(await page.locator('.entry .field-trouble:not([hidden])').innerText(), /fewer than 10 letters/);
      await page.locator('.entry [name=password]').fill(OTHER);
      await page.keyboard.press('Enter');
      await page.locator('.people-table', { hasText: name }).waitFor();
    }
    assert.equal(await page.evaluate(() => document.activeElement?.id.startsWith('person-')), true, 'the new person has the focus');
    await page.getByRole('button', { name: 'Change Ines Marrow' }).click();
    await page.locator('.entry [name=role]').selectOption('bench');
    await page.getByRole('button', { name: 'Keep the change' }).click();
    assert.match(await page.locator('.entry .field-trouble:not([hidden])').first().innerText(), /Nobody would be left/);
    await page.getByRole('button', { name: 'Log out' }).click();
    await page.waitForURL((url) => url.pathname === '/login');

    await logIn('Ivo Stone', OTHER);
    assert.equal(await page.locator('nav').getByRole('link', { name: 'People' }).count(), 0);
    await page.goto(`${server.url}people`);
    assert.match(await page.locator('h1').innerText(), /Ivo Stone has the role bench; only an admin may manage people/);
    assert.match(await page.locator('main').innerText(), /Ask an admin/);
    assert.deepEqual(unexpected(), []);
  });

  test('at the beaker what one person typed goes out under their name, and signing hears the password again', async () => {
    await logIn('Ivo Stone', OTHER);
    await page.goto(`${server.url}batches`);
    await page.getByRole('button', { name: 'Begin a batch' }).click();
    await page.locator('[name=formula]').selectOption({ label: 'Night toner with mandelic acid, version 2' });
    await page.getByRole('button', { name: 'Begin', exact: true }).click();
    await page.waitForURL(/batches\/[0-9a-f-]{36}$/);
    const batch = page.url();
    const state = () => page.evaluate(async () => (await fetch(`/api${location.pathname}`)).json());
    const weigh = async () => {
      await page.locator('#step [name=net]').fill(await page.locator('#step .matter-number').first().innerText());
      await page.keyboard.press('Enter');
    };
    await page.route('**/entries', (route) => route.abort());
    await weigh();
    await page.locator('#link', { hasText: '1 entry waits' }).waitFor();
    // A reading of the trial waits behind it, under the same name.
    await page.getByRole('button', { name: 'Something else' }).click();
    await page.locator('#more [name=did]').selectOption('reading');
    await page.locator('#more [name=value]').fill('2,31');
    await page.locator('#more .main-verb').click();
    await page.locator('#link', { hasText: '2 entries wait' }).waitFor();
    await page.unroute('**/entries');
    const logOut = () => page.evaluate(async () => {
      const token = document.querySelector('meta[name="levigate-token"]')?.getAttribute('content') ?? '';
      await fetch('/api/me/logout', { method: 'POST', headers: { 'X-Levigate-Token': token, 'Content-Type': 'application/json' }, body: '{}' });
    });
    await page.goto(`${server.url}settings`);
    await logOut();
    await logIn('Una Reed', OTHER);
    await page.goto(batch);
    await page.locator('#link', { hasText: 'typed by Ivo Stone, and sent when they are logged in here' }).waitFor();
    const { entries, readings } = await state();
    await logOut();
    await logIn('Ivo Stone', OTHER);
    await page.goto(batch);
    await page.locator('#link', { hasText: 'Everything is kept' }).waitFor();
    const now = await state();
    assert.ok(entries.length === 0 || entries[0].who === 'Ivo Stone', 'never under another name');
    assert.deepEqual(now.entries.map((/** @type {any} */ one) => one.who), ['Ivo Stone']);
    assert.ok(readings.length === 0 || readings[0].who === 'Ivo Stone', 'never under another name');
    assert.deepEqual(now.readings.map((/** @type {any} */ one) => [one.who, one.typed]), [['Ivo Stone', '2,31']]);
    await page.evaluate(async () => {
      const token = document.querySelector('meta[name="levigate-token"]')?.getAttribute('content') ?? '';
      const { steps } = await (await fetch(`/api${location.pathname}`)).json();
      for (const step of steps) await fetch(`/api${location.pathname}/entries`, { method: 'POST', headers: { 'X-Levigate-Token': token, 'Content-Type': 'application/json' }, body: JSON.stringify({ id: crypto.randomUUID(), did: 'skipped', step: step.number, reason: 'only to sign' }) });
    });
    await page.reload();
    await page.locator('h1', { hasText: 'All steps are done' }).waitFor();
    assert.equal(await page.locator('[name=who]').count(), 0, 'a name that is known is not typed');
    await page.locator('[name=password]').fill('not the one at all');
    await page.getByRole('button', { name: 'Sign', exact: true }).click();
    const fault = page.locator('.entry .field-trouble:not([hidden])');
    await fault.waitFor();
    assert.match(await fault.innerText(), /password/i);
    await page.locator('[name=password]').fill(OTHER);
    await page.locator('[name=signed_as]').selectOption('released');
    await page.getByRole('button', { name: 'Sign', exact: true }).click();
    await page.locator('.entry .field-trouble:not([hidden])', { hasText: /Ivo Stone has the role bench/ }).waitFor();
    await page.locator('[name=signed_as]').selectOption('made');
    await page.getByRole('button', { name: 'Sign', exact: true }).click();
    await page.locator('h1', { hasText: 'Signed off' }).waitFor();
    assert.match(await page.locator('.standing').innerText(), /Ivo Stone: made/);
    assert.doesNotMatch(await page.locator('.standing').innerText(), /not authenticated/);
    // Somebody else looks: whoever signed for having made it too says why nobody but they review it, and the record says it.
    assert.match(await page.locator('.seen-by').innerText(), /Nobody else has looked at it yet/);
    await page.goto(`${server.url}settings`);
    await logOut();
    await logIn('Una Reed', OTHER);
    await page.goto(batch);
    const sign = async (/** @type {string} */ signed_as) => {
      await page.locator('[name=signed_as]').selectOption(signed_as);
      await page.locator('[name=password]').fill(OTHER);
      await page.locator('[name=password]').press('Enter');
    };
    await sign('made');
    await page.locator('.standing', { hasText: 'Una Reed: made' }).waitFor();
    assert.equal(await page.locator('[name=alone]').isVisible(), false);
    await sign('reviewed');
    await page.locator('.entry .field-trouble:not([hidden])', { hasText: /Una Reed signed for having made this batch, and 0 of \d+ entries/ }).waitFor();
    await page.waitForFunction(() => /** @type {HTMLInputElement|null} */ (document.activeElement)?.name === 'alone');
    await page.keyboard.type('nobody else here today');
    await page.keyboard.press('Enter');
    await page.locator('.seen-by', { hasText: 'Made and reviewed by Una Reed alone: nobody else here today.' }).waitFor();
    assert.deepEqual(wrong.filter((one) => !/status of (401|403|422|429)|ERR_FAILED|Failed to load resource/.test(one)), []);
  });

  test('what is saved carries the name of whoever has logged in', async () => {
    await logIn('Ivo Stone', OTHER);
    await page.locator('.shelf li > a').first().click();
    await page.locator('.product-name').fill('Named by Ivo');
    await page.getByRole('button', { name: /Save as version/ }).click();
    await page.getByLabel('Reason for this version').fill('a name');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => /saved as version/.test(document.body.innerText));
    await page.getByRole('button', { name: 'Versions' }).click();
    await page.waitForFunction(() => /Ivo Stone/.test(document.querySelector('main')?.innerText ?? ''));
    assert.deepEqual(unexpected(), []);
  });

  test('a wrong password is told and stays told in words until one has to wait', async () => {
    await page.goto(`${server.url}login?to=/settings`);
    await page.locator('[name=name]').fill('Una Reed');
    const fault = page.locator('.field-trouble:not([hidden])');
    for (let guess = 0; guess < 5; guess += 1) {
      await page.locator('[name=password]').fill(`not this ${guess}`);
      const answer = page.waitForResponse((one) => one.url().endsWith('/api/login'));
      await page.keyboard.press('Enter');
      assert.equal((await answer).status(), 422);
      await fault.waitFor();
      assert.match(await fault.innerText(), /Name and password do not belong together/);
      assert.equal(await page.evaluate(() => /** @type {any} */ (document.activeElement).name), 'password');
    }
    await page.locator('[name=password]').fill(OTHER);
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => /Wait \d+ seconds before the next try/.test(document.querySelector('main')?.innerText ?? ''));
    assert.match(await fault.innerText(), /Too many wrong passwords/);
    assert.deepEqual(unexpected(), []);
  });

  test('a session that ends takes nothing of what is typed, and goes on after the password', async () => {
    await logIn('Ines Marrow', PASSWORD);
    await page.locator('.shelf li > a', { hasText: 'Night toner' }).click();
    await page.locator('.product-name').waitFor();
    await context.clearCookies();
    await page.locator('.product-name').fill('Toner typed after the end');
    const strip = page.locator('.log-in-again');
    await strip.waitFor();
    assert.match(await strip.innerText(), /no longer logged in[\s\S]*What you typed is still on this page/);
    assert.equal(await page.locator('.product-name').inputValue(), 'Toner typed after the end');
    assert.equal(await strip.locator('[name=name]').inputValue(), 'Ines Marrow');
    await strip.locator('[name=password]').fill('not this one');
    await page.keyboard.press('Enter');
    await strip.locator('.field-trouble:not([hidden])').waitFor();
    await page.keyboard.type(PASSWORD);
    await page.keyboard.press('Enter');
    await strip.waitFor({ state: 'detached' });
    await page.waitForFunction(() => /kept at/.test(document.body.innerText));
    await page.reload();
    await page.waitForFunction(() => /** @type {any} */ (document.querySelector('.product-name'))?.value === 'Toner typed after the end');
    assert.deepEqual(unexpected(), []);
  });

  test('what was refused before the password and is heard of after it asks for no other', async () => {
    await logIn('Ines Marrow', PASSWORD);
    await context.clearCookies();
    const answers = /** @type {number[]} */ ([]);
    /** @type {() => void} */ let letGo = () => {};
    /** @type {() => void} */ let refused = () => {};
    const held = new Promise((done) => { letGo = () => done(undefined); });
    const late = new Promise((done) => { refused = () => done(undefined); });
    // The program refuses both at once; the refusal of the second reaches the page only once somebody has logged in.
    await page.route('**/api/batches', async (route) => {
      const answer = await route.fetch();
      answers.push(answer.status());
      if (answers.length === 1) {
        refused();
        await held;
      }
      await route.fulfill({ response: answer });
    });
    const both = page.evaluate(async () => {
      const from = '/static/api.js';
      const { ask } = await import(from);
      return Promise.all(['/api/formulas', '/api/batches'].map(async (path) => Array.isArray(await ask('GET', path))));
    });
    const strip = page.locator('.log-in-again');
    await strip.waitFor();
    await late;
    assert.deepEqual(answers, [401], 'the second was refused before anybody logged in');
    await strip.locator('[name=password]').fill(PASSWORD);
    await page.keyboard.press('Enter');
    await strip.waitFor({ state: 'detached' });
    letGo();
    assert.deepEqual(await both, [true, true]);
    assert.deepEqual(answers, [401, 200], 'it was asked again, once');
    assert.equal(await strip.count(), 0, 'and the password only once');
    assert.deepEqual(unexpected(), []);
  });

  test('logging out everywhere ends the other browser too', async () => {
    await logIn('Ines Marrow', PASSWORD);
    const elsewhere = await browser.newContext();
    const second = await elsewhere.newPage();
    await second.goto(`${server.url}login`);
    await second.locator('[name=name]').fill('Ines Marrow');
    await second.locator('[name=password]').fill(PASSWORD);
    await second.keyboard.press('Enter');
    await second.waitForURL((url) => url.pathname === '/formulas');
    await page.goto(`${server.url}settings`);
    await page.getByRole('button', { name: 'Log out everywhere' }).click();
    await page.waitForURL((url) => url.pathname === '/login');
    await second.goto(`${server.url}materials`);
    assert.equal(new URL(second.url()).pathname, '/login');
    await elsewhere.close();
  });

  test('in the network it is the same house, under encryption', async () => {
    await context.close();
    context = await browser.newContext({ viewport: { width: 820, height: 1180 }, ignoreHTTPSErrors: true });
    page = await watched(context, lan(), wrong);
    await page.goto(`${lan()}formulas`);
    assert.equal(new URL(page.url()).pathname, '/login');
    await logIn('Ivo Stone', OTHER, lan());
    assert.match(await page.locator('.studio').innerText(), /Ivo Stone, bench/);
    const [cookie] = await context.cookies();
    assert.ok(cookie?.secure && cookie.httpOnly && cookie.sameSite === 'Strict' && cookie.name.startsWith('__Host-'), JSON.stringify(cookie));
    await page.goto(`${lan()}pairing`);
    assert.match(await page.locator('h1').innerText(), /role bench/, 'the pairing page is for those who manage people, at the machine itself');
    await page.locator('nav').getByRole('link', { name: 'Raw materials' }).click();
    assert.equal(await page.locator('h1').innerText(), 'Raw materials');
    assert.deepEqual(unexpected(), []);
  });

  for (const light of /** @type {const} */ (['light', 'dark'])) {
    test(`the pages about people can be read, ${light}`, async () => {
      await context.close();
      context = await browser.newContext({ viewport: { width: 1440, height: 900 }, colorScheme: light, locale: 'en-GB' });
      page = await watched(context, server.url, wrong);
      /** @type {string[]} */ const faint = [];
      const look = async (/** @type {string} */ name) => { for (const one of await page.evaluate(tooFaint)) faint.push(`${name}: ${one.ratio} instead of ${one.least}, “${one.what}” in ${one.where}`); };
      await page.goto(`${server.url}login`);
      await page.locator('[name=password]').fill('x');
      await page.keyboard.press('Enter');
      await page.locator('.field-trouble:not([hidden])').waitFor();
      await look('log in');
      await logIn('Ines Marrow', PASSWORD);
      await page.goto(`${server.url}people`);
      await page.getByRole('button', { name: 'Change Ivo Stone' }).click();
      await look('people');
      await page.goto(`${server.url}pairing`);
      await look('pairing');
      await page.goto(`${server.url}settings`);
      await page.locator('#own-password form').waitFor();
      await look('settings');
      await page.locator('nav').getByRole('link', { name: 'Formulas' }).click();
      await page.locator('.shelf li > a').first().click();
      await context.clearCookies();
      await page.locator('.product-name').fill('x');
      await page.locator('.log-in-again').waitFor();
      await look('log in again');
      assert.deepEqual(faint, []);
    });
  }
});
