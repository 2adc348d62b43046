// The editor of product files: numbers beside the lines, marks beneath mistakes, and a
// draft that is kept as one types. What is known of the text comes from the station, as
// the same page that a form without a script would get.

const form = document.getElementById('editor');
const text = document.getElementById('text');
const gutter = form.querySelector('.gutter');
const marks = form.querySelector('.marks');
const kept = document.getElementById('kept');
const version = document.getElementById('version');

const pause = 600; // ms without a key until the text is looked at
const again = 3000; // ms until another try where nobody answered

// What the station has not said it keeps lies in this window, over a reload and a sign-out.
const key = 'padjig.draft ' + form.dataset.key;

let timer;
let asked; // the newest look; what answers an older one is dropped
let wrong = []; // places of mistakes, in the order of the file

const phone = matchMedia('(max-width: 640px)');
const readOnly = () => { text.readOnly = phone.matches; };
phone.addEventListener('change', readOnly);
readOnly();

function state(name, at = '') {
  kept.textContent = form.dataset[name] + (at && ' ' + at);
}

// offset is where a column stands in the text; columns count characters.
function offset(line, column) {
  const lines = text.value.split('\n');
  const before = lines.slice(0, line - 1).reduce((sum, l) => sum + l.length + 1, 0);
  return before + [...(lines[line - 1] || '')].slice(0, column - 1).join('').length;
}

// wordAt is the end of what stands at a place: to the next blank, at least a character.
function wordAt(from) {
  const rest = text.value.slice(from).split('\n', 1)[0];
  return from + Math.max(1, rest.search(/\s|$/));
}

function paint() {
  const lines = text.value.split('\n').length;
  const bad = new Set(wrong.map(w => w.line));
  const numbers = [];
  for (let n = 1; n <= lines; n++) {
    const number = document.createElement(bad.has(n) ? 'b' : 'span');
    number.textContent = (bad.has(n) ? '▶' : '') + n + '\n';
    numbers.push(number);
  }
  gutter.replaceChildren(...numbers);
  const parts = [];
  let at = 0;
  for (const w of wrong) {
    const from = offset(w.line, w.column);
    if (from < at || from >= text.value.length) continue;
    const mark = document.createElement('mark');
    mark.textContent = text.value.slice(from, wordAt(from));
    parts.push(text.value.slice(at, from), mark);
    at = from + mark.textContent.length;
  }
  marks.replaceChildren(...parts, text.value.slice(at) + '\n');
  follow();
}

function follow() {
  gutter.scrollTop = text.scrollTop;
  marks.scrollTop = text.scrollTop;
  marks.scrollLeft = text.scrollLeft;
}

function take(page = document) {
  wrong = [...page.querySelectorAll('#beside [data-line]')].map(a => ({line: Number(a.dataset.line), column: Number(a.dataset.column)}));
  paint();
}

function visit(w) {
  if (!w) return;
  const from = offset(w.line, w.column);
  text.focus({preventScroll: true});
  text.setSelectionRange(from, wordAt(from));
  const height = parseFloat(getComputedStyle(text).lineHeight);
  text.scrollTop = Math.max(0, (w.line - 1) * height - text.clientHeight / 2);
  text.scrollIntoView({block: 'nearest'});
  follow();
}

async function look() {
  clearTimeout(timer);
  asked?.abort();
  const mine = asked = new AbortController();
  const sent = text.value;
  state('asking');
  let page;
  try {
    const answer = await fetch(form.action, {
      method: 'POST', headers: {Accept: 'text/html'}, body: new URLSearchParams(new FormData(form)), signal: mine.signal,
    });
    if (mine !== asked) return;
    if (answer.redirected || answer.status === 401 || answer.status === 403) return state('out');
    if (!answer.ok) throw answer.status;
    page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  } catch (why) {
    if (mine !== asked || why?.name === 'AbortError') return;
    state('lost');
    timer = setTimeout(look, again);
    return;
  }
  if (mine !== asked) return;
  for (const id of ['beside', 'told']) document.getElementById(id).replaceWith(page.getElementById(id));
  version.value = page.getElementById('version').value;
  if (document.getElementById('beside').dataset.changed === 'true') {
    state('changed'); // until somebody says which text it is to be
  } else {
    kept.textContent = page.getElementById('kept').textContent;
    if (sent === text.value) sessionStorage.removeItem(key);
  }
  take();
}

text.addEventListener('input', () => {
  sessionStorage.setItem(key, text.value);
  asked?.abort();
  clearTimeout(timer);
  if (document.getElementById('beside').dataset.changed === 'true') {
    paint();
    return;
  }
  state('typing');
  paint();
  timer = setTimeout(look, pause);
});
text.addEventListener('scroll', follow);
form.addEventListener('submit', event => {
  event.preventDefault();
  look();
});
document.addEventListener('click', event => {
  const place = event.target.closest('#beside [data-line]');
  if (!place) return;
  event.preventDefault();
  visit({line: Number(place.dataset.line), column: Number(place.dataset.column)});
});
document.addEventListener('keydown', event => {
  if (event.key === 's' && (event.ctrlKey || event.metaKey)) {
    event.preventDefault();
    look();
  }
  if (event.key !== 'F8' || !wrong.length) return;
  event.preventDefault();
  const at = text.selectionStart;
  const places = wrong.map(w => ({...w, from: offset(w.line, w.column)}));
  visit(event.shiftKey ? places.findLast(w => w.from < at) || places.at(-1) : places.find(w => w.from > at) || places[0]);
});
// The way on takes along what was typed last.
document.addEventListener('click', async event => {
  const on = event.target.closest('a[href$="/try"]');
  if (!on || !sessionStorage.getItem(key)) return;
  event.preventDefault();
  await look();
  if (!sessionStorage.getItem(key)) location.assign(on.href);
});

take();
const left = sessionStorage.getItem(key);
if (left !== null && left !== text.value) {
  text.value = left;
  paint();
  look();
} else {
  sessionStorage.removeItem(key);
}
