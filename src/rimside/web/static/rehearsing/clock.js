// The leader's clock: the same functions under the same names as rimside.web.rehearsing.clock (which says what they mean).
// A clock is {epoch, at_s, server_ms, speed, playing, loop_s: null | [from_s, to_s]}.

export function seconds(clock, server_ms) {
  if (!clock.playing) return clock.at_s;
  const raw_s = clock.at_s + (clock.speed * (server_ms - clock.server_ms)) / 1000;
  if (clock.loop_s === null) return raw_s;
  const [from_s, to_s] = clock.loop_s;
  return clock.at_s < to_s && to_s <= raw_s ? from_s + ((raw_s - from_s) % (to_s - from_s)) : raw_s;
}

export function sample(sent_ms, arrived_ms, answered_ms, back_ms) {
  return {
    offset_ms: (arrived_ms - sent_ms + (answered_ms - back_ms)) / 2,
    round_trip_ms: back_ms - sent_ms - (answered_ms - arrived_ms),
  };
}

export function best(samples) {
  let found = null;
  for (const one of samples) if (found === null || one.round_trip_ms <= found.round_trip_ms) found = one;
  return found;
}

// Our own time in ms: it never jumps while the page is open, whatever happens to the phone's clock.
export function own_ms() {
  return performance.timeOrigin + performance.now();
}
