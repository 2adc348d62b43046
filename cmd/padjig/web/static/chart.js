// Charts that answer: a mark says what it is while it is pointed at or has the focus, leads
// to the units behind it, and a part of a chart is chosen by dragging over it or with Shift
// and the arrow keys. The drawing and every number in it are the server's; here are places
// only. Without this script marks are links, and their tips those of the browser.

const names = "http://www.w3.org/2000/svg";
const reach = 30; // how far from a mark, in pixels, it still is the one that is meant
const dragged = 6; // from how many pixels on a press is a choice

const tip = document.createElement("div");
tip.className = "c-tip";
tip.setAttribute("aria-hidden", "true"); // whoever listens hears the mark's own name
tip.hidden = true;
document.body.append(tip);

/** marks are all that a chart can tell, from left to right or from top to bottom. */
function marksOf(svg) {
  const marks = [...svg.querySelectorAll(".c-spot")].map((element) => {
    const title = element.querySelector("title");
    if (title) {
      element.dataset.tip = title.textContent;
      title.remove(); // or the browser says it a second time
    }
    const shown = [...element.querySelectorAll("text")].map((t) => t.textContent); // a name begins with what is seen
    for (const t of element.querySelectorAll("text")) t.before(" ");
    element.setAttribute("aria-label", [shown.join(" "), ...element.dataset.tip.split("\n")].filter(Boolean).join(", "));
    if (element.localName === "g") element.setAttribute("role", "img");
    element.setAttribute("tabindex", "-1");
    const box = element.getBBox();
    return {
      element, x: box.x + box.width / 2, y: box.y + box.height / 2, top: box.y, tip: element.dataset.tip,
      href: element.getAttribute("href"), from: element.dataset.from, to: element.dataset.to,
    };
  });
  const told = svg.querySelector("metadata");
  if (told) {
    for (const [x, y, text, from, to] of JSON.parse(told.textContent)) {
      marks.push({ x, y, top: y - 4, tip: text, href: told.dataset.behind && told.dataset.behind + from + "-" + to, from, to });
    }
    marks.sort((a, b) => a.x - b.x);
  }
  return marks;
}

/** element is that of a mark: one of many has none until it is asked for. */
function elementOf(svg, mark) {
  if (!mark.element) {
    mark.element = document.createElementNS(names, mark.href ? "a" : "g");
    mark.element.setAttribute("class", "c-spot");
    if (mark.href) mark.element.setAttribute("href", mark.href);
    else mark.element.setAttribute("role", "img");
    mark.element.setAttribute("aria-label", mark.tip.replaceAll("\n", ", "));
    const dot = document.createElementNS(names, "circle");
    for (const [name, value] of [["class", "c-point"], ["cx", mark.x], ["cy", mark.y], ["r", 3]]) dot.setAttribute(name, value);
    mark.element.append(dot);
    svg.append(mark.element);
  }
  return mark.element;
}

class Chart {
  constructor(svg) {
    this.svg = svg;
    this.plot = svg.dataset.plot?.split(" ").map(Number);
    this.zoom = svg.dataset.zoom;
    svg.addEventListener("pointermove", (e) => this.moved(e));
    svg.addEventListener("pointerleave", () => this.left());
    svg.addEventListener("pointerdown", (e) => this.pressed(e));
    svg.addEventListener("pointerup", (e) => this.released(e));
    svg.addEventListener("pointercancel", () => this.drop());
    svg.addEventListener("click", (e) => this.clicked(e), true);
    svg.addEventListener("dragstart", (e) => e.preventDefault());
    svg.addEventListener("keydown", (e) => this.key(e));
    svg.addEventListener("focusin", (e) => this.focused(e));
    svg.addEventListener("focusout", () => this.left());
    if (this.zoom) svg.classList.add("c-zooms");
    if (svg.getClientRects().length) this.marks(); // one that is not shown has no places yet
  }

  marks() {
    if (!this.all) {
      this.all = marksOf(this.svg);
      if (this.all.length) elementOf(this.svg, this.stops()[0]).setAttribute("tabindex", "0");
    }
    return this.all;
  }

  /** stops are the marks that the arrow keys go through: those that lead somewhere, if any do. */
  stops() {
    const links = this.marks().filter((m) => m.href);
    return links.length ? links : this.marks();
  }

  /** place is where a pointer is, in the units of the drawing. */
  place(e) {
    return new DOMPoint(e.clientX, e.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
  }

  /** meant is the mark that a pointer means, if any. */
  meant(e) {
    const hit = e.target.closest?.(".c-spot");
    if (hit) return this.marks().find((m) => m.element === hit);
    const at = this.place(e), scale = this.svg.getScreenCTM().a;
    let best, least = Infinity;
    for (const m of this.marks()) {
      const x = Math.abs(m.x - at.x), far = this.zoom ? x + Math.abs(m.y - at.y) / 1000 : Math.hypot(x, m.y - at.y);
      if (far < least) [best, least] = [m, far];
    }
    return least * scale < reach && (!this.zoom || this.inPlot(at)) ? best : undefined;
  }

  inPlot(at) {
    const [left, top, right, bottom] = this.plot;
    return at.x >= left && at.x <= right && at.y >= top && at.y <= bottom;
  }

  show(mark) {
    if (mark === this.here) return;
    this.here?.element?.classList.remove("c-here");
    this.here = mark;
    tip.hidden = !mark;
    if (!mark) return;
    elementOf(this.svg, mark).classList.add("c-here");
    tip.textContent = mark.tip;
    this.put();
  }

  /** put lays the tip beside its mark. */
  put() {
    const mark = this.here;
    if (!mark) return;
    const at = new DOMPoint(mark.x, mark.top).matrixTransform(this.svg.getScreenCTM());
    const wide = tip.offsetWidth, high = tip.offsetHeight;
    tip.style.left = Math.max(4, Math.min(at.x - wide / 2, innerWidth - wide - 4)) + "px";
    tip.style.top = (at.y - high - 10 > 4 ? at.y - high - 10 : at.y + 22) + "px";
  }

  moved(e) {
    if (this.start && this.zoom && e.pointerId === this.start.id) {
      const at = this.place(e);
      if (!this.part && Math.abs(e.clientX - this.start.clientX) < dragged) return;
      if (!this.part) this.svg.setPointerCapture(e.pointerId);
      this.choose(this.start.at.x, at.x);
      return;
    }
    this.show(this.meant(e));
  }

  left() {
    if (!this.start && !this.svg.contains(document.activeElement)) this.show(undefined);
  }

  pressed(e) {
    this.known = this.here; // what a finger has been told already
    this.finger = e.pointerType === "touch"; // not every browser says it of a click
    if (e.button !== 0 || !this.zoom) return;
    const at = this.place(e);
    if (this.inPlot(at)) this.start = { id: e.pointerId, at, clientX: e.clientX };
    this.show(this.meant(e));
  }

  released() {
    const part = this.part;
    this.start = undefined;
    if (!part) return;
    this.ended = performance.now();
    const inside = this.marks().filter((m) => m.x >= part[0] && m.x <= part[1] && m.from);
    this.drop();
    if (inside.length > 1) this.take(inside[0], inside[inside.length - 1]);
  }

  /** clicked goes to what is behind the mark that is meant; after a choice it is no click. */
  clicked(e) {
    if (performance.now() - (this.ended ?? -1e9) < 300) {
      e.preventDefault();
      return;
    }
    const mark = this.meant(e), finger = this.finger;
    this.finger = false;
    if (finger && mark && mark !== this.known) {
      e.preventDefault(); // a finger sees first, and goes with the second tap
      this.show(mark);
    } else if (mark?.href && !e.target.closest("a")) {
      location.assign(mark.href);
    }
  }

  focused(e) {
    const mark = this.marks().find((m) => m.element === e.target);
    if (!mark) return;
    for (const m of this.marks()) m.element?.setAttribute("tabindex", "-1");
    mark.element.setAttribute("tabindex", "0");
    this.show(mark);
  }

  key(e) {
    const marks = this.stops(), i = marks.findIndex((m) => m.element === document.activeElement);
    if (i < 0 || e.altKey || e.ctrlKey || e.metaKey) return;
    const to = { ArrowRight: i + 1, ArrowDown: i + 1, ArrowLeft: i - 1, ArrowUp: i - 1, Home: 0, End: marks.length - 1 }[e.key];
    if (to !== undefined) {
      e.preventDefault();
      this.anchor = e.shiftKey && this.zoom ? this.anchor ?? i : undefined;
      const next = marks[Math.max(0, Math.min(to, marks.length - 1))];
      elementOf(this.svg, next).focus({ preventScroll: true });
      if (this.anchor === undefined) this.drop();
      else this.choose(marks[this.anchor].x, next.x);
    } else if (e.key === "Enter" && this.anchor !== undefined && this.anchor !== i) {
      e.preventDefault();
      const ends = [marks[this.anchor], marks[i]].sort((a, b) => a.x - b.x);
      this.drop();
      this.take(...ends);
    } else if (e.key === "Escape") {
      if (this.part) this.drop();
      else if (this.zoom && this.zoom !== "days" && new URLSearchParams(location.search).has(this.zoom)) this.whole();
    }
  }

  /** choose shows the part between two places. */
  choose(a, b) {
    const [left, top, right, bottom] = this.plot;
    this.part = [Math.max(left, Math.min(a, b)), Math.min(right, Math.max(a, b))];
    if (!this.band) {
      this.band = document.createElementNS(names, "rect");
      this.band.setAttribute("class", "c-chosen-part");
      this.svg.append(this.band);
    }
    const places = [["x", this.part[0]], ["width", this.part[1] - this.part[0]], ["y", top], ["height", bottom - top]];
    for (const [name, value] of places) this.band.setAttribute(name, value);
  }

  drop() {
    this.band?.remove();
    this.band = this.part = this.start = this.anchor = undefined;
  }

  /** take goes to the part between two marks: its address can be sent, and the way back is the browser's. */
  take(first, last) {
    const to = new URL(location.href);
    if (this.zoom === "days") { // days choose the runs, and with them all of the page
      to.searchParams.set("from", first.from);
      to.searchParams.set("to", last.to);
      location.assign(to);
      return;
    }
    to.searchParams.set(this.zoom, first.from + "-" + last.to);
    turn(to, this.svg.id);
  }

  whole() {
    const to = new URL(location.href);
    to.searchParams.delete(this.zoom);
    turn(to, this.svg.id);
  }
}

/** turn shows another part of the charts without leaving the page. */
async function turn(to, focus) {
  if (await replace(to)) {
    history.pushState({ chart: true }, "", to);
    const chart = charts.find((c) => c.svg.id === focus);
    if (chart?.marks().length) elementOf(chart.svg, chart.stops()[0]).focus({ preventScroll: true });
  } else {
    location.assign(to);
  }
}

async function replace(from) {
  try {
    const answer = await fetch(from, { headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) return false;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const now = [...document.querySelectorAll(".figures > .fig")], then = [...page.querySelectorAll(".figures > .fig")];
    if (now.length !== then.length) return false;
    for (const [i, figure] of now.entries()) { // tables stay as they are sorted and searched
      for (const svg of figure.querySelectorAll("svg.chart")) {
        const other = then[i].querySelector("#" + CSS.escape(svg.id));
        if (other) svg.replaceWith(other);
      }
      for (const text of figure.querySelectorAll(":scope > .says")) text.remove();
      figure.querySelector("h2")?.after(...then[i].querySelectorAll(":scope > .says"));
    }
  } catch {
    return false;
  }
  tip.hidden = true;
  start();
  return true;
}

let charts = [];

function start() {
  charts = [...document.querySelectorAll("svg.chart")]
    .filter((svg) => svg.querySelector(".c-spot, metadata"))
    .map((svg) => new Chart(svg));
}

addEventListener("popstate", async () => {
  if (!(await replace(location.href))) location.reload();
});
addEventListener("scroll", () => { for (const c of charts) c.put(); }, { passive: true });
addEventListener("resize", () => { for (const c of charts) if (c.svg.getClientRects().length) c.marks(); });
start();
