// What counts at a moment: the same functions under the same names as rimside.web.rehearsing.now (which says what they mean).

function reached(moments_s, seconds) {
  let low = 0;
  let high = moments_s.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (moments_s[middle] <= seconds) low = middle + 1;
    else high = middle;
  }
  return low;
}

export function at(steps, seconds) {
  const started = steps.filter((step) => step.start_s <= seconds);
  const coming = steps.filter((step) => step.start_s > seconds);
  const todo = coming.find((step) => step.kind !== "cue");
  const stand = started.at(-1) ?? steps[0];
  return {
    now: started.filter((step) => seconds < step.end_s),
    next: coming[0] ?? null,
    after: coming[1] ?? null,
    go: todo && todo.move ? todo : null,
    place: stand ? stand.place : "",
  };
}

export function count(step, seconds) {
  return reached(step.counts_s, seconds);
}

export function bar_at(bars, seconds) {
  return reached(bars.map((bar) => bar[0]), seconds) - 1;
}
