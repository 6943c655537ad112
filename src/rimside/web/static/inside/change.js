// Changing the casting by hand: a figure is dragged to a player or a place, or pinned by a form; what would change is
// seen before it is kept.
import { ask } from "../ask.js";
import { element } from "../element.js";
import { makeSteps } from "../steps.js";

const THINGS = { player: "player", place: "place", hand: "hand", implement: "with" };
let page = null; // what the piano view offers
let chosen = null; // {figure, box, choose, mark, had, form, result}

document.addEventListener("drawn", () => {
  page = window.rimside;
  page.choose.take = take;
  makeSteps(again, page.say);
});
document.addEventListener("figure-chosen", (event) => open(event.detail));
document.addEventListener("figure-put-away", () => { chosen = null; });

/** Load the page anew at the same moment and figure, with some words. */
function again(words) {
  const asked = new URLSearchParams(location.search);
  asked.set("t", page.time.seconds().toFixed(3));
  if (chosen) asked.set("figure", chosen.figure.id);
  if (page.stage.view.follow) asked.set("player", page.stage.view.follow);
  sessionStorage.setItem("said", words);
  location.replace(`${location.pathname}?${asked}`);
}
document.addEventListener("drawn", () => {
  const words = sessionStorage.getItem("said");
  sessionStorage.removeItem("said");
  if (words) page.say(words);
});

// --- the form ---
async function open({ figure, box, choose, mark }) {
  const mine = { figure, box, choose, mark };
  chosen = mine;
  choose(({ player, place }) => wish(player ? "player" : "place", player ?? place));
  let told;
  try {
    told = await ask(`/change/pins?figure=${encodeURIComponent(figure.id)}`);
  } catch (slip) {
    box.append(element("p", { class: "slip" }, slip.message));
    return;
  }
  if (chosen !== mine) return;
  mine.had = told.pins;
  mine.form = form(told);
  mine.result = element("div", { class: "would", "aria-live": "polite" });
  box.append(mine.form, mine.result);
}

function form(told) {
  const choices = { player: told.players, place: told.places.map((id) => [id, id]), hand: [["left", "left"], ["right", "right"]], implement: told.implements.map((kind) => [kind, kind]) };
  const rows = Object.entries(THINGS).map(([name, words]) => {
    const select = element("select", { name, id: `pin-${name}` },
      element("option", { value: "" }, "open"),
      element("optgroup", { label: "shall be" }, ...choices[name].map(([id, called]) => element("option", { value: `+${id}` }, called))),
      element("optgroup", { label: "shall not be" }, ...choices[name].map(([id, called]) => element("option", { value: `-${id}` }, `not ${called}`))));
    select.value = valueOf(told.pins, name);
    if (select.selectedIndex < 0) select.value = "";
    return [element("label", { for: `pin-${name}` }, words), select];
  });
  const contact = element("input", { type: "number", id: "pin-contact", name: "contact_mm", min: "1", step: "1", inputmode: "numeric", placeholder: "open" });
  contact.value = told.pins.find((pin) => pin.contact_mm !== undefined && !pin.forbid)?.contact_mm ?? "";
  const made = element("form", { class: "pins", "aria-label": "Pins of this figure" },
    element("h3", {}, "decide by hand"),
    element("p", { class: "quiet" }, "Drag its tag onto a player or a place, or choose here. Nothing is kept until you say so."),
    element("div", { class: "grid" }, ...rows.flat(), element("label", { for: "pin-contact" }, "contact, mm"), contact));
  let waiting = 0;
  made.addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(tryOut, 350); });
  made.addEventListener("submit", (event) => { event.preventDefault(); tryOut(); });
  return made;
}

function valueOf(pins, name) {
  const pin = pins.find((one) => one[name] !== undefined);
  return pin ? `${pin.forbid ? "-" : "+"}${pin[name]}` : "";
}

/** The pins that the form says. */
function wishes() {
  const data = new FormData(chosen.form);
  const shall = {};
  const not = [];
  for (const name of Object.keys(THINGS)) {
    const value = data.get(name);
    if (value?.startsWith("+")) shall[name] = value.slice(1);
    else if (value?.startsWith("-")) not.push({ [name]: value.slice(1), forbid: true });
  }
  if (data.get("contact_mm")) shall.contact_mm = Number(data.get("contact_mm"));
  const { player, ...rest } = shall;
  return [...(player ? [{ player }] : []), ...(Object.keys(rest).length ? [rest] : []), ...not];
}

/** Set one thing from outside the form: by dragging, or a click while a figure is open. */
function wish(name, value) {
  const select = chosen?.form?.elements[name];
  if (!select) return;
  select.value = `+${value}`;
  if (select.selectedIndex < 0) {
    select.value = "";
    chosen.result.replaceChildren(element("p", { class: "slip" }, `${page.players.get(value)?.name ?? value} does not do ${chosen.figure.technique}.`));
    return;
  }
  tryOut();
}

let asking = 0;
async function tryOut() {
  const mine = chosen;
  const number = ++asking;
  const body = { figure: mine.figure.id, pins: wishes(), had: mine.had };
  mine.result.replaceChildren(element("p", { class: "quiet" }, "looking at what would change…"));
  try {
    const told = await ask("/change/try", body);
    if (number === asking && chosen === mine) show(mine, would(told, body));
  } catch (slip) {
    if (number === asking && chosen === mine) await refused(mine, slip, tryOut);
  }
}

function show(mine, parts) {
  mine.result.replaceChildren(...parts);
  mine.result.scrollIntoView({ block: "nearest" });
}

/** A change that was refused: what was chosen stays; after somebody else's change it can be tried on top. */
async function refused(mine, slip, then) {
  const parts = [element("p", { class: "slip" }, slip.message)];
  if (slip.status === 409) {
    const told = await ask(`/change/pins?figure=${encodeURIComponent(mine.figure.id)}`);
    parts.push(element("button", { type: "button", onclick: () => { mine.had = told.pins; then(); } }, "send mine on top"),
      element("button", { type: "button", onclick: () => again("") }, "show theirs"));
  }
  show(mine, parts);
}

// --- what would change ---

function would(told, body) {
  const others = told.moved.filter((row) => row.figure !== body.figure);
  const own = told.moved.find((row) => row.figure === body.figure);
  const lines = [element("h3", {}, told.moved.length ? "what would change" : "nothing would change")];
  if (own) lines.push(element("p", {}, moved(own)));
  if (others.length) lines.push(element("ul", {}, ...others.slice(0, 12).map((row) => element("li", {}, moved(row)))));
  if (others.length > 12) lines.push(element("p", { class: "quiet" }, `and ${others.length - 12} figures more`));
  for (const row of told.lost) lines.push(element("p", { class: "slip" }, `${row.figure} could not be played: ${row.reason}`, ...row.mends.map((text) => element("span", { class: "mend" }, ` Mend: ${text}.`))));
  if (told.levels.length) lines.push(element("ul", { class: "levels" }, ...told.levels.map(level)));
  for (const words of told.breaches) lines.push(element("p", { class: "slip" }, `A rule would be broken, please report this: ${words}`));
  const keep = element("button", { type: "button", class: "main", onclick: () => kept(body) }, "keep it");
  lines.push(element("p", { class: "decide" }, keep, element("button", { type: "button", onclick: () => page.figure(body.figure) }, "leave it as it was")));
  return lines;
}

function moved({ figure, before, after }) {
  if (!after) return `${figure} is not played any more`;
  if (!before) return `${figure} is played now, by ${name(after.player)} from ${after.place}`;
  const parts = [];
  if (before.player !== after.player) parts.push(`${name(before.player)} gives it to ${name(after.player)}`);
  if (before.place !== after.place) parts.push(`from ${before.place} to ${after.place}`);
  if (`${before.hands}` !== `${after.hands}`) parts.push(`${after.hands.join(" and ")} hand`);
  if (`${before.implements}` !== `${after.implements}`) parts.push(`with ${after.implements.join(", ") || "bare hands"}`);
  return `${figure}: ${parts.join(", ") || "another contact point"}`;
}

const name = (id) => page.players.get(id)?.name ?? id;

const level = ({ words, before, after, better }) =>
  element("li", { class: better ? "good" : "warn" }, `${better ? "better" : "worse"}: ${words} ${before} to ${after}`);

async function kept(body) {
  const mine = chosen;
  const words = `${body.figure}: ${body.pins.map((pin) => (pin.forbid ? "not " : "") + Object.entries(pin).filter(([key]) => key !== "forbid").map(([, value]) => value).join(", ")).join("; ") || "no pins"}`;
  try {
    await ask("/change/keep", { ...body, words });
    again(`kept: ${words}`);
  } catch (slip) {
    await refused(mine, slip, () => kept({ ...body, had: mine.had }));
  }
}

// --- dragging ---
const NEAR_PX = 6;
function take(event, figure) {
  if (event.button) return;
  const start = [event.clientX, event.clientY];
  let ghost = null;
  const move = (now) => {
    if (!ghost && Math.hypot(now.clientX - start[0], now.clientY - start[1]) > NEAR_PX) {
      page.time.hold();
      ghost = element("div", { class: "ghost" }, figure);
      document.body.append(ghost);
      if (chosen?.figure.id !== figure) page.figure(figure);
    }
    if (!ghost) return;
    ghost.style.transform = `translate(${now.clientX + 12}px, ${now.clientY + 12}px)`;
    const target = under(now);
    page.stage.mark(figure, target.player, target.place);
  };
  const drop = (now) => {
    removeEventListener("pointermove", move);
    removeEventListener("pointerup", drop);
    removeEventListener("pointercancel", drop);
    if (!ghost) return;
    ghost.remove();
    const target = now.type === "pointerup" ? under(now) : {};
    page.stage.mark(figure);
    const give = () => {
      if (!chosen?.form) return setTimeout(give, 30);
      if (target.player) wish("player", target.player);
      else if (target.place) wish("place", target.place);
      return undefined;
    };
    if (target.player || target.place) give();
  };
  addEventListener("pointermove", move);
  addEventListener("pointerup", drop);
  addEventListener("pointercancel", drop);
}

/** The player or place under the pointer: a body within its shoulders, a place within a hand's breadth. */
function under(event) {
  const box = document.querySelector("#stage").getBoundingClientRect();
  const at = [event.clientX, event.clientY];
  for (const mark of document.querySelectorAll(".person-mark")) {
    const b = mark.getBoundingClientRect();
    if (Math.hypot(at[0] - b.x - b.width / 2, at[1] - b.y - b.height / 2) < Math.min(b.width, b.height) * 0.6) return { player: mark.dataset.player };
  }
  const near = Object.entries(page.scene.places)
    .map(([id, [x, y]]) => [id, Math.hypot(...page.stage.screen(x, y).map((v, i) => v - at[i]))])
    .sort((a, b) => a[1] - b[1])[0];
  return near && near[1] < 26 && box.width ? { place: near[0] } : {};
}
