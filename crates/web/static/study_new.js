// @ts-check
/** A study to be planned: first the formula, then the plan. */

import { ask } from './api.js';
import { identity } from './bench/outbox.js';
import { byId, h, pageData } from './dom.js';
import { PlanForm } from './study_plan.js';

const page = pageData();
const place = byId('plan');

function choose() {
  const list = h('ul', { class: 'plan-formulas' }, ...page.formulas.map((/** @type {[string, string]} */ [id, name]) => h('li', {}, h('a', { class: 'verb', href: `/studies/new?formula=${id}` }, name))));
  place.replaceChildren(h('h2', {}, 'Of which formula?'), page.formulas.length ? list : h('p', { class: 'aside' }, 'There is no formula yet: a study keeps a saved version of one.'));
  /** @type {HTMLElement|null} */ (list.querySelector('a'))?.focus();
}

function plan() {
  const { ground, practice } = page;
  const id = identity();
  const first = (/** @type {string[]} */ keys) => practice.conditions.filter((/** @type {any} */ one) => keys.includes(one.key));
  const typed = {
    version: ground.version, name: `${ground.name}: stability`, why: '', start: ground.today, batches: [], packs: [{ name: 'Glass jar', fill: '', material: 'clear glass' }],
    conditions: first(['cold', 'room', 'accelerated']), attributes: practice.attributes.filter((/** @type {any} */ one) => ['pH', 'Odour', 'Appearance'].includes(one.name)).map((/** @type {any} */ one) => ({ ...one, measured_at: {}, steps: [] })),
    units_per_pull: '1', reserve_percent: practice.reserve.percent, wanted_months: '', note: '',
  };
  const form = new PlanForm({ practice, trials: ground.trials.filter((/** @type {any} */ trial) => trial.version === ground.version), typed, title: `${ground.name}, version ${ground.version}`, word: 'Begin the study', leave: () => { location.href = '/studies'; }, keep: async (plan) => {
    const kept = await ask('POST', `/api/formulas/${ground.formula}/studies`, { id, at: new Date().toISOString(), ...plan });
    location.href = `/studies/${kept.id}`;
  } });
  place.replaceChildren(form.element);
  form.element.querySelector('input')?.focus();
}

if (page.ground) plan(); else choose();
