// A refused form stays as it is. What is wrong with it stands at the field it concerns,
// else at the head of the form; without this script the station does the same (inplace.go).

// clear takes away what was said of a form before.
export function clear(form) {
  for (const old of form.querySelectorAll('.mistake')) {
    for (const field of form.querySelectorAll(`[aria-describedby~="${old.id}"]`)) {
      const others = field.getAttribute('aria-describedby').split(' ').filter(id => id !== old.id);
      if (others.length) field.setAttribute('aria-describedby', others.join(' '));
      else field.removeAttribute('aria-describedby');
      field.removeAttribute('aria-invalid');
    }
    old.remove();
  }
}

// mark puts the mistakes of a refused form into it, and the focus to the first of them.
// An answer that nobody gave is said at the head too.
export function mark(form, answer) {
  clear(form);
  const rest = [];
  let first = null;
  for (const {field, say} of answer.fields || []) {
    const at = [...form.elements].find(el => el.name === field && el.type !== 'hidden');
    if (!at) {
      rest.push(say);
      continue;
    }
    const said = message(say);
    said.id = 'mistake-' + field.replaceAll(' ', '-');
    at.setAttribute('aria-invalid', 'true');
    at.setAttribute('aria-describedby', [at.getAttribute('aria-describedby'), said.id].filter(Boolean).join(' '));
    const choices = at.closest('fieldset');
    if (choices) choices.append(said);
    else (at.closest('label') || at).after(said);
    first ??= at;
  }
  if (!answer.fields?.length) rest.push(answer.say);
  if (rest.length) {
    const said = message(rest.join(' '));
    said.setAttribute('role', 'alert');
    said.tabIndex = -1;
    if (answer.go) said.replaceChildren(elsewhere(answer.go, rest.join(' ')));
    form.prepend(said);
    first ??= said;
  }
  for (let up = first.closest('details'); up; up = up.parentElement.closest('details')) up.open = true;
  first.focus();
}

function message(say) {
  const p = document.createElement('p');
  p.className = 'mistake';
  p.textContent = say;
  return p;
}

// elsewhere leads to where something has to be done first, and leaves the form alone.
function elsewhere(address, say) {
  const a = document.createElement('a');
  a.href = address;
  a.target = '_blank';
  a.textContent = say;
  return a;
}
