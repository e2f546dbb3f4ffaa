// @ts-check
/** An experiment to be planned: first from which formula, then the plan. */

import { ask } from './api.js';
import { identity } from './bench/outbox.js';
import { byId, h, pageData } from './dom.js';
import { listen } from './derivation.js';
import { ExperimentForm } from './experiment_plan.js';

const page = pageData();
const place = byId('plan');

function choose() {
  const link = (/** @type {string} */ id, /** @type {string} */ name) => h('li', {}, h('a', { class: 'verb', href: `/experiments/new?formula=${id}` }, name));
  const list = h('ul', { class: 'plan-formulas' }, ...page.formulas.map((/** @type {[string, string]} */ [id, name]) => link(id, name)));
  place.replaceChildren(h('h2', {}, 'With which formula?'), h('p', { class: 'aside' }, 'Its runs can be begun as trials, each a saved version with exactly its percents.'), list,
    h('h2', {}, 'Or without one'), h('ul', { class: 'plan-formulas' }, link('none', 'Name the parts freely')));
  /** @type {HTMLElement|null} */ (place.querySelector('a'))?.focus();
}

function plan() {
  const { ground } = page;
  const id = identity();
  const typed = { name: '', why: '', parts: [], total_percent: ground.formula ? '' : '100', conditions: [], settings: [], model: 'quadratic', process: 'linear', joined: 'added', goal: 'terms', runs: '', middles: '', repeats: '2', blocks: '', seed: '1', reads: [], note: '' };
  const form = new ExperimentForm({ ground, typed, held: false, title: ground.formula ? `${ground.name}, version ${ground.version}` : 'Freely named parts', word: 'Keep the experiment', leave: () => { location.href = '/experiments'; }, keep: async (plan) => {
    const kept = await ask('POST', '/api/experiments', { id, at: new Date().toISOString(), ...plan });
    location.href = `/experiments/${kept.id}`;
  } });
  place.replaceChildren(form.element);
  /** @type {HTMLElement|null} */ (form.element.querySelector('[name=name]'))?.focus();
}

listen();
if (page.ground) plan(); else choose();
