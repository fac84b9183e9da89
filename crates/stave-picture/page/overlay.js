// What is drawn above the piece: flags of findings, names of zones and stations, the beam,
// measures.

import { bareOn } from "./bare.js";
import { lengthText, roundBar, whereTrue } from "./measure.js";

const clipName = (text) => (text.length > 24 ? text.slice(0, 23) + "…" : text);

/**
 * Half the height of a line of words, and of a flag, and what is kept clear around words, CSS
 * pixels.
 */
const HALF = 7,
  FLAG = 10,
  CLEAR = 2;
/** Names of zones, and their ground: they stand over the ware, which is light by day and night. */
const ZONE_NAME = { ink: "#8a3400", ground: "#f3f2ec" };
/** Names of flat places. */
const FACET_INK = "#5a3d8a";

/**
 * Words that keep apart and on the picture. `put` writes a text at the first of its places that is
 * free and that `fits`, with an edge of the ground's colour, or on a ground of its own, and returns
 * its box; `words` are the boxes that are taken.
 */
function makeWords(context, size, colours) {
  const words = [];
  const meets = (a, b) =>
    a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  const free = (box) =>
    box.left >= 0 &&
    box.right <= size[0] &&
    box.top >= 0 &&
    box.bottom <= size[1] &&
    !words.some((taken) => meets(box, taken));
  const take = (box) => words.push(box);
  const put = (text, places, ink, ground, fits = () => true) => {
    const wide = context.measureText(text).width;
    for (const { x, y, align = "center" } of places) {
      // Kept on the picture, even where that is narrow.
      const from = x - wide * { left: 0, center: 0.5, right: 1 }[align];
      const left = Math.max(CLEAR, Math.min(size[0] - CLEAR - wide, from));
      const box = {
        text,
        left: left - CLEAR,
        right: left + wide + CLEAR,
        top: y - HALF,
        bottom: y + HALF,
      };
      if (!free(box) || !fits(box)) continue;
      take(box);
      context.textAlign = "left";
      if (ground) {
        context.fillStyle = ground;
        context.fillRect(box.left, box.top, box.right - box.left, box.bottom - box.top);
      } else {
        context.lineWidth = 3;
        context.strokeStyle = colours.stage;
        context.strokeText(text, left, y);
      }
      context.fillStyle = ink;
      context.fillText(text, left, y);
      return box;
    }
    return null;
  };
  return { put, take, free, words };
}

/**
 * Draws all; returns where the flags lie, for pressing on them, and the boxes of all words. Sizes
 * in CSS pixels. What must be there has its place first: the scale, the flags; names go around
 * them.
 */
export function drawOverlay(context, size, wall, data, camera, state, beam, colours, burned) {
  context.clearRect(0, 0, size[0], size[1]);
  context.font = "12px system-ui, sans-serif";
  context.textBaseline = "middle";
  const words = makeWords(context, size, colours);
  const at = (s, turn, rise = 0) => {
    const section = wall.section(s);
    return camera.project(section.at, section.r + rise, s, turn);
  };
  scaleBar(context, size, wall, camera, colours, words);
  const flags = [];
  data.findings.forEach((finding, k) => {
    if (finding.s === null) return;
    const point = at(finding.s, foldedTurn(finding.turn));
    if (!point.front) return;
    const { x, y } = beside(point, words);
    words.take({
      text: String(k + 1),
      left: x - FLAG,
      right: x + FLAG,
      top: y - FLAG,
      bottom: y + FLAG,
    });
    flags.push({ k, x, y });
  });
  if (!data.customer) {
    if (state.unrolled) stations(wall, data, { camera, size }, colours, words);
    const bare = state.unrolled && burned ? bareOn(camera, wall, burned) : () => true;
    for (const zone of [...data.zones, ...data.facets]) {
      const turn = foldedTurn(0.5 * (zone.turn[0] + zone.turn[1]));
      const point = at(0.5 * (zone.s[0] + zone.s[1]), turn, zone.rise ?? 0);
      const ink = data.facets.includes(zone) ? FACET_INK : ZONE_NAME.ink;
      // Off the picture it would be drawn at the edge, where it is not.
      const seen = point.front && point.x >= 0 && point.x <= size[0];
      if (seen) zoneName(context, point, clipName(zone.name), ink, words, bare);
    }
  }
  if (state.ends.length > 0) drawMeasure(context, at, state, colours);
  if (state.read && !state.measuring)
    cross(context, at(state.read.s, foldedTurn(state.read.turn)), colours);
  if (beam && !beam.done)
    drawBeam(
      context,
      at(beam.s, state.unrolled ? foldedTurn(beam.turn) : beam.turn, 0.5),
      beam,
      colours,
    );
  for (const one of flags) {
    const error = data.findings[one.k].severity === "error";
    flag(context, one, one.k + 1, error, state.finding === one.k);
  }
  return { flags, words: words.words };
}

/**
 * Where a flag is free of others: at its place, or beside it; at its place where it is free
 * nowhere.
 */
function beside({ x, y }, words) {
  const away = 2 * FLAG + 1;
  for (const [right, down] of [
    [0, 0],
    [1, 0],
    [-1, 0],
    [0, 1],
    [0, -1],
    [1, 1],
    [-1, -1],
    [2, 0],
    [-2, 0],
  ]) {
    const place = { x: x + right * away, y: y + down * away };
    const box = {
      left: place.x - FLAG,
      right: place.x + FLAG,
      top: place.y - FLAG,
      bottom: place.y + FLAG,
    };
    if (words.free(box)) return place;
  }
  return { x, y };
}

/**
 * A zone's name at its place, else at the nearest that is bare, with a line to it; over what burns
 * where nothing is bare.
 */
function zoneName(context, { x, y }, text, ink, words, bare) {
  const near = [0, 16, -16, 32, -32].map((down) => ({ x, y: y + down }));
  // What is farther off is led to.
  if (words.put(text, near.slice(0, 3), ink, ZONE_NAME.ground, bare)) return;
  const rings = Array.from({ length: 12 }, (_, k) => 28 + 12 * k);
  const away = rings.flatMap((far) =>
    Array.from({ length: 16 }, (_, k) => {
      const angle = (k * Math.PI) / 8;
      return { x: x + far * Math.cos(angle), y: y + far * Math.sin(angle) };
    }),
  );
  const box = words.put(text, away, ink, ZONE_NAME.ground, bare);
  if (!box) {
    words.put(text, near, ink, ZONE_NAME.ground);
    return;
  }
  const from = {
    x: Math.max(box.left, Math.min(box.right, x)),
    y: Math.max(box.top, Math.min(box.bottom, y)),
  };
  // With a light edge, so that it shows on dark art.
  for (const [style, width] of [
    [ZONE_NAME.ground, 3.5],
    [ink, 1.2],
  ]) {
    context.beginPath();
    context.moveTo(from.x, from.y);
    context.lineTo(x, y);
    [context.strokeStyle, context.lineWidth] = [style, width];
    context.stroke();
  }
  context.beginPath();
  context.arc(x, y, 2.5, 0, 2 * Math.PI);
  context.fillStyle = ink;
  context.fill();
}

/** The zone that a place lies in, if it lies in one. */
export function zoneAt(zones, { s, turn }) {
  const full = 2 * Math.PI;
  const within = (zone) =>
    (((turn - zone.turn[0]) % full) + full) % full <= zone.turn[1] - zone.turn[0];
  return zones.find((zone) => s >= zone.s[0] && s <= zone.s[1] && within(zone)) ?? null;
}

function foldedTurn(turn) {
  return turn - 2 * Math.PI * Math.floor((turn + Math.PI) / (2 * Math.PI));
}

function stations(wall, data, { camera, size }, colours, words) {
  const half = Math.PI * wall.around;
  const across = [0, -Math.PI, Math.PI].map((turn) => [
    turn,
    lengthText((turn / Math.PI) * half),
  ]);
  const turns = [
    [0, "turn 0°"],
    [-Math.PI, "-180°"],
    [Math.PI, "180°"],
    [-Math.PI / 2, "-90°"],
    [Math.PI / 2, "90°"],
  ];
  const on = (at, room) => at >= 0 && at <= room;
  for (const [turn, text] of data.plane ? across : turns) {
    // Beneath the picture, or left of it where the piece lies; where its line is seen alone.
    const end = data.stands === "inverted" ? wall.length : 0;
    const { x, y } = camera.project(0, wall.section(end).r, end, turn);
    if (!(camera.lying ? on(y, size[1]) : on(x, size[0]))) continue;
    const down = (by) => ({ x, y: Math.max(HALF, Math.min(size[1] - HALF, y + by)) });
    const left = [8, 22, 36].map((up) => ({ x: x - 6, y: y - up + 8, align: "right" }));
    const places = camera.lying ? left : [down(2 * HALF + 1), down(4 * HALF)];
    words.put(text, places, colours.soft);
  }
  const side = data.stands === "upright" ? -Math.PI : Math.PI;
  const places = data.stations.map((station) => ({
    ...camera.project(station.at, station.diameter / 2, station.s, side),
    text: `at ${station.at_text}${station.diameter_text ? ` ⌀${station.diameter_text}` : ""}`,
  }));
  // The ends first: they are always told.
  const order = [0, places.length - 1, ...places.keys()].filter(
    (k, n, all) => all.indexOf(k) === n,
  );
  for (const k of order) {
    const { x, y, text } = places[k];
    if (!(camera.lying ? on(x, size[0]) : on(y, size[1]))) continue;
    const above = [-12, -26, -40].map((up) => ({ x, y: y + up }));
    words.put(text, camera.lying ? above : [{ x: x + 6, y, align: "left" }], colours.soft);
  }
}

/** A line with a light edge, so that it shows on any ground. */
function line(context, points, colours) {
  for (const [style, width] of [
    ["#ffffff", 5],
    ["#0b5cad", 2],
  ]) {
    context.beginPath();
    points.forEach((point, k) =>
      k > 0 ? context.lineTo(point.x, point.y) : context.moveTo(point.x, point.y),
    );
    context.lineWidth = width;
    context.strokeStyle = style;
    context.stroke();
  }
}

function cross(context, { x, y, front }, colours) {
  if (!front) return;
  line(
    context,
    [
      { x: x - 7, y },
      { x: x + 7, y },
    ],
    colours,
  );
  line(
    context,
    [
      { x, y: y - 7 },
      { x, y: y + 7 },
    ],
    colours,
  );
}

/** The way between two places, as far as it is turned to the viewer, with crosses at its ends. */
function drawMeasure(context, at, state, colours) {
  if (state.way) {
    let run = [],
      before = null;
    const end = () => {
      if (run.length > 1) line(context, run, colours);
      run = [];
    };
    for (const { s, turn } of state.way.points) {
      const folded = foldedTurn(turn),
        point = at(s, folded);
      // Unrolled, the way leaves by one edge and comes back by the other.
      if (
        !point.front ||
        (state.unrolled && before !== null && Math.abs(folded - before) > Math.PI)
      )
        end();
      if (point.front) run.push(point);
      before = folded;
    }
    end();
  }
  for (const place of state.ends) cross(context, at(place.s, foldedTurn(place.turn)), colours);
}

/**
 * A bar of round length at the lower left, true at the crest that faces the viewer; unrolled, along
 * the wall everywhere, and around where it says.
 */
function scaleBar(context, size, wall, camera, colours, words) {
  const near = camera.eye / (camera.eye - (camera.unrolled ? 0 : wall.largest));
  const pixels = (near * size[1]) / (2 * camera.half);
  const length = roundBar(Math.min(140, 0.3 * size[0]) / pixels),
    right = 12 + length.mm * pixels,
    y = size[1] - 12;
  context.beginPath();
  context.moveTo(12, y - 5);
  context.lineTo(12, y);
  context.lineTo(right, y);
  context.lineTo(right, y - 5);
  // With an edge of the ground's colour, so that it shows over what is burned too.
  for (const [style, width] of [
    [colours.stage, 4.5],
    [colours.ink, 1.5],
  ]) {
    [context.strokeStyle, context.lineWidth] = [style, width];
    context.stroke();
  }
  const where = camera.unrolled ? whereTrue(wall) : "";
  words.put(length.text + where, [{ x: 16, y: y - 9, align: "left" }], colours.ink);
  words.take({ text: "", left: 12, right, top: y - 1, bottom: y + 1 });
}

function drawBeam(context, point, beam, colours) {
  context.beginPath();
  context.arc(point.x, point.y, 6, 0, 2 * Math.PI);
  context.lineWidth = 2.5;
  context.globalAlpha = point.front ? 1 : 0.35;
  // A full disc burns, a ring travels: told apart without colour.
  context.strokeStyle = "#ffffff";
  context.lineWidth = 5;
  context.stroke();
  context.lineWidth = 2.5;
  const burning = beam.kind === 1;
  context.strokeStyle = burning ? "#c03000" : beam.kind === 2 ? "#8a3f8a" : "#007085";
  if (burning) {
    context.fillStyle = "#c03000";
    context.fill();
  }
  context.stroke();
  context.globalAlpha = 1;
}

function flag(context, point, number, error, chosen) {
  if (chosen) {
    context.beginPath();
    context.arc(point.x, point.y, 19, 0, 2 * Math.PI);
    context.lineWidth = 4;
    context.strokeStyle = "#ffffff";
    context.stroke();
    context.lineWidth = 2.5;
    context.strokeStyle = "#0b5cad";
    context.stroke();
  }
  context.beginPath();
  context.arc(point.x, point.y, 10, 0, 2 * Math.PI);
  context.fillStyle = error ? "#1c1c1a" : "#ffffff";
  context.fill();
  context.lineWidth = 1.5;
  context.strokeStyle = error ? "#ffffff" : "#1c1c1a";
  context.stroke();
  context.fillStyle = error ? "#ffffff" : "#1c1c1a";
  context.textAlign = "center";
  context.font = "bold 12px system-ui, sans-serif";
  context.fillText(String(number), point.x, point.y + 0.5);
  context.font = "12px system-ui, sans-serif";
}
