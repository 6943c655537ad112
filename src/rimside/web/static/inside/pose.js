// Where everybody is at a moment: a pure function of the scene and the time, so that any moment can be drawn at once.
import { clamp, ease, lastAt, mix, radians, turnBetween } from "./space.js";

const BACK_WAITING_MM = 150; // who waits steps back from the rim, who walks goes behind the others
const BACK_WALKING_MM = 260;
const CLEAR_MM = 430; // about a body's breadth
const STEP_S = 0.55; // a step back or forward
const HAND_S = 0.4; // a bare hand out or back
const SWING_S = 0.3; // from course to course within a figure
const AHEAD_MM = 215; // hands at rest: ahead of the shoulders
const SHOULDER_SHARE = 0.36;

/** Everything about bodies that does not change with time. */
export function makePoser(scene) {
  const figures = new Map(scene.figures.map((figure) => [figure.id, figure]));
  const line = scene.rim;
  const people = scene.players.map((player) => ({ player, blocks: blocksOf(player.stays, scene.settle_s), ...handsOf(player.stays) }));
  return { scene, figures, line, people };
}

/** Stays that follow each other at one place without time to leave. */
function blocksOf(stays, settle) {
  const blocks = [];
  for (const stay of stays) {
    const last = blocks.at(-1);
    if (last && last.place === stay.place && stay.from - settle <= last.until) last.until = Math.max(last.until, stay.until);
    else blocks.push({ place: stay.place, from: stay.from - settle, until: stay.until });
  }
  return blocks;
}

function handsOf(stays) {
  const of = (hand) => stays.filter((stay) => hand in stay.hands);
  return { left: of("left"), right: of("right") };
}

/** A point of the walking line, `back` mm further from the case. */
export function rimPoint(line, along, back) {
  const length = line.at(-1)[0];
  const at = ((along % length) + length) % length;
  const i = clamp(lastAt(line, at, (row) => row[0]), 0, line.length - 2);
  const [a, b] = [line[i], line[i + 1]];
  const share = (at - a[0]) / (b[0] - a[0] || 1);
  const heading = a[3] + turnBetween(a[3], b[3]) * share;
  return stepBack({ x: mix(a[1], b[1], share), y: mix(a[2], b[2], share), heading }, back);
}

const stepBack = (at, back) => ({
  x: at.x - back * Math.cos(radians(at.heading)),
  y: at.y - back * Math.sin(radians(at.heading)),
  heading: at.heading,
});

const placePoint = (scene, id, back) => {
  const [x, y, heading] = scene.places[id];
  return stepBack({ x, y, heading }, back);
};

/** Bodies, hands and tools of everybody at t. `moving` false leaves out the small motions of bowing. */
export function posesAt(poser, t, moving = true) {
  const bodies = poser.people.map((person) => bodyAt(poser, person, t));
  const order = bodies.map((_, i) => i).sort((a, b) => bodies[b].busy - bodies[a].busy || a - b);
  order.forEach((i, rank) => {
    if (!bodies[i].busy && !bodies[i].absent) bodies[i] = asideOf(bodies[i], order.slice(0, rank).map((k) => bodies[k]));
  });
  return poser.people.map((person, i) => withHands(poser, person, bodies[i], t, moving));
}

/** Who waits stands clear of those who came first: further from the rim, the nearer they are. */
function asideOf(body, others) {
  let at = body;
  for (const other of others) {
    if (other.absent) continue;
    const near = Math.hypot(at.x - other.x, at.y - other.y);
    if (near < CLEAR_MM) at = { ...at, ...stepBack(at, ease(1 - near / CLEAR_MM) * CLEAR_MM * 0.75) };
  }
  return at;
}

function withHands(poser, person, body, t, moving) {
  const { scene } = poser;
  const { breadth_mm: breadth } = person.player;
  const hand = (name, side) => {
    const shoulder = aside(body, side * SHOULDER_SHARE * breadth, 0);
    return { ...handAt(poser, person, name, t, aside(body, side * SHOULDER_SHARE * breadth * 0.8, AHEAD_MM), moving), shoulder };
  };
  return { ...body, id: person.player.id, left: hand("left", 1), right: hand("right", -1), end: scene.end_s };
}

/** The point so far to the left (mm) and ahead of a body. */
function aside(body, leftMm, aheadMm) {
  const h = radians(body.heading);
  return {
    x: body.x + leftMm * Math.cos(h + Math.PI / 2) + aheadMm * Math.cos(h),
    y: body.y + leftMm * Math.sin(h + Math.PI / 2) + aheadMm * Math.sin(h),
  };
}

function bodyAt({ scene, line }, person, t) {
  const { blocks } = person;
  if (!blocks.length) {
    const first = Object.keys(scene.places)[0];
    return { ...placePoint(scene, first, BACK_WALKING_MM), place: first, busy: false, absent: true };
  }
  const i = lastAt(blocks, t, (block) => block.from);
  const now = blocks[i];
  if (now && t <= now.until) return { ...placePoint(scene, now.place, 0), place: now.place, busy: true };
  const next = blocks[i + 1];
  if (!now) return { ...placePoint(scene, next.place, BACK_WAITING_MM * ease((next.from - t) / STEP_S)), place: next.place, busy: false };
  if (!next) return { ...placePoint(scene, now.place, BACK_WAITING_MM * ease((t - now.until) / STEP_S)), place: now.place, busy: false };
  return walkAt(scene, line, now, next, t);
}

/** Between two stays: a step back, the shorter way round, a step to the rim. */
function walkAt(scene, line, now, next, t) {
  const gap = next.from - now.until;
  const step = Math.min(STEP_S, gap / 2);
  const off = Math.min(ease((t - now.until) / step), ease((next.from - t) / step));
  if (now.place === next.place) {
    const far = BACK_WAITING_MM * clamp((gap - 2) / 4, 0, 1);
    return { ...placePoint(scene, now.place, far * off), place: now.place, busy: false };
  }
  const [start, goal] = [scene.places[now.place][3], scene.places[next.place][3]];
  const length = scene.rim_length_mm;
  const way = ((((goal - start) % length) + 1.5 * length) % length) - length / 2;
  const lasts = Math.min(gap, scene.turn_s + Math.abs(way) / scene.walk_mm_per_s);
  const share = ease((t - now.until) / lasts);
  const walking = share > 0 && share < 1;
  const back = mix(BACK_WAITING_MM, BACK_WALKING_MM, Math.min(1, 4 * share * (1 - share) * 2)) * clamp(gap / 1.2, 0.25, 1);
  if (share <= 0) return { ...placePoint(scene, now.place, back * off), place: now.place, busy: false };
  if (share >= 1) return { ...placePoint(scene, next.place, BACK_WAITING_MM * off), place: next.place, busy: false };
  return { ...rimPoint(line, start + way * share, back * off), place: next.place, busy: false, walking };
}

/** One hand: where it is, what it does (`stay`) and whether it touches. */
function handAt({ scene, figures }, person, name, t, home, moving) {
  const stays = person[name];
  const i = lastAt(stays, t, (stay) => stay.from - (stay.tools.length ? 0 : HAND_S));
  for (let k = i; k >= Math.max(0, i - 3); k--) {
    const stay = stays[k];
    const until = stay.until + (stay.tools.length ? 0 : HAND_S);
    if (t <= until) return reachAt(scene, figures, stay, name, t, home, moving);
  }
  return { ...home, stay: null, touching: false, tool: null };
}

function reachAt(scene, figures, stay, name, t, home, moving) {
  const points = stay.hands[name];
  if (!points.length) return { ...home, stay, touching: false, tool: stay.tools[0] ?? null };
  const tool = stay.tools[0] ?? null;
  const rest = tool && scene.implements[tool] ? { x: scene.implements[tool][1], y: scene.implements[tool][2] } : null;
  const figure = stay.kind === "figure" ? figures.get(stay.id) : null;
  const work = (at) => workAt(figure, stay, points, name, at, moving);
  if (t < stay.start) {
    const lasts = rest ? stay.start - stay.from : HAND_S;
    return { ...way(home, rest, work(stay.start), 1 - (stay.start - t) / (lasts || 1)), stay, touching: false, tool };
  }
  if (t > stay.end) {
    const lasts = rest ? stay.until - stay.end : HAND_S;
    return { ...way(work(stay.end), rest, home, (t - stay.end) / (lasts || 1)), stay, touching: false, tool };
  }
  return { ...work(t), stay, touching: true, tool };
}

/** From one point to another, by way of a rest when there is one. */
function way(from, rest, to, share) {
  if (!rest) return between(from, to, ease(share));
  return share < 0.5 ? between(from, rest, ease(2 * share)) : between(rest, to, ease(2 * share - 1));
}

const between = (a, b, share) => ({ x: mix(a.x, b.x, share), y: mix(a.y, b.y, share) });

/** Where a hand is inside its figure: at the course of the last stroke, and on the way to the next. */
function workAt(figure, stay, points, name, t, moving) {
  const strokes = figure ? mine(figure, points, name) : [];
  const point = (key) => points.find((row) => row[0] === key) ?? points[0];
  let [, x, y] = points[0];
  if (strokes.length) {
    const i = Math.max(0, lastAt(strokes, t, (row) => row[0]));
    const [, ax, ay] = point(strokes[i][2]);
    [x, y] = [ax, ay];
    const next = strokes[i + 1];
    if (next && next[2] !== strokes[i][2]) {
      const [, bx, by] = point(next[2]);
      const lasts = Math.min(SWING_S, next[0] - strokes[i][0]);
      const share = ease(1 - (next[0] - t) / (lasts || 1));
      [x, y] = [mix(ax, bx, share), mix(ay, by, share)];
    }
  }
  return figure ? moved(figure, x, y, name, t, moving) : { x, y };
}

const cache = new WeakMap();
function mine(figure, points, name) {
  const known = cache.get(figure) ?? cache.set(figure, {}).get(figure);
  if (!known[name]) {
    const keys = new Set(points.map((row) => row[0]));
    const rows = figure.strokes.filter((row) => row[2] === null || keys.has(row[2]));
    known[name] = rows.length ? rows : figure.strokes;
  }
  return known[name];
}

/** The small motions of bows and strips about the contact point. Pairs of hands stay one on each side of it. */
function moved(figure, x, y, name, t, moving) {
  const side = name === "left" ? 1 : -1;
  const swing = moving ? Math.sin((2 * Math.PI * (t - figure.start)) / 1.7) : 0;
  const both = (figure.hands ?? []).length === 2;
  switch (figure.technique) {
    case "line bow":
      return both ? { x: x + side * 105 + 55 * swing, y } : { x: x + 60 + 40 * swing, y };
    case "stick bow":
      return { x: x + 45 * swing, y };
    case "friction strip":
      return both ? { x: x + side * 45, y: y + 45 * swing } : { x, y: y + 45 * swing };
    default:
      return { x, y };
  }
}
