// Tests of the modules that need no screen.

const equal = (found, expected, slack = 0) => {
  const same = slack ? Math.abs(found - expected) <= slack : found === expected;
  if (!same) throw new Error(`${found} is not ${expected}`);
};

const can = () => makeWall({ s: [0, 50, 100], at: [10, 60, 110], r: [30, 30, 40] });
const state = (more) => ({ facing: 0, tip: 0, zoom: 1, shift: [0, 0], unrolled: false, ...more });

var tests = {
  "the wall between its points and past its ends"() {
    const wall = can();
    equal(wall.section(75).r, 35);
    equal(wall.section(75).at, 85);
    equal(wall.section(-5).at, 5);
    equal(wall.section(130).r, 40);
    equal(wall.largest, 40);
  },
  "angles are folded"() {
    equal(folded(3 * Math.PI), -Math.PI, 1e-12);
    equal(folded(-0.5), -0.5, 1e-12);
  },
  "growing turn lies to the left of an upright piece, larger at above"() {
    const camera = makeCamera(can(), "upright", state(), [400, 300]);
    const middle = camera.project(60, 30, 50, 0);
    equal(middle.x, 200, 1e-9);
    equal(middle.y, 150, 1e-9);
    if (!(camera.project(60, 30, 50, 0.5).x < 200)) throw new Error("left");
    if (!(camera.project(100, 38, 90, 0).y < 150)) throw new Error("above");
    equal(camera.project(60, 30, 50, Math.PI).front, false);
  },
  "inverted is upside down, lying points right"() {
    const upside = makeCamera(can(), "inverted", state(), [400, 300]);
    if (!(upside.project(100, 38, 90, 0).y > 150 && upside.project(60, 30, 50, 0.5).x > 200))
      throw new Error("inverted");
    const lying = makeCamera(can(), "lying", state(), [400, 300]);
    if (!(lying.project(100, 38, 90, 0).x > 200 && lying.project(60, 30, 50, 0.5).y < 150))
      throw new Error("lying");
  },
  "the place in front is the one that faces"() {
    const camera = makeCamera(can(), "upright", state({ facing: 2 }), [400, 300]);
    equal(camera.project(60, 30, 50, 2).x, 200, 1e-9);
  },
  "unrolled, a turn is the whole width"() {
    const camera = makeCamera(can(), "upright", state({ unrolled: true }), [400, 300]);
    const apart = camera.project(60, 30, 50, -Math.PI).x - camera.project(60, 30, 50, Math.PI).x;
    equal(apart, (2 * Math.PI * 40 * 300) / (2 * camera.half), 0.5);
  },
  "the wall's triangles are closed around"() {
    const mesh = wallMesh(can(), 12);
    equal(mesh.triangles.length, 2 * 12 * 6);
    equal(Math.max(...mesh.triangles) < mesh.vertices.length / 6, true);
  },
  "the beam is between its points"() {
    const track = {
      count: 3,
      time: [0, 10, 20],
      s: [0, 10, 10],
      turn: [0, 0, 1],
      kind: [0, 1, 2],
      section: [0, 0, 1],
    };
    const there = beamAt(track, 5);
    equal(there.s, 5);
    equal(there.kind, 1);
    equal(beamAt(track, 15).kind, 2);
    equal(beamAt(track, 15).turn, 0.5);
    equal(beamAt(track, 99).done, true);
  },
  "times read as people write them"() {
    equal(clockText(59.6), "1:00");
    equal(clockText(3725), "1:02:05");
  },
  "ink comes and goes with time, and picked parts stand out"() {
    const map = {
      columns: 2,
      rows: 2,
      energy: Uint8Array.of(255, 0, 128, 9),
      time: Uint16Array.of(1, 0, 100, 65535),
      section: Uint8Array.of(0, 0, 1, 0),
    };
    const ramp = new Uint8Array(768).fill(200);
    const ink = makeInk(map, ramp);
    equal(ink.burned, 3);
    ink.show(100, null);
    equal([3, 7, 11, 15].map((k) => ink.pixels[k]).join(), "255,0,255,0");
    ink.show(65535, 1);
    equal(ink.pixels[3] < 100 && ink.pixels[11] === 255, true);
    const rows = ink.show(1, 1);
    equal(rows.join(), "1,2");
    equal(ink.pixels[11], 0);
    ink.show(1, null);
    equal(ink.pixels[3], 255);
  },
  async "a grey picture without filters is read back"() {
    const packed = new Uint8Array(
      await new Response(
        new Blob([Uint8Array.of(0, 7, 8, 0, 9, 10)])
          .stream()
          .pipeThrough(new CompressionStream("deflate")),
      ).arrayBuffer(),
    );
    const chunk = (kind, body) => [
      ...new Uint8Array(new Uint32Array([body.length]).buffer).reverse(),
      ...[...kind].map((c) => c.charCodeAt(0)),
      ...body,
      0,
      0,
      0,
      0,
    ];
    const png = Uint8Array.from([
      137,
      80,
      78,
      71,
      13,
      10,
      26,
      10,
      ...chunk("IHDR", [0, 0, 0, 2, 0, 0, 0, 2, 8, 0, 0, 0, 0]),
      ...chunk("IDAT", [...packed]),
    ]);
    const { width, height, grey } = await greyOf(png);
    equal([width, height, ...grey].join(), "2,2,7,8,9,10");
  },
  "a mesh on the wall strays by less than a twentieth of a millimetre, and keeps its area"() {
    const wall = can();
    // A patch of 60 mm by 2 rad over the edge between cylinder and cone.
    const mesh = patch([20, 80], [-1, 1]);
    const laid = layMesh(wall, [], mesh, facets(wall));
    let area = 0;
    eachTriangle(laid, (corners) => {
      for (const weights of [
        [1, 1, 1],
        [4, 1, 1],
        [1, 4, 1],
        [1, 1, 4],
        [1, 1, 0],
        [0, 1, 1],
        [1, 0, 1],
      ]) {
        const whole = weights[0] + weights[1] + weights[2];
        const point = [0, 1, 2].map((axis) =>
          corners.reduce((sum, corner, i) => sum + (weights[i] / whole) * solid(corner)[axis], 0),
        );
        const at = point[1],
          r = at <= 60 ? 30 : 30 + (10 * (at - 60)) / 50;
        if (Math.abs(Math.hypot(point[0], point[2]) - r) > 0.05)
          throw new Error(`${Math.hypot(point[0], point[2])} for ${r} at ${at}`);
      }
      const [a, b, c] = corners.map(solid),
        side = (to) => to.map((x, i) => x - a[i]);
      const [p, q] = [side(b), side(c)];
      area +=
        0.5 *
        Math.hypot(p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]);
    });
    // On the cylinder 30 mm of 2 rad at 30 mm; on the cone 30 mm of the list at a mean radius of 33 mm (the
    // meridian of the test's wall is told 50 mm for a way of 51).
    equal(area, 2 * 30 * 30 + 2 * 33 * 30 * (Math.hypot(50, 10) / 50), 4);
  },
  "what lies on a boss is lifted onto it, over the seam too"() {
    const wall = can(),
      zone = { s: [30, 40], turn: [Math.PI - 0.2, Math.PI + 0.2], rise: 5 };
    const laid = layMesh(
      wall,
      [zone],
      patch([20, 45], [Math.PI - 0.5, Math.PI + 0.1]),
      facets(wall),
    );
    let lifted = 0;
    eachTriangle(laid, (corners) => {
      const on = corners.every(
        ([, , s, turn]) => s >= 30 - 1e-4 && s <= 40 + 1e-4 && turn >= Math.PI - 0.2001,
      );
      for (const [, r] of corners) equal(r, on ? 35 : 30, 1e-3);
      lifted += on ? 1 : 0;
    });
    if (lifted < 4) throw new Error(`${lifted} lifted`);
  },
  "a place finds what burned first there"() {
    const mesh = patch([20, 80], [3, 3.5]);
    const found = burnedAt(mesh, 50, 3.2 - 2 * Math.PI);
    equal(found.section, 2);
    equal(found.energy, 100, 1e-9);
    equal(burnedAt(mesh, 50, 0), null);
    equal(burnedAt(mesh, 19, 3.2), null);
  },
  async "a mesh is read from its differences"() {
    const fold = (n) => (n < 0 ? -2 * n - 1 : 2 * n);
    const number = (n) => {
      const out = [];
      let rest = fold(n);
      do {
        out.push((rest & 127) | (rest > 127 ? 128 : 0));
        rest >>= 7;
      } while (rest);
      return out;
    };
    const planes = [
      [100, 100, -50],
      [-300, 10, 0],
      [1, 500, 0],
      [255, 0, -5],
      [3, 0, 0],
      [0, 1, 1],
    ];
    const bytes = planes.flat().flatMap(number);
    const raw = new Uint8Array(
      await new Response(
        new Blob([Uint8Array.of(0, ...bytes)])
          .stream()
          .pipeThrough(new CompressionStream("deflate")),
      ).arrayBuffer(),
    );
    const chunk = (kind, body) => [
      ...new Uint8Array(new Uint32Array([body.length]).buffer).reverse(),
      ...[...kind].map((c) => c.charCodeAt(0)),
      ...body,
      0,
      0,
      0,
      0,
    ];
    const png = [
      137,
      80,
      78,
      71,
      13,
      10,
      26,
      10,
      ...chunk("IHDR", [0, 0, 0, bytes.length, 0, 0, 0, 1, 8, 0, 0, 0, 0]),
      ...chunk("IDAT", [...raw]),
    ];
    const mesh = await meshOf({
      bytes: btoa(String.fromCharCode(...png)),
      corners: 3,
      triangles: 1,
      steps: [0.5, 0.25],
      spot: 0.2,
    });
    equal([...mesh.s].join(), "50,100,75");
    equal([...mesh.turn].join(), "-75,-72.5,-72.5");
    equal([...mesh.time].join(), "1,501,501");
    equal([...mesh.energy].join(), "255,255,250");
    equal([...mesh.section].join() + ";" + [...mesh.triangles].join(), "3,3,3;0,1,2");
  },
  "equal parts are one row, and have a middle"() {
    const { names, counts, group } = groupsOf([
      "",
      "stroke 1 of 2",
      "piece stars: outlines",
      "stroke 2 of 2",
      "piece stars: outlines",
    ]);
    equal(names.join("|"), "(before the first name)|stroke|piece stars: outlines");
    equal(counts.join() + ";" + group.join(), "1,2,2;0,1,2,1,2");
    const track = {
      count: 3,
      time: [0, 1, 2],
      s: [0, 10, 20],
      turn: [3, 3, 3.4],
      kind: [0, 0, 1],
      section: [0, 0, 1],
    };
    const found = middles(track, group, 3);
    equal(found[1].s, 15);
    equal(folded(found[1].turn - 3.2), 0, 1e-9);
    equal(found[0], null);
    // Nothing burns before the first name, nor, here, in what is named last.
    equal(shownRows({ names }, found).join(), "1,2");
    equal(shownRows({ names }, [found[1], found[1], null]).join(), "0,1,2");
  },
  "the way between two places is the shortest on a cylinder and on a cone"() {
    const flat = between(can(), { s: 10, turn: 0 }, { s: 40, turn: 1 });
    equal(flat.along, 30);
    equal(flat.around, 30, 1e-9);
    equal(flat.straight, Math.hypot(30, 30), 0.01);
    equal(flat.bound, false);
    const level = between(can(), { s: 10, turn: 3 }, { s: 10, turn: -3 });
    equal(level.straight, 30 * (2 * Math.PI - 6), 1e-6);
    equal(level.bound, false);
    // The cone of the list unrolls to a sector: its tip lies R = r · 50/10 of the list away, and a turn of 1 is
    // an angle of 10/50 there; the law of cosines gives the chord.
    const cone = between(can(), { s: 60, turn: 0 }, { s: 90, turn: 1 });
    const [a, b] = [32 * 5, 38 * 5];
    equal(cone.straight, Math.sqrt(a * a + b * b - 2 * a * b * Math.cos(1 / 5)), 0.02);
    const last = cone.points[cone.points.length - 1];
    equal(last.turn, 1, 0.01);
    equal(between(can(), { s: 90, turn: 0 }, { s: 60, turn: 1 }).straight, cone.straight, 1e-9);
  },
  "a bar of the scale is 1, 2 or 5"() {
    equal([9.9, 10, 19, 20, 49, 0.7].map(roundLength).join(), "5,10,10,20,20,0.5");
  },
  "the nozzle stands over its place, and with the tilt"() {
    const wall = can(),
      tip = (tilt, focus) => {
        const lines = nozzleLines(wall, { radius: 9, gap: 6, tilt, focus }, { s: 20, turn: 0.5 });
        const corners = [];
        for (let k = 0; k < lines.length; k += 6) corners.push([...lines.subarray(k, k + 4)]);
        return corners;
      };
    const level = tip(0, null);
    // The ring's end on the crest line is 6 mm above the wall, 9 mm along.
    equal(Math.min(...level.map((corner) => corner[0])), 21, 1e-4);
    equal(Math.max(...level.slice(0, -2).map((corner) => corner[0])), 39, 1e-4);
    equal(level[0][1], 36, 1e-4);
    equal(tip(0, 25)[0][1], 31, 1e-4);
    // Tilted, it leans over the wall: the beam, straight up there, leans by the tilt here.
    const beam = tip(0.1, null).slice(-2);
    equal(Math.atan2(beam[1][0] - beam[0][0], beam[1][1] - beam[0][1]), 0.1, 1e-4);
  },
  "a place knows its zone, past the seam too"() {
    const zones = [
      { name: "boss", s: [10, 20], turn: [3, 3.5] },
      { name: "mark", s: [30, 40], turn: [-0.5, 0.5] },
    ];
    equal(zoneAt(zones, { s: 15, turn: 3.4 - 2 * Math.PI }).name, "boss");
    equal(zoneAt(zones, { s: 35, turn: 2 * Math.PI }).name, "mark");
    equal(zoneAt(zones, { s: 25, turn: 0 }), null);
    equal(zoneAt(zones, { s: 15, turn: 2.9 }), null);
  },
  "words keep apart, and flags"() {
    const context = new Proxy(
      { measureText: (text) => ({ width: 6 * text.length }) },
      {
        get: (of, name) => of[name] ?? (() => {}),
        set: () => true,
      },
    );
    const words = makeWords(context, [100, 60], {});
    equal(words.put("long words", [{ x: 50, y: 30 }], ""), true);
    equal(words.put("meets", [{ x: 60, y: 34 }], ""), false);
    equal(
      words.put(
        "meets",
        [
          { x: 60, y: 34 },
          { x: 60, y: 50 },
        ],
        "",
      ),
      true,
    );
    // Kept on the picture.
    equal(words.put("edge", [{ x: 99, y: 8 }], ""), true);
    equal(words.words[2].right <= 100, true);
    const first = beside({ x: 20, y: 9 }, words);
    equal(first.x, 20);
    words.take({ left: 10, right: 30, top: 0, bottom: 19 });
    equal(beside({ x: 20, y: 10 }, words).x, 41);
  },
  "the whole head and the rotary are drawn"() {
    const corners = (more) => {
      const nozzle = { radius: 9, gap: 6, tilt: 0, focus: null, ...more };
      const lines = nozzleLines(can(), nozzle, { s: 20, turn: 0 });
      const out = [];
      // The beam is last.
      for (let k = 0; k < lines.length - 12; k += 6) out.push([...lines.subarray(k, k + 4)]);
      return out;
    };
    const reach = (all) => [0, 1].map((k) => Math.max(...all.map((corner) => corner[k])));
    const plain = corners({});
    // A step of radius 14 from 10 mm above the tip, and a carriage from 20 mm on, 40 mm along.
    const carriage = { along: [-30, 40], across: [-25, 25], above: 20 };
    const whole = corners({
      steps: [
        [10, 14],
        [25, 50],
      ],
      carriage,
    });
    equal(reach(plain)[0], 39, 1e-4);
    equal(reach(whole)[0], 70, 1e-4);
    // 30 of wall, 6 of gap, 20 and 9 of the carriage up, 25 across.
    equal(reach(whole)[1], Math.hypot(65, 25), 1e-4);
    // What is up in the carriage is not seen.
    equal(whole.filter((corner) => Math.abs(corner[0] - 80) < 1e-3).length, 0);
    const jaw = { at: [-20, 5], radius: 50, turn: [0, 1] };
    const tail = { at: [90, 120], across: [-10, 10], height: 22 };
    const beside = corners({ beside: [jaw, tail] }).slice(plain.length);
    equal(Math.min(...beside.map((corner) => corner[0])), -20, 1e-4);
    equal(Math.max(...beside.map((corner) => corner[0])), 120, 1e-4);
    equal(reach(beside)[1], 50, 1e-4);
  },
  "the ware's own colours, and burned by energy"() {
    const { ware, ramp, metal } = coloursOf(
      { ware: "#000000", burn: "#ff8040", metal: true },
      new Uint8Array(768),
    );
    equal(ware.join(), "0,0,0,1");
    equal([...ramp.subarray(765)].join(), "255,128,64");
    equal([...ramp.subarray(0, 3)].join(), "0,0,0");
    equal(metal, true);
    equal(coloursOf(null, ramp).ramp, ramp);
  },
};

/** Two triangles over a patch of (s, turn). */
function patch(s, turn) {
  return {
    s: [s[0], s[1], s[1], s[0]],
    turn: [turn[0], turn[0], turn[1], turn[1]],
    time: [1, 2, 3, 4],
    energy: [100, 100, 100, 100],
    section: [2, 2, 2, 2],
    spot: 0.2,
    triangles: [0, 1, 2, 0, 2, 3],
  };
}

function eachTriangle(laid, see) {
  const corner = (i) => [...laid.vertices.subarray(i * MESH_STRIDE, i * MESH_STRIDE + 4)];
  for (let k = 0; k < laid.triangles.length; k += 3)
    see([0, 1, 2].map((i) => corner(laid.triangles[k + i])));
}

/** A corner in space. */
function solid([at, r, , turn]) {
  return [r * Math.sin(turn), at, r * Math.cos(turn)];
}
