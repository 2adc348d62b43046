// What the pages' scripts have in common: this screen's name, sending forms, and
// saying what the station answered.
import {listen, begin} from './scanner.js';
import {follow} from './live.js';
import {sound, tryAll, initSound} from './sound.js';
import {keys} from './keys.js';
import {clear, mark} from './form.js';

const body = document.body;

// A screen is one browser window; it keeps its name over reloads.
export const screen = sessionStorage.getItem('padjig.screen') || crypto.getRandomValues(new Uint32Array(2)).join('-');
sessionStorage.setItem('padjig.screen', screen);

export function say(text) {
  const said = document.getElementById('said');
  if (said) said.textContent = text || '';
}

// send posts a form and does what comes back. Scans go out one after another,
// in the order in which they were made. Nothing goes out to a station that is not
// there: it would be taken later, when nobody expects it. For what waits behind
// another the station sees when this page last heard of it.
let last = Promise.resolve();
const missed = []; // what was scanned while the station was gone
export function send(path, fields) {
  if (body.dataset.live === 'off') {
    if (fields.text && !/^PJ/.test(fields.text)) missed.push(fields.text); // nobody's badge is shown
    say([document.getElementById('lost')?.dataset.untaken, missed.join(', ')].filter(Boolean).join(' '));
    sound('look');
    return last;
  }
  const heard = body.dataset.heard || '';
  last = last.then(() => post(path, {heard, ...fields})).catch(() => {});
  return last;
}

async function post(path, fields) {
  const form = new URLSearchParams({token: body.dataset.token, screen, next: location.pathname + location.search, ...fields});
  if (body.dataset.lane) form.set('lane', body.dataset.lane);
  const answer = await ask(path, form, 15000);
  if (answer.good && path === '/scan') missed.length = 0; // somebody scans again, and has seen it
  say(withMissed(answer.say));
  if (!answer.good) sound('look');
  if (answer.do) act(answer.do);
  if (!answer.go) return answer;
  const lane = /^\/lane\/(\d+)$/.exec(answer.go);
  if (lane) body.dataset.lane = lane[1]; // what is scanned before the page has come is for that lane too
  go(answer.go);
  return answer;
}

// ask sends a form and gives what the station answers, also when it does not.
async function ask(path, form, within) {
  try {
    const response = await fetch(path, {method: 'POST', headers: {Accept: 'application/json'}, body: form, signal: AbortSignal.timeout(within)});
    return await response.json();
  } catch {
    return {good: false, say: document.getElementById('lost')?.dataset.unsure};
  }
}

function act(what) {
  if (what === 'sound') document.getElementById('sound')?.click();
  if (what === 'test') tryAll(document.getElementById('sounds')?.dataset ?? {}, say);
}

// go shows an address anew, also when only its fragment is another.
function go(address) {
  const to = new URL(address, location);
  location.assign(to);
  if (to.hash && to.pathname + to.search === location.pathname + location.search) location.reload();
}

// submit sends a form of a page. It stays as it is until the station says that it was
// taken, and what the station says then is said on the page that comes next.
async function submit(form, button) {
  if (form.dataset.sent) return; // once is enough
  const path = button?.getAttribute('formaction') || form.getAttribute('action') || location.pathname;
  const data = new FormData(form, button);
  form.dataset.sent = 'now';
  clear(form);
  const answer = await ask(path, form.enctype === 'multipart/form-data' ? data : new URLSearchParams(data), 180000);
  delete form.dataset.sent;
  if (!answer.good) {
    if (answer.token) form.elements.token.value = body.dataset.token = answer.token;
    mark(form, answer);
    return;
  }
  if (answer.say) sessionStorage.setItem('padjig.said', answer.say);
  if (answer.go) go(answer.go);
  else location.reload();
}

document.addEventListener('submit', event => {
  const form = event.target;
  if (form.id === 'entry') {
    event.preventDefault();
    const typed = form.elements.text;
    const text = typed.value.trim();
    typed.value = '';
    if (text) send('/scan', {text});
  } else if ('here' in form.dataset) {
    event.preventDefault();
    send(form.getAttribute('action'), Object.fromEntries(new FormData(form, event.submitter))).then(answer => {
      if (answer && !answer.good) mark(form, answer);
    });
  } else if (form.getAttribute('method') === 'post' && !('whole' in form.dataset)) {
    event.preventDefault();
    submit(form, event.submitter);
  }
});

say(sessionStorage.getItem('padjig.said'));
sessionStorage.removeItem('padjig.said');

document.addEventListener('click', event => {
  if (event.target.closest('[data-print]')) print();
  if (event.target.closest('#sounds')) act('test');
});

// A tag that was asked for by a scan is printed at once, and the screen goes back.
const now = document.querySelector('[data-print-now]');
if (now) {
  addEventListener('afterprint', () => location.replace(now.dataset.printNow));
  addEventListener('load', () => print());
}

// A page whose answer did not come asks for it again, and shows it when it is there.
const again = document.querySelector('[data-again]')?.dataset.again;
if (again) {
  const look = async () => {
    const response = await fetch(again, {headers: {Accept: 'application/json'}, signal: AbortSignal.timeout(30000)}).catch(() => null);
    if (response && response.status < 500) location.replace(again);
    else setTimeout(look, 5000);
  };
  setTimeout(look, 5000);
}

// What was not taken is said once more when the station is back, beside what it answers
// late to what was sent before, until a scan is taken.
const withMissed = text => missed.length ? [text, document.getElementById('gone')?.dataset.missed, missed.join(', ')].filter(Boolean).join(' ') : text;
document.addEventListener('back', () => {
  if (!missed.length) return;
  say(withMissed(''));
  sound('look');
});

if (!location.hash) begin(); // else the address says where
initSound();
keys();
listen(text => send('/scan', {text}));
const live = document.querySelector('[data-live]');
if (live) follow(live, screen);
