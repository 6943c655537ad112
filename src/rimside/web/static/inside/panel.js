// What is told in words beside the drawing: the moment, what is played, what is chosen.
import { element } from "../element.js";
import { playing, roundOf } from "./sounding.js";
import { lastAt } from "./space.js";

export function person(player) {
  const mark = element("span", { class: "person", title: player.name }, player.sign);
  mark.style.setProperty("--own", player.colour);
  mark.style.setProperty("--own-on", player.on);
  return mark;
}

export function pitch(words, colour) {
  const mark = element("span", { class: "pitch" }, words);
  if (colour) mark.style.setProperty("--own", colour);
  else mark.classList.add("spot");
  return mark;
}

/** m:ss.t, with a minus before the first downbeat. */
export function clock(seconds) {
  const tenths = Math.abs(Math.round(seconds * 10));
  const rest = String(Math.floor(tenths / 10) % 60).padStart(2, "0");
  return `${Math.round(seconds * 10) < 0 ? "−" : ""}${Math.floor(tenths / 600)}:${rest}.${tenths % 10}`;
}

/** Where a moment is in the music: {bar, pass, mark}. */
export function whereAt(scene, t) {
  const music = scene.figures.reduce((last, figure) => Math.max(last, figure.end), 0);
  if (t < -1e-6) return { bar: "", pass: "", mark: "before the piece" };
  if (t > music + 1e-6) return { bar: "", pass: "", mark: "after the piece" };
  const bar = scene.bars[lastAt(scene.bars, t, (row) => row[0])];
  const mark = scene.marks[lastAt(scene.marks, t, (row) => row[0])];
  return { bar: bar?.[1] ?? "", pass: bar?.[2] ?? "", mark: mark?.[1] ?? "" };
}

export const whereWords = ({ bar, pass, mark }) => [mark, bar && `bar ${bar}`, pass && `${pass} time`].filter(Boolean).join(", ");

export const tagsOf = (scene, figure) =>
  figure.spot ? [pitch(figure.spot, "")] : figure.keys.map((key) => pitch(scene.courses[key]?.label ?? `key ${key}`, scene.courses[key]?.colour));

/** The words beside the drawing; `choose` is what a click on one of them does. */
export function makePanel(host, scene, choose) {
  const players = new Map(scene.players.map((player) => [player.id, player]));
  const [moment, list, aside] = ["moment", "sounding", "around"].map((name) => host.querySelector(`.${name}`));
  let told = "";

  function row(figure, t, sounding) {
    const round = roundOf(figure, t);
    const times = figure.times > 1 ? element("span", { class: "times" }, round ? `${round} of ${figure.times}` : `${figure.times}×`) : null;
    const button = element("button", { type: "button", class: "row", "data-figure": figure.id, onclick: () => choose.figure(figure.id) },
      person(players.get(figure.player)), element("span", { class: "tags" }, ...tagsOf(scene, figure)), element("span", { class: "how" }, figure.how), times);
    return element("li", {}, button);
  }

  function around(t) {
    const lines = scene.pedals.filter(([, from, until]) => from <= t && t < until).map(([what, , , by]) => `${what} down (${by})`);
    lines.push(...scene.chores.filter((chore) => chore.start <= t && t < chore.end && chore.player)
      .map((chore) => `${players.get(chore.player)?.name ?? chore.player}: ${chore.words}${chore.on.length ? ` ${chore.on.join(" ")}` : ""}`));
    lines.push(...scene.cues.filter(([at]) => at <= t && t < at + 2.5).map(([, words]) => `cue: ${words}`));
    return lines;
  }

  return {
    /** Tell the moment t; cheap when nothing has changed. */
    draw(t, sounding) {
      const where = whereAt(scene, t);
      const now = playing(sounding, t);
      const rounds = now.map((figure) => roundOf(figure, t));
      const lines = around(t);
      const next = JSON.stringify([where, now.map((figure) => figure.id), rounds, lines]);
      moment.querySelector(".clock").textContent = clock(t);
      if (next === told) return where;
      told = next;
      moment.querySelector(".where").textContent = whereWords(where);
      const kept = document.activeElement?.dataset?.figure;
      list.replaceChildren(...now.map((figure) => row(figure, t, sounding)));
      if (kept) list.querySelector(`[data-figure="${CSS.escape(kept)}"]`)?.focus();
      aside.replaceChildren(...lines.map((line) => element("li", {}, line)));
      return where;
    },
  };
}
