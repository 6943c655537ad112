// How one thing to do looks on a phone, and the sketch of the rim with the player at the bottom.

import { element } from "/static/element.js";

const SVG = "http://www.w3.org/2000/svg";
const HANDS = { L: "left hand", R: "right hand", LR: "both hands" };
const ME_MM = 170;
const LABEL_MM = 210; // height of the letters of a place

// `large` for what is done now, with its count; else for what comes, with where it starts.
export function step_rows(step, large) {
  const node = element("div", { class: "step" });
  for (const words of step.asides) node.append(element("p", { class: "aside" }, words));
  const line = element("p", { class: "line" });
  for (const tag of step.tags) {
    const shown = element("span", { class: tag.colour ? "pitch" : "spot" }, tag.label);
    if (tag.colour) shown.style.setProperty("--own", tag.colour);
    line.append(shown);
  }
  line.append(element("span", { class: "words" }, step.words));
  node.append(line);
  if (large && step.counted) node.append(counted(step));
  node.append(...small(step, large));
  return node;
}

function counted(step) {
  const node = element("p", { class: "count figures" });
  node.append(element("b", {}, "1"), element("small", {}, ` of ${step.counts_s.length}${step.counted === "strokes" ? " strokes" : ""}`));
  return node;
}

function* small(step, large) {
  const where = large ? [] : [`bar ${[step.bar, step.pass_].filter(Boolean).join(" ")}`];
  if (!large && step.beat) where.push(`beat ${step.beat}`);
  if (!large && !step.bar) where.length = 0;
  if (!large && step.counted === "times") where.push(`${step.counts_s.length}×`);
  const hand = HANDS[step.hand];
  if (hand || where.length) yield element("p", { class: "hand" }, [...where, hand].filter(Boolean).join(" · "));
  const tool = step.tool ? tool_words(step.tool, large) : "";
  if (tool) yield element("p", { class: "tool" }, tool);
  if (large && step.tool?.back_to) yield element("p", { class: "tool quiet" }, `then back to ${step.tool.back_to}`);
  if (!large && step.hurried) yield element("p", { class: "hurried" }, `! little time: ${step.slack_s.toFixed(1)} s to spare`);
}

function tool_words(tool, large) {
  if (large && tool.how === "take") return `${tool.names.join(", ")}, from ${tool.rest}`;
  if (tool.how === "keep") return "keep it in the hand";
  if (tool.how === "course") return tool.where;
  if (tool.how !== "take") return "";
  return `take ${tool.names.join(", ")} from ${tool.rest}${tool.where ? `, ${tool.where}` : ""}`;
}

function drawn(name, attributes, words = "") {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.textContent = words;
  return node;
}

function label(node, at, words, x) {
  node.append(drawn("text", { class: "label", x, y: at[1] + ME_MM + LABEL_MM * 0.6, "font-size": LABEL_MM }, words));
}

// The case as the player sees it: the own place at the bottom, the way to the next one as a broken line.
export function rim(node, piece, place, move) {
  const stand = piece.places[place];
  node.replaceChildren();
  if (!stand) return;
  const turn = (stand[2] * Math.PI) / 180;
  const seen = ([x, y]) => {
    const [dx, dy] = [x - stand[0], y - stand[1]];
    return [dx * Math.sin(turn) - dy * Math.cos(turn), -(dx * Math.cos(turn) + dy * Math.sin(turn))];
  };
  const points = (list) => list.map((point) => seen(point).map(Math.round).join(",")).join(" ");
  const stands = [stand, ...(move?.way_mm ?? [])].map(seen);
  const all = [...piece.outline.map(seen), ...stands.flatMap(([x, y]) => [[x - ME_MM, y - ME_MM], [x + ME_MM, y + ME_MM]])];
  const [xs, ys] = [all.map((point) => point[0]), all.map((point) => point[1])];
  const [left, top] = [Math.min(...xs) - 30, Math.min(...ys) - 30];
  const room = LABEL_MM * 1.4; // for the labels of the own place and the next one, below
  node.setAttribute("viewBox", [left, top, Math.max(...xs) + 30 - left, Math.max(...ys) + room - top].map(Math.round).join(" "));
  node.setAttribute("aria-label", `The rim: I stand at ${place}${move ? `, and go ${move.side} to ${move.place}` : ""}`);
  node.append(drawn("polygon", { class: "case", points: points(piece.outline) }));
  if (move) {
    const goal = seen(move.way_mm.at(-1));
    node.append(drawn("polyline", { class: "way", points: points(move.way_mm) }));
    node.append(drawn("circle", { class: "goal", cx: goal[0], cy: goal[1], r: ME_MM }));
    label(node, goal, move.place, Math.max(ME_MM * 2, Math.abs(goal[0])) * Math.sign(goal[0]));
  }
  label(node, [0, 0], place, 0);
  node.append(drawn("circle", { class: "me", cx: 0, cy: 0, r: ME_MM, fill: piece.player.colour }));
  node.append(drawn("text", { x: 0, y: 0, "font-size": 240, fill: piece.player.letters }, piece.player.sign));
}
