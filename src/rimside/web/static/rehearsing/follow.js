// A player's phone. Everything it draws follows from the part, which came once, and the second of the piece.

import { own_ms, seconds } from "/static/rehearsing/clock.js";
import { Line } from "/static/rehearsing/line.js";
import { at, bar_at, count } from "/static/rehearsing/now.js";
import { Flags } from "/static/rehearsing/flags.js";
import { rim, step_rows } from "/static/rehearsing/follow_draw.js";

const SOON_S = 5;
const root = document.documentElement;
const part = (id) => document.getElementById(id);
const kept = `part:${location.pathname}`;

let piece = null; // the part as it was sent
let mark = "";
let clock = { epoch: 0, at_s: 0, server_ms: 0, speed: 1, playing: false, loop_s: null };
let gone_ms = null; // since when there has been no line

try {
  [mark, piece] = JSON.parse(localStorage.getItem(kept)) ?? ["", null];
} catch {
  localStorage.removeItem(kept);
}

export const line = new Line(`${location.pathname}/line`, {
  hello: () => ({ kind: "hello", part: mark }),
  heard: take,
  changed: turn,
});
const flags = new Flags(line, () => ({ piece, now_s: seconds_now() }));
if (piece) wear();
requestAnimationFrame(draw);

export function seconds_now() {
  return seconds(clock, line.server_ms());
}

function take(message) {
  if (message.kind === "clock") clock = message;
  else if (message.kind === "part") learn(message);
  else if (message.kind === "slip") say(message.what);
  else flags.take(message);
}

function learn(message) {
  ({ mark, part: piece } = message);
  try {
    localStorage.setItem(kept, JSON.stringify([mark, piece]));
  } catch {
    localStorage.removeItem(kept); // no room on this phone: it is sent again next time
  }
  wear();
}

function wear() {
  const { player, title } = piece;
  root.style.setProperty("--mine", player.colour);
  root.style.setProperty("--mine-on", player.letters);
  part("sign").style.setProperty("--own", player.colour);
  part("sign").style.setProperty("--own-on", player.letters);
  part("sign").textContent = player.sign;
  part("who").textContent = `${player.name}, ${title}`;
  document.title = `${player.name} · ${title}`;
  drawn.clear();
}

function turn(state) {
  gone_ms = state === "open" ? null : gone_ms ?? own_ms();
  if (state === "open") flags.send();
  if (state === "closed") location.reload(); // the server's own words for a closed link
}

function say(words) {
  part("said").textContent = words;
  setTimeout(() => (part("said").textContent = ""), 6000);
}

// --- drawing: only what has changed is touched ---------------------------------------------------------------------

const drawn = new Map();

function put(id, value, show = (node) => (node.textContent = value)) {
  if (drawn.get(id) === value) return;
  drawn.set(id, value);
  show(part(id));
}

function draw() {
  requestAnimationFrame(draw);
  draw_state();
  if (!piece) return;
  const now_s = seconds_now();
  const found = at(piece.steps, now_s);
  draw_bar(now_s);
  draw_now(found, now_s);
  draw_go(found.go, now_s);
  draw_next(found, now_s);
  draw_rim(found);
}

function draw_state() {
  const alone_s = gone_ms === null ? 0 : Math.floor((own_ms() - gone_ms) / 1000);
  const words = gone_ms === null ? (clock.playing ? paced("with the leader") : "the leader has stopped") :
    piece ? `no network for ${alone_s} s; I go on by myself` : "looking for the leader";
  put("state", words, (node) => {
    if (node.textContent !== words) node.textContent = words;
    node.className = gone_ms === null ? "state open" : alone_s > 1 ? "state alone" : "state";
    node.setAttribute("aria-live", gone_ms === null ? "polite" : "off");
  });
}

function paced(words) {
  return clock.speed === 1 ? words : `${words}, at ${Math.round(clock.speed * 100)} %`;
}

function draw_bar(now_s) {
  const bar = piece.bars[bar_at(piece.bars, now_s)];
  const outside = now_s < 0 ? "before" : now_s > piece.end_s ? "after" : "";
  put("bar", outside || (bar ? bar[1] : "–"));
  put("pass", !outside && bar ? bar[2] : "");
  let section = "";
  for (const one of piece.bars) if (one[0] <= now_s && one[3]) section = one[3];
  put("mark", outside ? "the piece" : section);
  put("time", minutes(now_s));
}

function minutes(now_s) {
  const whole = Math.abs(Math.floor(now_s));
  return `${now_s < 0 ? "−" : ""}${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

function draw_now(found, now_s) {
  const key = found.now.map((step) => `${step.start_s} ${step.words} ${step.figure}`).join("|");
  put("now", key, (node) => {
    node.replaceChildren(...(found.now.length ? found.now.map((step) => step_rows(step, true)) : [free(found)]));
    part("said").textContent = "";
  });
  found.now.forEach((step, number) => {
    const node = part("now").children[number].querySelector(".count b");
    if (node) node.textContent = String(Math.max(1, count(step, now_s)));
  });
}

function free(found) {
  const node = document.createElement("p");
  node.className = "free";
  node.textContent = found.next ? "nothing now" : "done";
  return node;
}

function draw_go(step, now_s) {
  const move = step?.move;
  put("go", move ? `${move.side} ${move.metres} ${move.place}` : "", (node) => {
    node.hidden = !move;
    if (!move) return;
    node.classList.toggle("left", move.side === "left");
    part("go-words").textContent = `${move.side} ${move.metres.toFixed(1)} m to ${move.place}`;
    part("arrow").setAttribute("aria-label", `arrow to the ${move.side}`);
  });
  if (!move) return;
  const left_s = (move.leave_s - now_s) / clock.speed;
  part("go").classList.toggle("due", left_s <= 0);
  put("go-when", left_s <= 0 ? "go now" : `leave ${in_time(left_s)}`);
}

function in_time(left_s) {
  return left_s >= 60 ? `in ${minutes(left_s)}` : `in ${Math.ceil(left_s)} s`;
}

function draw_next(found, now_s) {
  const step = found.next;
  put("next", step ? `${step.start_s} ${step.words} ${step.figure}` : "", (node) => {
    node.replaceChildren(...(step ? [step_rows(step, false)] : []));
  });
  const left_s = step ? (step.start_s - now_s) / clock.speed : 0;
  put("next-when", step ? in_time(left_s) : "nothing more", (node) => (node.textContent = step ? in_time(left_s) : "nothing more"));
  part("next-when").classList.toggle("soon", Boolean(step) && left_s <= SOON_S);
}

function draw_rim(found) {
  const move = found.go?.move ?? null;
  put("rim", `${found.place} ${move?.place}`, (node) => rim(node, piece, found.place, move));
}

// --- the dress ------------------------------------------------------------------------------------------------------

function dress(name) {
  root.dataset.dress = name;
  part("dress").setAttribute("aria-pressed", String(name === "hall"));
  localStorage.setItem("follow-dress", name);
}

dress(localStorage.getItem("follow-dress") ?? "hall");
part("dress").addEventListener("click", () => dress(root.dataset.dress === "hall" ? "paper" : "hall"));
