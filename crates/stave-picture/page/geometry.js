// Where things lie: the wall, the turned piece, the unrolled one, the screen. Lengths mm, angles
// rad.
// A place is (s, turn): length along the meridian, and angle about the axis, which grows towards
// the left of an upright piece.

const TURN = 2 * Math.PI;

/**
 * The wall as a polyline of its meridian: at(s) and r(s) between the points, a cylinder past the
 * ends. Unrolled, it is as wide as it is long where its radius is `around`, the largest where that
 * is not told. What stands out of it, of its zones, is part of the ware's hull.
 */
export function makeWall(points, zones = []) {
  const { s, at, r } = points;
  const largest = Math.max(...r);
  const last = s.length - 1;
  const find = (place) => {
    let low = 0,
      high = last;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (s[middle] <= place) low = middle;
      else high = middle;
    }
    return low;
  };
  const section = (place) => {
    if (place <= s[0]) return { at: at[0] + (place - s[0]), r: r[0] };
    if (place >= s[last]) return { at: at[last] + (place - s[last]), r: r[last] };
    const i = find(place);
    const f = s[i + 1] > s[i] ? (place - s[i]) / (s[i + 1] - s[i]) : 0;
    return { at: at[i] + f * (at[i + 1] - at[i]), r: r[i] + f * (r[i + 1] - r[i]) };
  };
  // The circles within which the ware stays however it is turned about its axis.
  const hull = s.map((_, i) => ({ at: at[i], r: r[i] }));
  for (const zone of zones.filter(({ rise }) => rise > 0)) {
    const within = s.filter((place) => zone.s[0] < place && place < zone.s[1]);
    for (const place of [zone.s[0], ...within, zone.s[1]]) {
      const ring = section(place);
      hull.push({ at: ring.at, r: ring.r + zone.rise });
    }
  }
  return {
    s,
    at,
    r,
    hull,
    length: s[last],
    first: at[0],
    last: at[last],
    largest,
    around: points.around ?? largest,
    // Whether it is as wide everywhere.
    straight: points.even ?? largest === Math.min(...r),
    section,
  };
}

/** An angle brought into −π to π. */
export function folded(angle) {
  return angle - TURN * Math.floor((angle + Math.PI) / TURN);
}

/**
 * Facets around, so many that they stray no further than a fiftieth of a millimetre from the wall;
 * a number with four quarters.
 */
export function facets(wall) {
  return Math.max(120, 4 * Math.ceil(Math.PI / Math.acos(1 - 0.02 / wall.largest) / 4));
}

/**
 * Where along a stretch of the meridian the wall's facets are parted: on a cone what is straight
 * in (s, turn) is bent on a facet, by a quarter of the change of the radius times the facet's turn
 * at the most, and a picture on it as much. Parted like this it strays no further than a fiftieth
 * of a millimetre.
 */
function partsOf(wall, i, around) {
  const change = Math.abs(wall.r[i + 1] - wall.r[i]);
  const count = Math.max(1, Math.ceil((change * TURN) / around / 0.08 - 1e-9));
  const mix = (list, f) => list[i] + f * (list[i + 1] - list[i]);
  return Array.from({ length: count + 1 }, (_, k) =>
    [wall.at, wall.r, wall.s].map((list) => mix(list, k / count)),
  );
}

/** The places of the meridian where the wall's facets end. */
export function ringsOf(wall, around) {
  const rings = wall.s
    .slice(0, -1)
    .flatMap((_, i) => partsOf(wall, i, around).map(([, , s]) => s));
  return [...new Set(rings)];
}

/**
 * The wall's triangles: per corner at, r, s, turn, and the normal's parts away from the axis and
 * along it.
 */
export function wallMesh(wall, around = facets(wall)) {
  const vertices = [],
    triangles = [];
  const rows = [];
  for (let i = 0; i + 1 < wall.s.length; i++) {
    const dz = wall.at[i + 1] - wall.at[i],
      dr = wall.r[i + 1] - wall.r[i];
    const length = Math.hypot(dz, dr);
    if (length === 0) continue;
    // Each part has its own two rings, so that a step keeps its edge.
    const parts = partsOf(wall, i, around);
    for (let k = 0; k + 1 < parts.length; k++)
      for (const ring of [parts[k], parts[k + 1]]) rows.push([ring, dz / length, -dr / length]);
  }
  for (const [ring, out, along] of rows) {
    for (let k = 0; k <= around; k++) {
      vertices.push(...ring, TURN * (k / around - 0.5), out, along);
    }
  }
  for (let row = 0; row + 1 < rows.length; row += 2) {
    for (let k = 0; k < around; k++) {
      const a = row * (around + 1) + k,
        b = a + around + 1;
      triangles.push(a, a + 1, b, a + 1, b + 1, b);
    }
  }
  return { vertices: new Float32Array(vertices), triangles: new Uint32Array(triangles) };
}

/** The two ends, closed by flat discs. */
export function endsMesh(wall, around = facets(wall)) {
  const vertices = [],
    triangles = [];
  for (const [i, along] of [
    [0, -1],
    [wall.s.length - 1, 1],
  ]) {
    const base = vertices.length / 6;
    vertices.push(wall.at[i], 0, wall.s[i], 0, 0, along);
    for (let k = 0; k <= around; k++) {
      vertices.push(wall.at[i], wall.r[i], wall.s[i], TURN * (k / around - 0.5), 0, along);
      if (k > 0) triangles.push(base, base + k, base + k + 1);
    }
  }
  return { vertices: new Float32Array(vertices), triangles: new Uint32Array(triangles) };
}

function steps(from, to, most) {
  const count = Math.max(1, Math.ceil(Math.abs(to - from) / most));
  return Array.from({ length: count + 1 }, (_, k) => from + ((to - from) * k) / count);
}

/** A zone that stands out: its face, its four sides. */
export function bossMesh(wall, zone) {
  const vertices = [],
    triangles = [];
  const along = steps(zone.s[0], zone.s[1], 2),
    around = steps(zone.turn[0], zone.turn[1], 0.06);
  const grid = (us, vs, corner) => {
    const base = vertices.length / 6;
    for (const u of us) for (const v of vs) vertices.push(...corner(u, v));
    for (let i = 0; i + 1 < us.length; i++) {
      for (let j = 0; j + 1 < vs.length; j++) {
        const a = base + i * vs.length + j,
          b = a + vs.length;
        triangles.push(a, a + 1, b, a + 1, b + 1, b);
      }
    }
  };
  const corner = (s, turn, rise, out, up) => {
    const { at, r } = wall.section(s);
    return [at, r + rise, s, turn, out, up];
  };
  grid(along, around, (s, turn) => corner(s, turn, zone.rise, 1, 0));
  for (const turn of zone.turn)
    grid(along, [0, zone.rise], (s, rise) => corner(s, turn, rise, 0.5, 0));
  for (const [s, up] of [
    [zone.s[0], -1],
    [zone.s[1], 1],
  ])
    grid(around, [0, zone.rise], (turn, rise) => corner(s, turn, rise, 0, up));
  return { vertices: new Float32Array(vertices), triangles: new Uint32Array(triangles) };
}

/**
 * A straight way in (s, turn) as short lines that keep to the wall: at, r, s, turn per corner, a
 * little above it.
 */
export function wayOnWall(wall, from, to, above, out) {
  const count = Math.max(
    1,
    Math.ceil(Math.abs(to.turn - from.turn) / 0.07),
    Math.min(64, Math.ceil(Math.abs(to.s - from.s) / 8)),
  );
  let before = null;
  for (let k = 0; k <= count; k++) {
    const f = k / count;
    const s = from.s + f * (to.s - from.s),
      turn = from.turn + f * (to.turn - from.turn);
    const { at, r } = wall.section(s);
    const corner = [at, r + above, s, turn, 1, 0];
    if (before) out.push(...before, ...corner);
    before = corner;
  }
}

/** How long dashes are, and how far from one to the next, mm. */
const DASH = 3,
  APART = 4.5;

/** A straight way in (s, turn) as dashes that keep to the wall. */
function dashedOnWall(wall, from, to, above, out) {
  const radius = wall.section(0.5 * (from.s + to.s)).r;
  const long = Math.hypot(to.s - from.s, (to.turn - from.turn) * radius);
  const count = Math.max(1, Math.round(long / APART));
  const at = (f) => ({
    s: from.s + f * (to.s - from.s),
    turn: from.turn + f * (to.turn - from.turn),
  });
  for (let k = 0; k < count; k++)
    wayOnWall(wall, at(k / count), at((k + DASH / APART) / count), above, out);
}

/**
 * The outlines of zones, in lines or dashes; what lies over the seam is drawn on both edges of the
 * unrolled wall. `margin` and `above` tell of a zone how much it is widened and lifted.
 */
export function outlinesOf(wall, zones, margin, above, way) {
  const out = [];
  for (const zone of zones) {
    for (const by of [-1, 0, 1]) {
      const turn = zone.turn.map((turn) => turn + TURN * by);
      if (turn[1] < -Math.PI || turn[0] > Math.PI) continue;
      const cut = { ...zone, turn: [Math.max(-Math.PI, turn[0]), Math.min(Math.PI, turn[1])] };
      zoneLines(wall, cut, margin(zone), above(zone), out, way);
    }
  }
  return new Float32Array(out);
}

/** The outlines of flat places, dashed. */
export const facetLines = (wall, facets) =>
  outlinesOf(wall, facets, () => 0, () => 0.15, dashedOnWall);

/** The outline of a zone, widened by a margin, as lines. */
export function zoneLines(wall, zone, margin, above, out, way = wayOnWall) {
  const s = [Math.max(0, zone.s[0] - margin), Math.min(wall.length, zone.s[1] + margin)];
  const turn = (place, side) =>
    zone.turn[side] + ((side ? 1 : -1) * margin) / wall.section(place).r;
  const corners = [
    [s[0], 0],
    [s[1], 0],
    [s[1], 1],
    [s[0], 1],
  ];
  corners.forEach(([place, side], k) => {
    const [nextPlace, nextSide] = corners[(k + 1) % 4];
    way(
      wall,
      { s: place, turn: turn(place, side) },
      { s: nextPlace, turn: turn(nextPlace, nextSide) },
      above,
      out,
    );
  });
}

/** What is left free around the ware seen whole, as a share of it. */
const FREE = 1.06;

const ROLL = { upright: 0, inverted: Math.PI, lying: -Math.PI / 2 };

/**
 * Where a camera puts a place. The state: facing (the turn at the front), tip, zoom, shift [x, y]
 * as shares of the height, unrolled; size: [width, height] of the screen in pixels. Returns the
 * numbers that the shader takes and `project(at, r, s, turn)`, which gives pixels from the upper
 * left and how near the place is: front is true where it is turned to the viewer.
 */
export function makeCamera(wall, stands, state, size) {
  const middle = 0.5 * (wall.first + wall.last);
  const lying = stands === "lying";
  const [cosRoll, sinRoll] = [Math.cos(ROLL[stands]), Math.sin(ROLL[stands])];
  const tall = state.unrolled ? wall.length : wall.last - wall.first;
  const broad = state.unrolled ? TURN * wall.around : 2 * wall.largest;
  const [width, height] = lying ? [tall, broad] : [broad, tall];
  const room = 1.22;
  // Unrolled, the names of stations stand beside the picture.
  const beside = state.unrolled && !state.plain && !lying ? Math.min(110, 0.2 * size[0]) : 0;
  const broadest = Math.max((room * width) / size[0], width / Math.max(1, size[0] - 2 * beside));
  const aspect = size[0] / size[1];
  const tip = state.unrolled ? 0 : state.tip;
  // A weak perspective: the eye is far, so that heights and widths stay comparable.
  const eye = state.unrolled ? 1e6 : 9 * Math.max(tall, broad);
  const place = (at, r, s, turn) => {
    let x, y, z;
    if (state.unrolled) {
      [x, y, z] = [-turn * wall.around, s - 0.5 * wall.length, r - wall.section(s).r];
    } else {
      const angle = turn - state.facing;
      [x, y, z] = [-r * Math.sin(angle), at - middle, r * Math.cos(angle)];
    }
    [x, y] = [x * cosRoll - y * sinRoll, x * sinRoll + y * cosRoll];
    // Tipping shows the end that is up (or, lying, the right one).
    if (lying)
      [x, z] = [x * Math.cos(tip) - z * Math.sin(tip), x * Math.sin(tip) + z * Math.cos(tip)];
    else [y, z] = [y * Math.cos(tip) - z * Math.sin(tip), y * Math.sin(tip) + z * Math.cos(tip)];
    return [x, y, z];
  };
  // Tipped, the ends are ellipses that reach past the axis, and what is near looks larger.
  const reach = [0, 0];
  for (const { at, r } of state.unrolled ? [] : wall.hull)
    for (const quarter of [0, 0.5, 1, 1.5]) {
      const [x, y, z] = place(at, r, 0, state.facing + quarter * Math.PI);
      const near = (FREE * eye) / (eye - z);
      reach[0] = Math.max(reach[0], near * Math.abs(x));
      reach[1] = Math.max(reach[1], near * Math.abs(y));
    }
  const drawn = 0.5 * Math.max(room * height, broadest * size[1]);
  const half = Math.max(drawn, reach[1], reach[0] / aspect) / state.zoom;
  const shift = [2 * half * state.shift[0], 2 * half * state.shift[1]];
  const project = (at, r, s, turn) => {
    const [x, y, z] = place(at, r, s, turn);
    const near = eye / (eye - z);
    const px = (0.5 + (0.5 * (x * near + shift[0])) / (half * aspect)) * size[0];
    const py = (0.5 - (0.5 * (y * near + shift[1])) / half) * size[1];
    return { x: px, y: py, front: state.unrolled || Math.cos(turn - state.facing) > 0.05 };
  };
  return {
    middle,
    cosRoll,
    sinRoll,
    half,
    aspect,
    tip,
    eye,
    shift,
    lying,
    unrolled: state.unrolled,
    place,
    project,
  };
}
