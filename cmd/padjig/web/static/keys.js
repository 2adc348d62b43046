// Keys that work on every page. What a scanner types is no key of a person: a key counts
// only when nothing was typed just before it, and nothing follows at once.
import {editable} from './scanner.js';

const quiet = 250; // ms

const does = {
  '?': () => help()?.showModal(),
  '/': () => {
    const field = document.getElementById('find');
    field?.focus();
    field?.select();
  },
};

const help = () => document.getElementById('help');

// send sends the form of a field, by its one button; where there are several nobody says which.
function send(event) {
  const form = event.target.form;
  const buttons = [...form?.elements || []].filter(el => el.matches('button, input[type=submit]') && el.type === 'submit');
  if (buttons.length !== 1) return;
  event.preventDefault();
  form.requestSubmit(buttons[0]);
}

export function keys() {
  let last = -quiet;
  let waiting;
  document.addEventListener('keydown', event => {
    const at = event.timeStamp;
    const alone = at - last > quiet;
    last = at;
    clearTimeout(waiting);
    if (event.key === 'Escape') for (const open of document.querySelectorAll('.drop[open]')) open.open = false;
    if (event.key === 'Enter' && (event.ctrlKey || event.metaKey) && !event.repeat) send(event);
    if (event.ctrlKey || event.metaKey || event.altKey || !does[event.key] || !alone || editable(event.target) || help()?.open) return;
    event.preventDefault();
    waiting = setTimeout(does[event.key], quiet / 2);
  });
  document.getElementById('helper')?.addEventListener('click', event => {
    if (!help()) return;
    event.preventDefault();
    help().showModal();
  });
  document.addEventListener('click', event => {
    for (const open of document.querySelectorAll('.drop[open]')) if (!open.contains(event.target)) open.open = false;
  });
}
