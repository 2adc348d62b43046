// Each end of a test sounds different, for those who do not look: never only
// sound, and it can be switched off.

// Notes as [Hz, seconds, pause after].
const tunes = {
  pass: [[784, 0.09, 0.03], [1175, 0.16, 0]],
  fail: [[196, 0.22, 0.08], [196, 0.22, 0.08], [147, 0.4, 0]],
  reseat: [[523, 0.12, 0.02], [392, 0.12, 0.02], [523, 0.12, 0]],
  harness: [[659, 0.14, 0.06], [659, 0.14, 0]],
  look: [[880, 0.1, 0.1], [880, 0.1, 0.1], [880, 0.1, 0]],
};
const levels = {off: 0, soft: 0.08, loud: 0.35};
let context = null;

const level = () => localStorage.getItem('padjig.sound') || 'soft';

export function sound(name, after = 0) {
  const tune = tunes[name];
  const loud = levels[level()];
  if (!tune || !loud || !context) return;
  let at = context.currentTime + 0.01 + after;
  for (const [pitch, length, pause] of tune) {
    const tone = context.createOscillator();
    const gain = context.createGain();
    tone.type = name === 'fail' ? 'square' : 'sine';
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
