// What is burned as triangles: read from the page's data, cut so that it lies on the wall, and
// looked up.

import { folded, ringsOf } from "./geometry.js";
import { planesOf } from "./decode.js";

/**
 * The mesh: for every corner its place (s, turn), its time (1 to 65535), its energy (0 to 255) and
 * its section; `triangles` holds three corners each.
 */
export async function meshOf(data) {
  const plane = await planesOf(data.bytes);
  const count = data.corners;
  const s = plane(new Float64Array(count), data.steps[0]),
    turn = plane(new Float64Array(count), data.steps[1]);
  const time = plane(new Uint16Array(count)),
    energy = plane(new Uint8Array(count)),
    section = plane(new Uint8Array(count));
  return {
    s,
    turn,
    time,
    energy,
    section,
    spot: data.spot,
    triangles: plane(new Uint32Array(3 * data.triangles)),
  };
}

/** Numbers a corner of a laid mesh has: at, r, s, turn, the normal's two, time, energy, section. */
export const MESH_STRIDE = 9;

/**
 * The mesh on the wall: cut where the wall's own facets meet, so that it lies on them, and at the
 * edges of what stands out, on top of which it is lifted. `edges` holds the sides of the triangles
 * as lines.
 */
export function layMesh(wall, zones, mesh, around) {
  const facet = (2 * Math.PI) / around;
  const raised = zones.filter((zone) => zone.rise > 0);
  const sections = [...ringsOf(wall, around), ...raised.flatMap((zone) => zone.s)];
  const rings = [...new Set(sections)].sort((a, b) => a - b);
  const sides = raised.flatMap((zone) => zone.turn).map(folded);
  const vertices = [],
    triangles = [],
    known = new Int32Array(mesh.s.length).fill(-1);
  const lift = (s, turn) =>
    Math.max(
      0,
      ...raised
        .filter((zone) => s > zone.s[0] && s < zone.s[1] && within(zone.turn, turn))
        .map((zone) => zone.rise),
    );
  const normal = (s) => {
    let i = 0;
    while (i + 2 < wall.s.length && wall.s[i + 1] <= s) i++;
    const dz = wall.at[i + 1] - wall.at[i],
      dr = wall.r[i + 1] - wall.r[i],
      length = Math.hypot(dz, dr) || 1;
    return [dz / length, -dr / length];
  };
  const add = (corner, rise, [out, along], section) => {
    const { at, r } = wall.section(corner[0]);
    vertices.push(at, r + rise, corner[0], corner[1], out, along, corner[2], corner[3], section);
    return vertices.length / MESH_STRIDE - 1;
  };
  for (let k = 0; k < mesh.triangles.length; k += 3) {
    const three = [mesh.triangles[k], mesh.triangles[k + 1], mesh.triangles[k + 2]];
    const corners = three.map((i) => [mesh.s[i], mesh.turn[i], mesh.time[i], mesh.energy[i]]);
    let parts = parted([corners], 0, (low, high) =>
      rings.filter((ring) => ring > low && ring < high),
    );
    parts = parted(parts, 1, (low, high) => {
      const lines = [];
      for (let n = Math.floor(low / facet) + 1; n * facet < high; n++) lines.push(n * facet);
      for (const side of sides) for (const by of [-1, 0, 1]) lines.push(side + 2 * Math.PI * by);
      return lines.filter((line) => line > low && line < high).sort((a, b) => a - b);
    });
    for (const part of parts) {
      const middle = [0, 1].map(
        (axis) => part.reduce((sum, corner) => sum + corner[axis], 0) / part.length,
      );
      const [rise, face] = [raised.length ? lift(...middle) : 0, normal(middle[0])];
      const whole = parts.length === 1 && rise === 0;
      const numbers = part.map((corner, i) => {
        if (!whole) return add(corner, rise, face, mesh.section[three[0]]);
        if (known[three[i]] < 0) known[three[i]] = add(corner, 0, face, mesh.section[three[0]]);
        return known[three[i]];
      });
      for (let i = 2; i < numbers.length; i++)
        triangles.push(numbers[0], numbers[i - 1], numbers[i]);
    }
  }
  const edges = new Uint32Array(2 * triangles.length);
  for (let k = 0; k < triangles.length; k += 3) {
    for (let i = 0; i < 3; i++)
      edges.set([triangles[k + i], triangles[k + ((i + 1) % 3)]], 2 * (k + i));
  }
  return { vertices: new Float32Array(vertices), triangles: new Uint32Array(triangles), edges };
}

function within([from, to], turn) {
  const past = folded(turn - from - Math.PI) + Math.PI;
  return past < to - from;
}

/**
 * Convex polygons, cut where the lines across an axis pass through them; `linesOf` gives those
 * between two places, in order.
 */
function parted(polygons, axis, linesOf) {
  const out = [];
  for (let rest of polygons) {
    let low = Infinity,
      high = -Infinity;
    for (const corner of rest) {
      low = Math.min(low, corner[axis]);
      high = Math.max(high, corner[axis]);
    }
    for (const line of linesOf(low + 1e-6, high - 1e-6)) {
      const below = [],
        above = [];
      rest.forEach((corner, i) => {
        const next = rest[(i + 1) % rest.length],
          here = corner[axis] - line,
          there = next[axis] - line;
        if (here <= 0) below.push(corner);
        if (here >= 0) above.push(corner);
        if (here * there < 0) {
          const share = here / (here - there);
          const cut = corner.map((value, part) => value + share * (next[part] - value));
          cut[axis] = line;
          below.push(cut);
          above.push(cut);
        }
      });
      if (below.length > 2) out.push(below);
      rest = above;
    }
    if (rest.length > 2) out.push(rest);
  }
  return out;
}

/** What of the mesh burned first at a place, or null: its time, energy and section. */
export function burnedAt(mesh, s, turn) {
  let found = null;
  for (let k = 0; k < mesh.triangles.length; k += 3) {
    const [a, b, c] = [mesh.triangles[k], mesh.triangles[k + 1], mesh.triangles[k + 2]];
    if (
      s < Math.min(mesh.s[a], mesh.s[b], mesh.s[c]) ||
      s > Math.max(mesh.s[a], mesh.s[b], mesh.s[c])
    )
      continue;
    // The triangle may lie up to a turn away.
    const here = mesh.turn[a] + folded(turn - mesh.turn[a]);
    const cross = (i, j) =>
      (mesh.s[j] - mesh.s[i]) * (here - mesh.turn[i]) -
      (mesh.turn[j] - mesh.turn[i]) * (s - mesh.s[i]);
    const [ab, bc, ca] = [cross(a, b), cross(b, c), cross(c, a)],
      whole = ab + bc + ca;
    if (whole === 0 || ab * whole < 0 || bc * whole < 0 || ca * whole < 0) continue;
    const mix = (list) => (bc * list[a] + ca * list[b] + ab * list[c]) / whole;
    const time = mix(mesh.time);
    if (!found || time < found.time)
      found = { time, energy: mix(mesh.energy), section: mesh.section[a] };
  }
  return found;
}
