// The page: what is pressed, dragged and typed, and what follows from it.

import { folded, makeCamera, makeWall } from "./geometry.js";
import { mapOf, trackOf, bytesOf } from "./decode.js";
import { beamAt, clockText } from "./track.js";
import { burnedAt, meshOf } from "./mesh.js";
import { makeInk } from "./ink.js";
import { between, roundLength } from "./measure.js";
import { groupsOf, mark, middles, row, shownRows, words } from "./lists.js";
import { coloursOf, makeView, travelLines } from "./view.js";
import { nozzleLines } from "./nozzle.js";
import { drawOverlay, zoneAt } from "./overlay.js";
import { listen } from "./gestures.js";

const MOST_TRAVELS = 60000;
const TIME_STEPS = 1000;
/**
 * A picture that takes longer than this on the mean, ms, is drawn coarser while it moves: by this
 * share of the pixels a side.
 */
const SLOW_MS = 20,
  COARSE = 0.34;
/** How near a finding or a part is looked at. */
const NEAR = 2.2;
const UPRIGHT_TIP = 0.22;

async function start() {
  const by = (id) => document.getElementById(id);
  const data = JSON.parse(by("proof-data").textContent);
  const wall = makeWall(data.wall);
  const map = data.map.png ? await mapOf(data.map) : null;
  const mesh = data.mesh ? await meshOf(data.mesh) : null;
  const track = data.track ? trackOf(data.track) : null;
  const groups = groupsOf(data.sections);
  for (const burned of [map, mesh]) {
    if (burned && groups.group.length)
      burned.section.forEach((part, i) => {
        burned.section[i] = groups.group[part] ?? 0;
      });
  }
  const looks = coloursOf(data.look, bytesOf(data.ramp));
  const ink = map ? makeInk(map, looks.ramp) : null;
  const [work, over] = [by("work"), by("over")];
  const travels = track ? travelLines(wall, track, MOST_TRAVELS) : null;
  const view = makeView(work, wall, data, { map, mesh, looks }, travels);
  const context = over.getContext("2d");
  const state = {
    facing: 0,
    tip: UPRIGHT_TIP,
    zoom: 1,
    shift: [0, 0],
    // A flat place is seen from above, and nothing of it turns.
    unrolled: data.plane,
    finding: null,
    picked: null,
    time: data.duration,
    playing: false,
    travels: false,
    nozzle: false,
    plain: data.customer,
    measuring: false,
    ends: [],
    way: null,
    read: null,
  };
  let camera = null,
    flags = [],
    asked = false,
    colours = null,
    size = [1, 1];

  const readColours = () => {
    const style = getComputedStyle(document.documentElement);
    const of = (name) => style.getPropertyValue(name).trim();
    const stage = of("--stage");
    const part = (k) => parseInt(stage.slice(1 + 2 * k, 3 + 2 * k), 16) / 255;
    colours = {
      ink: of("--ink"),
      soft: of("--soft"),
      zone: of("--zone"),
      stage,
      ground: [part(0), part(1), part(2)],
    };
  };

  const timeNumber = () => {
    if (!(data.duration > 0)) return 65535;
    return 1 + Math.floor((Math.min(state.time, data.duration) / data.duration) * 65534);
  };

  // While the picture moves and drawing it takes too long, it is drawn coarser; once it rests,
  // finely again.
  let drawnAt = 0,
    apartMean = 0,
    rest = 0,
    coarse = 1;
  const coarseness = (now) => {
    const apart = now - drawnAt;
    drawnAt = now;
    clearTimeout(rest);
    if (apart > 120) {
      apartMean = 0;
      return 1;
    }
    apartMean = apartMean ? 0.8 * apartMean + 0.2 * apart : apart;
    if (coarse === 1 && apartMean < SLOW_MS) return 1;
    rest = setTimeout(() => {
      coarse = 1;
      drawnAt = 0;
      redraw();
    }, 160);
    return apartMean > SLOW_MS ? COARSE : coarse;
  };

  const nozzle = (beam) => {
    if (!state.nozzle || !data.nozzle || state.unrolled) return null;
    return nozzleLines(wall, data.nozzle, beam && !beam.done ? beam : data.nozzle);
  };

  const draw = () => {
    asked = false;
    size = [work.clientWidth, work.clientHeight];
    const scale = Math.min(window.devicePixelRatio || 1, 2);
    coarse = coarseness(performance.now());
    for (const [canvas, fine] of [
      [work, scale * coarse],
      [over, scale],
    ]) {
      const [w, h] = [Math.round(size[0] * fine), Math.round(size[1] * fine)];
      if (canvas.width !== w || canvas.height !== h) {
        canvas.width = w;
        canvas.height = h;
      }
    }
    camera = makeCamera(wall, data.stands, state, size);
    const beam = track && state.time < data.duration ? beamAt(track, state.time) : null;
    if (view) {
      const rows = ink?.show(timeNumber(), state.picked);
      if (rows) view.take(ink.pixels, rows);
      const drawn = view.render(camera, state, colours.ground, timeNumber(), nozzle(beam));
      // Counts, for whoever wants to know what a picture costs.
      work.dataset.drawn = JSON.stringify(drawn);
    }
    context.setTransform(scale, 0, 0, scale, 0, 0);
    const laid = drawOverlay(context, size, wall, data, camera, state, beam, colours);
    flags = laid.flags;
    // Where words stand, for whoever wants to know that none meet.
    over.dataset.words = JSON.stringify(laid.words);
    tell(beam);
  };
  const redraw = () => {
    if (!asked) {
      asked = true;
      requestAnimationFrame(draw);
    }
  };

  const put = (id, text) => {
    const element = by(id);
    if (element && element.textContent !== text) element.textContent = text;
  };
  const pressed = (id, on) => by(id)?.setAttribute("aria-pressed", String(on));

  /** Brings the words and sliders to the state. */
  const tell = (beam) => {
    const degrees = Math.round((folded(state.facing) * 180) / Math.PI);
    by("turn").value = String(degrees);
    put("turn-shown", `${degrees}°`);
    by("turn").disabled = state.unrolled;
    pressed("turned", !state.unrolled);
    pressed("unrolled", state.unrolled);
    pressed("measure", state.measuring);
    const flat = data.plane ? "seen from above" : "its wall unrolled";
    const what = state.unrolled ? flat : `seen from turn ${degrees}°`;
    const label = `${data.name}, ${what}`;
    if (work.getAttribute("aria-label") !== label) work.setAttribute("aria-label", label);
    if (!track) return;
    by("time").value = String(
      data.duration > 0 ? Math.round((state.time / data.duration) * TIME_STEPS) : TIME_STEPS,
    );
    const text = `${clockText(state.time)} of ${clockText(data.duration)}, ${clockText(data.duration - state.time)} left`;
    put("clock", text);
    by("time").setAttribute("aria-valuetext", text);
    const section =
      beam && data.sections.length > 1 ? `, ${data.sections[beam.section] ?? ""}` : "";
    const doing = { 0: "○ travelling", 1: "● burning", 2: "○ running up" };
    put("doing", beam ? doing[beam.done ? 0 : beam.kind] + section : "done");
    put("play", state.playing ? "Pause" : "Play");
  };

  // Turning and seeing.
  const turnTo = (facing) => {
    state.facing = folded(facing);
    redraw();
  };
  const tipBy = (by) => {
    state.tip = Math.max(-1.3, Math.min(1.3, state.tip + by));
    redraw();
  };
  const zoomBy = (factor) => {
    const zoom = Math.max(0.5, Math.min(40, state.zoom * factor));
    // What is in the middle stays there.
    state.shift = state.shift.map((part) => (part * zoom) / state.zoom);
    state.zoom = zoom;
    redraw();
  };
  const shiftBy = (x, y) => {
    state.shift = [state.shift[0] + x, state.shift[1] + y];
    redraw();
  };
  const whole = () => {
    state.zoom = 1;
    state.shift = [0, 0];
    state.tip = UPRIGHT_TIP;
    redraw();
  };
  const unroll = (on) => {
    if (data.plane) return;
    state.unrolled = on;
    state.zoom = 1;
    state.shift = [0, 0];
    redraw();
  };
  /** A pixel's way as a turn, about the axis as it lies. */
  const dragBy = (dx, dy) => {
    if (state.unrolled) return shiftBy(dx / size[1], -dy / size[1]);
    // What is under the pointer follows it.
    const [across, along] = { lying: [dy, -dx], inverted: [-dx, dy], upright: [dx, dy] }[
      data.stands
    ];
    state.facing = folded(state.facing + (across * 2 * camera.half) / (size[1] * wall.largest));
    tipBy(along * 0.006);
  };

  const animate = (target) => {
    const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    const from = { facing: state.facing, shift: state.shift, zoom: state.zoom };
    const way = folded(target.facing - from.facing),
      nearer = (target.zoom ?? from.zoom) / from.zoom;
    const begun = performance.now();
    const step = (now) => {
      const f = still ? 1 : Math.min(1, Math.max(0, (now - begun) / 350));
      const ease = f * f * (3 - 2 * f);
      state.facing = folded(from.facing + ease * way);
      state.zoom = from.zoom * nearer ** ease;
      state.shift = [0, 1].map((k) => from.shift[k] + ease * (target.shift[k] - from.shift[k]));
      redraw();
      if (f < 1) requestAnimationFrame(step);
    };
    step(begun);
  };

  /** Brings a place to the middle of the picture, near enough to be seen. */
  const show = (s, turn) => {
    const facing = state.unrolled ? state.facing : turn,
      zoom = Math.max(state.zoom, NEAR);
    const seen = makeCamera(wall, data.stands, { ...state, facing, zoom, shift: [0, 0] }, size);
    const section = wall.section(s);
    const point = seen.project(section.at, section.r, s, folded(turn));
    animate({
      facing,
      zoom,
      shift: [(0.5 * size[0] - point.x) / size[1], (point.y - 0.5 * size[1]) / size[1]],
    });
  };

  const choose = (k) => {
    state.finding = state.finding === k ? null : k;
    mark("#findings button", state.finding);
    const finding = data.findings[k];
    if (state.finding !== null && finding.s !== null) show(finding.s, finding.turn);
    redraw();
  };
  const places = track ? middles(track, groups.group, groups.names.length) : [];
  const pickPart = (k) => {
    state.picked = state.picked === k ? null : k;
    mark("#sections button", state.picked);
    // The work turns to the part.
    if (state.picked !== null && places[k] && !state.unrolled)
      animate({ facing: places[k].turn, shift: state.shift });
    redraw();
  };

  // Reading a place, and measuring from one to another.
  const burnedHere = ({ s, turn }) => {
    const found = mesh ? burnedAt(mesh, s, turn) : null;
    if (found || !map) return found;
    const row = Math.min(map.rows - 1, Math.floor((s / wall.length) * map.rows));
    const column = Math.min(
      map.columns - 1,
      Math.floor((folded(turn) / (2 * Math.PI) + 0.5) * map.columns),
    );
    const cell = row * map.columns + column;
    return map.time[cell] > 0
      ? { time: map.time[cell], energy: map.energy[cell], section: map.section[cell] }
      : null;
  };
  const mm = (length) => `${length.toFixed(1)} mm`;
  const read = (x, y) => {
    const near = flags.find((flag) => Math.hypot(flag.x - x, flag.y - y) < 16);
    if (near && !state.measuring) return choose(near.k);
    if (!view) return;
    const scale = work.width / size[0];
    const found = view.pick(camera, state, x * scale, y * scale);
    state.read = found;
    if (state.measuring && found) measureTo(found);
    draw();
    if (!found || state.measuring) return;
    const section = wall.section(found.s);
    const degrees = ((found.turn * 180) / Math.PI).toFixed(1);
    const told = [
      data.plane
        ? `at ${mm(section.at)}, ${mm(found.turn * section.r)} across`
        : `at ${mm(section.at)}, turn ${degrees}°, ⌀ ${mm(2 * section.r)}`,
    ];
    // Names over the picture are cut where they are long; here they are whole.
    const zone = data.customer ? null : zoneAt(data.zones, found);
    if (zone) told.push(`in the zone ${zone.name}`);
    const burned = burnedHere(found);
    if (!burned) told.push("not burned here");
    else if (data.customer) told.push("engraved");
    else {
      told.push(`energy ${((burned.energy / 255) * data.map.top).toPrecision(3)}`);
      const part = groups.names.length > 1 ? ` in ${groups.names[burned.section]}` : "";
      told.push(`burned at ${clockText(((burned.time - 1) / 65534) * data.duration)}${part}`);
    }
    put("readout", told.join("; "));
  };
  const measureTo = (place) => {
    state.ends = state.ends.length === 1 ? [state.ends[0], place] : [place];
    state.way = state.ends.length === 2 ? between(wall, ...state.ends) : null;
    if (!state.way) return put("readout", "Measuring from here: press another place.");
    const { along, around, radius, straight, bound } = state.way;
    put(
      "readout",
      `${mm(Math.abs(along))} along the wall, ` +
        `${mm(Math.abs(around))} around at ⌀ ${mm(2 * radius)}; ` +
        `${bound ? "at most " : ""}${mm(straight)} the shortest way on the wall`,
    );
  };
  const measure = (on) => {
    state.measuring = on;
    state.ends = [];
    state.way = null;
    put(
      "readout",
      on
        ? "Press two places on the piece to measure between them."
        : "Press a place on the piece to read it.",
    );
    redraw();
  };

  // Playing.
  let before = 0;
  const tick = (now) => {
    if (!state.playing) return;
    const pace = by("pace").value === "whole" ? data.duration / 20 : Number(by("pace").value);
    state.time = Math.min(data.duration, state.time + (Math.min(200, now - before) / 1000) * pace);
    before = now;
    if (state.time >= data.duration) state.playing = false;
    redraw();
    requestAnimationFrame(tick);
  };
  const play = () => {
    if (!track) return;
    state.playing = !state.playing;
    if (state.playing && state.time >= data.duration) state.time = 0;
    before = performance.now();
    if (state.playing) requestAnimationFrame(tick);
    redraw();
  };

  // The lists beside the picture.
  const drop = (...ids) => {
    for (const id of ids) by(id)?.remove();
  };
  if (data.customer) {
    drop(
      "findings",
      "sections",
      "figures",
      "cautions",
      "time-controls",
      "scale",
      "legend",
      "plays",
    );
    const list = document.querySelector("#texts ol");
    for (const text of data.texts) {
      const item = document.createElement("li");
      item.dir = "auto";
      item.textContent = text;
      list.append(item);
    }
    if (data.texts.length === 0) drop("texts");
  } else {
    drop("signing", "texts", "flat");
    put("findings-title", data.findings_title);
    const list = document.querySelector("#findings ol");
    data.findings.forEach((finding, k) => {
      const inside = [
        words(String(k + 1), "flag"),
        words(`${finding.severity}: ${finding.message}`),
      ];
      row(list, k, inside, choose).className = finding.severity.replace(" ", "-");
    });
    if (groups.names.length > 1) {
      const sections = document.querySelector("#sections ul");
      for (const k of shownRows(groups, places)) {
        const count = groups.counts[k] > 1 ? [words(`× ${groups.counts[k]}`, "count")] : [];
        row(sections, k, [words(groups.names[k], "name"), ...count], pickPart);
      }
    } else drop("sections");
    const table = document.querySelector("#figures dl");
    for (const [name, value] of data.figures) {
      const [term, figure] = [document.createElement("dt"), document.createElement("dd")];
      term.textContent = name;
      figure.textContent = value;
      table.append(term, figure);
    }
    document.querySelector("#cautions p").textContent = data.cautions;
    put("most", data.map.top_text);
    const paint = by("ramp").getContext("2d"),
      strip = paint.createImageData(256, 1);
    for (let k = 0; k < 256; k++)
      strip.data.set([...looks.ramp.subarray(3 * k, 3 * k + 3), 255], 4 * k);
    paint.putImageData(strip, 0, 0);
    if (!data.nozzle) drop("nozzle-control");
  }
  if (data.plane)
    for (const id of ["ways", "sides", "tips", "turning", "nozzle-control"])
      if (by(id)) by(id).hidden = true;
  if (!view) {
    by("notice").hidden = false;
    put(
      "notice",
      "This browser cannot draw in three dimensions here (no WebGL 2). " +
        "The sheet as SVG or PNG (-o proof.svg) shows the piece.",
    );
    drop("flat");
  }

  /**
   * All of the art at once, for the customer: the wall unrolled, drawn once on a canvas of its own.
   */
  const drawFlat = () => {
    const flat = by("flat-work");
    if (!flat || !view) return;
    const [w, h] =
      data.stands === "lying"
        ? [wall.length, 2 * Math.PI * wall.largest]
        : [2 * Math.PI * wall.largest, wall.length];
    // True to scale on paper wherever that is wide enough; the bar beneath is right at any size.
    const sheet = by("flat-sheet").style;
    sheet.maxWidth = `${w}mm`;
    sheet.setProperty("--true-width", `${w}mm`);
    sheet.setProperty("--aspect", String(w / h));
    flat.style.aspectRatio = `${w} / ${h}`;
    const fine = Math.min(1800, 3072 / Math.max(1, h / w)) / w;
    [flat.width, flat.height] = [Math.round(w * fine), Math.round(h * fine)];
    const all = { ...state, unrolled: true, zoom: 1, shift: [0, 0], time: data.duration };
    const seen = {
      ...makeCamera(wall, data.stands, all, [flat.width, flat.height]),
      half: 0.5 * h,
      aspect: w / h,
    };
    const rows = ink?.show(65535, null);
    if (rows) view.take(ink.pixels, rows);
    [work.width, work.height] = [flat.width, flat.height];
    view.render(seen, all, colours.ground, 65535, null);
    flat.getContext("2d").drawImage(work, 0, 0);
    const bar = roundLength(0.4 * w);
    by("flat-bar").style.width = `${(100 * bar) / w}%`;
    put("flat-mm", `${bar} mm`);
    const around = mm(2 * Math.PI * wall.largest);
    put(
      "flat-size",
      data.plane
        ? `The flat place from above: ${around} wide, ${mm(wall.length)} along.`
        : `All around, unrolled: ${around} around, ${mm(wall.length)} along the wall.`,
    );
  };

  // Paper takes the picture as it is on the screen, at the same proportions, whatever its page is.
  const toPaper = () => {
    const screen = colours;
    colours = {
      ink: "#1c1c1a",
      soft: "#5f5f5a",
      zone: "#8a3400",
      stage: "#ffffff",
      ground: [1, 1, 1],
    };
    draw();
    colours = screen;
    const copy = document.createElement("canvas");
    [copy.width, copy.height] = [work.width, work.height];
    const paint = copy.getContext("2d");
    paint.drawImage(work, 0, 0);
    paint.drawImage(over, 0, 0, copy.width, copy.height);
    by("paper").src = copy.toDataURL();
  };
  window.addEventListener("beforeprint", toPaper);

  // Presses and keys.
  const on = (id, kind, act) => by(id)?.addEventListener(kind, act);
  const click = (id, act) => on(id, "click", act);
  click("turned", () => unroll(false));
  click("unrolled", () => unroll(true));
  for (const button of document.querySelectorAll("[data-facing]")) {
    const facing = (Number(button.dataset.facing) * Math.PI) / 180;
    button.addEventListener("click", () => {
      if (state.unrolled) unroll(false);
      animate({ facing, shift: state.shift });
    });
  }
  click("closer", () => zoomBy(1.4));
  click("farther", () => zoomBy(1 / 1.4));
  click("whole", whole);
  for (const button of document.querySelectorAll("[data-shift]")) {
    const [x, y] = button.dataset.shift.split(" ").map(Number);
    button.addEventListener("click", () => shiftBy(0.1 * x, 0.1 * y));
  }
  click("tip-up", () => tipBy(0.15));
  click("tip-down", () => tipBy(-0.15));
  click("measure", () => measure(!state.measuring));
  on("turn", "input", (event) => turnTo((Number(event.target.value) * Math.PI) / 180));
  click("play", play);
  on("time", "input", (event) => {
    state.playing = false;
    state.time = (Number(event.target.value) / TIME_STEPS) * data.duration;
    redraw();
  });
  on("travels", "change", (event) => {
    state.travels = event.target.checked;
    by("legend").hidden = !state.travels;
    redraw();
  });
  on("nozzle", "change", (event) => {
    state.nozzle = event.target.checked;
    redraw();
  });

  const act = {
    drag: dragBy,
    shift: (dx, dy) => shiftBy(dx / size[1], -dy / size[1]),
    zoom: zoomBy,
    press: read,
  };
  listen(work, act, {
    ArrowLeft: (shift) => (shift ? shiftBy(0.05, 0) : dragBy(-24, 0)),
    ArrowRight: (shift) => (shift ? shiftBy(-0.05, 0) : dragBy(24, 0)),
    ArrowUp: (shift) => (shift ? shiftBy(0, -0.05) : dragBy(0, -12)),
    ArrowDown: (shift) => (shift ? shiftBy(0, 0.05) : dragBy(0, 12)),
    "+": () => zoomBy(1.25),
    "=": () => zoomBy(1.25),
    "-": () => zoomBy(0.8),
    0: whole,
    u: () => unroll(!state.unrolled),
    " ": play,
    m: () => measure(!state.measuring),
    Enter: () => read(0.5 * size[0], 0.5 * size[1]),
  });
  new ResizeObserver(redraw).observe(work);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    readColours();
    drawFlat();
    redraw();
  });

  document.body.classList.toggle("customer", data.customer);
  readColours();
  drawFlat();
  draw();
  document.body.dataset.ready = "yes";
}

start().catch((error) => {
  const notice = document.getElementById("notice");
  notice.hidden = false;
  notice.textContent = `The proof could not be drawn: ${error.message}. The sheet as SVG or PNG (-o proof.svg) shows the piece.`;
  document.body.dataset.ready = "failed";
});
