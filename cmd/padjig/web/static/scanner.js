// A scanner is a keyboard that types faster than people do and ends with Enter.
// It is heard wherever the focus is. What a scan typed into a field is taken out
// again; half a scan that never ended is forgotten when the next one begins. The Enter of one
// that came too slowly presses nothing: on a button it would begin what nobody asked for.

const pause = 250; // ms without a key that end a scan, also an unfinished one
const fast = 60;   // ms from key to key of a scanner, on average; people take longer
const least = 4;   // letters that make a scan

// begin puts the focus where the work of a page begins: one Tab leads to what is next, and not
// through the menu. Nothing there can be pressed.
export function begin() {
  if (document.activeElement === document.body) document.querySelector('[data-begin]')?.focus({preventScroll: true});
}

// burst gives the keys at the end that came without a pause.
export function burst(keys) {
  let from = keys.length;
  while (from > 0 && (from === keys.length || keys[from].at - keys[from - 1].at <= pause)) from--;
  return keys.slice(from);
}

// machine reports whether keys came faster than a person types.
export function machine(keys, end) {
  return keys.length >= least && end - keys[keys.length - 1].at <= pause && (end - keys[0].at) / keys.length <= fast;
}

export const editable = el => el && (el.matches('input:not([type=checkbox],[type=radio],[type=button],[type=submit]),textarea,select') || el.isContentEditable);

export function listen(found) {
  let keys = [];
  let before = null; // the field and what stood in it when the burst began
  document.addEventListener('keydown', event => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const at = event.timeStamp;
    if (event.key === 'Enter') {
      const scan = burst(keys);
      keys = [];
      const text = scan.map(k => k.key).join('');
      if (!machine(scan, at) || secret(event.target, text)) {
        if (text.trim() && at - scan.at(-1).at <= pause && !editable(event.target)) event.preventDefault();
        return;
      }
      event.preventDefault();
      event.stopImmediatePropagation();
      restore(before);
      found(text);
      return;
    }
    if (event.key.length !== 1) return;
    if (!keys.length || at - keys[keys.length - 1].at > pause) {
      if (!editable(document.activeElement) && event.key !== ' ') document.getElementById('typed')?.focus({preventScroll: true});
      const field = document.activeElement;
      before = editable(field) && 'value' in field ? {field, value: field.id === 'typed' ? '' : field.value} : null;
    }
    keys.push({key: event.key, at});
    if (keys.length > 200) keys = keys.slice(-100);
  }, true);
}

// A password may be typed by a machine too, and some fields are there to be scanned into;
// a code of ours is neither.
function secret(target, text) {
  return ((target.type === 'password' || 'scan' in target.dataset) && !/^PJ[BCTFJP]/.test(text)) || target.tagName === 'TEXTAREA';
}

function restore(before) {
  if (!before) return;
  before.field.value = before.value;
  if (before.field.id === 'typed') {
    before.field.blur();
    begin();
  }
  scrollTo(0, 0); // the verdict stands at the top
}
