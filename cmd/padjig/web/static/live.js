// Live pages: the stream of events of what they show.
import {sound} from './sound.js';

// Milliseconds from a change at the station to the picture, the last 500.
export const lags = [];
globalThis.padjigLags = lags;

const apply = {
  lane(root, data) {
    swap(root, data.html);
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
    put('step', data.step);
    put('prompt', data.prompt);
  },
  card(root, data) {
    const card = document.getElementById('card-' + data.lane);
    if (card) card.innerHTML = data.html;
  },
  ohms(root, data) {
    put('ohm', data.ohm);
    put('ohmword', data.word);
    put('ohmleft', data.left);
  },
  over(root, data, source) {
    source.close(); // else the browser would come back, and ask for what is over
    put('ohmover', data.say);
  },
  rows(root, data) {
    const list = root.querySelector('[data-rows]');
    list.insertAdjacentHTML('beforeend', data.html);
    while (list.children.length > 400) list.firstElementChild.remove();
    if (!root.matches('[data-hold]')) list.scrollTop = list.scrollHeight;
  },
};

function put(id, text) {
  const el = document.getElementById(id);
  if (el) el.textContent = text;
}

// swap replaces what a part of the page holds and keeps the focus and what was
// typed in it.
function swap(root, html) {
  const active = document.activeElement;
  const kept = root.contains(active) && active.id ? {id: active.id, value: active.value} : null;
  root.innerHTML = html;
  const again = kept && document.getElementById(kept.id);
  if (again) {
    if (again.matches('input:not([type=hidden])')) again.value = kept.value;
    again.focus({preventScroll: true});
  }
}

let heard = null;
function announce(state) {
  if (!state) return;
  const {signal, phase, serial, stored, held} = state.dataset;
  const now = [signal, phase, serial, stored].join(' ');
  if (heard !== null && heard !== now && !held) sound(signal);
  heard = now;
}

export function follow(root, screen) {
  announce(document.getElementById('state'));
  const lost = document.getElementById('lost');
  const source = new EventSource(root.dataset.live + '?screen=' + screen);
  for (const name of Object.keys(apply)) {
    source.addEventListener(name, event => {
      const data = JSON.parse(event.data);
      apply[name](root, data, source);
      if (data.at) requestAnimationFrame(() => note(Date.now() - data.at / 1000));
    });
  }
  source.onopen = () => { lost.hidden = true; document.body.dataset.live = 'on'; };
  source.onerror = () => {
    lost.hidden = false;
    document.body.dataset.live = 'off';
    if (source.readyState === EventSource.CLOSED) again(root, screen);
  };
}

// again finds out why a stream was refused: nobody is logged in, or the station
// is not there yet.
async function again(root, screen) {
  try {
    const response = await fetch(location.href, {headers: {Accept: 'application/json'}});
    if (response.status === 401) {
      location.assign('/door?next=' + encodeURIComponent(location.pathname));
      return;
    }
    follow(root, screen);
  } catch {
    setTimeout(() => again(root, screen), 500);
  }
}

function note(ms) {
  lags.push(ms);
  if (lags.length > 500) lags.shift();
}
