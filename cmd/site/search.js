// Finds sections by the words that are typed; nothing is asked of a network. A word may be begun only.
const field = document.getElementById("find"), out = document.getElementById("found");
const lower = sections.map((s) => ({ head: (s.h + " " + s.t).toLowerCase(), text: s.x.toLowerCase() }));

function weigh(i, words) {
  let sum = 0;
  for (const w of words) {
    const begins = new RegExp("(^|[^\\p{L}\\p{N}])" + w.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"), "gu");
    const heads = (lower[i].head.match(begins) || []).length;
    const texts = (lower[i].text.match(begins) || []).length;
    if (heads + texts === 0) return 0;
    sum += 8 * heads + texts / (1 + Math.log(1 + lower[i].text.length / 500));
  }
  return /^(CHANGELOG|docs\/decisions)/.test(sections[i].p) ? sum / 8 : sum; // what was, not what is
}

function around(text, word) {
  const at = Math.max(0, text.toLowerCase().indexOf(word) - 60);
  return (at > 0 ? "… " : "") + text.slice(at, at + 180) + (text.length > at + 180 ? " …" : "");
}

function look() {
  const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
  out.replaceChildren();
  out.hidden = words.length === 0;
  if (out.hidden) return;
  const hits = sections.map((s, i) => [weigh(i, words), s]).filter((h) => h[0] > 0);
  hits.sort((a, b) => b[0] - a[0]);
  const list = document.createElement("ol");
  for (const [, s] of hits.slice(0, 20)) {
    const item = document.createElement("li"), link = document.createElement("a"), part = document.createElement("p");
    link.href = field.dataset.up + "/" + s.p + (s.a ? "#" + s.a : "");
    link.textContent = s.h && s.h !== s.t ? s.t + ": " + s.h : s.t;
    part.textContent = around(s.x, words[0]);
    item.append(link, part);
    list.append(item);
  }
  const count = document.createElement("p");
  count.textContent = hits.length === 0 ? "Nothing has all of these words." : hits.length + (hits.length === 1 ? " place" : " places");
  out.append(count, list);
}

field.addEventListener("input", look);
field.form.addEventListener("submit", (e) => {
  e.preventDefault();
  out.querySelector("a")?.click();
});
document.addEventListener("keydown", (e) => {
  if (e.key === "Escape" && !out.hidden) {
    field.value = "";
    look();
  }
  if (e.key === "/" && !/^(INPUT|TEXTAREA)$/.test(document.activeElement.tagName)) {
    e.preventDefault();
    field.focus();
  }
});
out.addEventListener("click", (e) => {
  if (e.target.closest("a")) out.hidden = true;
});
field.value = new URLSearchParams(location.search).get("q") || "";
look();
