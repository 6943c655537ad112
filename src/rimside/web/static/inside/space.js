// Plan and screen. The plan counts x from the bass end of the keyboard and y to the tail; the drawing is turned by a
// quarter, never mirrored, so that the keyboard lies at the left: across is y, down is x.

export const across = (x, y) => y;
export const down = (x, y) => x;
export const radians = (degrees) => (degrees * Math.PI) / 180;
export const mix = (a, b, share) => a + (b - a) * share;
export const clamp = (value, least, most) => Math.min(most, Math.max(least, value));

/** A share 0 to 1 that starts and ends at rest. */
export const ease = (share) => {
  const s = clamp(share, 0, 1);
  return s * s * (3 - 2 * s);
};

/** The shortest way from one angle to another, in degrees. */
export const turnBetween = (from, to) => ((((to - from) % 360) + 540) % 360) - 180;

/** The index of the last row whose value is not above t; -1 when there is none. Rows ascend. */
export function lastAt(rows, t, value = (row) => row) {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (value(rows[middle]) <= t) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/** How the drawing is turned so that a heading of the plan points up on the screen, in degrees. */
export function turnToFace(headingDeg) {
  const h = radians(headingDeg);
  return -90 - (Math.atan2(Math.cos(h), Math.sin(h)) * 180) / Math.PI;
}
