// Tables that are sorted and searched where they stand: heads are buttons, so that the
// keyboard reaches them. Those of the quality engineer have links, which sort without a
// script too.

// narrow shows the rows that have a text in them, and counts them.
export function narrow(rows, text) {
  const wanted = text.trim().toLowerCase();
  let shown = 0;
  for (const row of rows) {
    row.hidden = wanted !== '' && !row.textContent.toLowerCase().includes(wanted);
    if (!row.hidden) shown++;
  }
  return shown;
}

export function finder(label, search) {
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

/** putInOrder puts the rows in the order of a column, the other way round the second time, and
    says which order that is. What has no number comes last. */
export function putInOrder(table, head) {
  const down = head.getAttribute('aria-sort') === 'ascending';
  for (const th of head.parentElement.cells) th.removeAttribute('aria-sort');
  head.setAttribute('aria-sort', down ? 'descending' : 'ascending');
  const at = head.cellIndex;
  const numbers = head.classList.contains('num') && [...table.tBodies[0].rows].some(row => row.cells[at]?.dataset.v);
  const of = row => numbers ? parseFloat(row.cells[at].dataset.v) : row.cells[at].textContent.trim();
  const text = new Intl.Collator(document.documentElement.lang, {numeric: true});
  const rows = [...table.tBodies[0].rows].map(row => [of(row), row]);
  rows.sort(([a], [b]) => {
    if (numbers && (Number.isNaN(a) || Number.isNaN(b))) return Number.isNaN(a) - Number.isNaN(b);
    const order = numbers ? a - b : text.compare(a, b);
    return down ? -order : order;
  });
  table.tBodies[0].append(...rows.map(([, row]) => row));
  return `${down ? '-' : ''}${table.dataset.table}.${at}`;
}

const many = 12; // rows from which on a table can be searched

for (const table of document.querySelectorAll('table[data-sorts]')) {
  const rows = [...table.tBodies[0].rows];
  if (rows.length < 2) continue;
  for (const th of table.tHead.rows[0].cells) {
    if (!th.textContent.trim() || th.querySelector('.away')) continue;
    const button = document.createElement('button');
    button.type = 'button';
    button.className = 'sorter';
    button.append(...th.childNodes);
    button.addEventListener('click', () => putInOrder(table, th));
    th.append(button);
  }
  if (rows.length <= many) continue;
  (table.closest('.scroll') ?? table).before(finder(table.dataset.filter, text => {
    const shown = narrow(rows, text);
    return text === '' ? '' : table.dataset.rows.replace('{0}', shown).replace('{1}', rows.length);
  }));
}
