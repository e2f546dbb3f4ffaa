// @ts-check
/** Numbers and words at the bench: as many decimals as the balance has, and a sentence for every entry. */

import { echo, fixed } from '../figures.js';

/** Decimals of the first balance of a batch. @param {any} state */
export function decimalsOf(state) {
  return /\.(\d+)/.exec(String(state.balances[0]?.readability_g ?? '0.01'))?.[1].length ?? 0;
}

/** @param {any} state @param {number|null|undefined} value */
export const gramsText = (state, value) => (typeof value === 'number' ? fixed(value, decimalsOf(state)) : '–');

/** @param {any} number as typed */
const typed = (number) => echo(String(number?.typed ?? number ?? ''));

/** @param {any} mass */
function weight(mass) {
  const unit = mass?.unit || 'g';
  const parts = [['', mass?.net], ['gross ', mass?.gross], ['tare ', mass?.tare]].filter(([, number]) => typed(number));
  return parts.map(([name, number]) => `${name}${typed(number)} ${unit}`).join(', ');
}

/** What a reading of the trial says, kept or waiting. @param {any} reading */
export function readingWords(reading) {
  const conditions = Object.entries(reading.conditions ?? {}).map(([name, value]) => `${name} ${value}`);
  const warm = typed(reading.temperature_c);
  const age = typed(reading.age_h ?? reading.age);
  const name = reading.quantity === 'ph' ? 'pH' : reading.quantity;
  return [`${name} ${echo(String(reading.typed ?? reading.value))}${reading.unit ? ` ${reading.unit}` : ''}`, reading.method, warm ? `${warm} °C` : '', age ? `${age}${/[a-z]/i.test(age) ? '' : ' h'} old` : '', ...conditions].filter(Boolean).join(', ');
}

/** What something says that waits, or was refused. @param {import('./outbox.js').Item} item @param {any} state */
export function itemWords({ route, body }, state) {
  if (route === 'readings') return readingWords(body);
  if (route === 'samples') return `A sample is kept: ${body.label || state.code}, ${body.location}`;
  return route === 'undo' ? 'An entry taken back' : entryWords({ did: body.did, sent: body }, state);
}

/** What an entry says. @param {any} entry kept or waiting @param {any} state */
export function entryWords(entry, state) {
  const words = doneWords(entry, state);
  return (entry.sent ?? entry).paper && !entry.withdrawn ? `${words} (written on paper)` : words;
}

/** What was done. @param {any} entry kept or waiting @param {any} state */
function doneWords(entry, state) {
  const said = entry.sent ?? entry;
  const mass = entry.sent ? entry.sent : entry.mass;
  const lot = typeof said.lot === 'string' ? said.lot : said.lot?.code;
  const from = lot ? `, lot ${lot}` : '';
  const line = state.lines.find((/** @type {any} */ one) => one.number === said.line);
  const text = said.text ?? '';
  switch (said.did) {
    case 'weighed': return `${line?.name ?? `Line ${said.line}`}: ${weight(mass)}${from}`;
    case 'added': return `Besides: ${said.material} ${weight(mass)}${from}`;
    case 'water': return `Water given back: ${weight(mass)}`;
    case 'vessel': return `Empty vessel: ${weight(mass)}`;
    case 'gross': return `Vessel with the batch: ${weight(mass)}`;
    case 'temperature': return `${typed(said.value)} °C`;
    case 'temperature_log': return `Record of a logger: ${said.points?.length ?? ''} points`;
    case 'speed': return `Stirrer at ${typed(said.value)} rpm`;
    case 'ph': return `pH ${typed(said.value)}, ${said.method || 'neat'}, ${typed(said.temperature_c)} °C${said.settled ? ', stands' : ''}`;
    case 'calibrated': return `Meter calibrated${said.slope_percent ? `: slope ${echo(String(said.slope_percent))} %, offset ${echo(String(said.offset_mv))} mV` : ''}, ${said.buffers.map((/** @type {any} */ one) => typed(one.millivolt ?? one.mv)).join(' and ')} mV`;
    case 'started': return `Step ${said.step} begun`;
    case 'finished': return `Step ${said.step} done`;
    case 'skipped': return `Step ${said.step} left out: ${said.reason}`;
    case 'checked': return `${said.what ?? text}: ${said.found ?? said.decision}`;
    case 'sample': return `Sample ${weight(mass)}${said.purpose ?? text ? `, ${said.purpose ?? text}` : ''}`;
    case 'output': return `Good product: ${weight(mass)}`;
    case 'lost': return `Lost: ${weight(mass)}${said.purpose ?? text ? `, ${said.purpose ?? text}` : ''}`;
    case 'note': return text;
    case 'deviation': return `Deviation: ${text}. Why: ${said.reason}${said.decision ? `. Decided: ${said.decision}` : ''}`;
    case 'photo': return `Photo: ${said.shows ?? text}`;
    case 'decided': return `${line?.name ?? 'Line'}: ${/** @type {Record<string, string>} */ ({ accept: 'the excess stays', rescale: 'all others become more', from_remainder: 'the excess comes off the q.s. line' })[said.way]}`;
    default: return said.did ?? '';
  }
}

/** Whether a weight looks like a slip of the decimal sign, in words. @param {number} net @param {number} target */
export function slip(net, target) {
  if (!(target > 0) || !(net > 0)) return '';
  const ratio = net / target;
  const near = (/** @type {number} */ ten) => ratio >= 0.9 * ten && ratio <= 1.1 * ten;
  if (near(10)) return 'ten times what is still to go in';
  if (near(100)) return 'a hundred times what is still to go in';
  if (near(0.1)) return 'a tenth of what is still to go in';
  if (near(0.01)) return 'a hundredth of what is still to go in';
  return '';
}
