// What the pages of the quality engineer do beside showing: choices hold at once, tables
// are sorted and searched where they stand. Without it the same is there as links.

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

// narrow shows the rows that have a text in them, and counts them.
function narrow(rows, text) {
  const wanted = text.trim().toLowerCase();
  let shown = 0;
  for (const row of rows) {
    row.hidden = wanted !== '' && !row.textContent.toLowerCase().includes(wanted);
    if (!row.hidden) shown++;
  }
  return shown;
}

function finder(label, search) {
  const box = document.createElement('label');
  box.className = 'finder';
  const field = document.createElement('input');
  field.type = 'search';
  field.autocomplete = 'off';
  const count = document.createElement('span');
  count.setAttribute('aria-live', 'polite');
  box.append(label, ' ', field, ' ', count);
  field.addEventListener('input', () => { count.textContent = search(field.value) ?? ''; });
  return box;
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
    sort(table, link.closest('th'));
  });
}

// sort puts the rows in the order of a column, the other way round the second time. The
// address says so, so that it can be sent.
function sort(table, head) {
  const down = head.getAttribute('aria-sort') === 'ascending';
  for (const th of head.parentElement.cells) th.removeAttribute('aria-sort');
  head.setAttribute('aria-sort', down ? 'descending' : 'ascending');
  const at = head.cellIndex;
  const numbers = head.classList.contains('num');
  const of = row => numbers ? parseFloat(row.cells[at].dataset.v) : row.cells[at].textContent.trim();
  const text = new Intl.Collator(document.documentElement.lang, {numeric: true});
  const rows = [...table.tBodies[0].rows].map(row => [of(row), row]);
  rows.sort(([a], [b]) => {
    if (numbers && (Number.isNaN(a) || Number.isNaN(b))) return Number.isNaN(a) - Number.isNaN(b); // nothing comes last
    const order = numbers ? a - b : text.compare(a, b);
    return down ? -order : order;
  });
  table.tBodies[0].append(...rows.map(([, row]) => row));
  const here = new URL(location.href);
  here.searchParams.set('sort', `${down ? '-' : ''}${table.dataset.table}.${at}`);
  history.replaceState(null, '', here);
}

// On a phone the pages fold behind a button; without script they stand there.
const nav = document.querySelector('.sections');
if (nav) {
  const fold = document.createElement('button');
  fold.type = 'button';
  fold.className = 'fold noprint';
  fold.textContent = `${words.pages}: ${nav.querySelector('[aria-current]')?.textContent ?? ''}`;
  fold.setAttribute('aria-expanded', 'false');
  fold.addEventListener('click', () => {
    const open = fold.getAttribute('aria-expanded') !== 'true';
    fold.setAttribute('aria-expanded', String(open));
    nav.classList.toggle('open', open);
  });
  nav.before(fold);
  nav.classList.add('folds');
}
