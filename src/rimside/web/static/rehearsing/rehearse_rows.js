// One row for each player and each flag of the leader's page.

import { element } from "/static/element.js";

const QUIET_MS = 7000;

function button(words, act, name, deed) {
  const node = element("button", {}, words);
  node.type = "button";
  node.dataset.act = act;
  node.setAttribute("aria-label", name);
  node.addEventListener("click", deed);
  return node;
}

function person(player) {
  const node = element("span", { class: "person" }, player?.sign ?? "?");
  node.setAttribute("aria-hidden", "true");
  if (player) {
    node.style.setProperty("--own", player.colour);
    node.style.setProperty("--own-on", player.on);
  }
  return node;
}

export function player_row(player, server_ms, asks) {
  const node = element("li");
  const who = element("div");
  who.append(element("b", {}, player.name), element("p", { class: "quiet figures" }, linked(player, server_ms)));
  const acts = element("div", { class: "acts" });
  const { id, name } = player;
  if (player.shown) acts.append(button("show", `show ${id}`, `Show ${name}'s link`, () => asks.show(player)));
  acts.append(button(player.made_at ? "make anew" : "make link", `make ${id}`, `Make a new link for ${name}`, () => asks.make(id)));
  if (player.made_at) acts.append(button("take back", `revoke ${id}`, `Take ${name}'s link back`, () => asks.revoke(id)));
  node.append(person(player), who, acts);
  return node;
}

function linked(player, server_ms) {
  if (!player.made_at) return "no link";
  if (player.lines.length === 0) return `link made ${player.made_at.slice(11, 16)}, nobody there`;
  return player.lines.map(([offset_ms, round_trip_ms, heard_ms]) => {
    const quiet_ms = server_ms - heard_ms;
    if (quiet_ms > QUIET_MS) return `quiet for ${Math.round(quiet_ms / 1000)} s`;
    if (offset_ms === null) return "there, measuring";
    return `there, its clock off by ${offset_words(offset_ms)} (± ${(round_trip_ms / 2).toFixed(0)} ms)`;
  }).join("; ");
}

function offset_words(offset_ms) {
  return Math.abs(offset_ms) < 1000 ? `${Math.round(offset_ms)} ms` : `${(offset_ms / 1000).toFixed(1)} s`;
}

export function flag_row(flag, player, asks) {
  const node = element("li", { class: flag.done_at ? "done" : "" });
  const said = element("div");
  const bar = flag.bar ? `Bar ${[flag.bar, flag.pass_].filter(Boolean).join(" ")}: ` : "";
  const name = player?.name ?? flag.player;
  said.append(element("p", {}, `${bar}${flag.what}${flag.measured_s === null ? "" : `, takes ${flag.measured_s.toFixed(1)} s`}`));
  if (flag.time && !flag.done_at) said.append(element("p", {}, `Measured: ${flag.time}`));
  said.append(element("p", { class: "quiet" }, [name, flag.figure && `figure ${flag.figure}`, flag.done_at ? "done" : "open", flag.answer].filter(Boolean).join(" · ")));
  node.append(person(player), said, flag_acts(flag, name, asks));
  return node;
}

function flag_acts(flag, name, asks) {
  const acts = element("div", { class: "acts" });
  const about = `${name}'s flag at bar ${flag.bar}`;
  if (flag.done_at) {
    acts.append(button("open again", `done ${flag.id}`, `Open again: ${about}`, () => asks.answer(flag.id, false, flag.answer)));
    return acts;
  }
  const answer = element("input", { class: "answer" });
  Object.assign(answer, { type: "text", maxLength: 400, placeholder: "what was done" });
  answer.dataset.act = `answer ${flag.id}`;
  answer.setAttribute("aria-label", `What was done about ${about}`);
  acts.append(answer, button("done", `done ${flag.id}`, `Mark done: ${about}`, () => asks.answer(flag.id, true, answer.value)));
  if (flag.time) acts.append(button("keep the time", `measure ${flag.id}`, `Write the measured time into kit.toml: ${about}`, () => asks.measure(flag.id)));
  if (flag.figure) acts.append(inside(flag, about));
  return acts;
}

function inside(flag, about) {
  const link = element("a", { class: "button" }, "pin it otherwise");
  link.href = `/?${new URLSearchParams({ casting: flag.casting, figure: flag.figure })}`;
  link.setAttribute("aria-label", `See the figure inside the piano and pin it otherwise: ${about}`);
  return link;
}
