// A form for one file: drawn from its fields, checked while it is filled in, kept as one step.
import { ask } from "./ask.js";
import { makeCastingJob } from "./casting_job.js";
import { element } from "./element.js";
import { makeSteps } from "./steps.js";

const find = (selector) => document.querySelector(selector);
const name = find("#file-name").dataset.file;
const state = { file: null, table: null, origin: new WeakMap(), dirty: false, text: false };
const say = (words, bad = false) => { find("#state").textContent = words; find("#state").className = bad ? "slip" : "quiet"; };

// --- the form ---
const spoken = (key) => key.replace(/_(mm_per_s|g_per_cm3|mm|s|hz|deg)$/, "").replaceAll("_", " ");
let count = 0;

function rows(fields, table, way) {
  const holder = element("div", { class: "fields" });
  for (const field of fields) holder.append(...row(field, table, [...way, field.name]));
  return holder;
}

function row(field, table, way) {
  const id = `f${++count}`;
  const set = (value) => {
    if (value === undefined) delete table[field.name];
    else table[field.name] = value;
    changed();
  };
  const value = table[field.name];
  if (field.kind === "table") return [inner(field, rows(field.inside, (table[field.name] = value ?? {}), way), way)];
  if (field.kind === "tables") return [inner(field, entries(field, table, way), way)];
  if (field.kind === "map") return [inner(field, field.inside[0]?.kind === "table" ? tableMap(field, table, way) : map(field, table, way), way)];
  const control = plain(field, id, value, set);
  control.dataset.way = JSON.stringify(way);
  const label = element("label", { for: id }, spoken(field.name), field.needed ? "" : element("span", { class: "unseen" }, " (may be empty)"));
  return [label, element("div", {}, control, field.unit ? element("span", { class: "unit" }, field.unit) : "")];
}

function plain(field, id, value, set) {
  if (field.kind === "flag") {
    const box = element("input", { type: "checkbox", id });
    box.checked = value === true;
    box.addEventListener("change", () => set(box.checked ? true : value === undefined ? undefined : false));
    return box;
  }
  if (field.kind === "choice") {
    const select = element("select", { id }, ...(field.needed ? [] : [element("option", { value: "" }, "as usual")]), ...field.choices.map((one) => element("option", { value: one }, one)));
    select.value = value ?? "";
    select.addEventListener("change", () => set(select.value || undefined));
    return select;
  }
  if (field.kind === "number" || field.kind === "whole") {
    const box = element("input", { type: "number", id, step: field.kind === "whole" ? 1 : "any", inputmode: "decimal", min: field.least, max: field.most });
    box.value = value ?? "";
    box.addEventListener("input", () => set(box.value === "" ? undefined : Number(box.value)));
    return box;
  }
  if (field.kind === "texts") {
    const lines = element("textarea", { id, rows: Math.max(1, value?.length ?? 1), placeholder: "one a line" });
    lines.value = (value ?? []).join("\n");
    lines.addEventListener("input", () => {
      const all = lines.value.split("\n").map((one) => one.trim()).filter(Boolean);
      set(all.length || Array.isArray(value) ? all : undefined);
    });
    return lines;
  }
  if (field.kind === "numbers") {
    const box = element("input", { type: "text", id, inputmode: "decimal" });
    box.value = (value ?? []).join(", ");
    box.addEventListener("input", () => {
      const parts = box.value.split(/[\s,;]+/).filter(Boolean);
      set(parts.length ? parts.map((part) => (Number.isNaN(Number(part)) ? part : Number(part))) : undefined);
    });
    return box;
  }
  if (field.kind === "pairs") return element("p", { id, class: "quiet" }, `${value?.length ?? 0} points; change them as text, or by marks on the picture`);
  const box = element("input", { type: "text", id });
  box.value = value ?? "";
  box.addEventListener("input", () => set(box.value === "" ? undefined : box.value));
  return box;
}

const inner = (field, holder, way) => element("fieldset", { class: "inner", "data-way": JSON.stringify(way) }, element("legend", {}, spoken(field.name)), holder);

function entries(field, table, way) {
  const holder = element("div");
  const list = (table[field.name] ??= []);
  const draw = (open) => holder.replaceChildren(...list.map((entry, i) => one(entry, i, entry === open)), element("p", {}, element("button", { type: "button", onclick: add }, `another ${spoken(field.name).replace(/s$/, "")}`)));
  const called = (entry, i) => entry.name ?? entry.kind ?? entry.figure ?? entry.key ?? entry.from ?? `no. ${i + 1}`;
  function one(entry, i, open) {
    const summary = element("summary", {}, `${called(entry, i)}`);
    const away = element("button", { type: "button", onclick: () => { list.splice(list.indexOf(entry), 1); draw(); changed(); } }, "take out");
    const box = element("details", { class: "entry" }, summary, rows(field.inside, entry, [...way, i]), away);
    box.open = open || list.length === 1;
    box.addEventListener("input", () => { summary.textContent = `${called(entry, i)}`; });
    return box;
  }
  function add() {
    const entry = {};
    list.push(entry);
    draw(entry);
    changed();
    holder.querySelectorAll("details")[list.length - 1].querySelector("input, select, textarea")?.focus();
  }
  draw();
  return holder;
}

function map(field, table, way) {
  const holder = element("div");
  const own = (table[field.name] ??= {});
  const draw = (focus) => {
    holder.replaceChildren(...Object.entries(own).map(([key, value]) => line(key, value)), element("p", {}, element("button", { type: "button", onclick: () => { own[""] = ""; draw(true); } }, "another line")));
    if (focus) holder.querySelector(".map-row:last-of-type input")?.focus();
  };
  function line(key, value) {
    const was = typeof value;
    const left = element("input", { type: "text", "aria-label": `${spoken(field.name)}: what stands there`, "data-way": JSON.stringify([...way, key]) });
    const right = element("input", { type: "text", "aria-label": `${spoken(field.name)}: what it means` });
    [left.value, right.value] = [key, value];
    let named = key;
    const set = () => {
      delete own[named];
      named = left.value;
      own[named] = was === "number" || (right.value !== "" && field.inside[0]?.kind === "number") ? Number(right.value) : was === "boolean" ? right.value === "true" : right.value;
      changed();
    };
    left.addEventListener("change", set);
    right.addEventListener("input", set);
    return element("div", { class: "map-row" }, left, right, element("button", { type: "button", "aria-label": `take out ${key}`, onclick: () => { delete own[named]; draw(); changed(); } }, "take out"));
  }
  draw();
  return holder;
}

function tableMap(field, table, way) {
  const own = (table[field.name] ??= {});
  return element("div", {}, ...Object.entries(own).map(([key, value]) => element("details", { class: "entry" }, element("summary", {}, key), rows(field.inside[0].inside, value, [...way, key]))),
    element("p", { class: "quiet" }, "others are added as text"));
}

// --- what has changed ---
const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
const empty = (value) => value === undefined || (value && typeof value === "object" && !Object.keys(value).length);

/** The edits that make the file say what the form says. */
function edits(before, after, way = []) {
  const found = [];
  for (const key of new Set([...Object.keys(before), ...Object.keys(after)])) {
    const [a, b] = [before[key], after[key]];
    if (same(a, b) || (empty(a) && empty(b) && a === undefined)) continue;
    const here = [...way, key];
    if (Array.isArray(b) && b.some((one) => one && typeof one === "object" && !Array.isArray(one))) found.push(...listEdits(a ?? [], b, here));
    else if (Array.isArray(a) && Array.isArray(b) && !b.length && a.some((one) => one && typeof one === "object")) found.push(...listEdits(a, b, here));
    else if (b && typeof b === "object" && !Array.isArray(b)) found.push(...edits(a ?? {}, b, here));
    else if (b === undefined) found.push({ do: "remove", way: here });
    else found.push({ do: "set", way: here, value: b });
  }
  return found;
}

function listEdits(before, after, way) {
  const kept = after.map((entry) => state.origin.get(entry));
  const found = after.flatMap((entry, i) => (kept[i] === undefined ? [] : edits(before[kept[i]], entry, [...way, kept[i]])));
  const gone = before.map((_, i) => i).filter((i) => !kept.includes(i)).reverse();
  found.push(...gone.map((i) => ({ do: "remove", way: [...way, i] })));
  found.push(...after.filter((_, i) => kept[i] === undefined).map((value) => ({ do: "add", way, value: trimmed(value) })));
  return found;
}

const trimmed = (value) => Object.fromEntries(Object.entries(value).filter(([, one]) => !empty(one)));

/** A copy to work on, in which every entry of a list knows where it came from. */
function copied(value) {
  if (Array.isArray(value)) return value.map((one, i) => { const copy = copied(one); if (copy && typeof copy === "object") state.origin.set(copy, i); return copy; });
  if (value && typeof value === "object") return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, copied(one)]));
  return value;
}

function version() {
  const base = { name, sha: state.file.sha, onto: state.onto };
  return state.text ? { ...base, text: find("#text").value } : { ...base, edits: edits(state.file.table, state.table) };
}

// --- checking and keeping ---
let waiting = 0;
let asked = 0;
function changed() {
  const now = version();
  state.dirty = state.text ? now.text !== state.file.text : now.edits.length > 0;
  for (const id of ["save", "leave"]) find(`#${id}`).disabled = !state.dirty;
  clearTimeout(waiting);
  if (state.dirty) waiting = setTimeout(check, 300);
  else { mark(null); say(""); }
}

async function check() {
  const number = ++asked;
  try {
    const told = await ask("/files/check", version());
    if (number !== asked) return;
    if (told.text && find("#as-text").open && !state.text) find("#text").value = told.text;
    mark(told.slip ? told : null);
    say(told.slip ? told.slip : `good: ${told.says}`, Boolean(told.slip));
    find("#save").disabled = Boolean(told.slip);
  } catch (slip) {
    say(slip.message, true);
  }
}

/** Put the words of a slip beside its field. */
function mark(told) {
  document.querySelectorAll(".beside").forEach((one) => one.remove());
  document.querySelectorAll(".bad").forEach((one) => { one.classList.remove("bad"); one.removeAttribute("aria-invalid"); one.removeAttribute("aria-describedby"); });
  if (!told) return;
  const at = nearest(told.way);
  if (!at) return;
  at.closest("details")?.setAttribute("open", "");
  at.classList.add("bad");
  at.setAttribute("aria-invalid", "true");
  at.setAttribute("aria-describedby", "beside");
  const words = element("p", { class: "beside", id: "beside" }, told.beside);
  (at.matches("fieldset") ? at : at.closest("div")).append(words);
}

function nearest(way) {
  for (let long = way.length; long > 0; long--) {
    const told = JSON.stringify(way.slice(0, long));
    const found = [...document.querySelectorAll("[data-way]")].find((one) => one.dataset.way === told);
    if (found) return found;
  }
  return null;
}

async function save() {
  clearTimeout(waiting); // a check that is still to come, or under way, has nothing to say any more
  asked++;
  try {
    const told = await ask("/files/save", version());
    sessionStorage.setItem("said", `kept: ${told.step}`);
    state.dirty = false;
    location.reload();
  } catch (slip) {
    say(slip.message, true);
    if (slip.status === 409) await conflict();
  }
}

/** Somebody else has written the file: what was typed stays, and goes on top of theirs when the person says so. */
async function conflict() {
  const theirs = await ask(`/files/form?name=${encodeURIComponent(name)}`);
  const [before, now] = [named(state.file.text), named(theirs.text)];
  const lines = [...only(now, before).map((line) => `now: ${line}`), ...only(before, now).map((line) => `no longer: ${line}`)];
  find("#theirs").replaceChildren(
    element("h3", {}, "what somebody else wrote meanwhile"),
    element("ul", {}, ...lines.slice(0, 12).map((line) => element("li", {}, line)), lines.length > 12 ? element("li", {}, `and ${lines.length - 12} lines more`) : ""),
    element("p", {}, element("button", { type: "button", class: "main", onclick: () => { state.onto = theirs.sha ?? ""; save(); } }, state.text ? "keep mine instead" : "keep mine on top of theirs"), " ",
      element("button", { type: "button", onclick: () => { state.dirty = false; location.reload(); } }, "take theirs")),
    ...(state.text ? [element("label", { for: "their-text" }, "theirs, to copy from"), element("textarea", { id: "their-text", readonly: true, rows: 12 }, theirs.text)] : []));
}

/** The lines of a file, each with the name of the entry or table that it stands in. */
function named(text) {
  let inside = "";
  return text.split("\n").map((line) => line.trim()).filter(Boolean).map((line) => {
    const found = line.match(/^(?:name|id|kind|figure)\s*=\s*"([^"]*)"/) ?? line.match(/^\[+([^\]]+)\]/);
    if (found) [, inside] = found;
    return found || !inside ? line : `${inside}: ${line}`;
  });
}

/** The lines of one that the other has not. */
function only(lines, others) {
  const rest = [...others];
  return lines.filter((line) => {
    const at = rest.indexOf(line);
    if (at >= 0) rest.splice(at, 1);
    return at < 0;
  });
}

/** The text takes over what the form says; from the first letter typed there it counts alone. */
async function asText() {
  if (!find("#as-text").open || state.text || !state.dirty) return;
  const told = await ask("/files/check", version()).catch((slip) => say(slip.message, true));
  if (told?.text && !state.text) find("#text").value = told.text;
}

function textCounts() {
  if (!state.text) find("#as-text summary").textContent = "as text, which counts now";
  state.text = true;
  find("#form").inert = true;
  changed();
}

// --- beginning ---
async function begin() {
  state.file = await ask(`/files/form?name=${encodeURIComponent(name)}`);
  find("#text").value = state.file.text;
  if (state.file.table) {
    state.table = copied(state.file.table);
    find("#form").replaceChildren(rows(state.file.fields, state.table, []));
  } else {
    find("#as-text").open = true;
    state.text = true;
    say(state.file.slip, true);
  }
  find("#form").addEventListener("submit", (event) => event.preventDefault());
  find("#as-text").addEventListener("toggle", asText);
  find("#text").addEventListener("input", textCounts);
  find("#save").addEventListener("click", save);
  find("#leave").addEventListener("click", () => { state.dirty = false; location.reload(); });
  addEventListener("beforeunload", (event) => { if (state.dirty) event.preventDefault(); });
  document.documentElement.dataset.ready = "yes";
  const words = sessionStorage.getItem("said");
  sessionStorage.removeItem("said");
  if (words) say(words);
  await makeSteps((told) => { sessionStorage.setItem("said", told); location.reload(); }, (told) => say(told, true));
}

for (const kind of ["score", "picture"]) {
  find(`#bring-${kind}`).addEventListener("submit", async (event) => {
    event.preventDefault();
    const data = new FormData(event.target);
    data.set("kind", kind);
    const answer = await fetch(`/files/upload${location.search}`, { method: "POST", body: data, headers: { accept: "application/json" } }).catch(() => null);
    const told = answer ? await answer.json() : { slip: "The page's program does not answer." };
    if (told.slip) return say(told.slip, true);
    sessionStorage.setItem("said", `kept: ${told.step}`);
    return location.reload();
  });
}

makeCastingJob(find("#casting-job"), (words) => { sessionStorage.setItem("said", words); location.reload(); });
begin();
