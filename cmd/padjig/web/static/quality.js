// What the pages of the quality engineer do beside showing: choices hold at once, tables
// are sorted and searched where they stand. Without it the same is there as links.

import {finder, narrow, putInOrder} from './tables.js';

const study = document.querySelector('.study');
const words = study?.dataset ?? {};

// A choice of the page's own holds as soon as it is made. With the keyboard a list goes
// through its values one by one, so there it holds when the field is left, or at Enter.
const own = document.querySelector('form.own');
if (own) {
  let keys = false;
  let changed = false;
  own.addEventListener('keydown', () => { keys = true; });
  own.addEventListener('pointerdown', () => { keys = false; });
  own.addEventListener('change', event => {
    changed = true;
    if (!keys || event.target.type === 'date') own.requestSubmit();
  });
  own.addEventListener('focusout', event => {
    if (changed && event.target.matches('input, select')) own.requestSubmit();
  });
}

// The menu closes like one, and a long list in it can be searched.
const adding = document.querySelector('details.adding');
if (adding) {
  document.addEventListener('click', event => {
    if (!adding.contains(event.target)) adding.open = false;
  });
  adding.addEventListener('keydown', event => {
    if (event.key !== 'Escape') return;
    adding.open = false;
    adding.querySelector('summary').focus();
  });
  for (const list of adding.querySelectorAll('section > ul')) {
    if (list.children.length > 12) list.before(finder(words.search, text => narrow([...list.children], text)));
  }
}

const many = 12; // rows from which on a table can be searched

for (const table of document.querySelectorAll('table[data-table]')) {
  const body = table.tBodies[0];
  const asItCame = [...body.rows];
  if (asItCame.length > many) {
    const tools = table.closest('details').querySelector('.tools');
    tools.append(finder(words.filter, text => {
      const shown = narrow(asItCame, text);
      return text === '' ? '' : words.rows.replace('{0}', shown).replace('{1}', asItCame.length);
    }));
  }
  table.tHead.addEventListener('click', event => {
    const link = event.target.closest('a');
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const order = putInOrder(table, link.closest('th'));
    const here = new URL(location.href); // so that it can be sent
    here.searchParams.set('sort', order);
    history.replaceState(null, '', here);
  });
}

// On a phone the pages fold behind a button; without script they stand there.
const nav = document.querySelector('.sections');
if (nav) {
  const fold = document.createElement('button');
  fold.type = 'button';
  fold.className = 'pagesfold noprint';
  fold.textContent = `${words.pages ?? nav.getAttribute('aria-label')}: ${nav.querySelector('[aria-current]')?.textContent ?? ''}`;
  fold.setAttribute('aria-expanded', 'false');
  fold.addEventListener('click', () => {
    const open = fold.getAttribute('aria-expanded') !== 'true';
    fold.setAttribute('aria-expanded', String(open));
    nav.classList.toggle('open', open);
  });
  nav.before(fold);
  nav.classList.add('folds');
}
