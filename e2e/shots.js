// Pictures of every page at both widths, light and dark, for people to look at: node shots.js [name part]
import { mkdir } from 'node:fs/promises';
import { chromium } from 'playwright-core';
import { CHROMIUM, FLAGS, start } from './server.js';

const only = process.argv[2] ?? '';
const server = await start();
const browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
await mkdir('shots', { recursive: true });
const views = [['laptop', 1440, 900, 'light'], ['laptop', 1440, 900, 'dark'], ['tablet', 820, 1180, 'light'], ['tablet', 820, 1180, 'dark']];
let formula = '';
for (const [name, width, height, light] of views) {
  const context = await browser.newContext({ viewport: { width, height }, colorScheme: light, locale: 'en-GB' });
  const page = await context.newPage();
  page.on('console', (message) => { if (['error', 'warning'].includes(message.type())) console.log(message.type(), message.text()); });
  page.on('pageerror', (error) => console.log('error', error.stack));
  await page.goto(`${server.url}formulas`);
  formula ||= await page.locator('.shelf a').first().getAttribute('href') ?? '';
  const pages = { formulas: '/formulas', formula, materials: '/materials?words=acid', settings: '/settings', numbers: '/reading-numbers', batch: `${formula}/batch-sheet`, difference: `${formula}/difference?left=1&right=1`, new: '/formulas/new', own: '/materials/new', missing: '/formulas/none-such' };
  for (const [what, path] of Object.entries(pages)) {
    const file = `${what}-${name}-${light}`;
    if (!file.includes(only)) continue;
    await page.goto(new URL(path, server.url).href);
    await page.waitForTimeout(what === 'formula' ? 700 : 200);
    await page.screenshot({ path: `shots/${file}.png` });
    if (light === 'light' || what === 'formula') await page.screenshot({ path: `shots/${file}-full.png`, fullPage: true });
  }
  await context.close();
}
await browser.close();
server.stop();
