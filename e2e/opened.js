// The program, a browser and a fresh page at laptop width for every test: what a test file imports that needs no other.
import { after, before, beforeEach } from 'node:test';
import { chromium } from 'playwright-core';
import { CHROMIUM, FLAGS, start } from './server.js';
import { watched } from './watch.js';

/** @type {Awaited<ReturnType<typeof start>>} */ export let server;
/** @type {import('playwright-core').Browser} */ export let browser;
/** @type {import('playwright-core').BrowserContext} */ export let context;
/** @type {import('playwright-core').Page} */ export let page;
/** Complaints of the browser and requests that left the machine. @type {string[]} */ export let wrong = [];

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
  page = await watched(context, server.url, wrong);
});

export const press = (/** @type {string} */ key) => page.keyboard.press(key);
export const type = (/** @type {string} */ text) => page.keyboard.type(text);

/**
 * Tabs until an element has the focus, so many times at most.
 * @param {number} most
 */
export const tabbing = (most) => async (/** @type {string} */ selector) => {
  for (let at = 0; at < most; at += 1) {
    if (await page.evaluate((wanted) => document.activeElement?.matches(wanted), selector)) return;
    await press('Tab');
  }
  throw new Error(`${selector} is not reached by Tab`);
};
