// The time line: a nylon line along the edge with a knot at each rehearsal mark; over it a hill where many play.
import { svg } from "./draw.js";
import { clamp } from "./space.js";

const SIDE = 0.06; // the load-in and the load-out take this much of the line each, whatever they last
const STEP_S = 2; // of `busy`

/** Draws the line into `host`, an element with an input of type range in it, and calls `go` when it is moved. */
export function makeLine(host, scene, time, go) {
  const range = host.querySelector("input");
  const music = Math.max(...scene.figures.map((figure) => figure.end), 1);
  const share = makeShare(scene.begin_s, music, scene.end_s);
  const picture = svg("svg", { viewBox: "0 0 1000 64", preserveAspectRatio: "none", "aria-hidden": "true" });
  const words = document.createElement("div");
  words.className = "knots";
  const bead = document.createElement("div");
  bead.className = "bead";
  const loop = svg("rect", { y: 8, height: 32, class: "loop" });
  picture.append(loop, rope(scene.busy, share), ...knots(scene, share, words));
  words.append(...leftOut(scene, share));
  host.prepend(picture, words, bead);
  range.min = scene.begin_s;
  range.max = scene.end_s;
  range.step = "any";
  range.addEventListener("input", () => go(Number(range.value)));

  let held = false;
  const move = (event) => {
    const box = host.getBoundingClientRect();
    go(share.back(clamp((event.clientX - box.left) / box.width, 0, 1)));
  };
  host.addEventListener("pointerdown", (event) => {
    if (event.target.closest("button")) return;
    held = true;
    host.setPointerCapture(event.pointerId);
    move(event);
    event.preventDefault();
    range.focus({ preventScroll: true });
  });
  host.addEventListener("pointermove", (event) => held && move(event));
  for (const name of ["pointerup", "pointercancel"]) host.addEventListener(name, () => { held = false; });

  let told = "";
  return {
    draw(t, said) {
      bead.style.transform = `translateX(${(share.of(t) * host.clientWidth).toFixed(1)}px)`;
      const span = time.loop ? [share.of(time.loop.from), share.of(time.loop.to)] : [0, 0];
      const now = `${span}`;
      if (now !== told) {
        told = now;
        loop.setAttribute("x", span[0] * 1000);
        loop.setAttribute("width", (span[1] - span[0]) * 1000);
      }
      if (said && document.activeElement !== range) range.value = t;
      if (said) range.setAttribute("aria-valuetext", said);
    },
  };
}

/** Where a time lies along the line, and back. */
export function makeShare(begin, music, end) {
  const head = begin < 0 ? SIDE : 0;
  const tail = end > music ? SIDE : 0;
  const middle = 1 - head - tail;
  return {
    of: (t) => (t < 0 ? head * (1 - t / begin) : t <= music ? head + (middle * t) / music : head + middle + (tail * (t - music)) / (end - music)),
    back: (s) => (s < head ? begin * (1 - s / head) : s <= head + middle ? (music * (s - head)) / middle : music + ((s - head - middle) / (tail || 1)) * (end - music)),
  };
}

/** The line itself, and over it a hill as high as many play, smoothed over some ten seconds. */
function rope(busy, share) {
  const most = Math.max(...busy, 1);
  const mean = (i) => {
    const near = busy.slice(Math.max(0, i - 3), i + 4);
    return near.reduce((sum, count) => sum + count, 0) / near.length;
  };
  const hill = busy.map((_, i) => `${(share.of(i * STEP_S) * 1000).toFixed(1)},${(32 - (22 * mean(i)) / most).toFixed(1)}`);
  const [from, to] = [share.of(0) * 1000, share.of((busy.length - 1) * STEP_S) * 1000];
  return svg("g", {}, svg("path", { class: "hill", d: `M${from},32L${hill.join("L")}L${to},32Z` }), svg("path", { class: "rope", d: "M0 32H1000" }));
}

/** A sign over the line where a figure is left out. */
function leftOut(scene, share) {
  return scene.figures.filter((figure) => figure.uncast).map((figure) => {
    const sign = document.createElement("span");
    sign.className = "left-out";
    sign.textContent = "!";
    sign.title = `${figure.id} is not played: ${figure.uncast}`;
    sign.style.left = `${share.of(figure.start) * 100}%`;
    return sign;
  });
}

function knots(scene, share, words) {
  return scene.marks.map(([at, name, bar, nth]) => {
    const word = document.createElement("span");
    word.textContent = name;
    word.title = `${name}, bar ${bar}${nth ? `, ${nth} time` : ""}`;
    word.style.left = `${share.of(at) * 100}%`;
    words.append(word);
    const x = share.of(at) * 1000;
    return svg("path", { class: "knot", d: `M${x} 24V40` });
  });
}
