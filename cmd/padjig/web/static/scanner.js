// A scanner is a keyboard that types faster than people do and ends with Enter.
// It is heard wherever the focus is. What a scan typed into a field is taken out
// again; half a scan that never ended is forgotten when the next one begins.

const fast = 80;   // ms between two keys of a scanner, at the most
const least = 4;   // letters that make a scan: nobody types four that fast

// burst gives the letters at the end of keys that came fast after one another.
export function burst(keys) {
  let from = keys.length;
  while (from > 0 && (from === keys.length || keys[from].at - keys[from - 1].at <= fast)) from--;
  return keys.slice(from);
}

const editable = el => el && (el.matches('input:not([type=checkbox],[type=radio],[type=button],[type=submit]),textarea,select') || el.isContentEditable);

export function listen(found) {
  let keys = [];
  let before = null; // the field and what stood in it when the burst began
  document.addEventListener('keydown', event => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const at = event.timeStamp;
    if (event.key === 'Enter') {
      const all = keys;
      keys = [];
      if (all.length && at - all[all.length - 1].at > fast) return;
      const text = burst(all).map(k => k.key).join('');
      if (text.length < least || secret(event.target, text)) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      restore(before);
      found(text);
      return;
    }
    if (event.key.length !== 1) return;
    if (!keys.length || at - keys[keys.length - 1].at > fast) {
      if (!editable(document.activeElement) && event.key !== ' ') document.getElementById('typed')?.focus();
      const field = document.activeElement;
      before = editable(field) && 'value' in field ? {field, value: field.id === 'typed' ? '' : field.value} : null;
    }
    keys.push({key: event.key, at});
    if (keys.length > 200) keys = keys.slice(-100);
  }, true);
}

// A password may be typed by a machine too; only a badge's code is no password.
function secret(target, text) {
  return (target.type === 'password' && !/^PJ[BC]/.test(text)) || target.tagName === 'TEXTAREA';
}

function restore(before) {
  if (before) before.field.value = before.value;
}
