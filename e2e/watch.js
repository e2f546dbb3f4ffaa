// A page that notes every complaint of the browser and every request that leaves the machine.

/**
 * @param {import('playwright-core').BrowserContext} context @param {string} home address of the program @param {string[]} wrong where it is noted
 */
export async function watched(context, home, wrong) {
  const page = await context.newPage();
  page.on('console', (message) => { if (message.type() === 'error') wrong.push(`console: ${message.text()}`); });
  page.on('pageerror', (error) => wrong.push(`script: ${error.message}`));
  page.on('request', (request) => {
    const url = request.url();
    if (!url.startsWith(home) && !url.startsWith('data:') && !url.startsWith('blob:')) wrong.push(`request: ${url}`);
  });
  return page;
}
