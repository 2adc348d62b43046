// What a lane says is made to fit into its frame: what to do becomes smaller first, then
// the causes from the last on, each still there; the first stays as large as it has to be
// to be read from where people stand, unless nothing else is left.

const over = el => el.scrollHeight > el.clientHeight + 1;
const framed = matchMedia('(min-width: 1000px) and (min-height: 700px)');
const steps = {do: 5, dense: 1, tight: 5};

// What is said may also get less room, as when a form beneath it is refused with a message.
// It was told its size already when it is watched first.
let watched = null;
let room = '';
const sizeOf = el => el.clientWidth + ' ' + el.clientHeight;
const watcher = new ResizeObserver(() => { if (sizeOf(watched) !== room) fit(); });

export function fit() {
  const lane = document.getElementById('state');
  if (!lane) return;
  const say = lane.querySelector('.say');
  fitInto(say, lane.querySelector('.jigline'));
  room = sizeOf(say);
  if (watched === say) return;
  watcher.disconnect();
  watcher.observe(watched = say);
}

// The steps are marks of what is fitted, not of all around it: a browser looks again at that only.
function fitInto(say, jig) {
  const causes = [...say.querySelectorAll('.findings li')];
  for (const name of Object.keys(steps)) delete say.dataset[name];
  for (const li of causes) li.classList.remove('small');
  if (!framed.matches) return;
  chips(jig);
  if (!over(say)) return;
  const step = name => {
    for (let n = 1; n <= steps[name]; n++) {
      say.dataset[name] = n;
      if (!over(say)) return true;
    }
    return false;
  };
  if (step('do')) return;
  for (const li of causes.slice(1).reverse()) {
    li.classList.add('small');
    if (!over(say)) return grow(say);
  }
  if (!step('dense')) step('tight');
}

// What causes left of the room goes to what is to be done.
function grow(say) {
  for (let n = steps.do - 1; n > 0; n--) {
    say.dataset.do = n;
    if (!over(say)) continue;
    say.dataset.do = n + 1;
    return;
  }
}

function chips(line) {
  for (let n = 0; n <= 2; n++) {
    line.dataset.fit = n;
    if (!over(line)) return;
  }
}

document.addEventListener('shown', fit);
addEventListener('resize', fit);
document.fonts?.ready.then(fit);
fit();
document.getElementById('said')?.addEventListener('click', event => { event.target.textContent = ''; });
