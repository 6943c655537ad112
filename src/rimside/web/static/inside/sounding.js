// What sounds at a moment, course by course, and how strongly it still does.
import { lastAt } from "./space.js";

const RINGS = { "line bow": false, "stick bow": false, "friction strip": false, "magnet drive": false };

/** The strokes of a scene by course and by spot, ascending. */
export function makeSounding(scene) {
  const byKey = new Map();
  for (const figure of scene.figures) {
    if (!figure.player) continue;
    for (const [on, until, key] of figure.strokes) {
      const name = key === null ? figure.spot : key;
      if (!byKey.has(name)) byKey.set(name, []);
      byKey.get(name).push({ on, until, figure });
    }
  }
  for (const rows of byKey.values()) rows.sort((a, b) => a.on - b.on);
  const starts = [...scene.figures].filter((figure) => figure.player).sort((a, b) => a.start - b.start);
  const longest = starts.reduce((most, figure) => Math.max(most, figure.end - figure.start), 0);
  return { byKey, starts, longest };
}

/** 0 to 1: how strongly a course sounds. Bowed sounds stay, struck ones fade. */
export function strength(sounding, key, t) {
  const rows = sounding.byKey.get(key);
  if (!rows) return 0;
  let most = 0;
  const last = lastAt(rows, t, (row) => row.on);
  for (let i = last; i >= 0 && i > last - 4; i--) {
    const { on, until, figure } = rows[i];
    if (t >= until) continue;
    const bowed = figure.technique in RINGS;
    most = Math.max(most, bowed ? Math.min(1, (t - on) / 0.25 + 0.35, (until - t) / 0.2 + 0.2) : 0.3 + 0.7 * Math.exp(-(t - on) / 1.6));
  }
  return most;
}

/** The figures played at a moment, in order of start. */
export function playing(sounding, t) {
  const { starts, longest } = sounding;
  const found = [];
  for (let i = lastAt(starts, t, (figure) => figure.start); i >= 0 && starts[i].start >= t - longest; i--) {
    if (starts[i].end > t) found.push(starts[i]);
  }
  return found.reverse();
}

/** Which time round of its pattern a figure is in ("12 of 16"); null when it does not repeat. */
export function roundOf(figure, t) {
  if (figure.times < 2) return null;
  const done = figure.strokes.reduce((count, row) => count + (row[0] <= t + 1e-6), 0);
  const each = figure.strokes.length / figure.times;
  return Math.max(1, Math.min(figure.times, Math.ceil(done / each)));
}
