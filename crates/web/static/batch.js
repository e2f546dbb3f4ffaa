// @ts-check
import { byId } from './dom.js';

byId('print').addEventListener('click', () => window.print());
