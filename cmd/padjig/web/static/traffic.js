// The frames of a jig: held still, chosen from, and saved as a recording.
const form = document.getElementById('frames-form');
const box = document.querySelector('[data-rows]');
const said = document.getElementById('frames-said');
const kept = Number(form.dataset.kept);
const pause = document.getElementById('pause');

// What came while the page is held lies here; the list itself does not change.
let held = [];
let gone = 0;
let paused = false;

// live.js puts the rows in as they come; from here on this list has room for more of them.
globalThis.padjigRows = html => {
  const came = document.createElement('template');
  came.innerHTML = html;
  const rows = [...came.content.children];
  if (paused) {
    held.push(...rows);
    drop(held);
  } else show(rows);
  tell();
};

function drop(list) {
  const extra = list.length - kept;
  if (extra <= 0) return;
  gone += extra;
  list.splice(0, extra);
}

function show(rows) {
  for (const row of rows) row.hidden = !chosen(row);
  box.append(...rows);
  while (box.children.length > kept) {
    box.firstElementChild.remove();
    gone++;
  }
  box.scrollTop = box.scrollHeight;
}

function chosen(row) {
  if (!row.dataset.line) return true; // what was left out is always said
  const way = document.getElementById('way').value;
  const type = document.getElementById('type').value;
  const words = document.getElementById('words').value.trim().toLowerCase();
  return (
    (!way || row.classList.contains(way)) &&
    (!type || row.dataset.type === type) &&
    (!document.getElementById('wrong').checked || row.classList.contains('wrong')) &&
    (!words || row.textContent.toLowerCase().includes(words))
  );
}

function tell() {
  const all = [...box.children].filter(row => row.dataset.line);
  const fill = (text, ...values) => values.reduce((t, v, i) => t.replace('{' + i + '}', v), text);
  const says = [fill(form.dataset.some, all.filter(row => !row.hidden).length, all.length)];
  if (paused) says.push(fill(form.dataset.held, held.length));
  if (gone) says.push(fill(form.dataset.gone, gone));
  said.textContent = says.join(' ');
}

form.addEventListener('submit', event => event.preventDefault());
form.addEventListener('input', () => {
  for (const row of box.children) row.hidden = !chosen(row);
  tell();
});
pause.addEventListener('click', () => {
  paused = !paused;
  pause.setAttribute('aria-pressed', String(paused));
  pause.textContent = paused ? pause.dataset.resume : pause.dataset.pause;
  if (!paused) show(held.splice(0));
  tell();
});
document.getElementById('empty').addEventListener('click', () => {
  box.replaceChildren();
  held = [];
  gone = 0;
  tell();
});

// All frames that are kept, whatever is chosen to be looked at: results can only be read
// with the routines they answer.
document.getElementById('save').addEventListener('click', () => {
  const lines = [...box.children, ...held].map(row => row.dataset.line).filter(Boolean);
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([lines.map(line => line + '\n').join('')], {type: 'text/plain'}));
  link.download = 'traffic-' + form.dataset.jig + '.txt';
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
});
tell();
