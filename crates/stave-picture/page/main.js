// The page: what is pressed, dragged and typed, and what follows from it.

import { folded, makeCamera, makeWall } from "./geometry.js";
import { mapOf, trackOf, bytesOf } from "./decode.js";
import { beamAt, clockText } from "./track.js";
import { makeInk } from "./ink.js";
import { burnedAt, meshOf } from "./mesh.js";
import { makeView, travelLines } from "./view.js";
import { drawOverlay } from "./overlay.js";

const MOST_TRAVELS = 60000;
const TIME_STEPS = 1000;
/** A picture that takes longer than this on the mean, ms, is drawn coarser while it moves: by this share of the pixels a side. */
const SLOW_MS = 20, COARSE = 0.34;

async function start() {
  const by = (id) => document.getElementById(id);
  const data = JSON.parse(by("proof-data").textContent);
  const wall = makeWall(data.wall);
  const map = data.map.png ? await mapOf(data.map) : null;
  const mesh = data.mesh ? await meshOf(data.mesh) : null;
  const track = data.track ? trackOf(data.track) : null;
  const ramp = bytesOf(data.ramp);
  const ink = map ? makeInk(map, ramp) : null;
  const [work, over] = [by("work"), by("over")];
  const travels = track ? travelLines(wall, track, MOST_TRAVELS) : null;
  const view = makeView(work, wall, data, { map, mesh, ramp }, travels);
  const context = over.getContext("2d");
  const state = {
    facing: 0, tip: 0.22, zoom: 1, shift: [0, 0], unrolled: false, finding: null, picked: null,
    time: data.duration, playing: false, travels: false, plain: data.customer,
  };
  let camera = null, flags = [], asked = false, colours = null, size = [1, 1];

  const readColours = () => {
    const style = getComputedStyle(document.documentElement);
    const of = (name) => style.getPropertyValue(name).trim();
    const stage = of("--stage");
    const part = (k) => parseInt(stage.slice(1 + 2 * k, 3 + 2 * k), 16) / 255;
    colours = { ink: of("--ink"), soft: of("--soft"), ground: [part(0), part(1), part(2)] };
  };

  const timeNumber = () => (data.duration > 0 ? 1 + Math.floor((Math.min(state.time, data.duration) / data.duration) * 65534) : 65535);

  // While the picture moves and drawing it takes too long, it is drawn coarser; once it rests, finely again.
  let drawnAt = 0, between = 0, rest = 0;
  const coarseness = (now) => {
    const apart = now - drawnAt;
    drawnAt = now;
    clearTimeout(rest);
    if (apart > 120) { between = 0; return 1; }
    between = between ? 0.8 * between + 0.2 * apart : apart;
    if (coarse === 1 && between < SLOW_MS) return 1;
    rest = setTimeout(() => { coarse = 1; drawnAt = 0; redraw(); }, 160);
    return between > SLOW_MS ? COARSE : coarse;
  };
  let coarse = 1;

  const draw = () => {
    asked = false;
    size = [work.clientWidth, work.clientHeight];
    const scale = Math.min(window.devicePixelRatio || 1, 2);
    coarse = coarseness(performance.now());
    for (const [canvas, fine] of [[work, scale * coarse], [over, scale]]) {
      const [w, h] = [Math.round(size[0] * fine), Math.round(size[1] * fine)];
      if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
    }
    camera = makeCamera(wall, data.stands, state, size);
    const beam = track && state.time < data.duration ? beamAt(track, state.time) : null;
    if (view) {
      const rows = ink?.show(timeNumber(), state.picked);
      if (rows) view.take(ink.pixels, rows);
      const drawn = view.render(camera, state, colours.ground, timeNumber(), state.travels && travels ? reached(travels.times, state.time) : 0);
      // Counts, for whoever wants to know what a picture costs.
      work.dataset.drawn = JSON.stringify(drawn);
    }
    context.setTransform(scale, 0, 0, scale, 0, 0);
    flags = drawOverlay(context, size, wall, data, camera, state, beam, colours);
    tell(beam);
  };
  const redraw = () => { if (!asked) { asked = true; requestAnimationFrame(draw); } };

  const reached = (times, time) => {
    let low = 0, high = times.length;
    while (low < high) { const middle = (low + high) >> 1; if (times[middle] <= time) low = middle + 1; else high = middle; }
    return low;
  };

  const put = (id, text) => { const element = by(id); if (element && element.textContent !== text) element.textContent = text; };

  /** Brings the words and sliders to the state. */
  const tell = (beam) => {
    const degrees = Math.round((folded(state.facing) * 180) / Math.PI);
    by("turn").value = String(degrees);
    put("turn-shown", `${degrees}°`);
    by("turn").disabled = state.unrolled;
    for (const [id, on] of [["turned", !state.unrolled], ["unrolled", state.unrolled]]) by(id).setAttribute("aria-pressed", String(on));
    const what = state.unrolled ? "its wall unrolled" : `seen from turn ${degrees}°`;
    const label = `${data.name}, ${what}`;
    if (work.getAttribute("aria-label") !== label) work.setAttribute("aria-label", label);
    if (!track) return;
    by("time").value = String(data.duration > 0 ? Math.round((state.time / data.duration) * TIME_STEPS) : TIME_STEPS);
    const text = `${clockText(state.time)} of ${clockText(data.duration)}, ${clockText(data.duration - state.time)} left`;
    put("clock", text);
    by("time").setAttribute("aria-valuetext", text);
    const section = beam && data.sections.length > 1 ? `, ${data.sections[beam.section] ?? ""}` : "";
    put("doing", beam ? (beam.burning ? "● burning" : "○ travelling") + section : "done");
    put("play", state.playing ? "Pause" : "Play");
  };

  // Turning and seeing.
  const turnTo = (facing) => { state.facing = folded(facing); redraw(); };
  const tipBy = (by) => { state.tip = Math.max(-1.3, Math.min(1.3, state.tip + by)); redraw(); };
  const zoomBy = (factor) => {
    const zoom = Math.max(0.5, Math.min(40, state.zoom * factor));
    // What is in the middle stays there.
    state.shift = state.shift.map((part) => (part * zoom) / state.zoom);
    state.zoom = zoom;
    redraw();
  };
  const shiftBy = (x, y) => { state.shift = [state.shift[0] + x, state.shift[1] + y]; redraw(); };
  const whole = () => { state.zoom = 1; state.shift = [0, 0]; state.tip = 0.22; redraw(); };
  const unroll = (on) => { state.unrolled = on; state.zoom = 1; state.shift = [0, 0]; redraw(); };
  /** A pixel's way as a turn, about the axis as it lies. */
  const dragBy = (dx, dy) => {
    if (state.unrolled) return shiftBy(dx / size[1], -dy / size[1]);
    // What is under the pointer follows it.
    const [across, along] = { lying: [dy, -dx], inverted: [-dx, dy], upright: [dx, dy] }[data.stands];
    state.facing = folded(state.facing + (across * 2 * camera.half) / (size[1] * wall.largest));
    tipBy(along * 0.006);
  };

  const animate = (target) => {
    const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    const from = { facing: state.facing, shift: state.shift };
    const way = folded(target.facing - from.facing);
    const begun = performance.now();
    const step = (now) => {
      const f = still ? 1 : Math.min(1, Math.max(0, (now - begun) / 350));
      const ease = f * f * (3 - 2 * f);
      state.facing = folded(from.facing + ease * way);
      state.shift = [0, 1].map((k) => from.shift[k] + ease * (target.shift[k] - from.shift[k]));
      redraw();
      if (f < 1) requestAnimationFrame(step);
    };
    step(begun);
  };

  /** Brings a place to the middle of the picture. */
  const show = (s, turn) => {
    const facing = state.unrolled ? state.facing : turn;
    const seen = makeCamera(wall, data.stands, { ...state, facing, shift: [0, 0] }, size);
    const section = wall.section(s);
    const point = seen.project(section.at, section.r, s, folded(turn));
    const shift = state.zoom > 1.01 ? [(0.5 * size[0] - point.x) / size[1], (point.y - 0.5 * size[1]) / size[1]] : state.shift;
    animate({ facing, shift });
  };

  const choose = (k) => {
    state.finding = state.finding === k ? null : k;
    for (const button of document.querySelectorAll("#findings button")) button.setAttribute("aria-pressed", String(Number(button.dataset.k) === state.finding));
    const finding = data.findings[k];
    if (state.finding !== null && finding.s !== null) show(finding.s, finding.turn);
    redraw();
  };
  const pickSection = (k) => {
    state.picked = state.picked === k ? null : k;
    for (const button of document.querySelectorAll("#sections button")) button.setAttribute("aria-pressed", String(Number(button.dataset.k) === state.picked));
    redraw();
  };

  // Reading a place.
  const burnedHere = ({ s, turn }) => {
    const found = mesh ? burnedAt(mesh, s, turn) : null;
    if (found || !map) return found;
    const row = Math.min(map.rows - 1, Math.floor((s / wall.length) * map.rows));
    const column = Math.min(map.columns - 1, Math.floor((folded(turn) / (2 * Math.PI) + 0.5) * map.columns));
    const cell = row * map.columns + column;
    return map.time[cell] > 0 ? { time: map.time[cell], energy: map.energy[cell], section: map.section[cell] } : null;
  };
  const read = (x, y) => {
    const near = flags.find((flag) => Math.hypot(flag.x - x, flag.y - y) < 16);
    if (near) return choose(near.k);
    if (!view) return;
    const scale = work.width / size[0];
    const found = view.pick(camera, state, x * scale, y * scale);
    draw();
    if (!found) return;
    const section = wall.section(found.s);
    const burned = burnedHere(found);
    const words = [`at ${section.at.toFixed(1)} mm, turn ${((found.turn * 180) / Math.PI).toFixed(1)}°, ⌀ ${(2 * section.r).toFixed(1)} mm`];
    if (burned) {
      if (!data.customer) {
        words.push(`energy ${((burned.energy / 255) * data.map.top).toPrecision(3)}`);
        words.push(`burned at ${clockText(((burned.time - 1) / 65534) * data.duration)}${data.sections.length > 1 ? ` in ${data.sections[burned.section]}` : ""}`);
      } else words.push("engraved");
    } else words.push("not burned here");
    put("readout", words.join("; "));
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
  const row = (list, k, inside, press) => {
    const item = document.createElement("li"), button = document.createElement("button");
    button.type = "button";
    button.dataset.k = String(k);
    button.setAttribute("aria-pressed", "false");
    button.append(...inside);
    button.addEventListener("click", () => press(k));
    item.append(button);
    list.append(item);
    return item;
  };
  const words = (text, name) => { const span = document.createElement("span"); span.textContent = text; if (name) span.className = name; return span; };
  const drop = (...ids) => { for (const id of ids) by(id)?.remove(); };
  if (data.customer) drop("findings", "sections", "figures", "cautions", "time-controls", "scale");
  else {
    drop("signing");
    put("findings-title", data.findings_title);
    const list = document.querySelector("#findings ol");
    data.findings.forEach((finding, k) => {
      const item = row(list, k, [words(String(k + 1), "flag"), words(`${finding.severity}: ${finding.message}`)], choose);
      item.className = finding.severity;
    });
    if (data.sections.length > 1) {
      const sections = document.querySelector("#sections ul");
      data.sections.forEach((name, k) => row(sections, k, [words(name || "(before the first name)")], pickSection));
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
    const paint = by("ramp").getContext("2d"), strip = paint.createImageData(256, 1);
    for (let k = 0; k < 256; k++) strip.data.set([ramp[3 * k], ramp[3 * k + 1], ramp[3 * k + 2], 255], 4 * k);
    paint.putImageData(strip, 0, 0);
  }
  if (!view) {
    by("notice").hidden = false;
    put("notice", "This browser cannot draw in three dimensions here (no WebGL 2). The sheet as SVG or PNG (-o proof.svg) shows the piece.");
  }

  // Presses and keys.
  by("turned").addEventListener("click", () => unroll(false));
  by("unrolled").addEventListener("click", () => unroll(true));
  for (const button of document.querySelectorAll("[data-facing]")) {
    button.addEventListener("click", () => { if (state.unrolled) unroll(false); animate({ facing: (Number(button.dataset.facing) * Math.PI) / 180, shift: state.shift }); });
  }
  by("closer").addEventListener("click", () => zoomBy(1.4));
  by("farther").addEventListener("click", () => zoomBy(1 / 1.4));
  by("whole").addEventListener("click", whole);
  by("turn").addEventListener("input", (event) => turnTo((Number(event.target.value) * Math.PI) / 180));
  by("play")?.addEventListener("click", play);
  by("time")?.addEventListener("input", (event) => { state.playing = false; state.time = (Number(event.target.value) / TIME_STEPS) * data.duration; redraw(); });
  by("travels")?.addEventListener("change", (event) => { state.travels = event.target.checked; redraw(); });

  const KEYS = {
    ArrowLeft: (shift) => (shift ? shiftBy(0.05, 0) : dragBy(-24, 0)), ArrowRight: (shift) => (shift ? shiftBy(-0.05, 0) : dragBy(24, 0)),
    ArrowUp: (shift) => (shift ? shiftBy(0, -0.05) : dragBy(0, -12)), ArrowDown: (shift) => (shift ? shiftBy(0, 0.05) : dragBy(0, 12)),
    "+": () => zoomBy(1.25), "=": () => zoomBy(1.25), "-": () => zoomBy(0.8), "0": whole, u: () => unroll(!state.unrolled), U: () => unroll(!state.unrolled), " ": play,
  };
  work.addEventListener("keydown", (event) => {
    const key = KEYS[event.key];
    if (!key || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    key(event.shiftKey);
  });

  const down = new Map();
  let moved = 0;
  work.addEventListener("pointerdown", (event) => {
    work.setPointerCapture(event.pointerId);
    if (down.size === 0) moved = 0;
    down.set(event.pointerId, [event.offsetX, event.offsetY]);
  });
  work.addEventListener("pointermove", (event) => {
    const last = down.get(event.pointerId);
    if (!last) return;
    const [dx, dy] = [event.offsetX - last[0], event.offsetY - last[1]];
    moved += Math.abs(dx) + Math.abs(dy);
    if (down.size === 2) {
      const other = [...down.entries()].find(([id]) => id !== event.pointerId)[1];
      const apart = (point) => Math.max(1, Math.hypot(point[0] - other[0], point[1] - other[1]));
      zoomBy(apart([event.offsetX, event.offsetY]) / apart(last));
      shiftBy(dx / 2 / size[1], -dy / 2 / size[1]);
    } else if (event.shiftKey || event.buttons === 4) shiftBy(dx / size[1], -dy / size[1]);
    else dragBy(dx, dy);
    down.set(event.pointerId, [event.offsetX, event.offsetY]);
  });
  const up = (event) => {
    if (down.delete(event.pointerId) && event.type === "pointerup" && moved < 5) read(event.offsetX, event.offsetY);
  };
  work.addEventListener("pointerup", up);
  work.addEventListener("pointercancel", up);
  work.addEventListener("wheel", (event) => { event.preventDefault(); zoomBy(Math.exp(-event.deltaY * 0.0015)); }, { passive: false });
  new ResizeObserver(redraw).observe(work);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { readColours(); redraw(); });

  readColours();
  draw();
  document.body.dataset.ready = "yes";
}

start().catch((error) => {
  const notice = document.getElementById("notice");
  notice.hidden = false;
  notice.textContent = `The proof could not be drawn: ${error.message}. The sheet as SVG or PNG (-o proof.svg) shows the piece.`;
  document.body.dataset.ready = "failed";
});
