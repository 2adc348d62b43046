// Live pages: the stream of events of what they show.
import {sound} from './sound.js';

// Milliseconds from a change at the station to the picture of it, with what it was:
// a signal, keys, or nothing to be seen; the last 2,000.
export const lags = [];
globalThis.padjigLags = lags;

const apply = {
  lane(root, data) {
    swap(root, data.html);
    shown();
    announce(document.getElementById('state'));
  },
  progress(root, data) {
    for (const k of data.keys) {
      const key = document.getElementById('key-' + k.n);
      if (!key) continue;
      key.setAttribute('class', 'key ' + k.class);
      key.querySelector('.value').textContent = k.mark;
    }
    const bar = document.getElementById('bar');
    if (bar) {
      bar.max = data.total || 1;
      bar.value = data.done;
    }
    for (const id of ['step', 'count', 'left']) put(id, data[id]);
    if (put('prompt', data.prompt) | put('line', data.line)) shown();
  },
  card(root, data) {
    const card = document.getElementById('card-' + data.lane);
    if (card) swap(card, data.html);
  },
  choice(root, data) {
    const choice = document.getElementById('choice');
    if (choice) swap(choice, data.html);
  },
  ohms(root, data) {
    put('ohm', data.ohm);
    for (const what of ['word', 'left', 'least', 'most', 'drops', 'count']) put('ohm' + what, data[what]);
  },
  over(root, data, source) {
    source.close(); // else the browser would come back, and ask for what is over
    put('ohmover', data.say);
  },
  fresh(root, data, source) { // the page says otherwise now; what somebody has begun to write stays
    source.close();
    if (!written()) location.replace(data.go);
    else root.replaceChildren(Object.assign(document.createElement('a'), {href: data.go, textContent: root.dataset.fresh, className: 'button'}));
  },
  rows(root, data) {
    if (globalThis.padjigRows) {
      globalThis.padjigRows(data.html);
      return;
    }
    const list = root.querySelector('[data-rows]');
    list.insertAdjacentHTML('beforeend', data.html);
    while (list.children.length > 400) list.firstElementChild.remove();
    if (!root.matches('[data-hold]')) list.scrollTop = list.scrollHeight;
  },
};

// put writes a text, and reports whether that is another one than before.
function put(id, text) {
  const el = document.getElementById(id);
  if (!el || el.textContent === text) return false;
  el.textContent = text;
  return true;
}

// written reports whether a form of the page has something in it that is sent nowhere yet.
function written() {
  return [...document.querySelectorAll('main form')].some(form => form.id !== 'entry' && [...form.elements].some(el =>
    el.matches('input[type=checkbox],input[type=radio]') ? el.checked !== el.defaultChecked
      : el.matches('select') ? [...el.options].some(o => o.selected !== o.defaultSelected && !(o.index === 0 && !el.querySelector('[selected]')))
        : el.matches('input:not([type=hidden]),textarea') && el.value !== el.defaultValue));
}

// shown tells that something else is said, within the frame in which it is.
const shown = () => document.dispatchEvent(new Event('shown'));

// swap replaces what a part of the page holds and keeps the focus, what was opened, and what
// was typed in it as far as it is about the same: a reason for one unit is none for another.
function swap(root, html) {
  const active = root.contains(document.activeElement) ? document.activeElement.id : '';
  const typed = [...root.querySelectorAll('input[id]:not([type=hidden]), textarea[id]')].filter(el => el.value !== el.defaultValue);
  const opened = [...root.querySelectorAll('details[open][id]')].map(d => d.id);
  root.innerHTML = html;
  for (const id of opened) document.getElementById(id)?.setAttribute('open', '');
  for (const el of typed) {
    const again = document.getElementById(el.id);
    if (again && about(again) === about(el)) again.value = el.value;
  }
  if (active) document.getElementById(active)?.focus({preventScroll: true});
}

// about is what the form of a field is about.
const about = el => [...el.form?.querySelectorAll('input[type=hidden]') || []].map(h => h.value).join(' ');

let heard = null;
function announce(state) {
  if (!state) return;
  const {signal, phase, serial, stored, held} = state.dataset;
  const now = [signal, phase, serial, stored].join(' ');
  if (heard !== null && heard !== now && !held) sound(signal);
  heard = now;
}

// The station sends a beat every three seconds; after three that did not come it
// is gone, although the line to it may still stand.
const silence = Number(document.body.dataset.silence);
const pause = 500; // before another try

export function follow(root, screen) {
  announce(document.getElementById('state'));
  const source = new EventSource(root.dataset.live + '?screen=' + screen);
  let timer;
  const heard = () => {
    clearTimeout(timer);
    timer = setTimeout(() => {
      if (source.readyState === EventSource.CLOSED) return; // it is over
      source.close();
      lose(root);
      again(root, screen);
    }, silence);
  };
  heard();
  source.addEventListener('still', event => {
    heard();
    document.body.dataset.heard = event.data;
  });
  for (const name of Object.keys(apply)) {
    source.addEventListener(name, event => {
      heard();
      const data = JSON.parse(event.data);
      apply[name](root, data, source);
      regain(root); // not before it shows what is so now
      if (data.at) painted(() => note(kindOf(name, data), Date.now() - data.at / 1000));
    });
  }
  source.onopen = () => {
    heard();
    if (!root.hidden) regain(root);
  };
  source.onerror = () => {
    lose(root);
    if (source.readyState !== EventSource.CLOSED) return; // the browser tries again by itself
    clearTimeout(timer);
    setTimeout(() => again(root, screen), pause);
  };
}

// lose takes everything off the page that the station said last: what it says
// now is not known. Pages without a verdict keep what they show, beneath a line.
export function lose(root) {
  if (document.body.dataset.live === 'off') return;
  document.body.dataset.live = 'off';
  const gone = document.getElementById('gone');
  if (!gone) {
    document.getElementById('lost').hidden = false;
    return;
  }
  root.hidden = true;
  gone.hidden = false;
  for (const said of root.matches('[data-said]') ? [root] : root.querySelectorAll('[data-said]')) said.replaceChildren();
  listening(false);
  sound('look');
}

function regain(root) {
  if (document.body.dataset.live === 'on') return;
  document.body.dataset.live = 'on';
  document.getElementById('lost').hidden = true;
  const gone = document.getElementById('gone');
  if (!gone) return;
  root.hidden = false;
  gone.hidden = true;
  const said = document.getElementById('said');
  if (said.textContent.startsWith(document.getElementById('lost').dataset.untaken)) said.textContent = '';
  listening(true);
  document.dispatchEvent(new Event('back'));
}

// listening says at the field for scans whether anything is taken.
function listening(yes) {
  for (const el of document.querySelectorAll('#entry input, #entry button')) el.disabled = !yes;
  const untaken = document.getElementById('untaken');
  if (untaken) untaken.hidden = yes;
}

// again finds out why a stream was refused: nobody is logged in, or the station
// is not there yet.
async function again(root, screen) {
  try {
    const response = await fetch(location.href, {headers: {Accept: 'application/json'}, signal: AbortSignal.timeout(silence)});
    if (response.status === 401) {
      location.assign('/door?next=' + encodeURIComponent(location.pathname));
      return;
    }
    follow(root, screen);
  } catch {
    setTimeout(() => again(root, screen), pause);
  }
}

function kindOf(name, data) {
  if (name === 'lane') return document.getElementById('state')?.dataset.signal;
  return data.keys?.length ? 'keys' : 'nothing';
}

// painted calls back when the next picture has been drawn: a message that is sent as it
// begins is delivered behind it.
function painted(then) {
  requestAnimationFrame(() => {
    const channel = new MessageChannel();
    channel.port1.onmessage = then;
    channel.port2.postMessage(null);
  });
}

function note(kind, ms) {
  lags.push([kind, ms]);
  if (lags.length > 2000) lags.shift();
}
