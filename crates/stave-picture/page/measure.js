// How far two places of the wall are from each other, and how long a bar of the scale is.

import { folded } from "./geometry.js";

const STEPS = 400;

/** How lengths are told: mm a unit, its name, and how many decimals. */
let told = { mm: 1, name: "mm", digits: 1 };

/** Tells lengths in inches from now on, or in mm. */
export function tellInches(inches) {
  told = inches ? { mm: 25.4, name: "in", digits: 2 } : { mm: 1, name: "mm", digits: 1 };
}

/** A length in mm as the page tells it, without its unit. */
export const lengthFigure = (length) => (length / told.mm).toFixed(told.digits);

/** The same with its unit. */
export const lengthText = (length) => `${lengthFigure(length)} ${told.name}`;

/**
 * From one place to another: `along` the meridian, `around` at the mean of the two radii, and
 * `straight`, the shortest way on the wall that goes on along the meridian (Clairaut's relation: r
 * sin ψ is the same all along it; the constant is found by halving). `points` are places on that
 * way. Where no such way reaches so far around, it is the meridian and the narrowest circle between
 * them, and `bound` is true.
 */
export function between(wall, from, to) {
  const [a, b] = from.s <= to.s ? [from, to] : [to, from];
  const around = folded(to.turn - from.turn),
    turn = folded(b.turn - a.turn),
    along = b.s - a.s;
  const radius = (s) => wall.section(s).r;
  const mean = 0.5 * (radius(a.s) + radius(b.s));
  const way = { along: to.s - from.s, around: around * mean, radius: mean };
  const places = Array.from({ length: STEPS }, (_, k) => a.s + ((k + 0.5) / STEPS) * along);
  const radii = places.map(radius),
    step = along / STEPS,
    least = Math.min(radius(a.s), radius(b.s), ...radii);
  const reach = (c) =>
    radii.reduce((sum, r) => sum + (c * step) / (r * Math.sqrt(Math.max(1e-12, r * r - c * c))), 0);
  let low = 0,
    high = least * (1 - 1e-9);
  if (along < 1e-6 || reach(high) < Math.abs(turn)) {
    const level = along < 1e-6,
      end = [
        { s: a.s, turn: a.turn },
        { s: b.s, turn: a.turn + turn },
      ];
    return {
      ...way,
      straight: along + least * Math.abs(turn),
      bound: !level || !isLevel(wall, a.s),
      points: end,
    };
  }
  for (let k = 0; k < 80; k++) {
    const middle = 0.5 * (low + high);
    if (reach(middle) < Math.abs(turn)) low = middle;
    else high = middle;
  }
  let straight = 0,
    gone = a.turn;
  const points = [{ s: a.s, turn: a.turn }];
  radii.forEach((r, k) => {
    const root = Math.sqrt(Math.max(1e-12, r * r - low * low));
    straight += (r * step) / root;
    gone += (Math.sign(turn) * low * step) / (r * root);
    if (k % 8 === 7) points.push({ s: places[k] + 0.5 * step, turn: gone });
  });
  return { ...way, straight, bound: false, points };
}

/** Whether the wall is a cylinder here, where a circle is the shortest way. */
function isLevel(wall, s) {
  return Math.abs(wall.section(s - 0.01).r - wall.section(s + 0.01).r) < 1e-6;
}

/** At which diameter a bar beside the unrolled wall is true around; nothing where at all. */
export function whereTrue(wall) {
  return wall.straight ? "" : `, around at ⌀ ${lengthFigure(2 * wall.around)}`;
}

/** A round length in the unit that is told, no longer than so many mm: its mm, and its words. */
export function roundBar(most) {
  const length = roundLength(most / told.mm);
  return { mm: length * told.mm, text: `${length} ${told.name}` };
}

/** A round length (1, 2 or 5 of a power of ten) that is no longer than this. */
export function roundLength(most) {
  const power = 10 ** Math.floor(Math.log10(most));
  return power * [5, 2, 1].find((part) => part * power <= most * (1 + 1e-9));
}
