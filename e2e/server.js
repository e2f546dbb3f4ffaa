// Starts the program under test and says where it answers.
import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** Where Chromium is. */
export const CHROMIUM = process.env.CHROMIUM ?? ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'].find((path) => existsSync(path));

export const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];

/**
 * LEVIGATE_BIN is the program itself; LEVIGATE_URL a server that runs already (for looking at pages, not for tests).
 * @param {string[]} more further arguments of `serve`
 * @returns {Promise<{url: string, said: () => string, stop: () => void}>}
 */
export async function start(more = []) {
  if (process.env.LEVIGATE_URL) return { url: process.env.LEVIGATE_URL, said: () => '', stop: () => {} };
  const program = process.env.LEVIGATE_BIN;
  if (!program) throw new Error('set LEVIGATE_BIN to the program to be tested');
  // The sample workspace, in a place of its own that is gone afterwards.
  const place = await mkdtemp(join(tmpdir(), 'levigate-e2e-'));
  const child = spawn(program, ['serve', '--port', '0', '--no-browser', ...more], { stdio: ['ignore', 'pipe', 'inherit'], env: { ...process.env, XDG_DATA_HOME: place, HOME: place } });
  let said = '';
  const url = await new Promise((resolve, reject) => {
    const late = setTimeout(() => reject(new Error(`no address within 20 s: ${said}`)), 20000);
    child.stdout?.on('data', (chunk) => {
      said += chunk;
      const found = /http:\/\/127\.0\.0\.1:\d+\//.exec(said);
      // The line about Ctrl-C is the last.
      if (found && said.includes('Ctrl-C')) { clearTimeout(late); resolve(found[0]); }
    });
    child.on('exit', (code) => reject(new Error(`ended with ${code}: ${said}`)));
  });
  return { url, said: () => said, stop: () => child.kill() };
}
