// @ts-check
/** How a batch stands once what waits has arrived: the same sums as in the program, so that the bench goes on without it. */

const GRAMS = { g: 1, kg: 1000, mg: 0.001 };

/** A typed weight in grams, or null. @param {string|undefined} typed @param {string} [unit] */
export function grams(typed, unit = 'g') {
  const text = String(typed ?? '').trim().replace(',', '.');
  const factor = /** @type {Record<string, number>} */ (GRAMS)[unit] ?? 1;
  return /^\d+\.?\d*$|^\.\d+$/.test(text) ? Number(text) * factor : null;
}

/** What an entry weighs, g: net, else gross less tare. @param {Record<string, any>} body */
export function netOf(body) {
  const net = grams(body.net, body.unit);
  const gross = grams(body.gross, body.unit);
  return net ?? (gross === null ? null : gross - (grams(body.tare, body.unit) ?? 0));
}

/** Small remainders of binary sums are none. @param {number} value */
const tidy = (value) => Math.round(value * 1e6) / 1e6;

/** @param {any} line */
function judge(line) {
  const short = tidy(line.target.value - (line.actual?.value ?? 0));
  const tolerance = line.tolerance.value ?? 0;
  line.missing = { ...line.missing, value: Math.max(0, short) };
  line.verdict = line.actual === null ? 'open' : Math.abs(short) <= tolerance + 1e-9 ? 'within' : short > 0 ? 'short' : 'over';
}

/** Whether a reading has reached the temperature of a step: from above where it cools, else from below. @param {any} step @param {string|undefined} typed */
export function reaches(step, typed) {
  const celsius = Number(String(typed ?? '').trim().replace(',', '.'));
  if (step.temperature_c === null || !Number.isFinite(celsius) || !String(typed ?? '').trim()) return false;
  return step.procedure?.does === 'cool' ? celsius <= Number(step.temperature_c) : celsius >= Number(step.temperature_c);
}

/** @param {any} portion */
const isIn = (portion) => portion.actual !== null && portion.missing.value <= portion.tolerance.value + 1e-9;

/** Shares the target of a line among its portions: what is in says what is left for the others. @param {any} state @param {any} line */
function divide(state, line) {
  const own = state.steps.filter((/** @type {any} */ step) => step.portion && step.line === line.number);
  const division = Number(state.balances[0]?.readability_g ?? 0.01);
  const shut = (/** @type {any} */ step) => step.stands === 'skipped' || Boolean(step.finished);
  const settled = (/** @type {any} */ step) => shut(step) || step.portion.actual !== null;
  let [left, planned] = [line.target.value, own.reduce((/** @type {number} */ sum, /** @type {any} */ step) => sum + step.portion.planned.value, 0)];
  [...own.filter(settled), ...own.filter((/** @type {any} */ step) => !settled(step))].forEach((step, at) => {
    const { portion } = step;
    const share = at + 1 === own.length ? left : Math.round((left * portion.planned.value) / planned / division) * division;
    const target = tidy(Math.max(0, share));
    planned -= portion.planned.value;
    if (target !== portion.target.value) {
      portion.target = { ...portion.target, value: target };
      portion.tolerance = { ...portion.tolerance, value: tidy(Math.floor((target * Number(portion.tolerance_percent)) / 100 / division + 1e-9) * division) };
    }
    portion.missing = { ...portion.missing, value: Math.max(0, tidy(target - (portion.actual?.value ?? 0))) };
    left = tidy(left - (isIn(portion) || shut(step) ? portion.actual?.value ?? 0 : target));
    if (!(isIn(portion) || shut(step)) && target > 0 && line.verdict === 'within') line.verdict = 'short';
    if (!shut(step)) step.stands = portion.actual === null ? (step.stands === 'done' ? 'open' : step.stands) : step.kind === 'weigh' && isIn(portion) ? 'done' : 'started';
  });
}

/** Counts a weighing to the portion it was entered for, else to the first that is not in. @param {any} state @param {any} line @param {any} step @param {number} net */
function portionIn(state, line, step, net) {
  const own = state.steps.filter((/** @type {any} */ one) => one.portion && one.line === line.number);
  if (!own.length) return false;
  const { portion } = own.includes(step) ? step : own.find((/** @type {any} */ one) => !isIn(one.portion)) ?? own[own.length - 1];
  const sum = tidy((portion.actual?.value ?? 0) + net);
  portion.actual = sum > 0 ? { ...portion.missing, value: sum } : null;
  divide(state, line);
  return true;
}

/** @param {any} result */
const valueOf = (result) => result?.value ?? 0;

/** Water was put in for what went off. @param {any} state @param {number} net */
function giveBack(state, net) {
  const { water } = state;
  water.given_back = { value: tidy(valueOf(water.given_back) + net) };
  if (typeof water.to_give_back?.value === 'number') water.to_give_back = { value: tidy(water.to_give_back.value - net) };
}

/** The full vessel was weighed: what is missing in it went off. @param {any} state @param {number} gross */
function weighFull(state, gross) {
  const { water } = state;
  if (typeof water.vessel?.value !== 'number') return;
  const given = valueOf(water.given_back);
  const sum = (/** @type {any[]} */ all) => all.reduce((total, one) => total + valueOf(one.actual), 0);
  const samples = state.entries.filter((/** @type {any} */ one) => one.did === 'sample' && !one.struck && !one.leaving);
  const out = samples.reduce((/** @type {number} */ total, /** @type {any} */ one) => total + (weightOf(one) ?? 0), 0);
  const should = water.vessel.value + sum(state.lines) + sum(state.added) - out;
  water.should_weigh = { value: tidy(should) };
  water.went_off = { value: tidy(should + given - gross) };
  water.to_give_back = { value: tidy(should - gross) };
}

/** The weight of an entry, kept or waiting, g. @param {any} entry */
function weightOf(entry) {
  if (entry.sent) return netOf(entry.sent);
  const { tare, gross, net, unit } = entry.mass ?? {};
  return netOf({ tare: tare?.typed, gross: gross?.typed, net: net?.typed, unit });
}

/** Counts an entry out again. One that is struck already, or was never there, changes nothing. @param {any} state @param {any} entry */
function takeBack(state, entry) {
  if (!entry || entry.struck || entry.leaving) return;
  entry.leaving = true;
  const number = entry.line ?? entry.sent?.line;
  const line = state.lines.find((/** @type {any} */ one) => one.number === number);
  const step = state.steps[(entry.step ?? entry.sent?.step ?? 0) - 1];
  if (entry.did === 'weighed' && line?.actual) {
    const left = tidy(line.actual.value - (weightOf(entry) ?? 0));
    line.actual = left > 0 ? { ...line.actual, value: left } : null;
    judge(line);
    if (portionIn(state, line, step, -(weightOf(entry) ?? 0))) return;
    if (step) step.stands = line.actual === null ? 'open' : line.verdict === 'short' ? 'started' : step.stands;
  } else if (step && ['started', 'finished', 'skipped'].includes(entry.did)) {
    step.stands = entry.did === 'finished' && step.started ? 'started' : 'open';
    if (entry.did === 'finished') step.finished = null;
    const own = state.lines.find((/** @type {any} */ one) => one.number === step.line);
    if (step.portion && own) divide(state, own);
  } else if (step && entry.did === 'temperature' && step.started === entry.device_time && step.stands === 'started') {
    Object.assign(step, { stands: 'open', started: null });
  }
}

/** @param {any} batch the batch as the program last told it @param {import('./outbox.js').Item[]} waiting @returns {any} */
export function after(batch, waiting) {
  const state = structuredClone(batch);
  // A batch that this device remembers from before may not have them.
  state.readings ??= [];
  for (const { key, route, body } of waiting) {
    if (route === 'undo') {
      takeBack(state, state.entries.find((/** @type {any} */ one) => one.id === body.entry));
      continue;
    }
    if (route === 'readings' || route === 'samples') {
      if (!state[route].some((/** @type {any} */ one) => one.id === key)) state[route].push({ ...body, waiting: true, when: body.at });
      continue;
    }
    if (state.entries.some((/** @type {any} */ one) => one.id === key)) continue;
    state.entries.push({ id: key, waiting: true, device_time: body.at || body.paper?.typed_at, sent: body, did: body.did, step: body.step, line: body.line });
    const step = state.steps[body.step - 1];
    const line = state.lines.find((/** @type {any} */ one) => one.number === body.line);
    const net = netOf(body);
    if (body.did === 'weighed' && line && net !== null) {
      const sum = tidy((line.actual?.value ?? 0) + net);
      line.actual = { ...(line.actual ?? line.missing), value: sum };
      judge(line);
      if (portionIn(state, line, step, net)) continue;
      if (step && step.stands !== 'done') step.stands = step.kind === 'weigh' && line.verdict !== 'short' ? 'done' : 'started';
    } else if (body.did === 'vessel') state.water.vessel = { value: netOf({ ...body, tare: '' }) };
    else if (body.did === 'water' && net !== null) giveBack(state, net);
    else if (body.did === 'gross' && net !== null) weighFull(state, net);
    else if (step && body.did === 'started') Object.assign(step, { stands: 'started', started: body.at, finished: null });
    else if (step && body.did === 'finished') Object.assign(step, { stands: 'done', finished: body.at });
    else if (step && body.did === 'temperature' && step.hold_min !== null && step.stands === 'open' && reaches(step, body.value)) Object.assign(step, { stands: 'started', started: body.at, finished: null });
    else if (step && body.did === 'skipped') Object.assign(step, { stands: 'skipped', skipped: body.reason });
    else if (body.did === 'decided' && line) line.decided = body.way;
    const own = step?.portion && ['finished', 'skipped'].includes(body.did) ? state.lines.find((/** @type {any} */ one) => one.number === step.line) : null;
    if (own) divide(state, own);
  }
  state.next = state.steps.find((/** @type {any} */ step) => ['open', 'started'].includes(step.stands))?.number ?? null;
  return state;
}

/** The last entry that can be taken back. @param {any} state */
export function lastStanding(state) {
  return [...state.entries].reverse().find((/** @type {any} */ one) => !one.struck && !one.leaving && !one.withdrawn && !one.corrects);
}
