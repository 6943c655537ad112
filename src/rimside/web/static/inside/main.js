// The piano view: the drawing, the time line, the words, and what keys and buttons do.
import { makeStage } from "./draw.js";
import { makeLine } from "./line.js";
import { clock, makePanel, person, tagsOf, whereAt, whereWords } from "./panel.js";
import { element } from "../element.js";
import { lastAt } from "./space.js";
import { SPEEDS, makeTime } from "./time.js";
import { plainTones, renderedSound, silence } from "./tone.js";

const find = (selector) => document.querySelector(selector);
const say = (words) => { find("#said").textContent = words; if (words) setTimeout(() => { if (find("#said").textContent === words) find("#said").textContent = ""; }, 4000); };

const WORDS_MS = 150;
const alone = Boolean(document.getElementById("scene-data")); // one file, without a server

async function begin() {
  const [scene, drawing] = await given();
  const asked = new URLSearchParams(location.search);
  const sound = soundOf(scene);
  const time = makeTime(scene.begin_s, scene.end_s, sound);
  const choose = { figure: (id) => showFigure(id), player: (id) => (shown.listening ? shown.listening({ player: id }) : follow(id)), place: (id) => (shown.listening ? shown.listening({ place: id }) : showPlace(id)) };
  const stage = makeStage(find("#stage"), drawing, scene, choose);
  const panel = makePanel(find("#now"), scene, choose);
  const line = makeLine(find("#line"), scene, time, go);
  const players = new Map(scene.players.map((player) => [player.id, player]));
  const figures = new Map(scene.figures.map((figure) => [figure.id, figure]));
  const shown = { figure: null, listening: null };
  let spoken = 0;
  let dirty = true;

  // --- time ---
  function frame() {
    const t = time.tick();
    if (time.playing || dirty || stage.view.near) {
      stage.draw(t);
      // words are told some times a second: while the piano moves, nobody reads faster
      dirty = performance.now() - spoken <= WORDS_MS;
      if (!dirty) {
        spoken = performance.now();
        const where = panel.draw(t, stage.sounding);
        line.draw(t, `${clock(t)}, ${whereWords(where)}`);
      } else line.draw(t);
    }
    find("#play").setAttribute("aria-pressed", String(time.playing));
    requestAnimationFrame(frame);
  }
  function go(t) {
    time.go(t);
    dirty = true;
  }
  function play() {
    if (time.playing) time.hold();
    else time.play();
    dirty = true;
  }
  const starts = {
    figure: [...new Set(scene.figures.map((figure) => figure.start))].sort((a, b) => a - b),
    bar: scene.bars.map((row) => row[0]),
    mark: [scene.begin_s, ...scene.marks.map((row) => row[0])],
  };
  const own = () => [...new Set(scene.figures.filter((figure) => figure.player === stage.view.follow).map((figure) => figure.start))].sort((a, b) => a - b);
  function step(what, way) {
    const rows = what === "figure" && stage.view.follow ? own() : starts[what];
    const t = time.seconds();
    const i = way > 0 ? rows.findIndex((at) => at > t + 0.005) : lastAt(rows, t - (time.playing ? 0.6 : 0.005));
    if (rows[i] !== undefined) go(rows[i]);
  }
  function speed(way) {
    const i = SPEEDS.indexOf(time.speed) + way;
    if (SPEEDS[i]) setSpeed(SPEEDS[i]);
  }
  function setSpeed(value) {
    time.setSpeed(value);
    find("#speed").value = String(value);
  }
  const peg = { from: null };
  function loop() {
    const t = time.seconds();
    if (time.loop) time.setLoop(null);
    else if (peg.from === null) peg.from = t;
    else {
      time.setLoop(Math.min(peg.from, t), Math.max(peg.from, t));
      if (!time.loop) say("The two ends of a loop are too close together.");
      peg.from = null;
      if (time.loop) go(time.loop.from);
    }
    const button = find("#loop");
    button.textContent = time.loop ? "end the loop" : peg.from === null ? "loop from here" : "loop to here";
    button.setAttribute("aria-pressed", String(Boolean(time.loop)));
    dirty = true;
  }

  // --- who ---
  function follow(id, near = find("#near").getAttribute("aria-pressed") === "true") {
    stage.follow(id || null, near);
    find("#follow").value = id || "";
    find("#near").setAttribute("aria-pressed", String(Boolean(id && near)));
    find("#near").disabled = !id;
    dirty = true;
  }

  // --- what is chosen ---
  function showFigure(id) {
    const figure = figures.get(id);
    if (!figure) return;
    shown.figure = id;
    if (!time.playing && (time.seconds() < figure.start || time.seconds() >= figure.end)) go(figure.start);
    const box = find("#chosen");
    box.hidden = false;
    box.replaceChildren(...figureWords(figure));
    document.dispatchEvent(new CustomEvent("figure-chosen", { detail: { figure, scene, box, choose: (listener) => { shown.listening = listener; }, mark: (player, place) => stage.mark(id, player, place) } }));
    dirty = true;
    requestAnimationFrame(() => stage.mark(id));
  }
  function figureWords(figure) {
    const player = players.get(figure.player);
    const rows = [
      ["where", [whereWords({ mark: figure.section, bar: figure.bar, pass: figure.pass }), figure.beat && `beat ${figure.beat}`].filter(Boolean).join(", ")],
      ["when", `${clock(figure.start)} to ${clock(figure.end)}`],
      player ? ["who", alone ? player.name : element("a", { href: `/parts/${player.id}${location.search}` }, player.name)] : ["who", "nobody"],
      player ? ["from", figure.place] : null,
      player && figure.hands.length ? ["hands", figure.hands.join(" and ")] : null,
      player && figure.tools.length ? ["with", figure.tools.join(", ")] : null,
      figure.near_mm != null ? ["contact", `${Math.round(figure.near_mm)} mm from the near end`] : null,
      figure.slack != null ? ["change before", `${figure.slack.toFixed(1)} s to spare${figure.hurried ? ", hurried" : ""}${figure.walk_mm ? `, ${(figure.walk_mm / 1000).toFixed(1)} m to the ${figure.left ? "left" : "right"}` : ""}`] : null,
      figure.uncast ? ["not cast", figure.uncast] : null,
    ].filter(Boolean);
    const head = element("h2", {}, player ? person(player) : "", element("span", { class: "tags" }, ...tagsOf(scene, figure)), element("span", {}, figure.how));
    const list = element("dl", { class: "facts" }, ...rows.flatMap(([name, value]) => [element("dt", {}, name), element("dd", {}, value)]));
    const close = element("button", { type: "button", class: "close", "aria-label": "put this away", onclick: putAway }, "put away");
    return [close, head, element("p", { class: "quiet" }, `${figure.id}${figure.times > 1 ? `, ${figure.times} times` : ""}${figure.essential ? ", essential" : ""}`), list];
  }
  function putAway() {
    shown.figure = null;
    shown.listening = null;
    find("#chosen").hidden = true;
    stage.mark(null);
    document.dispatchEvent(new CustomEvent("figure-put-away"));
  }
  function showPlace(id) {
    const here = scene.figures.filter((figure) => figure.place === id);
    const names = [...new Set(here.map((figure) => players.get(figure.player)?.name))].filter(Boolean);
    say(here.length ? `${id}: ${here.length} figures, played by ${names.join(", ")}` : `${id}: nothing is played from here`);
  }

  // --- buttons and keys ---
  find("#play").addEventListener("click", play);
  for (const button of document.querySelectorAll("[data-step]")) button.addEventListener("click", () => step(button.dataset.step, Number(button.dataset.way)));
  find("#speed").addEventListener("change", (event) => setSpeed(Number(event.target.value)));
  find("#loop").addEventListener("click", loop);
  find("#follow").addEventListener("change", (event) => follow(event.target.value));
  find("#near").addEventListener("click", () => follow(stage.view.follow, !stage.view.near));
  const keys = {
    " ": play, p: play, ArrowRight: () => step("figure", 1), ArrowLeft: () => step("figure", -1), PageDown: () => step("mark", 1), PageUp: () => step("mark", -1),
    ".": () => step("bar", 1), ",": () => step("bar", -1), "+": () => speed(1), "-": () => speed(-1), l: loop, Home: () => go(0), End: () => go(scene.end_s), Escape: putAway,
    m: () => stage.view.follow && follow(stage.view.follow, !stage.view.near),
  };
  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input:not([type=range]), select, textarea")) return;
    if (event.key === " " && event.target.closest("button, a, [role=button]")) return;
    if (/^[0-9]$/.test(event.key)) follow(scene.players[Number(event.key) - 1]?.id ?? null);
    else if (keys[event.key]) keys[event.key]();
    else return;
    event.preventDefault();
  });
  new ResizeObserver(() => { stage.fit(); dirty = true; }).observe(find("#stage"));

  if (matchMedia("(max-width: 900px)").matches) find("details.more").open = false;
  stage.fit();
  go(asked.has("t") ? Number(asked.get("t")) : 0);
  if (asked.get("player")) follow(asked.get("player"), asked.has("near"));
  requestAnimationFrame(frame);
  window.rimside = { scene, choose, players, figures, say, time, stage, go, follow, whereAt: (t) => whereAt(scene, t), figure: showFigure };
  document.dispatchEvent(new CustomEvent("drawn"));
  if (asked.get("figure")) showFigure(asked.get("figure"));
  document.documentElement.dataset.ready = "yes";
}

/** The scene and the still drawing: in the page itself when it is one file, else from the server. */
async function given() {
  const within = document.getElementById("scene-data");
  const parse = (text) => document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
  if (within) return [JSON.parse(within.textContent), parse(JSON.parse(document.getElementById("drawing-data").textContent))];
  const [scene, drawing] = await Promise.all([fetch(`/scene.json${location.search}`), fetch(`/plan.svg${location.search}`)]);
  if (!scene.ok) throw new Error((await scene.json()).slip);
  return [await scene.json(), parse(await drawing.text())];
}

function soundOf(scene) {
  const within = document.getElementById("sound-data");
  if (within) return renderedSound(JSON.parse(within.textContent));
  if (scene.sound) return renderedSound(`/sound${location.search}`);
  return "AudioContext" in window ? plainTones(scene) : silence;
}

begin().catch((error) => {
  find("#stage").replaceChildren(element("p", { class: "slip text" }, `${error.message}`));
  throw error;
});
