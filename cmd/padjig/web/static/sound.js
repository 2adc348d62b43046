// Each end of a test sounds different, for those who do not look: never only
// sound, and it can be switched off.

// All sounds: notes as [Hz, seconds, pause after], of a wave.
export const tunes = {
  pass: {wave: 'sine', notes: [[784, 0.09, 0.03], [1175, 0.16, 0]]},
  fail: {wave: 'square', notes: [[196, 0.22, 0.08], [196, 0.22, 0.08], [147, 0.4, 0]]},
  reseat: {wave: 'sine', notes: [[523, 0.12, 0.02], [392, 0.12, 0.02], [523, 0.12, 0]]},
  harness: {wave: 'sine', notes: [[659, 0.14, 0.06], [659, 0.14, 0]]},
  look: {wave: 'sine', notes: [[880, 0.1, 0.1], [880, 0.1, 0.1], [880, 0.1, 0]]},
};
export const levels = {off: 0, soft: 0.08, loud: 0.35};
let context = null;

const level = () => localStorage.getItem('padjig.sound') || 'soft';

export function sound(name, after = 0) {
  const loud = levels[level()];
  if (loud && context) play(context, name, loud, context.currentTime + 0.01 + after);
}

// play puts a sound into an audio context, at a time of its clock.
export function play(context, name, loud, at) {
  const tune = tunes[name];
  for (const [pitch, length, pause] of tune?.notes ?? []) {
    const tone = context.createOscillator();
    const gain = context.createGain();
    tone.type = tune.wave;
    tone.frequency.value = pitch;
    gain.gain.setValueAtTime(0, at);
    gain.gain.linearRampToValueAtTime(loud, at + 0.01);
    gain.gain.setValueAtTime(loud, at + length - 0.02);
    gain.gain.linearRampToValueAtTime(0, at + length);
    tone.connect(gain).connect(context.destination);
    tone.start(at);
    tone.stop(at + length);
    at += length + pause;
  }
}

// tryAll plays each sound and says its word meanwhile, as the button has them, also where
// sounds are switched off: whoever asks wants to hear.
const apart = 1200; // ms from one to the next
export function tryAll(words, say) {
  const loud = levels[level()] || levels.soft;
  for (const [i, name] of Object.keys(tunes).entries()) {
    setTimeout(() => {
      say(words[name] || name);
      if (context) play(context, name, loud, context.currentTime + 0.01);
    }, i * apart);
  }
  setTimeout(() => say(''), Object.keys(tunes).length * apart);
}

export function initSound() {
  // Browsers let a page sound only after somebody touched it; a scan is enough.
  for (const kind of ['keydown', 'pointerdown']) {
    document.addEventListener(kind, () => { context ??= new AudioContext(); }, {capture: true});
  }
  const button = document.getElementById('sound');
  if (!button) return;
  const show = () => { button.textContent = button.dataset[level()]; };
  button.addEventListener('click', () => {
    const order = ['off', 'soft', 'loud'];
    localStorage.setItem('padjig.sound', order[(order.indexOf(level()) + 1) % order.length]);
    show();
    sound('pass');
  });
  show();
}
