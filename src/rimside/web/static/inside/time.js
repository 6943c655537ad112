// The time in the piece. It runs from the sound's own clock when there is sound, else from the browser's.
import { clamp } from "./space.js";

export const SPEEDS = [0.25, 0.5, 0.75, 1, 1.25, 1.5, 2];
const SLIP_S = 0.06; // the sound may be this far off before the picture jumps to it

/** A clock of the piece. `sound` has play(at, speed), hold(), seconds() (null while it does not run). */
export function makeTime(begin, end, sound) {
  const state = { at: clamp(0, begin, end), since: 0, playing: false, speed: 1, loop: null };
  const now = () => performance.now();

  /** The time in the piece, s. */
  const seconds = () => {
    if (!state.playing) return state.at;
    const told = sound.seconds();
    const own = state.at + ((now() - state.since) / 1000) * state.speed;
    if (told !== null && Math.abs(told - own) > SLIP_S) {
      set(told);
      return told;
    }
    return Math.min(own, end);
  };
  const set = (at) => {
    state.at = clamp(at, begin, end);
    state.since = now();
  };
  const go = (at) => {
    set(at);
    if (state.playing) sound.play(state.at, state.speed);
  };
  return {
    begin, end, seconds, go,
    get playing() { return state.playing; },
    get speed() { return state.speed; },
    get loop() { return state.loop; },
    play() {
      if (seconds() >= end) set(0);
      set(state.at);
      state.playing = true;
      sound.play(state.at, state.speed);
    },
    hold() {
      set(seconds());
      state.playing = false;
      sound.hold();
    },
    setSpeed(speed) {
      set(seconds());
      state.speed = speed;
      if (state.playing) sound.play(state.at, speed);
    },
    setLoop(from, to) {
      state.loop = from === null || to - from < 0.2 ? null : { from, to };
    },
    /** Called for each frame: turns back at the end of a loop, stops at the end of the piece. */
    tick() {
      const t = seconds();
      if (state.playing && state.loop && t >= state.loop.to) go(state.loop.from);
      else if (state.playing && t >= end) this.hold();
      return seconds();
    },
  };
}
