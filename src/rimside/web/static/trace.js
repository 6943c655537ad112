// Marks on a picture: set by a click or by the keyboard, dragged, listed, undone, saved, made into a piano.
import { ask } from "./ask.js";
import { element as node } from "./element.js";

const part = (id) => document.getElementById(id);
const root = document.querySelector(".trace");
const stage = part("stage"), sheet = part("sheet"), image = part("image"), over = part("over-it");
const picture = root.dataset.picture;
const TABLES = ["mark", "damper", "strike", "strut", "spot", "floor", "outline"];
const HEADS = { mark: "Courses", damper: "Dampers", strike: "Hammers", strut: "Struts", spot: "Spots", floor: "Floor", outline: "Outline" };
const COUNTED = ["last_single", "last_double", "first_plain", "last_damper"];
const CLICK_PX = 5, MOST_UNDO = 200, LABELS_FROM = 0.35;

let plan = null; // what the server says of the picture
let marks = Object.fromEntries(TABLES.map((name) => [name, []]));
let slip = "", saved = "";
const before = [];
const view = { x: 0, y: 0, scale: 1 };
const cross = [0, 0];

const say = (words) => { part("said").textContent = words; };
const round = (value) => Math.round(value * 10) / 10;
const drawn = (tag, attributes, parent) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  parent.append(made);
  return made;
};

// The points of all marks, each with how it is told, how slips name it, and how it is read and set.
function* points() {
  const row = (table, index, field, label, names) => ({
    table, index, field, label, names,
    get: () => (field === null ? marks[table][index] : marks[table][index][field]),
    set: (px) => { if (field === null) marks[table][index] = px; else marks[table][index][field] = px; },
  });
  for (const table of TABLES) {
    for (const [index, one] of marks[table].entries()) {
      const nth = `${table} no. ${index + 1}`;
      if (table === "mark") for (const end of ["near", "far"]) { if (one[end]) yield row(table, index, end, `${one.key} ${end}`, [`course ${one.key}, ${end}`, nth]); }
      else if (table === "damper" || table === "strike") yield row(table, index, "at", `${one.key}`, [`${table} at key ${one.key}`, nth]);
      else if (table === "strut") for (const end of ["start", "end"]) { if (one[end]) yield row(table, index, end, `${one.name} ${end}`, [`strut ${one.name}, ${end}`, `${one.name}`, nth]); }
      else if (table === "outline") yield row(table, index, null, `${index + 1}`, [`outline, point no. ${index + 1}`]);
      else yield row(table, index, "at", one.name, [`${table} ${one.name}`, nth]);
    }
  }
}

const meant = (point) => slip && point.names.some((name) => new RegExp(`${name.replace(/[.*+?^${}()|[\]\\]/g, "\\$&")}(?!\\d)`).test(slip));
const mm = ([column, row]) => [plan.origin_mm[0] + column * plan.mm_per_pixel, plan.origin_mm[1] - row * plan.mm_per_pixel];
const told = (px) => { const [x, y] = mm(px); return `${x.toFixed(0)}, ${y.toFixed(0)} mm`; };

// What is shown.

function place() {
  sheet.style.transform = `translate(${view.x}px, ${view.y}px) scale(${view.scale})`;
  draw();
}

function draw() {
  over.replaceChildren();
  const lines = [
    ...marks.mark.filter((one) => one.near && one.far).map((one) => [one.near, one.far]),
    ...marks.strut.filter((one) => one.start && one.end).map((one) => [one.start, one.end]),
  ];
  if (marks.outline.length > 1) lines.push([...marks.outline, marks.outline[0]]);
  for (const kind of ["line", "line in"]) for (const line of lines) drawn("polyline", { class: kind, points: line.map(([x, y]) => `${x + 0.5},${y + 0.5}`).join(" ") }, over);
  for (const point of points()) dot(point);
  const [x, y] = cross, arm = 14 / view.scale;
  for (const kind of ["cross halo", "cross"]) drawn("path", { class: kind, d: `M${x - arm} ${y}H${x + arm}M${x} ${y - arm}V${y + arm}` }, over);
  part("spot-at").textContent = plan ? told([cross[0] - 0.5, cross[1] - 0.5]) : "";
}

function dot(point) {
  const [x, y] = point.get();
  const group = drawn("g", { class: `dot${meant(point) ? " wrong" : ""}`, transform: `translate(${x + 0.5} ${y + 0.5}) scale(${1 / view.scale})` }, over);
  drawn("circle", { class: "hit", r: 16 }, group);
  const shape = point.table === "mark" ? ["circle", { r: 5 }] : ["rect", { x: -5, y: -5, width: 10, height: 10, transform: point.table === "outline" ? "rotate(45)" : "" }];
  drawn(shape[0], { ...shape[1], class: "ring" }, group);
  drawn(shape[0], { ...shape[1], class: "core" }, group);
  const small = view.scale < LABELS_FROM;
  if (!small || point.field === "far" || meant(point)) drawn("text", { x: 9, y: 5 }, group).textContent = small && point.field === "far" ? point.label.split(" ")[0] : point.label;
  group.addEventListener("pointerdown", (event) => { event.stopPropagation(); drag(event, point, group); });
}

function list() {
  const host = part("list");
  host.replaceChildren();
  const all = [...points()];
  for (const table of TABLES) {
    const mine = all.filter((point) => point.table === table);
    if (!mine.length) continue;
    const rows = node("ul");
    for (const point of mine) {
      const go = node("button", { type: "button", class: "figures" }, `${point.label}: ${told(point.get())}`);
      go.addEventListener("click", () => { look(point.get()); stage.focus(); });
      const gone = node("button", { type: "button", "aria-label": `take away ${HEADS[table]} ${point.label}` }, "×");
      gone.addEventListener("click", () => change(() => remove(point), `${point.label} taken away`));
      const row = node("li", {}, go, gone);
      if (meant(point)) row.append(node("p", { class: "slip" }, `! ${slip}`));
      rows.append(row);
    }
    host.append(node("h2", {}, HEADS[table]), rows);
  }
  if (!all.length) host.append(node("p", { class: "quiet" }, "Nothing is marked yet. Click the near end of course 1, then its far end; the first and last course of each section are the ones that matter."));
  part("slip").hidden = !slip;
  part("slip").textContent = slip ? `! ${slip}` : "";
  part("back").disabled = !before.length;
  part("make").disabled = !plan?.sha || JSON.stringify([marks, facts()]) !== saved;
}

// What changes.

function change(deed, words) {
  before.push(JSON.stringify(marks));
  if (before.length > MOST_UNDO) before.shift();
  deed();
  draw();
  list();
  say(words);
}

function undo() {
  if (!before.length) return;
  marks = JSON.parse(before.pop());
  draw();
  list();
  say("taken back");
}

function remove(point) {
  const rows = marks[point.table];
  const one = rows[point.index];
  const pair = { near: "far", far: "near", start: "end", end: "start" }[point.field];
  if (pair && one[pair]) delete one[point.field];
  else rows.splice(point.index, 1);
}

function named(table, fresh) {
  const name = part("name").value.trim() || `${table} ${marks[table].length + 1}`;
  let one = marks[table].find((row) => row.name === name);
  if (!one) marks[table].push(one = { name, ...fresh });
  return one;
}

const SET = {
  mark(px) {
    const key = Number(part("key").value), end = part("end").value;
    let one = marks.mark.find((row) => row.key === key);
    if (!one) { marks.mark.push(one = { key }); marks.mark.sort((a, b) => a.key - b.key); }
    one[end] = px;
    if (end === "far") part("key").value = Math.min(88, key + 1);
    part("end").value = end === "near" ? "far" : "near";
    return `${end} end of course ${key}`;
  },
  damper: (px) => keyed("damper", px),
  strike: (px) => keyed("strike", px),
  strut(px) {
    const one = named("strut", { width_mm: Number(part("width").value), over_strings: part("over").checked });
    const end = one.start && !one.end ? "end" : "start";
    if (end === "start") delete one.end;
    one[end] = px;
    if (end === "start") part("name").value = one.name;
    else part("name").value = "";
    return `${end} of ${one.name}`;
  },
  spot(px) { const one = named("spot", { kind: part("of").value }); Object.assign(one, { at: px, height_mm: Number(part("height").value) }); part("name").value = ""; return one.name; },
  floor(px) { const one = named("floor", {}); Object.assign(one, { at: px, radius_mm: Number(part("radius").value) }); part("name").value = ""; return one.name; },
  outline(px) { marks.outline.push(px); return `outline, point ${marks.outline.length}`; },
};

function keyed(table, px) {
  const key = Number(part("key").value);
  const one = marks[table].find((row) => row.key === key);
  if (one) one.at = px;
  else marks[table].push({ key, at: px });
  marks[table].sort((a, b) => a.key - b.key);
  return `${HEADS[table].toLowerCase().slice(0, -1)} at key ${key}`;
}

function set(px) {
  if (!part("tools").reportValidity()) return;
  const at = [round(px[0] - 0.5), round(px[1] - 0.5)];
  let words = "";
  change(() => { words = SET[part("kind").value](at); }, "");
  say(`${words} set at ${told(at)}`);
}

// Where one looks.

const onPicture = (event) => {
  const box = stage.getBoundingClientRect();
  return [(event.clientX - box.left - view.x) / view.scale, (event.clientY - box.top - view.y) / view.scale];
};

function zoom(by, at) {
  const scale = Math.min(20, Math.max(0.05, view.scale * by));
  view.x = at[0] - (at[0] - view.x) * scale / view.scale;
  view.y = at[1] - (at[1] - view.y) * scale / view.scale;
  view.scale = scale;
  place();
}

function whole() {
  view.scale = Math.min(stage.clientWidth / plan.columns, stage.clientHeight / plan.rows);
  view.x = (stage.clientWidth - plan.columns * view.scale) / 2;
  view.y = (stage.clientHeight - plan.rows * view.scale) / 2;
  place();
}

function look([x, y]) {
  cross[0] = x + 0.5; cross[1] = y + 0.5;
  view.scale = Math.max(view.scale, 1);
  view.x = stage.clientWidth / 2 - cross[0] * view.scale;
  view.y = stage.clientHeight / 2 - cross[1] * view.scale;
  place();
}

const middle = () => [stage.clientWidth / 2, stage.clientHeight / 2];

// Pointers: one drags the picture or, without moving, sets a mark; two zoom.

const fingers = new Map();
let moved = 0;
stage.addEventListener("pointerdown", (event) => {
  if (event.button) return;
  fingers.set(event.pointerId, [event.clientX, event.clientY]);
  if (fingers.size === 1) moved = 0;
  stage.setPointerCapture(event.pointerId);
});
stage.addEventListener("pointermove", (event) => {
  const was = fingers.get(event.pointerId);
  if (!was) return;
  const now = [event.clientX, event.clientY];
  const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
  fingers.set(event.pointerId, now);
  moved += Math.hypot(now[0] - was[0], now[1] - was[1]);
  if (moved < CLICK_PX) return;
  if (other) {
    const box = stage.getBoundingClientRect();
    const apart = (a) => Math.hypot(a[0] - other[0], a[1] - other[1]);
    moved = Infinity;
    zoom(apart(now) / Math.max(1, apart(was)), [(now[0] + other[0]) / 2 - box.left, (now[1] + other[1]) / 2 - box.top]);
  } else { view.x += now[0] - was[0]; view.y += now[1] - was[1]; place(); }
});
for (const kind of ["pointerup", "pointercancel"]) stage.addEventListener(kind, (event) => {
  if (fingers.delete(event.pointerId) && kind === "pointerup" && moved < CLICK_PX && !fingers.size) { [cross[0], cross[1]] = onPicture(event); set(cross); }
});
stage.addEventListener("wheel", (event) => {
  event.preventDefault();
  const box = stage.getBoundingClientRect();
  zoom(Math.exp(-event.deltaY * 0.0015), [event.clientX - box.left, event.clientY - box.top]);
}, { passive: false });

function drag(event, point, group) {
  if (event.button) return;
  const start = JSON.stringify(marks), from = onPicture(event), at = point.get();
  let far = false;
  stage.setPointerCapture(event.pointerId);
  group.classList.add("held");
  const move = (next) => {
    const to = onPicture(next);
    far ||= Math.hypot(to[0] - from[0], to[1] - from[1]) * view.scale > 2;
    if (far) { point.set([round(at[0] + to[0] - from[0]), round(at[1] + to[1] - from[1])]); draw(); }
  };
  const end = (last) => {
    stage.removeEventListener("pointermove", move);
    stage.removeEventListener("pointerup", end);
    stage.removeEventListener("pointercancel", end);
    if (far) { before.push(start); list(); say(`${point.label} now at ${told(point.get())}`); }
    else if (last.type === "pointerup") { [cross[0], cross[1]] = onPicture(last); set(cross); }
    draw();
  };
  stage.addEventListener("pointermove", move);
  stage.addEventListener("pointerup", end);
  stage.addEventListener("pointercancel", end);
}

const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
stage.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const step = STEPS[event.key];
  if (step) {
    const by = event.shiftKey ? 1 : 12 / view.scale;
    cross[0] = Math.min(plan.columns, Math.max(0, cross[0] + step[0] * by));
    cross[1] = Math.min(plan.rows, Math.max(0, cross[1] + step[1] * by));
    const at = [cross[0] * view.scale + view.x, cross[1] * view.scale + view.y];
    view.x += Math.min(0, stage.clientWidth - 30 - at[0]) + Math.max(0, 30 - at[0]);
    view.y += Math.min(0, stage.clientHeight - 30 - at[1]) + Math.max(0, 30 - at[1]);
    place();
  } else if (event.key === "Enter" || event.key === " ") set(cross);
  else if (event.key === "+" || event.key === "=") zoom(1.25, [cross[0] * view.scale + view.x, cross[1] * view.scale + view.y]);
  else if (event.key === "-") zoom(0.8, [cross[0] * view.scale + view.x, cross[1] * view.scale + view.y]);
  else return;
  event.preventDefault();
});
addEventListener("keydown", (event) => {
  if ((event.ctrlKey || event.metaKey) && event.key === "z" && !event.target.matches("input, textarea")) { event.preventDefault(); undo(); }
});

// What no picture shows.

const field = (name) => part("facts").elements.namedItem(name);
function facts() {
  const found = {};
  for (const name of ["name", "title", "like"]) if (field(name).value.trim()) found[name] = field(name).value.trim();
  const counted = {};
  const lasts = field("last_keys").value.match(/\d+/g);
  if (lasts) counted.last_keys = lasts.map(Number);
  for (const name of COUNTED) if (field(name).value !== "") counted[name] = Number(field(name).value);
  if (Object.keys(counted).length) found.counted = counted;
  const readings = {};
  for (const name of ["rim_height", "length"]) if (field(name).value !== "" && field(name).dataset.shown !== field(name).value) readings[name] = Number(field(name).value);
  if (Object.keys(readings).length) found.readings = readings;
  return found;
}

function fill(trace) {
  for (const name of ["name", "title", "like"]) field(name).value = trace[name] ?? "";
  field("last_keys").value = (trace.counted?.last_keys ?? []).join(" ");
  for (const name of COUNTED) field(name).value = trace.counted?.[name] ?? "";
  for (const name of ["rim_height", "length"]) {
    const value = trace.readings?.[name];
    field(name).value = value?.mm ?? value ?? "";
    field(name).dataset.shown = field(name).value;
  }
}

// To the server and back.

async function load() {
  plan = await ask(`/trace/marks?picture=${encodeURIComponent(picture)}`);
  for (const name of TABLES) marks[name] = plan.told[name] ?? [];
  over.setAttribute("width", plan.columns);
  over.setAttribute("height", plan.rows);
  over.setAttribute("viewBox", `0 0 ${plan.columns} ${plan.rows}`);
  image.width = plan.columns;
  image.height = plan.rows;
  part("sure").textContent = `a point is known to ${plan.error_mm.toFixed(1)} mm in the middle, ${plan.worst_mm.toFixed(1)} mm in the corners; marks go to survey/${plan.trace}`;
  slip = plan.slip;
  fill(plan.told);
  [cross[0], cross[1]] = [plan.columns / 2, plan.rows / 2];
  saved = JSON.stringify([marks, facts()]);
  whole();
  list();
  document.documentElement.dataset.ready = "yes";
}

async function save() {
  part("save").disabled = true;
  try {
    const answer = await ask("/trace/save", { picture, sha: plan.sha, ...marks, facts: facts() });
    plan.sha = answer.sha;
    slip = answer.slip;
    saved = JSON.stringify([marks, facts()]);
    say(slip ? `Saved in ${answer.file}, with a slip: ${slip}` : `Saved in ${answer.file}`);
  } catch (error) {
    if (error.status === 409) plan.sha = (await ask(`/trace/marks?picture=${encodeURIComponent(picture)}`)).sha;
    slip = error.message;
    say(error.message);
  }
  part("save").disabled = false;
  draw();
  list();
}

async function make() {
  const host = part("report");
  part("make").disabled = true;
  host.replaceChildren(node("p", {}, "Making the piano …"));
  try {
    show(host, await ask("/trace/piano", { picture }));
  } catch (error) {
    slip = error.message;
    host.replaceChildren(node("p", { class: "slip" }, `! ${error.message}`));
    draw();
  }
  list();
}

function files() {
  const url = new URL("/files", location.origin);
  const variant = new URLSearchParams(location.search).get("variant");
  if (variant) url.searchParams.set("variant", variant);
  url.searchParams.set("file", "production.toml");
  return url.pathname + url.search;
}

function show(host, made) {
  const items = (head, rows) => rows.length ? [node("h2", {}, head), node("ul", {}, ...rows.map((row) => node("li", {}, row)))] : [];
  const table = node("table", {}, node("thead", {}, node("tr", {}, ...["section", "near", "middle", "far", "node"].map((word) => node("th", { scope: "col" }, word)))));
  table.append(node("tbody", {}, ...made.errors.map((row) => node("tr", {}, ...row.map((cell) => node("td", {}, `${cell}`))))));
  host.replaceChildren(
    node("h2", {}, `${made.title} is in pianos/${made.name}.toml`),
    node("p", {}, `${made.readings} readings; all else from ${made.like}, stretched to fit.`),
    ...(made.listed ? [] : [node("p", {}, "To cast on it, name it in production.toml: ", node("a", { href: files() }, "open production.toml"))]),
    ...items("In doubt: mark or measure these again", made.doubts),
    ...items("Unlike published pianos: is the wire known?", made.remarks),
    node("h2", {}, "How sure, mm (standard errors, worst key)"), table,
    ...items("Not read, and worth reading", made.missing), ...items("Assumed", made.assumed),
  );
  host.scrollIntoView({ block: "nearest" });
  say(`${made.title} is made`);
}

// The tools.

const tools = part("tools");
const fit = () => { for (const label of tools.querySelectorAll("[data-for]")) label.hidden = !label.dataset.for.split(" ").includes(part("kind").value); };
part("kind").addEventListener("change", fit);
tools.addEventListener("submit", (event) => event.preventDefault());
part("facts").addEventListener("submit", (event) => event.preventDefault());
part("facts").addEventListener("input", list);
part("back").addEventListener("click", undo);
part("closer").addEventListener("click", () => zoom(1.4, middle()));
part("further").addEventListener("click", () => zoom(1 / 1.4, middle()));
part("whole").addEventListener("click", whole);
part("save").addEventListener("click", save);
part("make").addEventListener("click", make);
addEventListener("beforeunload", (event) => { if (JSON.stringify([marks, facts()]) !== saved) event.preventDefault(); });
fit();
load().catch((error) => { slip = error.message; part("slip").hidden = false; part("slip").textContent = `! ${slip}`; });
