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
    if (step) step.stands = line.actual === null ? 'open' : line.verdict === 'short' ? 'started' : step.stands;
  } else if (step && ['started', 'finished', 'skipped'].includes(entry.did)) {
    step.stands = entry.did === 'finished' && step.started ? 'started' : 'open';
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
    state.entries.push({ id: key, waiting: true, device_time: body.at, sent: body, did: body.did, step: body.step, line: body.line });
    const step = state.steps[body.step - 1];
    const line = state.lines.find((/** @type {any} */ one) => one.number === body.line);
    const net = netOf(body);
    if (body.did === 'weighed' && line && net !== null) {
      const sum = tidy((line.actual?.value ?? 0) + net);
      line.actual = { ...(line.actual ?? line.missing), value: sum };
      judge(line);
      if (step && step.stands !== 'done') step.stands = step.kind === 'weigh' && line.verdict !== 'short' ? 'done' : 'started';
    } else if (body.did === 'vessel') state.water.vessel = { value: netOf({ ...body, tare: '' }) };
    else if (body.did === 'water' && net !== null) giveBack(state, net);
    else if (body.did === 'gross' && net !== null) weighFull(state, net);
    else if (step && body.did === 'started') Object.assign(step, { stands: 'started', started: body.at, finished: null });
    else if (step && body.did === 'finished') Object.assign(step, { stands: 'done', finished: body.at });
    else if (step && body.did === 'skipped') Object.assign(step, { stands: 'skipped', skipped: body.reason });
    else if (body.did === 'decided' && line) line.decided = body.way;
  }
  state.next = state.steps.find((/** @type {any} */ step) => ['open', 'started'].includes(step.stands))?.number ?? null;
  return state;
}

/** The last entry that can be taken back. @param {any} state */
export function lastStanding(state) {
  return [...state.entries].reverse().find((/** @type {any} */ one) => !one.struck && !one.leaving && !one.withdrawn && !one.corrects);
}
