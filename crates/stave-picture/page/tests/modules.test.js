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
    if (!(upside.project(100, 38, 90, 0).y > 150 && upside.project(60, 30, 50, 0.5).x > 200)) throw new Error("inverted");
    const lying = makeCamera(can(), "lying", state(), [400, 300]);
    if (!(lying.project(100, 38, 90, 0).x > 200 && lying.project(60, 30, 50, 0.5).y < 150)) throw new Error("lying");
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
    const track = { count: 3, time: [0, 10, 20], s: [0, 10, 10], turn: [0, 0, 1], burning: [0, 1, 0], section: [0, 0, 1] };
    const there = beamAt(track, 5);
    equal(there.s, 5);
    equal(there.burning, true);
    equal(beamAt(track, 15).burning, false);
    equal(beamAt(track, 15).turn, 0.5);
    equal(beamAt(track, 99).done, true);
  },
  "times read as people write them"() {
    equal(clockText(59.6), "1:00");
    equal(clockText(3725), "1:02:05");
  },
  "ink comes and goes with time, and picked parts stand out"() {
    const map = { columns: 2, rows: 2, energy: Uint8Array.of(255, 0, 128, 9), time: Uint16Array.of(1, 0, 100, 65535), section: Uint8Array.of(0, 0, 1, 0) };
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
    const packed = new Uint8Array(await new Response(new Blob([Uint8Array.of(0, 7, 8, 0, 9, 10)]).stream().pipeThrough(new CompressionStream("deflate"))).arrayBuffer());
    const chunk = (kind, body) => [...new Uint8Array(new Uint32Array([body.length]).buffer).reverse(), ...[...kind].map((c) => c.charCodeAt(0)), ...body, 0, 0, 0, 0];
    const png = Uint8Array.from([137, 80, 78, 71, 13, 10, 26, 10, ...chunk("IHDR", [0, 0, 0, 2, 0, 0, 0, 2, 8, 0, 0, 0, 0]), ...chunk("IDAT", [...packed])]);
    const { width, height, grey } = await greyOf(png);
    equal([width, height, ...grey].join(), "2,2,7,8,9,10");
  },
};
