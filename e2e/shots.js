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
/** What is done on a page before its picture is taken. @type {Record<string, (page: import('playwright-core').Page) => Promise<unknown>>} */
const acts = {
  'trials-form': async (page) => { await page.locator('.trial-lines summary').last().click(); await page.getByRole('button', { name: 'Add a reading' }).last().click(); },
  tree: (page) => page.locator('#between .overview').waitFor(),
  'trials-copy': (page) => page.getByRole('button', { name: 'Copy as the next trial' }).last().click(),
  'trials-photo': async (page) => {
    if (await page.locator('.observation img').count()) return;
    await page.getByRole('button', { name: 'Add an observation' }).last().click();
    await page.locator('.entry [name=text]').fill('Fish eyes at the wall of the beaker; gone after an hour.');
    await page.locator('.entry [name=photo]').setInputFiles('../docs/formula-sheet.png');
    await page.locator('.entry [name=shows]').fill('A photo stands here');
    await page.getByRole('button', { name: 'Keep the observation' }).click();
    await page.locator('.observation img').waitFor();
  },
  'measurement-read': (page) => page.getByRole('button', { name: 'Try it with an example' }).click().then(() => page.locator('.fits-table').first().waitFor()),
  bringing: (page) => page.getByRole('button', { name: 'Try it with an example' }).click().then(() => page.locator('.rows-read').first().waitFor()),
  'stock-lot': (page) => page.locator('a.lot-code', { hasText: 'MA-2608-14' }).click().then(() => page.locator('#move').waitFor()),
  'stock-form': (page) => page.locator('a.lot-code', { hasText: 'ZP-2608-02' }).click().then(() => page.locator('#move').click()),
  study: (page) => page.locator('.studies-shelf a').first().click().then(() => page.locator('.trend-told .lead-word').first().waitFor()),
  'study-enter': (page) => page.locator('.due-link').first().click().then(() => page.locator('.pull-form').waitFor()),
  'study-new': (page) => page.locator('.plan-formulas a').first().click().then(() => page.locator('.plan-form').waitFor()),
  experiment: (page) => page.locator('main a[href*="/experiments/"]').last().click().then(() => page.locator('svg').first().waitFor()),
  microbes: async (page) => {
    await page.getByLabel('Colonies at dilution 1', { exact: false }).first().fill('144 138');
    await page.locator('table.counted').waitFor();
  },
  better: (page) => page.getByRole('button', { name: 'Find', exact: true }).click().then(() => page.locator('.answers-table').waitFor()),
  instead: (page) => page.waitForFunction(() => document.documentElement.dataset.looked !== undefined),
  'lots-form': (page) => page.getByRole('button', { name: 'Add a lot' }).click(),
};
for (const [name, width, height, light] of views) {
  const context = await browser.newContext({ viewport: { width, height }, colorScheme: light, locale: 'en-GB' });
  const page = await context.newPage();
  page.on('console', (message) => { if (['error', 'warning'].includes(message.type())) console.log(message.type(), message.text()); });
  page.on('pageerror', (error) => console.log('error', error.stack));
  await page.goto(`${server.url}formulas`);
  formula ||= await page.locator('.shelf li > a', { hasText: 'Night toner' }).getAttribute('href') ?? '';
  const pages = { formulas: '/formulas', formula, materials: '/materials?words=acid', settings: '/settings', numbers: '/reading-numbers', batch: `${formula}/batch-sheet`, difference: `${formula}/difference?left=1&right=1`, trials: `${formula}/trials`, 'trials-form': `${formula}/trials`, 'trials-copy': `${formula}/trials`, 'trials-photo': `${formula}/trials`, lots: '/materials/mandelic-acid', stock: '/lots', 'stock-lot': '/lots', 'stock-form': '/lots', 'lots-form': '/materials/mandelic-acid', studies: '/studies', study: '/studies', 'study-enter': '/studies', 'study-new': '/studies/new', experiments: '/experiments', experiment: '/experiments', microbes: `${formula}/microbes`, new: '/formulas/new', measurement: '/measurement', 'measurement-read': '/measurement', bringing: '/bring-in?what=lot', own: '/materials/new', missing: '/formulas/none-such', better: `${formula}/better`, instead: '/materials/xanthan-gum/instead', predictions: '/predictions', tree: `${formula}/tree?left=1&right=2` };
  for (const [what, path] of Object.entries(pages)) {
    const file = `${what}-${name}-${light}`;
    if (!file.includes(only)) continue;
    await page.goto(new URL(path, server.url).href);
    await acts[what]?.(page);
    await page.waitForTimeout(what === 'formula' ? 700 : 200);
    await page.screenshot({ path: `shots/${file}.png` });
    if (light === 'light' || what === 'formula') await page.screenshot({ path: `shots/${file}-full.png`, fullPage: true });
  }
  await context.close();
}
await browser.close();
server.stop();
