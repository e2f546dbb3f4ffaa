// @ts-check
/** The timer of a step, heard, seen and felt; and the screen that does not go dark meanwhile. */

import { announce, say } from '../dom.js';

/** @type {AudioContext|null} */
let sound = null;

/** Browsers let a page be heard only after a touch: called on every press. */
export function unlockSound() {
  try {
    sound ??= new AudioContext();
    if (sound.state === 'suspended') sound.resume();
  } catch {
    sound = null;
  }
}

function ring() {
  if (navigator.vibrate) navigator.vibrate([400, 200, 400, 200, 400]);
  if (!sound) return;
  for (const at of [0, 0.45, 0.9]) {
    const tone = sound.createOscillator();
    const loud = sound.createGain();
    tone.frequency.value = 880;
    loud.gain.setValueAtTime(0.0001, sound.currentTime + at);
    loud.gain.exponentialRampToValueAtTime(0.4, sound.currentTime + at + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, sound.currentTime + at + 0.35);
    tone.connect(loud).connect(sound.destination);
    tone.start(sound.currentTime + at);
    tone.stop(sound.currentTime + at + 0.36);
  }
}

/** @param {number} seconds */
function clockText(seconds) {
  const whole = Math.max(0, Math.ceil(seconds));
  const [hours, minutes] = [Math.floor(whole / 3600), Math.floor((whole % 3600) / 60)];
  const two = (/** @type {number} */ number) => String(number).padStart(2, '0');
  return hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
}

const title = document.title;
/** Steps whose end was told, by step and start, so that it rings once. @type {Set<string>} */
const rung = new Set();
/** @type {{place: HTMLElement, word: HTMLElement, ends: number, name: string, key: string}|null} */
let running = null;

function tick() {
  if (!running) return;
  const left = (running.ends - Date.now()) / 1000;
  say(running.place, clockText(Math.abs(left)));
  say(running.word, left > 0 ? 'still to go' : 'over the time');
  if (left > 0) {
    document.title = `${clockText(left)} · ${title}`;
  } else if (!rung.has(running.key)) {
    rung.add(running.key);
    document.title = `Time is up · ${title}`;
    announce(`Time is up: ${running.name}`);
    // A hold that ended long ago, before the page was opened, is shown and not rung.
    if (left > -60) ring();
  }
}

setInterval(tick, 250);

/** Runs the clock of a step in a place, or none. @param {{place: HTMLElement, word: HTMLElement, started: string, minutes: number, name: string}|null} timer */
export function runTimer(timer) {
  running = timer && { place: timer.place, word: timer.word, ends: Date.parse(timer.started) + timer.minutes * 60000, name: timer.name, key: `${timer.name} ${timer.started}` };
  if (!running) document.title = title;
  tick();
}

/** @type {WakeLockSentinel|null} */
let awake = null;

/** Keeps the screen on while the page is looked at, where the browser can. @returns {Promise<boolean>} */
export async function stayAwake() {
  if (!('wakeLock' in navigator) || document.visibilityState !== 'visible') return false;
  try {
    if (!awake || awake.released) awake = await navigator.wakeLock.request('screen');
    return true;
  } catch {
    return false;
  }
}
document.addEventListener('visibilitychange', () => stayAwake());
