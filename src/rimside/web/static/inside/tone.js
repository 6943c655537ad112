// The sound: the rendered one when there is one, otherwise a plain tone for each stroke.

const AHEAD_S = 0.25;
const EVERY_MS = 90;

/** The rendered sound of a casting, in step with the time in the piece; it begins with the first downbeat. */
export function renderedSound(address) {
  const audio = new Audio(address);
  audio.preload = "auto";
  audio.preservesPitch = true;
  let wanted = false;
  let waiting = 0;
  return {
    kind: "rendered",
    play(at, speed) {
      wanted = true;
      audio.playbackRate = speed;
      clearTimeout(waiting);
      audio.pause();
      if (at < 0) waiting = setTimeout(() => wanted && start(0), (-at * 1000) / speed);
      else start(at);
    },
    hold() {
      wanted = false;
      clearTimeout(waiting);
      audio.pause();
    },
    seconds: () => (wanted && !audio.paused && !audio.seeking && audio.readyState > 2 && !audio.ended ? audio.currentTime : null),
  };
  function start(at) {
    if (Math.abs(audio.currentTime - at) > 0.01) audio.currentTime = at;
    audio.play().catch(() => { wanted = false; });
  }
}

/** A plain tone for each stroke, an octave's worth of overtones less than any string has. */
export function plainTones(scene) {
  const strokes = scene.figures
    .filter((figure) => figure.player)
    .flatMap((figure) => figure.strokes.map(([on, until, key]) => ({ on, until, key, figure })))
    .sort((a, b) => a.on - b.on);
  let context = null;
  let bus = null;
  let timer = 0;
  let next = 0;
  let run = null; // {at, speed, started}: piece time `at` was at the context's time `started`

  function play(at, speed) {
    context ??= new AudioContext({ latencyHint: "interactive" });
    context.resume();
    bus?.disconnect();
    bus = new GainNode(context, { gain: 0.5 });
    bus.connect(context.destination);
    run = { at, speed, started: context.currentTime };
    next = strokes.findIndex((stroke) => stroke.on >= at - 1e-6);
    if (next < 0) next = strokes.length;
    for (const stroke of strokes) if (stroke.on < at && stroke.until > at + 0.3 && bowed(stroke.figure)) sound(stroke, at);
    clearInterval(timer);
    timer = setInterval(ahead, EVERY_MS);
    ahead();
  }
  function hold() {
    clearInterval(timer);
    if (bus) bus.gain.setTargetAtTime(0, context.currentTime, 0.03);
    run = null;
  }
  /** The time in the piece that is heard now, from the context's clock carried on by the browser's. */
  function seconds() {
    if (!run || context.state !== "running") return null;
    const stamp = context.getOutputTimestamp?.();
    const heard = stamp?.performanceTime ? stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000 : context.currentTime;
    return heard < run.started ? null : run.at + (heard - run.started) * run.speed;
  }
  function ahead() {
    const until = run.at + (context.currentTime + AHEAD_S - run.started) * run.speed;
    for (; next < strokes.length && strokes[next].on < until; next++) sound(strokes[next], strokes[next].on);
  }
  function sound({ until, key, figure }, from) {
    const when = Math.max(context.currentTime, run.started + (from - run.at) / run.speed);
    const lasts = Math.max(0.08, (until - from) / run.speed);
    const hz = (key === null ? 190 : scene.courses[key]?.hz) ?? 220;
    const tone = new OscillatorNode(context, { type: key === null ? "square" : "triangle", frequency: Math.min(hz * partial(figure), 9000) });
    const gain = new GainNode(context, { gain: 0 });
    const loud = 0.22 / Math.sqrt(1 + hz / 700);
    if (bowed(figure)) {
      gain.gain.setValueAtTime(0, when);
      gain.gain.linearRampToValueAtTime(loud * 0.7, when + Math.min(0.25, lasts / 2));
      gain.gain.setTargetAtTime(0, when + lasts, 0.08);
    } else {
      gain.gain.setValueAtTime(loud, when);
      gain.gain.setTargetAtTime(0, when + 0.004, Math.min(key === null ? 0.05 : 0.7, Math.max(0.1, lasts / 2)));
    }
    tone.connect(gain).connect(bus);
    tone.start(when);
    tone.stop(when + lasts + 0.6);
  }
  const bowed = (figure) => ["line bow", "stick bow", "friction strip", "magnet drive"].includes(figure.technique);
  const partial = (figure) => Number(/node \d+\/(\d+)/.exec(figure.how)?.[1] ?? 1);
  return { kind: "tones", play, hold, seconds };
}

/** No sound at all. */
export const silence = { kind: "none", play() {}, hold() {}, seconds: () => null };
