// Where nothing burns: names go there.

/** Cells along the wall and around it, at most: a name is some pixels high. */
const ROWS = 256,
  COLUMNS = 512;

/**
 * What burns of a mesh or a map, in cells over the wall; `any` tells whether something burns
 * between two places of the wall and two turns, from less than to.
 */
export function makeBurned(wall, mesh, map) {
  const cells = new Uint8Array(ROWS * COLUMNS);
  const full = 2 * Math.PI;
  const rowOf = (s) => Math.max(0, Math.min(ROWS - 1, Math.floor((s / wall.length) * ROWS)));
  const mark = (row, low, high) => {
    const from = Math.floor((low / full + 0.5) * COLUMNS),
      to = Math.floor((high / full + 0.5) * COLUMNS);
    for (let column = from; column <= Math.min(to, from + COLUMNS - 1); column++)
      cells[row * COLUMNS + (((column % COLUMNS) + COLUMNS) % COLUMNS)] = 1;
  };
  for (let k = 0; mesh && k < mesh.triangles.length; k += 3) {
    const corners = [0, 1, 2].map((i) => mesh.triangles[k + i]);
    const s = corners.map((i) => mesh.s[i]),
      turn = corners.map((i) => mesh.turn[i]);
    const last = rowOf(Math.max(...s));
    for (let row = rowOf(Math.min(...s)); row <= last; row++) {
      // What of the triangle lies in the row.
      const ends = [row, row + 1].map((edge) => (edge / ROWS) * wall.length);
      let low = Infinity,
        high = -Infinity;
      const reach = (value) => {
        low = Math.min(low, value);
        high = Math.max(high, value);
      };
      for (let i = 0; i < 3; i++) {
        const j = (i + 1) % 3;
        if (s[i] >= ends[0] && s[i] <= ends[1]) reach(turn[i]);
        for (const edge of ends)
          if ((s[i] - edge) * (s[j] - edge) < 0)
            reach(turn[i] + ((turn[j] - turn[i]) * (edge - s[i])) / (s[j] - s[i]));
      }
      if (low <= high) mark(row, low, high);
    }
  }
  for (let i = 0; map && i < map.rows * map.columns; i++) {
    if (map.time[i] === 0) continue;
    const row = Math.floor(((Math.floor(i / map.columns) + 0.5) / map.rows) * ROWS);
    const turn = (((i % map.columns) + 0.5) / map.columns - 0.5) * full;
    mark(row, turn, turn);
  }
  const any = (s, turn) => {
    // Off the wall nothing burns.
    const last = rowOf(s[1]);
    if (s[1] < 0 || s[0] > wall.length) return false;
    for (let row = rowOf(s[0]); row <= last; row++) {
      const column = (angle) => Math.floor((angle / full + 0.5) * COLUMNS);
      const [from, to] = turn.map(column).map((c) => Math.max(0, Math.min(COLUMNS - 1, c)));
      for (let c = from; c <= to; c++) if (cells[row * COLUMNS + c]) return true;
    }
    return false;
  };
  return { any };
}

/** Whether a box of the picture of the unrolled wall shows nothing that burns. */
export function bareOn(camera, wall, burned) {
  const at = (s, turn) => {
    const section = wall.section(s);
    return camera.project(section.at, section.r, s, turn);
  };
  const [zero, end, around] = [at(0, 0), at(wall.length, 0), at(0, 1)];
  const along = [(end.x - zero.x) / wall.length, (end.y - zero.y) / wall.length];
  const across = [around.x - zero.x, around.y - zero.y];
  const whole = along[0] * across[1] - along[1] * across[0];
  const back = (x, y) => {
    const [dx, dy] = [x - zero.x, y - zero.y];
    return [
      (dx * across[1] - dy * across[0]) / whole,
      (dy * along[0] - dx * along[1]) / whole,
    ];
  };
  return ({ left, right, top, bottom }) => {
    const corners = [back(left, top), back(right, bottom)];
    const [s, turn] = [0, 1].map((k) => corners.map((corner) => corner[k]).sort((a, b) => a - b));
    return !burned.any(s, turn);
  };
}
