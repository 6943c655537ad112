// What a player flags: kept on the phone until the server has it, each with an id so that it is kept once.

import { own_ms } from "/static/rehearsing/clock.js";
import { at, bar_at } from "/static/rehearsing/now.js";
import { element } from "/static/element.js";

const LONGEST_S = 600;
const part = (id) => document.getElementById(id);
const waiting = `flags:${location.pathname}`;

export class Flags {
  // `moment()` gives the part and the second of the piece.
  constructor(line, moment) {
    Object.assign(this, { line, moment, notes: [], from_ms: null, here: null });
    this.queue = this.stored();
    part("fast").addEventListener("click", () => this.ask(true));
    part("note").addEventListener("click", () => this.ask(false));
    part("tap").addEventListener("click", () => this.tap());
    part("leave").addEventListener("click", () => part("flag").close());
    part("flag-form").addEventListener("submit", (event) => this.answer(event));
    this.list();
  }

  stored() {
    try {
      return JSON.parse(localStorage.getItem(waiting)) ?? [];
    } catch {
      return [];
    }
  }

  store() {
    try {
      localStorage.setItem(waiting, JSON.stringify(this.queue));
    } catch {
      part("said").textContent = "This phone has no room left: keep the page open until there is network again.";
    }
    this.list();
  }

  take(message) {
    if (message.kind === "notes") this.notes = message.notes;
    if (message.kind === "kept" || message.kind === "refused") this.queue = this.queue.filter((one) => one.id !== message.id);
    if (message.kind === "refused") part("said").textContent = message.why;
    this.store();
  }

  send() {
    for (const one of this.queue) this.line.say(one);
  }

  add(flag) {
    const drawn = crypto.getRandomValues(new Uint8Array(16));
    const id = Array.from(drawn, (byte) => byte.toString(16).padStart(2, "0")).join("");
    this.queue.push({ kind: "flag", id, ...flag });
    this.store();
    this.send();
  }

  // --- asking ------------------------------------------------------------------------------------------------------

  ask(fast) {
    const { piece, now_s } = this.moment();
    if (!piece) return;
    const found = at(piece.steps, now_s);
    const next = piece.steps.find((step) => step.start_s > now_s && step.kind === "figure");
    const which = [...found.now.filter((step) => step.kind === "figure"), ...(next ? [next] : [])];
    const bar = piece.bars[bar_at(piece.bars, now_s)];
    this.here = { fast, which, at_s: now_s, bar: bar ? bar[1] : "", pass_: bar ? bar[2] : "" };
    part("flag-head").textContent = fast ? "Too fast here" : `A note at bar ${this.here.bar || "–"}`;
    part("which").hidden = !fast || which.length === 0;
    part("measure").hidden = !fast;
    part("which").replaceChildren(part("which").firstElementChild, ...which.map(choice));
    part("seconds").value = "";
    part("what").value = "";
    part("seconds-slip").textContent = "";
    this.from_ms = null;
    part("tap").textContent = "tap: start";
    part("flag").showModal();
  }

  // Two taps measure: one when the change begins, one when the hands are ready.
  tap() {
    if (this.from_ms === null) {
      this.from_ms = own_ms();
      part("tap").textContent = "tap: ready";
      return;
    }
    part("seconds").value = ((own_ms() - this.from_ms) / 1000).toFixed(1);
    this.from_ms = null;
    part("tap").textContent = "tap: again";
  }

  answer(event) {
    event.preventDefault();
    const typed = part("seconds").value.trim().replace(",", ".");
    const measured_s = typed === "" ? null : Number(typed);
    const words = part("what").value.trim();
    const slip = this.slip(measured_s, words);
    part("seconds-slip").textContent = slip;
    if (slip) return part(this.here.fast ? "seconds" : "what").focus();
    const { fast, which, at_s, bar, pass_ } = this.here;
    const chosen = which[Number(new FormData(part("flag-form")).get("which") ?? 0)];
    const figure = fast && chosen ? chosen.figure : "";
    this.add({ at_s, bar, pass_, figure, what: words || "too fast here", measured_s });
    part("flag").close();
  }

  slip(measured_s, words) {
    if (!this.here.fast) return words ? "" : "Write a word or two.";
    if (measured_s === null || (measured_s > 0 && measured_s <= LONGEST_S)) return "";
    return `How many seconds? A number up to ${LONGEST_S}, or nothing.`;
  }

  // --- the own notes -----------------------------------------------------------------------------------------------

  list() {
    const rows = [...this.queue.map((one) => note(one, "waiting")), ...this.notes.map((one) => note(one, one.done_at ? "done" : ""))];
    part("notes").replaceChildren(...rows);
    part("no-notes").hidden = rows.length > 0;
  }
}

function choice(step, number) {
  const label = element("label");
  const input = element("input");
  Object.assign(input, { type: "radio", name: "which", value: String(number), checked: number === 0 });
  const what = [...step.tags.map((tag) => tag.label), step.words].join(" ");
  label.append(input, element("span", {}, `to ${what}, bar ${[step.bar, step.pass_].filter(Boolean).join(" ")}`));
  return label;
}

function note(one, state) {
  const node = element("li", { class: state });
  const bar = one.bar ? `Bar ${[one.bar, one.pass_].filter(Boolean).join(" ")}: ` : "";
  const measured = one.measured_s ? `, ${one.measured_s.toFixed(1)} s` : "";
  const end = state === "waiting" ? " (waits for the network)" : state === "done" ? " (done)" : "";
  node.append(element("span", {}, `${bar}${one.what}${measured}${end}`));
  if (one.answer) node.append(element("p", { class: "quiet" }, one.answer));
  return node;
}
