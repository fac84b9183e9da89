// The head over the work and the rotary beside it, as lines.

/** How much is drawn of the nozzle's last part, and of the carriage, mm. */
const TALL = 14;
const CARRIAGE = 9;
/** Corners of a whole round. */
const ROUND = 48;

/** Of how the head stands in several set-ups, that in which a place of the meridian burns. */
export function standingAt(nozzles, s) {
  const beyond = ({ stretch }) =>
    stretch ? Math.max(stretch[0] - s, s - stretch[1], 0) : 0;
  return nozzles.reduce((best, one) => (beyond(one) < beyond(best) ? one : best));
}

/**
 * The head above a place of the wall and the rotary beside it, as corners at, r, s, turn with a
 * normal, two a line. The head stands upright over the tilted work: heights and ways along the
 * machine are turned by the tilt. With driven focus (`focus` null) its tip keeps its gap above the
 * crest.
 */
export function nozzleLines(
  wall,
  { radius, gap, tilt, focus, steps = [], carriage = null, beside = [] },
  place,
) {
  const { at, r } = wall.section(place.s);
  const [c, s] = [Math.cos(tilt), Math.sin(tilt)];
  const x = at * c - r * s,
    crest = at * s + r * c;
  const tip = (focus ?? crest) + gap;
  const out = [];
  const line = (a, b) => out.push(...a, ...b);
  // So far along the machine from the beam, across it, and so high.
  const corner = (along, across, height) => {
    const [z, up] = [(x + along) * c + height * s, -(x + along) * s + height * c];
    return [z, Math.hypot(up, across), place.s, place.turn + Math.atan2(across, up), 1, 0];
  };
  const round = (wide, low, high) => {
    for (let k = 0; k < ROUND; k++) {
      const on = (n, height) => {
        const angle = (2 * Math.PI * n) / ROUND;
        return corner(wide * Math.cos(angle), wide * Math.sin(angle), height);
      };
      for (const height of [low, high]) line(on(k, height), on(k + 1, height));
      if (k % 6 === 0) line(on(k, low), on(k, high));
    }
  };
  const seen = steps.filter(([above]) => !carriage || above < carriage.above);
  const parts = [[0, radius], ...seen];
  parts.forEach(([above, wide], k) => {
    const until = parts[k + 1]?.[0] ?? carriage?.above ?? above + TALL;
    round(wide, tip + above, tip + until);
  });
  if (carriage) {
    const { along, across, above } = carriage;
    box((i, j, k) => corner(along[i], across[j], tip + above + k * CARRIAGE), line);
  }
  for (const one of beside) {
    if (one.across) {
      const low = Math.min(-wall.largest, one.height);
      const on = (i, j, k) => {
        const [across, up] = [one.across[j], k ? one.height : low];
        const turn = place.turn + Math.atan2(across, up);
        return [one.at[i], Math.hypot(across, up), place.s, turn, 1, 0];
      };
      box(on, line);
    } else {
      const [from, to] = one.turn ?? [0, 2 * Math.PI];
      const count = Math.max(1, Math.ceil((ROUND * (to - from)) / (2 * Math.PI)));
      const on = (n, z, wide) => [z, wide, place.s, from + ((to - from) * n) / count, 1, 0];
      for (const z of one.at) {
        for (let k = 0; k < count; k++) line(on(k, z, one.radius), on(k + 1, z, one.radius));
        if (one.turn) for (const k of [0, count]) line(on(k, z, 0), on(k, z, one.radius));
      }
      for (let k = 0; k <= count; k += 6) {
        line(on(k, one.at[0], one.radius), on(k, one.at[1], one.radius));
      }
    }
  }
  // The beam.
  const up = -x * s + tip * c;
  line(
    [at, r, place.s, place.turn, 1, 0],
    [x * c + tip * s, Math.abs(up), place.s, place.turn, 1, 0],
  );
  return new Float32Array(out);
}

/** The twelve edges of a box by its corners. */
function box(on, line) {
  for (const [i, j] of [
    [0, 0],
    [0, 1],
    [1, 0],
    [1, 1],
  ]) {
    line(on(i, j, 0), on(i, j, 1));
    line(on(i, 0, j), on(i, 1, j));
    line(on(0, i, j), on(1, i, j));
  }
}
