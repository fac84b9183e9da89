// The nozzle over the work, as lines.

/** How much of the nozzle is drawn, mm above its tip. */
const TALL = 14;

/**
 * The nozzle above a place of the wall: two rings and the lines between, as corners at, r, s, turn with a normal.
 * It stands upright over the tilted work: heights and ways along the machine are turned by the tilt. With driven
 * focus (`focus` null) its tip keeps its gap above the crest.
 */
export function nozzleLines(wall, { radius, gap, tilt, focus }, place) {
  const { at, r } = wall.section(place.s);
  const [c, s] = [Math.cos(tilt), Math.sin(tilt)];
  const x = at * c - r * s,
    crest = at * s + r * c;
  const tip = (focus ?? crest) + gap;
  const out = [];
  const corner = (angle, height) => {
    const [along, across] = [x + radius * Math.cos(angle), radius * Math.sin(angle)];
    const [z, up] = [along * c + height * s, -along * s + height * c];
    return [z, Math.hypot(up, across), place.s, place.turn + Math.atan2(across, up), 1, 0];
  };
  const count = 48;
  for (let k = 0; k < count; k++) {
    const [a, b] = [(2 * Math.PI * k) / count, (2 * Math.PI * (k + 1)) / count];
    for (const height of [tip, tip + TALL]) out.push(...corner(a, height), ...corner(b, height));
    if (k % 6 === 0) out.push(...corner(a, tip), ...corner(a, tip + TALL));
  }
  // The beam.
  out.push(at, r, place.s, place.turn, 1, 0);
  const [z, up] = [x * c + tip * s, -x * s + tip * c];
  out.push(z, Math.abs(up), place.s, place.turn, 1, 0);
  return new Float32Array(out);
}
