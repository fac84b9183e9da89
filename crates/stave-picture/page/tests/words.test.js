// Tests of the modules that tell and measure; what they use stands in modules.test.js.

Object.assign(tests, {
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
    // The cone of the list unrolls to a sector: its tip lies R = r · 50/10 of the list away, and a
    // turn of 1 is
    // an angle of 10/50 there; the law of cosines gives the chord.
    const cone = between(can(), { s: 60, turn: 0 }, { s: 90, turn: 1 });
    const [a, b] = [32 * 5, 38 * 5];
    equal(cone.straight, Math.sqrt(a * a + b * b - 2 * a * b * Math.cos(1 / 5)), 0.02);
    const last = cone.points[cone.points.length - 1];
    equal(last.turn, 1, 0.01);
    equal(between(can(), { s: 90, turn: 0 }, { s: 60, turn: 1 }).straight, cone.straight, 1e-9);
  },
  "lengths are told in the unit of the ware"() {
    equal(lengthText(88.9), "88.9 mm");
    tellInches(true);
    equal(lengthText(88.9), "3.50 in");
    equal(roundBar(60).text + ", " + roundBar(60).mm, "2 in, 50.8");
    equal(roundBar(3).text, "0.1 in");
    tellInches(false);
    equal(roundBar(60).text + ", " + roundBar(60).mm, "50 mm, 50");
  },
  "the unrolled wall tells where it is true"() {
    const tapered = makeWall({ s: [0, 100], at: [0, 99], r: [30, 40], around: 35 });
    const told = flatWords(tapered, { plane: false, map: { top: 1 } });
    const wanted = "70.0 mm across, amid the engraving: 219.9 mm around";
    if (!told.includes(wanted)) throw new Error(told);
    const even = makeWall({ s: [0, 100], at: [0, 100], r: [30, 30] });
    const all = flatWords(even, { plane: false, map: { top: 1 } });
    equal(all, "All around, unrolled: 188.5 mm around, 100.0 mm along the wall.");
  },
  "a name that is read from the right is kept apart"() {
    equal(isolated("cup"), "cup");
    equal(isolated("כוס"), "\u2068כוס\u2069");
    // Adlam, beyond the characters of 16 bits.
    equal(isolated("\u{1e900}"), "\u2068\u{1e900}\u2069");
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
  "a turn is named where its line is seen alone"() {
    const wall = can(),
      size = [400, 300];
    const told = (more) => {
      const words = makeWords(paintless(), size, {});
      const seen = state({ unrolled: true, ...more });
      const camera = makeCamera(wall, "upright", seen, size);
      const ends = [0, 100].map((s) => ({ s, at: 10 + s, diameter: 60, at_text: String(s) }));
      const data = { stands: "upright", stations: ends };
      stations(wall, data, { camera, size }, {}, words);
      const told = words.words.map(({ text }) => text);
      return told.filter((text) => text.includes("°")).join();
    };
    equal(told({}), "turn 0°,-180°,180°,-90°,90°");
    // Near the middle of the front the seam is far away, and the end of the wall below.
    equal(told({ zoom: 8 }), "turn 0°");
  },
  "words keep apart, and flags"() {
    const context = paintless();
    const words = makeWords(context, [100, 60], {});
    equal(!!words.put("long words", [{ x: 50, y: 30 }], ""), true);
    equal(!!words.put("meets", [{ x: 60, y: 34 }], ""), false);
    equal(
      !!words.put(
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
    equal(!!words.put("edge", [{ x: 99, y: 8 }], ""), true);
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
  "what burns nothing does not run up to a burn"() {
    equal(doingWords({ kind: 2, done: false }, true), "○ running up");
    equal(doingWords({ kind: 2, done: false }, false), "○ walking");
    equal(doingWords({ kind: 1, done: true }, true), "○ travelling");
  },
  "at the end all of the way is gone, however its times were rounded"() {
    const times = Float32Array.of(0.05, 0.1);
    if (!(times[1] > 0.1)) throw new Error("this tests nothing");
    equal(reached(times, 0.1, 0.1), 2);
    equal(reached(times, 0.07, 0.1), 1);
    equal(reached(times, 0, 0.1), 0);
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
});

/** A canvas that only measures. */
function paintless() {
  return new Proxy(
    { measureText: (text) => ({ width: 6 * text.length }) },
    {
      get: (of, name) => of[name] ?? (() => {}),
      set: () => true,
    },
  );
}
