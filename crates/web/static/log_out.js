// @ts-check
import { askOnce } from './api.js';
import { forgetPages } from './bench/alone.js';
import { byId } from './dom.js';

byId('log-out').addEventListener('click', async () => {
  try {
    await askOnce('POST', '/api/me/logout', {});
  } catch {
    // A session that is over already needs no ending; the next page asks for the login either way.
  }
  await forgetPages();
  location.href = '/login';
});
