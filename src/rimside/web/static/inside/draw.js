// The moving drawing over the still one: lit courses, people, their arms and tools, labels. draw(t) alone decides.
import { makePoser, posesAt } from "./pose.js";
import { makeSounding, playing, roundOf, strength } from "./sounding.js";
import { across, clamp, down, radians, turnToFace, turnBetween } from "./space.js";

const SVG = "http://www.w3.org/2000/svg";
const CHEST_MM = 254;
const HEAD_MM = 82;
const ARM_MM = 46;
const [SIDE_MM, EDGE_MM] = [390, 290]; // floor for who stands back: before keyboard and tail, beside the long sides

export function svg(name, attributes = {}, ...children) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

/** The stage: `host` holds the still drawing (already there) and gets the moving one. */
export function makeStage(host, stillDrawing, scene, choose) {
  const [left, top, width, height] = scene.view;
  const box = [left - SIDE_MM, top - EDGE_MM, width + 2 * SIDE_MM, height + 2 * EDGE_MM];
  stillDrawing.setAttribute("viewBox", box.join(" "));
  stillDrawing.removeAttribute("width");
  stillDrawing.removeAttribute("height");
  const poser = makePoser(scene);
  const sounding = makeSounding(scene);
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const over = svg("svg", { viewBox: box.join(" "), class: "over", role: "group", "aria-label": "People and what sounds" });
  const turn = document.createElement("div");
  turn.className = "turn";
  // what only turns lies in a drawing of its own, so that a frame paints nothing but what moves
  const marks = svg("svg", { viewBox: box.join(" "), class: "over marks", role: "group", "aria-label": "Places, rests and spots" });
  turn.append(stillDrawing, marks, over);
  host.replaceChildren(turn);

  const layersOf = (drawing, names) => names.map((name) => [name, drawing.appendChild(svg("g", { class: name }))]);
  const layers = Object.fromEntries([
    ...layersOf(marks, ["case", "places", "rests", "spots"]),
    ...layersOf(over, ["veil", "lit", "mutes", "dots", "arms", "bodies", "pedals", "tools", "tags"]),
  ]);
  const upright = []; // what keeps its words level however the drawing is turned
  const lit = litCourses(scene, layers.lit);
  const people = poser.people.map((person) => body(person, layers, choose, upright));
  const placeMarks = labels(scene, layers, upright, choose);
  const mutes = scene.mutes.map((row) => {
    const mark = layers.mutes.appendChild(svg("rect", { x: across(row[1], row[2]) - 13, y: down(row[1], row[2]) - 9, width: 26, height: 18, rx: 5, class: "mute" }));
    return { mark, from: row[3], until: row[4] };
  });
  const pedals = scene.lyre.map(([pedal, x, y]) => {
    const mark = layers.pedals.appendChild(svg("rect", { x: across(x, y) - 34, y: down(x, y) - 15, width: 68, height: 30, rx: 14, class: "pedal", "data-pedal": pedal }));
    return { mark, held: scene.pedals.filter((row) => row[4] === pedal) };
  });
  const tags = new Map();
  const view = { angle: 0, follow: null, near: false, scale: 1, x: 0, y: 0, w: 1, h: 1 };
  const rim = scene.outline.map(([x, y]) => `${across(x, y)} ${down(x, y)}`).join("L");
  layers.case.append(svg("path", { class: "rim", d: `M${rim}Z` }));
  const veil = layers.veil.appendChild(svg("path", { class: "veil", "fill-rule": "evenodd" }));

  function fit() {
    const { clientWidth: w, clientHeight: h } = host;
    if (!w || !h) return;
    [view.w, view.h] = [w, h];
    const whole = Math.min(w / box[2], h / box[3]);
    view.scale = view.near ? Math.max(whole, Math.min(w, h * 1.25) / 2300) : whole;
    turn.style.width = `${box[2] * view.scale}px`;
    turn.style.height = `${box[3] * view.scale}px`;
    const least = clamp(15 / view.scale, 40, 120);
    marks.style.setProperty("--mark", `${clamp(12.5 / view.scale, 34, 105)}px`);
    marks.classList.toggle("small", view.scale < 0.33);
    view.tag = least;
    view.placed = "";
  }

  /** Where the drawing lies on the stage. `at` is the body that stands at the bottom in a near view. */
  function place(at) {
    const wanted = view.near && at ? turnToFace(at.heading) : 0;
    view.angle = view.near && !calm.matches ? view.angle + turnBetween(view.angle, wanted) * (view.placed ? 0.12 : 1) : wanted;
    if (Math.abs(turnBetween(view.angle, wanted)) < 0.2) view.angle = wanted;
    const s = view.scale;
    let [cx, cy, tx, ty] = [box[0] + box[2] / 2, box[1] + box[3] / 2, view.w / 2, view.h / 2];
    if (view.near && at) [cx, cy, tx, ty] = [across(at.x, at.y), down(at.x, at.y), view.w / 2, view.h * 0.86];
    const a = radians(view.angle);
    const [px, py] = [(cx - box[0]) * s, (cy - box[1]) * s];
    const x = tx - (px * Math.cos(a) - py * Math.sin(a));
    const y = ty - (px * Math.sin(a) + py * Math.cos(a));
    const told = `translate(${x.toFixed(2)}px, ${y.toFixed(2)}px) rotate(${view.angle.toFixed(2)}deg)`;
    if (told === view.placed) return;
    view.placed = told;
    turn.style.transform = told;
    for (const one of upright) level(one, view.angle);
  }

  /** Draw the moment t. */
  function draw(t) {
    const poses = posesAt(poser, t, !calm.matches);
    people.forEach((one, i) => drawBody(one, poses[i], view.angle));
    lit.forEach((one) => light(one, strength(sounding, one.key, t)));
    for (const mute of mutes) show(mute.mark, t >= mute.from && t <= mute.until);
    for (const { mark, held } of pedals) mark.classList.toggle("down", held.some(([, from, until]) => from <= t && t < until));
    drawTags(t);
    const own = view.follow && poses[people.findIndex((one) => one.id === view.follow)];
    drawVeil(own);
    place(own);
    return poses;
  }

  function drawTags(t) {
    const now = playing(sounding, t);
    const wanted = new Set(now.map((figure) => figure.id));
    for (const [id, one] of tags) {
      if (wanted.has(id)) continue;
      one.forEach(({ mark, dot }) => { mark.remove(); dot.remove(); });
      upright.splice(0, upright.length, ...upright.filter((other) => !one.includes(other)));
      tags.delete(id);
    }
    for (const figure of now) {
      if (!tags.has(figure.id)) {
        const made = figureTags(scene, figure, layers, choose, () => view.tag);
        made.forEach((one) => { upright.push(one); level(one, view.angle); });
        tags.set(figure.id, made);
      }
      const faint = view.near && view.follow && figure.player !== view.follow;
      tags.get(figure.id).forEach(({ mark }) => mark.classList.toggle("faint", Boolean(faint)));
    }
  }

  function drawVeil(own) {
    const on = Boolean(view.near && own);
    show(veil, on);
    if (!on) return;
    const { reach_mm: r } = people.find((one) => one.id === view.follow).player;
    const [x, y] = [across(own.x, own.y), down(own.x, own.y)];
    const [l, u, w, h] = box;
    veil.setAttribute("d", `M${l - 4000} ${u - 4000}h${w + 8000}v${h + 8000}h${-w - 8000}ZM${(x - r).toFixed(1)} ${y.toFixed(1)}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`);
  }

  return {
    draw, fit, view, sounding, poser, box, over, layers,
    /** Follow a player (null: nobody); `near` turns the drawing so that the player stands at the bottom. */
    follow(id, near) {
      view.follow = id;
      view.near = Boolean(id && near);
      for (const one of people) {
        one.group.classList.toggle("followed", one.id === id);
        for (const mark of [one.group, one.arms, one.tools]) mark.classList.toggle("aside", Boolean(id) && one.id !== id);
      }
      fit();
    },
    /** Mark what is chosen by a ring: a figure, a player, a place. */
    mark(figure, player, placeId) {
      for (const [id, made] of tags) made.forEach(({ mark }) => mark.classList.toggle("chosen", id === figure));
      for (const one of people) one.group.classList.toggle("target", one.id === player);
      for (const [id, mark] of placeMarks) mark.classList.toggle("target", id === placeId);
    },
    /** The point of the screen where a plan point is drawn, px from the stage's corner. */
    screen(x, y) {
      const point = new DOMPoint(across(x, y), down(x, y)).matrixTransform(over.getScreenCTM());
      return [point.x, point.y];
    },
    round: (figure, t) => roundOf(figure, t),
  };
}

const show = (mark, on) => {
  const value = on ? "" : "none";
  if (mark.style.display !== value) mark.style.display = value;
};

/** Puts a mark at its point, its words level; tags (with an `em`, mm) are as large as they must be to be read. */
const level = ({ mark, x, y, em }, angle) => {
  const size = em ? ` scale(${(em() / 100).toFixed(3)})` : "";
  mark.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${(-angle).toFixed(2)})${size}`);
};

function litCourses(scene, layer) {
  return Object.entries(scene.courses).map(([name, course]) => {
    const [ax, ay, bx, by] = course.line;
    const at = { x1: across(ax, ay), y1: down(ax, ay), x2: across(bx, by), y2: down(bx, by) };
    const glow = svg("line", { ...at, stroke: course.colour, "stroke-width": course.breadth_mm + 12, class: "glow" });
    const core = svg("line", { ...at, "stroke-width": Math.max(3, course.breadth_mm * 0.4), class: "core" });
    const group = layer.appendChild(svg("g", { "data-course": name }, glow, core));
    show(group, false);
    return { key: Number(name), group, shown: 0 };
  });
}

function light(one, value) {
  const share = value < 0.02 ? 0 : Math.round(value * 25) / 25;
  if (share === one.shown) return;
  one.shown = share;
  show(one.group, share > 0);
  one.group.style.opacity = share;
}

/** A body: shoulders, head with the sign; arms and tools are drawn under and over it. */
function body(person, layers, choose, upright) {
  const { player } = person;
  const r = player.breadth_mm / 2;
  const d = CHEST_MM / 2;
  const shoulders = `M${-d * 0.72} ${-r * 0.62}C${-d * 0.6} ${-r * 1.04} ${d * 0.55} ${-r * 1.04} ${d * 0.66} ${-r * 0.66}C${d * 1.02} ${-r * 0.3} ${d * 1.02} ${r * 0.3} ${d * 0.66} ${r * 0.66}C${d * 0.55} ${r * 1.04} ${-d * 0.6} ${r * 1.04} ${-d * 0.72} ${r * 0.62}C${-d * 1.02} ${r * 0.3} ${-d * 1.02} ${-r * 0.3} ${-d * 0.72} ${-r * 0.62}Z`;
  const turned = svg("g", {}, svg("path", { d: shoulders, fill: player.colour, class: "shoulders" }));
  const sign = svg("g", { class: "head" }, svg("circle", { r: HEAD_MM }), svg("text", { class: player.sign.length > 1 ? "two" : "" }, player.sign));
  const group = svg("g", { class: "person-mark", tabindex: "0", role: "button", "aria-label": player.name, "data-player": player.id }, turned, sign);
  group.addEventListener("click", () => choose.player(player.id));
  group.addEventListener("keydown", (event) => { if (event.key === "Enter") choose.player(player.id); });
  layers.bodies.append(group);
  const arms = layers.arms.appendChild(svg("g"));
  const limb = () => ({
    edge: arms.appendChild(svg("path", { class: "arm-edge", "stroke-width": ARM_MM + 10 })),
    arm: arms.appendChild(svg("path", { class: "arm", stroke: player.colour, "stroke-width": ARM_MM })),
    hand: arms.appendChild(svg("circle", { class: "hand", r: 30, fill: player.colour })),
  });
  const tools = layers.tools.appendChild(svg("g", { stroke: player.colour }));
  const head = { mark: sign, x: 0, y: 0 };
  upright.push(head);
  return { id: player.id, player, person, group, turned, head, arms, tools, limbs: { left: limb(), right: limb() }, held: { left: null, right: null }, told: "" };
}

function drawBody(one, pose, angle) {
  show(one.group, !pose.absent);
  show(one.arms, !pose.absent);
  const [x, y] = [across(pose.x, pose.y), down(pose.x, pose.y)];
  const facing = 90 - pose.heading;
  const told = `${x.toFixed(1)} ${y.toFixed(1)} ${facing.toFixed(1)}`;
  if (told !== one.told) {
    one.told = told;
    one.turned.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${facing.toFixed(1)})`);
    [one.head.x, one.head.y] = [x, y];
    level(one.head, angle);
  }
  for (const name of ["left", "right"]) drawArm(one.limbs[name], pose, pose[name], name === "left" ? 1 : -1, one);
  drawTools(one, pose);
}

function drawArm(limb, pose, hand, side, one) {
  const [sx, sy] = [across(hand.shoulder.x, hand.shoulder.y), down(hand.shoulder.x, hand.shoulder.y)];
  const [hx, hy] = [across(hand.x, hand.y), down(hand.x, hand.y)];
  const [dx, dy] = [hx - sx, hy - sy];
  const length = Math.hypot(dx, dy) || 1;
  const bend = side * Math.sqrt(Math.max(0, 640 ** 2 - Math.min(length, 640) ** 2)) * 0.34; // an arm of some 640 mm bends outward
  const ex = (sx + hx) / 2 + (dy / length) * bend;
  const ey = (sy + hy) / 2 - (dx / length) * bend;
  const d = `M${sx.toFixed(1)} ${sy.toFixed(1)}Q${ex.toFixed(1)} ${ey.toFixed(1)} ${hx.toFixed(1)} ${hy.toFixed(1)}`;
  if (d === limb.told) return;
  limb.told = d;
  limb.edge.setAttribute("d", d);
  limb.arm.setAttribute("d", d);
  limb.hand.setAttribute("cx", hx.toFixed(1));
  limb.hand.setAttribute("cy", hy.toFixed(1));
}

/** What is in the hands: drawn anew only when it changes, moved otherwise. */
function drawTools(one, pose) {
  const { left, right } = pose;
  const both = left.tool && left.tool === right.tool ? left.tool : null;
  const marks = both ? [[both, left, right]] : [[left.tool, left, null], [right.tool, right, null]];
  const told = marks.map(([tool]) => tool ?? "").join("|");
  if (told !== one.holding) {
    one.holding = told;
    one.tools.replaceChildren(...marks.filter(([tool]) => tool).map(([tool, , other]) => toolMark(tool, Boolean(other))));
  }
  marks.filter(([tool]) => tool).forEach(([, hand, other], i) => moveTool(one.tools.children[i], pose, hand, other));
}

function toolMark(tool, stretched) {
  if (stretched) return svg("path", { class: tool.includes("strip") ? "tool strip" : "tool line" });
  if (/hammer|beater/.test(tool)) return svg("g", { class: "tool" }, svg("path", { d: "M-130 0H26" }), svg("circle", { cx: 26, r: tool.includes("wood") ? 13 : 19 }));
  if (tool.includes("stick")) return svg("g", { class: "tool" }, svg("path", { d: "M-70 0H70", class: "hair" }));
  if (tool.includes("plectrum")) return svg("g", { class: "tool" }, svg("path", { d: "M30 0L-12 -16L-12 16Z", class: "plate" }));
  return svg("g", { class: "tool" }, svg("rect", { x: -14, y: -14, width: 28, height: 28, class: "plate" }));
}

function moveTool(mark, pose, hand, other) {
  const [x, y] = [across(hand.x, hand.y), down(hand.x, hand.y)];
  if (other) {
    mark.setAttribute("d", `M${x.toFixed(1)} ${y.toFixed(1)}L${across(other.x, other.y).toFixed(1)} ${down(other.x, other.y).toFixed(1)}`);
    return;
  }
  mark.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${(90 - pose.heading).toFixed(1)})`);
}

/** The tags of a figure's courses at its contact points, with a dot at each point itself. */
function figureTags(scene, figure, layers, choose, em) {
  return figure.contacts.map(([key, x, y, role]) => {
    const [ax, ay] = [across(x, y), down(x, y)];
    const dot = layers.dots.appendChild(svg("circle", { cx: ax, cy: ay, r: 11, class: `dot ${role}`, "data-figure": figure.id }));
    const words = key === null ? figure.spot : scene.courses[key]?.label ?? String(key);
    const colour = key === null ? "" : scene.courses[key]?.colour;
    const mark = layers.tags.appendChild(tag(words, colour));
    mark.setAttribute("data-figure", figure.id);
    mark.setAttribute("tabindex", "0");
    mark.setAttribute("role", "button");
    mark.setAttribute("aria-label", `${words}, ${figure.how}, bar ${figure.bar}`);
    mark.addEventListener("click", () => choose.figure(figure.id));
    mark.addEventListener("keydown", (event) => { if (event.key === "Enter") choose.figure(figure.id); });
    mark.addEventListener("pointerdown", (event) => choose.take?.(event, figure.id));
    return { mark, dot, x: ax, y: ay, em };
  });
}

/** A paper tag with its words, its tip at the point; 100 units are one em. */
function tag(words, colour) {
  const wide = 62 * words.length + 75;
  const d = `M0 0L35 -62H${wide}V62H35Z`;
  const field = svg("path", { d, class: "paper", fill: colour || "#FBF8F1" });
  return svg("g", { class: "tag" }, field, svg("text", { x: (wide + 25) / 2, y: 0 }, words));
}

function labels(scene, layers, upright, choose) {
  const marks = new Map();
  for (const [id, [x, y, heading]] of Object.entries(scene.places)) {
    const ring = svg("circle", { r: 13, class: "ring" });
    const back = { x: x - 235 * Math.cos(radians(heading)), y: y - 235 * Math.sin(radians(heading)) };
    layers.places.append(svg("g", { transform: `translate(${across(x, y)} ${down(x, y)})` }, ring));
    const name = layers.places.appendChild(svg("g", { class: "place", "data-place": id, tabindex: "0", role: "button", "aria-label": `place ${id}` }, svg("text", {}, id)));
    name.addEventListener("click", () => choose.place(id));
    name.addEventListener("keydown", (event) => { if (event.key === "Enter") choose.place(id); });
    upright.push({ mark: name, x: across(back.x, back.y), y: down(back.x, back.y) });
    marks.set(id, name);
  }
  for (const [name, x, y] of scene.rests) {
    const mark = layers.rests.appendChild(svg("g", { class: "rest" }, svg("rect", { x: -34, y: -21, width: 68, height: 42, rx: 6 }), svg("text", {}, name)));
    upright.push({ mark, x: across(x, y), y: down(x, y) });
  }
  for (const [name, x, y] of scene.spots) {
    const mark = layers.spots.appendChild(svg("g", { class: "spot" }, svg("path", { d: "M-14 0L0 -14L14 0L0 14Z" }), svg("text", { y: 38 }, name)));
    upright.push({ mark, x: across(x, y), y: down(x, y) });
  }
  for (const one of upright) level(one, 0);
  return marks;
}
