// The leader's page: draws the clock by itself, and asks the server for every change.

import { own_ms, seconds } from "/static/rehearsing/clock.js";
import { Line } from "/static/rehearsing/line.js";
import { bar_at } from "/static/rehearsing/now.js";
import { flag_row, player_row } from "/static/rehearsing/rehearse_rows.js";

const SPEEDS = [0.25, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.25, 1.5, 2];
const part = (id) => document.getElementById(id);

let clock = { epoch: 0, at_s: 0, server_ms: 0, speed: 1, playing: false, loop_s: null };
let piece = null;
let room = { players: [], flags: [] };

export const line = new Line("/rehearse/line", {
  hello: () => ({ kind: "hello", part: "" }),
  heard: (message) => takes[message.kind]?.(message),
  changed: (state) => tell(state === "open" ? "" : "The server does not answer; the players go on by themselves."),
});

const takes = {
  clock: (message) => ((clock = message), dress_clock()),
  piece: learn,
  room: (message) => ((room = message), draw_room()),
  slip: (message) => tell(message.what),
};

export function seconds_now() {
  return seconds(clock, line.server_ms());
}

function tell(words) {
  part("slip").textContent = words;
}

// --- asking the server -----------------------------------------------------------------------------------------------

export async function post(address, body) {
  try {
    const answer = await fetch(address, { method: "POST", body: JSON.stringify(body), headers: { "content-type": "application/json" } });
    tell(answer.ok ? "" : (await answer.json()).slip);
    return answer.ok;
  } catch {
    tell("The server does not answer. Is the page still running on this machine?");
    return false;
  }
}

const act = (body) => post("/rehearse/do", body);
const play = () => act({ do: clock.playing ? "pause" : "play" });

function pace(by) {
  const here = SPEEDS.findIndex((speed) => speed >= clock.speed - 1e-9);
  return act({ do: "pace", speed: SPEEDS[Math.min(SPEEDS.length - 1, Math.max(0, here + by))] });
}

// To the mark that begins before (-1) or after (1) this moment.
function to_mark(by) {
  const now_s = seconds_now();
  stop_at_end(now_s);
  const starts = (piece?.bars ?? []).filter((bar) => bar[3]).map((bar) => bar[0]);
  const found = by > 0 ? starts.find((start_s) => start_s > now_s) : starts.findLast((start_s) => start_s < now_s - 1);
  return found === undefined ? null : act({ do: "go_s", at_s: found });
}

part("play").addEventListener("click", play);
for (const button of document.querySelectorAll("[data-step]")) {
  button.addEventListener("click", () => act({ do: "step", by: Number(button.dataset.step) }));
}
part("go").addEventListener("submit", async (event) => {
  event.preventDefault();
  if (await act({ do: "go", first: part("go-bar").value })) part("go-bar").value = "";
});
part("loop").addEventListener("submit", (event) => {
  event.preventDefault();
  act({ do: "loop", first: part("first").value, last: part("last").value });
});
part("unloop").addEventListener("click", () => act({ do: "unloop" }));
part("speed").append(...SPEEDS.map((speed) => new Option(`${Math.round(speed * 100)} %`, String(speed))));
part("speed").addEventListener("change", (event) => act({ do: "pace", speed: Number(event.target.value) }));
part("choose").addEventListener("submit", (event) => {
  event.preventDefault();
  const variant = new URLSearchParams(location.search).get("variant") ?? "";
  post("/rehearse/choose", { casting: part("choice").value, variant });
});

const AFTER_S = 1; // the last sound and its end are heard out
const KEYS = {
  " ": play,
  ArrowLeft: () => act({ do: "step", by: -1 }),
  ArrowRight: () => act({ do: "step", by: 1 }),
  ArrowUp: () => pace(1),
  ArrowDown: () => pace(-1),
  Home: () => act({ do: "go_s", at_s: 0 }),
  PageUp: () => to_mark(-1),
  PageDown: () => to_mark(1),
};
part("clock").addEventListener("keydown", (event) => {
  if (event.target !== part("clock") || event.ctrlKey || event.metaKey || event.altKey || !(event.key in KEYS)) return;
  event.preventDefault();
  KEYS[event.key]();
});
part("clock").focus({ preventScroll: true });

// --- the clock -------------------------------------------------------------------------------------------------------

function learn(message) {
  piece = message;
  const marks = piece.bars.filter((bar) => bar[3]).map((bar) => bar[3]);
  part("marks").replaceChildren(...[...new Set(marks)].map((mark) => new Option(mark, mark)));
  dress_clock();
}

function dress_clock() {
  part("play").textContent = clock.playing ? "Stop" : "Play";
  part("going").textContent = clock.playing ? (clock.speed === 1 ? "" : `at ${Math.round(clock.speed * 100)} %`) : "stopped";
  part("unloop").disabled = clock.loop_s === null;
  const near = SPEEDS.find((speed) => Math.abs(speed - clock.speed) < 1e-9);
  part("speed").value = near === undefined ? "" : String(near);
  const looped = part("looped");
  looped.hidden = clock.loop_s === null || piece === null;
  if (looped.hidden) return;
  looped.style.left = `${share(clock.loop_s[0])}%`;
  looped.style.width = `${share(clock.loop_s[1]) - share(clock.loop_s[0])}%`;
}

function share(at_s) {
  return (100 * (at_s - piece.begin_s)) / (piece.end_s - piece.begin_s || 1);
}

const drawn = {};

function put(id, words) {
  if (drawn[id] === words) return;
  drawn[id] = words;
  part(id).textContent = words;
}

let ending = false;

/** The clock does not run on behind the piece. */
async function stop_at_end(now_s) {
  if (ending || !clock.playing || now_s < piece.end_s + AFTER_S) return;
  ending = true;
  await act({ do: "pause" });
  ending = false;
}

function draw() {
  requestAnimationFrame(draw);
  if (!piece) return;
  const now_s = seconds_now();
  const number = bar_at(piece.bars, now_s);
  const bar = piece.bars[number];
  put("bar", bar ? bar[1] : "–");
  put("pass", bar ? bar[2] : "");
  put("mark", piece.bars.slice(0, number + 1).findLast((one) => one[3])?.[3] ?? (now_s < 0 ? "before the piece" : ""));
  const tenths = Math.floor(Math.abs(now_s) * 10);
  put("time", `${now_s < 0 ? "−" : ""}${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, "0")}.${tenths % 10}`);
  part("reached").style.left = `${Math.min(100, Math.max(0, share(now_s)))}%`;
}
requestAnimationFrame(draw);

// --- players and flags -----------------------------------------------------------------------------------------------

const asks = {
  make: (player) => post("/rehearse/make", { player }),
  revoke: (player) => post("/rehearse/revoke", { player }),
  answer: (flag, done, answer) => post("/rehearse/answer", { flag, done, answer }),
  measure: (flag) => post("/rehearse/measure", { flag }),
  show,
};

// Redrawn only when it changed, so that nobody's typing is disturbed by another's ping.
const rows = { players: "", flags: "" };

function redraw(id, rest, make_row) {
  const told = JSON.stringify(room[id]) + rest;
  if (rows[id] === told) return;
  rows[id] = told;
  const focus = document.activeElement?.dataset?.act;
  const typed = new Map([...document.querySelectorAll(`#${id} input`)].map((input) => [input.dataset.act, input.value]));
  part(id).replaceChildren(...room[id].map(make_row));
  for (const input of document.querySelectorAll(`#${id} input`)) input.value = typed.get(input.dataset.act) ?? input.value;
  if (focus) document.querySelector(`#${id} [data-act="${CSS.escape(focus)}"]`)?.focus();
}

function draw_room() {
  const names = new Map(room.players.map((player) => [player.id, player]));
  redraw("players", "", (player) => player_row(player, line.server_ms(), asks));
  redraw("flags", names.size, (flag) => flag_row(flag, names.get(flag.player), asks));
  part("no-flags").hidden = room.flags.length > 0;
}

async function show(player) {
  const answer = await fetch(`/rehearse/link/${encodeURIComponent(player.id)}`);
  if (!answer.ok) return tell((await answer.json()).slip);
  part("show-head").textContent = player.name;
  part("code").src = `/rehearse/code/${encodeURIComponent(player.id)}?${own_ms()}`;
  part("code").alt = `Code of ${player.name}'s link`;
  part("link").value = (await answer.json()).link;
  part("show").showModal();
  part("link").select();
}

part("make-all").addEventListener("click", async () => {
  for (const player of room.players) if (!player.shown && !(await asks.make(player.id))) return;
});
part("revoke-all").addEventListener("click", async () => {
  for (const player of room.players) if (player.made_at && !(await asks.revoke(player.id))) return;
});
