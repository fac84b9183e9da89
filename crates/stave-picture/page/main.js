// The page: what is pressed, dragged and typed, and what follows from it.

import { folded, makeCamera, makeWall } from "./geometry.js";
import { mapOf, trackOf, bytesOf } from "./decode.js";
import { beamAt, clockText, doingWords } from "./track.js";
import { meshOf } from "./mesh.js";
import { makeInk } from "./ink.js";
import { between, tellInches } from "./measure.js";
import { groupsOf, isolated, mark, middles } from "./lists.js";
import { coloursOf, makeView, travelLines } from "./view.js";
import { nozzleLines, standingAt } from "./nozzle.js";
import { makeBurned } from "./bare.js";
import { drawOverlay } from "./overlay.js";
import { placeWords, wayWords } from "./reading.js";
import { fillPage } from "./beside.js";
import { drawFlat } from "./flat.js";
import { makeCoarseness } from "./coarse.js";
import { ON_PAPER, coloursNow } from "./colours.js";
import { listen } from "./gestures.js";

const MOST_TRAVELS = 60000;
const TIME_STEPS = 1000;
/** How near a finding or a part is looked at. */
const NEAR = 2.2;
const UPRIGHT_TIP = 0.22;

async function start() {
  document.body.classList.add("scripted");
  const by = (id) => document.getElementById(id);
  const data = JSON.parse(by("proof-data").textContent);
  tellInches(data.inches === true);
  const wall = makeWall(data.wall, data.zones);
  const map = data.map.png ? await mapOf(data.map) : null;
  const mesh = data.mesh ? await meshOf(data.mesh) : null;
  const track = data.track ? await trackOf(data.track) : null;
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
  const burned = data.customer ? null : makeBurned(wall, mesh, map);
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
    // What burns nothing has its way to show.
    travels: !data.customer && data.map.top === 0,
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

  const timeNumber = () => {
    if (!(data.duration > 0)) return 65535;
    return 1 + Math.floor((Math.min(state.time, data.duration) / data.duration) * 65534);
  };

  const coarseness = makeCoarseness(() => redraw());

  const nozzle = (beam) => {
    if (!state.nozzle || !data.nozzles.length || state.unrolled) return null;
    const place = beam && !beam.done ? beam : data.nozzles[0];
    return nozzleLines(wall, standingAt(data.nozzles, place.s), place);
  };

  const draw = () => {
    asked = false;
    if (!view) return;
    size = [work.clientWidth, work.clientHeight];
    const scale = Math.min(window.devicePixelRatio || 1, 2);
    const coarse = coarseness(performance.now());
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
    const rows = ink?.show(timeNumber(), state.picked);
    if (rows) view.take(ink.pixels, rows);
    const drawn = view.render(camera, state, colours.ground, timeNumber(), nozzle(beam));
    // Counts, for whoever wants to know what a picture costs.
    work.dataset.drawn = JSON.stringify(drawn);
    context.setTransform(scale, 0, 0, scale, 0, 0);
    const laid = drawOverlay(context, size, wall, data, camera, state, beam, colours, burned);
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
    const label = `${isolated(data.name)}, ${what}`;
    if (work.getAttribute("aria-label") !== label) work.setAttribute("aria-label", label);
    if (!track) return;
    by("time").value = String(
      data.duration > 0 ? Math.round((state.time / data.duration) * TIME_STEPS) : TIME_STEPS,
    );
    const left = clockText(data.duration - state.time);
    const text = `${clockText(state.time)} of ${clockText(data.duration)}, ${left} left`;
    put("clock", text);
    by("time").setAttribute("aria-valuetext", text);
    const section =
      beam && data.sections.length > 1 ? `, ${isolated(data.sections[beam.section] ?? "")}` : "";
    put("doing", beam ? doingWords(beam, data.map.top > 0) + section : "done");
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
    put("readout", placeWords(found, { wall, data, map, mesh, groups }));
  };
  const measureTo = (place) => {
    state.ends = state.ends.length === 1 ? [state.ends[0], place] : [place];
    state.way = state.ends.length === 2 ? between(wall, ...state.ends) : null;
    const words = state.way ? wayWords(state.way) : "Measuring from here: press another place.";
    put("readout", words);
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

  const page = { by, put };
  const parts = {
    groups,
    places,
    ramp: looks.ramp,
    travels: state.travels,
    isDrawn: Boolean(view),
  };
  fillPage(page, data, parts, { choose, pickPart });
  const flat = () => drawFlat(page, { wall, data, state, view, ink, work }, colours.ground);

  // Paper takes the picture as it is on the screen, at the same proportions, whatever its page is.
  const toPaper = () => {
    if (!view) return;
    const screen = colours;
    colours = ON_PAPER;
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
    colours = coloursNow();
    flat();
    redraw();
  });

  document.body.classList.toggle("customer", data.customer);
  // What shows the piece has room from here on.
  document.body.classList.toggle("drawn", Boolean(view));
  colours = coloursNow();
  flat();
  draw();
  document.body.dataset.ready = "yes";
}

start().catch((error) => {
  document.body.classList.remove("drawn");
  const notice = document.getElementById("notice");
  notice.hidden = false;
  const instead = document.getElementById("still")
    ? "It is shown as it is, and does not turn."
    : "The sheet as SVG or PNG (-o proof.svg) shows it.";
  notice.textContent = `The piece could not be drawn: ${error.message}. ${instead}`;
  document.body.dataset.ready = "failed";
});
