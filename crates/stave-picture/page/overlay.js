// What is drawn above the piece: flags of findings, names of zones and stations, the beam, measures.

import { roundLength } from "./measure.js";

const clipName = (text) => (text.length > 24 ? text.slice(0, 23) + "…" : text);

/** Draws all; returns where the flags lie, for pressing on them. Sizes in CSS pixels. */
export function drawOverlay(context, size, wall, data, camera, state, beam, colours) {
  context.clearRect(0, 0, size[0], size[1]);
  context.font = "12px system-ui, sans-serif";
  context.textBaseline = "middle";
  const at = (s, turn, rise = 0) => {
    const section = wall.section(s);
    return camera.project(section.at, section.r + rise, s, turn);
  };
  if (!data.customer) {
    if (state.unrolled) stations(context, wall, data, camera, colours);
    for (const zone of data.zones) {
      const turn = foldedTurn(0.5 * (zone.turn[0] + zone.turn[1]));
      const point = at(0.5 * (zone.s[0] + zone.s[1]), turn, zone.rise);
      if (point.front) label(context, clipName(zone.name), point.x, point.y, size, colours);
    }
  }
  if (state.ends.length > 0) drawMeasure(context, at, state, colours);
  if (state.read && !state.measuring)
    cross(context, at(state.read.s, foldedTurn(state.read.turn)), colours);
  scaleBar(context, size, wall, camera, colours);
  if (beam && !beam.done)
    drawBeam(
      context,
      at(beam.s, state.unrolled ? foldedTurn(beam.turn) : beam.turn, 0.5),
      beam,
      colours,
    );
  const flags = [];
  data.findings.forEach((finding, k) => {
    if (finding.s === null) return;
    const point = at(finding.s, foldedTurn(finding.turn));
    const chosen = state.finding === k;
    if (!point.front) return;
    flag(context, point, k + 1, finding.severity === "error", chosen, colours);
    flags.push({ k, x: point.x, y: point.y });
  });
  return flags;
}

function foldedTurn(turn) {
  return turn - 2 * Math.PI * Math.floor((turn + Math.PI) / (2 * Math.PI));
}

function label(context, text, x, y, size, colours) {
  // Kept on the picture.
  const half = 0.5 * context.measureText(text).width + 4;
  x = Math.max(half, Math.min(size[0] - half, x));
  context.textAlign = "center";
  context.lineWidth = 3;
  context.strokeStyle = "#f3f2ee";
  context.strokeText(text, x, y);
  context.fillStyle = "#8a3400";
  context.fillText(text, x, y);
  context.fillStyle = colours.ink;
}

function stations(context, wall, data, camera, colours) {
  context.fillStyle = colours.soft;
  let last = -Infinity;
  for (const [turn, text] of [
    [-Math.PI, "-180°"],
    [-Math.PI / 2, "-90°"],
    [0, "turn 0°"],
    [Math.PI / 2, "90°"],
    [Math.PI, "180°"],
  ]) {
    // Beneath the picture, or left of it where the piece lies.
    const end = data.stands === "inverted" ? wall.length : 0;
    const { x, y } = camera.project(0, wall.section(end).r, end, turn);
    context.textAlign = camera.lying ? "right" : "center";
    context.fillText(text, x - (camera.lying ? 6 : 0), y + (camera.lying ? 0 : 12));
  }
  context.textAlign = camera.lying ? "center" : "left";
  const places = data.stations.map((station) => {
    const right = camera.project(
      station.at,
      station.diameter / 2,
      station.s,
      data.stands === "upright" ? -Math.PI : Math.PI,
    );
    return { ...right, text: `at ${station.at_text} ⌀${station.diameter_text}` };
  });
  places.sort((a, b) => (camera.lying ? a.x - b.x : a.y - b.y));
  for (const place of places) {
    const along = camera.lying ? place.x : place.y;
    if (along - last < (camera.lying ? 110 : 14)) continue;
    last = along;
    // Kept on the picture, even where that is narrow.
    const wide = context.measureText(place.text).width;
    if (camera.lying)
      context.fillText(
        place.text,
        Math.max(0.5 * wide + 2, Math.min(place.x, context.canvas.clientWidth - 0.5 * wide - 2)),
        place.y - 12,
      );
    else
      context.fillText(
        place.text,
        Math.min(place.x + 6, context.canvas.clientWidth - wide - 2),
        place.y,
      );
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

/** A bar of round length at the lower left, true at the crest that faces the viewer; everywhere, unrolled. */
function scaleBar(context, size, wall, camera, colours) {
  const near = camera.eye / (camera.eye - (camera.unrolled ? 0 : wall.largest));
  const pixels = (near * size[1]) / (2 * camera.half);
  const length = roundLength(Math.min(140, 0.3 * size[0]) / pixels),
    right = 12 + length * pixels,
    y = size[1] - 12;
  context.strokeStyle = colours.ink;
  context.lineWidth = 1.5;
  context.beginPath();
  context.moveTo(12, y - 5);
  context.lineTo(12, y);
  context.lineTo(right, y);
  context.lineTo(right, y - 5);
  context.stroke();
  context.fillStyle = colours.ink;
  context.textAlign = "left";
  context.fillText(`${length} mm`, 16, y - 9);
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

function flag(context, point, number, error, chosen, colours) {
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
