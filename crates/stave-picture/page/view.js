// The piece on the screen, by WebGL 2.

import { bossMesh, endsMesh, facetLines, facets, outlinesOf } from "./geometry.js";
import { wallMesh, wayOnWall } from "./geometry.js";
import { MESH_STRIDE, layMesh } from "./mesh.js";
import { program } from "./shader.js";

const WARE = [0.953, 0.949, 0.925, 1],
  ZONE = [0.702, 0.278, 0, 1],
  FACET = [0.353, 0.239, 0.541, 1],
  BOSS = [0.91, 0.79, 0.71, 1];
const RAPID = [0.0, 0.45, 0.55, 1],
  RUN_UP = [0.62, 0.3, 0.62, 1],
  RING = [0.76, 0.755, 0.73, 1],
  NOZZLE = [0.12, 0.12, 0.12, 1];

/**
 * The colours of the ware and of what is burned on it: those the blank tells, as `ware`, `burn` and
 * whether it is `metal`; else straw to dark blue on light grey. What is burned is the nearer to
 * `burn` the more energy went there.
 */
export function coloursOf(look, ramp) {
  if (!look) return { ware: WARE, ramp, metal: false };
  const bytes = (text) => [1, 3, 5].map((k) => parseInt(text.slice(k, k + 2), 16));
  const [ware, burn] = [bytes(look.ware), bytes(look.burn)];
  const burned = new Uint8Array(768);
  for (let k = 0; k < 256; k++)
    for (let i = 0; i < 3; i++)
      burned[3 * k + i] = ware[i] + Math.sqrt(k / 255) * (burn[i] - ware[i]);
  return { ware: [...ware.map((part) => part / 255), 1], ramp: burned, metal: look.metal };
}

const shade = (colour, by) => [...colour.slice(0, 3).map((part) => part * by), 1];

/** Buffers of a mesh of what is burned: the corners once, the triangles and their edges. */
function loadMesh(gl, { vertices, triangles, edges }) {
  const buffer = gl.createBuffer();
  gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
  gl.bufferData(gl.ARRAY_BUFFER, vertices, gl.STATIC_DRAW);
  const [areas, sides] = [triangles, edges].map((numbers) => {
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    for (const [place, width, from] of [
      [0, 4, 0],
      [1, 2, 16],
      [2, 3, 24],
    ]) {
      gl.enableVertexAttribArray(place);
      gl.vertexAttribPointer(place, width, gl.FLOAT, false, 4 * MESH_STRIDE, from);
    }
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, numbers, gl.STATIC_DRAW);
    return { array, count: numbers.length };
  });
  return { areas, sides, corners: vertices.length / MESH_STRIDE };
}

function load(gl, vertices, triangles) {
  const array = gl.createVertexArray();
  gl.bindVertexArray(array);
  const buffer = gl.createBuffer();
  gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
  gl.bufferData(gl.ARRAY_BUFFER, vertices, gl.STATIC_DRAW);
  gl.enableVertexAttribArray(0);
  gl.vertexAttribPointer(0, 4, gl.FLOAT, false, 24, 0);
  gl.enableVertexAttribArray(1);
  gl.vertexAttribPointer(1, 2, gl.FLOAT, false, 24, 16);
  if (triangles) {
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, triangles, gl.STATIC_DRAW);
  }
  return { array, buffer, count: triangles ? triangles.length : vertices.length / 6 };
}

/** Room for the picture of what burned. */
function pictureOf(gl, map) {
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  const levels = 1 + Math.floor(Math.log2(Math.max(map.columns, map.rows)));
  gl.texStorage2D(gl.TEXTURE_2D, levels, gl.RGBA8, map.columns, map.rows);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.REPEAT);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR_MIPMAP_LINEAR);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.LINEAR);
  const finer = gl.getExtension("EXT_texture_filter_anisotropic");
  if (finer) gl.texParameterf(gl.TEXTURE_2D, finer.TEXTURE_MAX_ANISOTROPY_EXT, 2);
  return texture;
}

/**
 * Travels as lines, rapids whole and run-ups dashed, and at which time each pair of corners is
 * reached.
 */
export function travelLines(wall, track, most) {
  const lines = (kind, dashed) => {
    const out = [],
      times = [];
    for (let k = 1; k < track.count && times.length < most; k++) {
      if (track.kind[k] !== kind) continue;
      const [from, to] = [k - 1, k].map((i) => ({ s: track.s[i], turn: track.turn[i] }));
      const long = Math.hypot(to.s - from.s, (to.turn - from.turn) * wall.largest);
      const parts = dashed ? Math.max(1, 2 * Math.round(long / 2.4) - 1) : 1;
      for (let part = 0; part < parts; part += 2) {
        const at = (f) => ({
          s: from.s + f * (to.s - from.s),
          turn: from.turn + f * (to.turn - from.turn),
        });
        const before = out.length;
        wayOnWall(wall, at(part / parts), at((part + 1) / parts), 0.4, out);
        for (let i = before; i < out.length; i += 12) times.push(track.time[k]);
      }
    }
    return { vertices: new Float32Array(out), times: Float32Array.from(times) };
  };
  return [
    { colour: RAPID, ...lines(0, false) },
    { colour: RUN_UP, ...lines(2, true) },
  ];
}

/** How many of increasing times are reached; at the end all are, however they were rounded. */
export function reached(times, time, end) {
  if (time >= end) return times.length;
  let low = 0,
    high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] <= time) low = middle + 1;
    else high = middle;
  }
  return low;
}

/**
 * The view on a canvas; null where the browser has no WebGL 2. `map` or `mesh` may be null, not
 * both where anything burns.
 */
export function makeView(canvas, wall, data, { map, mesh: burned, looks }, travels) {
  const { zones, stations, duration } = data;
  const gl = canvas.getContext("webgl2", { antialias: true, alpha: false });
  const most = gl ? gl.getParameter(gl.MAX_TEXTURE_SIZE) : 0;
  if (!gl || (map && (map.columns > most || map.rows > most))) return null;
  const made = program(gl);
  const at = {};
  for (const name of [
    "facing",
    "middle",
    "half_height",
    "aspect",
    "tip",
    "eye",
    "unrolled",
    "around",
    "meridian",
    "lying",
    "roll",
    "shift",
    "colour",
    "textured",
    "lit",
    "picking",
    "ink",
    "ramp",
    "meshed",
    "now",
    "picked",
    "metal",
  ]) {
    at[name] = gl.getUniformLocation(made, name);
  }
  const mesh = (m) => load(gl, m.vertices, m.triangles);
  const body = mesh(wallMesh(wall)),
    ends = mesh(endsMesh(wall));
  const burns = burned ? loadMesh(gl, layMesh(wall, zones, burned, facets(wall))) : null;
  const bosses = zones.filter((zone) => zone.rise > 0).map((zone) => mesh(bossMesh(wall, zone)));
  const drawnAs = (vertices) => load(gl, vertices);
  const lines = drawnAs(outlinesOf(wall, zones, () => 0, (zone) => zone.rise + 0.15)),
    clearLines = drawnAs(outlinesOf(wall, zones, (zone) => zone.margin, () => 0.15)),
    flatPlaces = drawnAs(facetLines(wall, data.facets));
  const rings = [];
  for (const { s } of stations)
    wayOnWall(wall, { s, turn: -Math.PI }, { s, turn: Math.PI }, 0.1, rings);
  for (const quarter of [-0.5, 0, 0.5])
    wayOnWall(
      wall,
      { s: 0, turn: quarter * Math.PI },
      { s: wall.length, turn: quarter * Math.PI },
      0.1,
      rings,
    );
  const ringLines = load(gl, new Float32Array(rings));
  const ways = (travels ?? []).map((way) => ({ ...way, ...load(gl, way.vertices) }));
  const head = load(gl, new Float32Array(0));

  gl.activeTexture(gl.TEXTURE1);
  gl.bindTexture(gl.TEXTURE_2D, gl.createTexture());
  gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGB8, 256, 1);
  gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, 256, 1, gl.RGB, gl.UNSIGNED_BYTE, looks.ramp);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
  gl.activeTexture(gl.TEXTURE0);
  const texture = map ? pictureOf(gl, map) : null;

  /** Takes over rows of the picture that changed. */
  const take = (pixels, [from, to]) => {
    gl.bindTexture(gl.TEXTURE_2D, texture);
    const rows = pixels.subarray(4 * from * map.columns, 4 * to * map.columns);
    gl.texSubImage2D(
      gl.TEXTURE_2D,
      0,
      0,
      from,
      map.columns,
      to - from,
      gl.RGBA,
      gl.UNSIGNED_BYTE,
      rows,
    );
    gl.generateMipmap(gl.TEXTURE_2D);
  };

  const prepare = (camera, state) => {
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.enable(gl.DEPTH_TEST);
    gl.useProgram(made);
    gl.uniform1f(at.facing, state.facing);
    gl.uniform1f(at.middle, camera.middle);
    gl.uniform1f(at.half_height, camera.half);
    gl.uniform1f(at.aspect, camera.aspect);
    gl.uniform1f(at.tip, camera.tip);
    gl.uniform1f(at.eye, camera.eye);
    gl.uniform1f(at.unrolled, state.unrolled ? 1 : 0);
    gl.uniform1f(at.around, wall.around);
    gl.uniform1f(at.meridian, wall.length);
    gl.uniform1f(at.lying, camera.lying ? 1 : 0);
    gl.uniform2f(at.roll, camera.cosRoll, camera.sinRoll);
    gl.uniform2f(at.shift, camera.shift[0], camera.shift[1]);
    gl.uniform1f(at.meshed, 0);
    gl.uniform1f(at.metal, looks.metal ? 1 : 0);
    gl.uniform1i(at.ink, 0);
    gl.uniform1i(at.ramp, 1);
    gl.vertexAttrib3f(2, 0, 0, 0);
    calls = 0;
  };
  let calls = 0;
  const draw = (what, kind, colour, textured, lit, count = what.count) => {
    gl.uniform4fv(at.colour, colour);
    gl.uniform1f(at.textured, textured);
    gl.uniform1f(at.lit, lit);
    gl.bindVertexArray(what.array);
    calls += count > 0 ? 1 : 0;
    if (kind === gl.TRIANGLES) gl.drawElements(kind, count, gl.UNSIGNED_INT, 0);
    else if (count > 0) gl.drawArrays(kind, 0, count);
  };

  /**
   * What is burned up to a time. Where its lines are thinner than a pixel their edges are drawn
   * too, so that they do not fade away.
   */
  const drawBurns = (camera, state, time) => {
    gl.uniform1f(at.meshed, 1);
    gl.uniform1f(at.now, time);
    gl.uniform1f(at.picked, state.picked === null ? -1 : state.picked);
    gl.uniform4fv(at.colour, looks.ware);
    gl.uniform1f(at.textured, 0);
    gl.uniform1f(at.lit, 1);
    const thin = (burned.spot * canvas.height) / (2 * camera.half) < 1.5;
    for (const [kind, what] of [
      [gl.TRIANGLES, burns.areas],
      ...(thin ? [[gl.LINES, burns.sides]] : []),
    ]) {
      gl.bindVertexArray(what.array);
      gl.drawElementsInstanced(kind, what.count, gl.UNSIGNED_INT, 0, state.unrolled ? 3 : 1);
      calls++;
    }
    gl.uniform1f(at.meshed, 0);
  };

  /** Draws all that is burned up to a time (1 to 65535); the nozzle as lines, or null. */
  const render = (camera, state, ground, time, nozzle) => {
    prepare(camera, state);
    gl.clearColor(ground[0], ground[1], ground[2], 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.uniform1f(at.picking, 0);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(1, 2);
    draw(body, gl.TRIANGLES, looks.ware, map ? 1 : 0, 1);
    if (!state.unrolled) {
      draw(ends, gl.TRIANGLES, shade(looks.ware, 0.88), 0, 1);
      // What would be burned into a boss shows on it.
      for (const boss of bosses)
        draw(boss, gl.TRIANGLES, state.plain ? looks.ware : BOSS, map ? 1 : 0, 1);
    }
    gl.disable(gl.POLYGON_OFFSET_FILL);
    if (state.unrolled) {
      gl.disable(gl.DEPTH_TEST);
      // What is burned from the map lies over them, as what is burned as lines does.
      draw(ringLines, gl.LINES, state.plain ? shade(looks.ware, 0.94) : RING, map ? 1 : 0, 1);
      gl.enable(gl.DEPTH_TEST);
    }
    if (burns) drawBurns(camera, state, time);
    if (state.unrolled) gl.disable(gl.DEPTH_TEST);
    draw(lines, gl.LINES, state.plain ? shade(looks.ware, 0.7) : ZONE, 0, 0);
    draw(flatPlaces, gl.LINES, state.plain ? shade(looks.ware, 0.7) : FACET, 0, 0);
    if (!state.plain) draw(clearLines, gl.LINES, ZONE, 0, 0);
    for (const way of state.travels ? ways : [])
      draw(way, gl.LINES, way.colour, 0, 0, 2 * reached(way.times, state.time, duration));
    if (nozzle) {
      gl.bindBuffer(gl.ARRAY_BUFFER, head.buffer);
      gl.bufferData(gl.ARRAY_BUFFER, nozzle, gl.DYNAMIC_DRAW);
      draw(head, gl.LINES, NOZZLE, 0, 0, nozzle.length / 6);
    }
    return {
      calls,
      corners: burns ? burns.corners : 0,
      triangles: burns ? burns.areas.count / 3 : 0,
    };
  };

  /**
   * The place of the wall under a pixel, or null. Draws over the picture: render again after it.
   */
  const pick = (camera, state, x, y) => {
    prepare(camera, state);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.uniform1f(at.picking, 1);
    draw(body, gl.TRIANGLES, looks.ware, 0, 0);
    const found = new Uint8Array(4);
    gl.readPixels(
      Math.round(x),
      canvas.height - 1 - Math.round(y),
      1,
      1,
      gl.RGBA,
      gl.UNSIGNED_BYTE,
      found,
    );
    // What is not the wall reads as four zeros but for its alpha.
    if (found[0] + found[1] + found[2] === 0) return null;
    return {
      turn: ((found[0] * 256 + found[1]) / 65535 - 0.5) * 2 * Math.PI,
      s: ((found[2] * 256 + found[3]) / 65535) * wall.length,
    };
  };
  return { take, render, pick };
}
