// All of the art at once, for the customer: the wall unrolled, on a canvas of its own.

import { makeCamera } from "./geometry.js";
import { lengthText, roundBar, whereTrue } from "./measure.js";

/** Draws it once, by way of the canvas of the piece: draw that again after it. */
export function drawFlat({ by, put }, { wall, data, state, view, ink, work }, ground) {
  const flat = by("flat-work");
  if (!flat || !view) return;
  const [w, h] =
    data.stands === "lying"
      ? [wall.length, 2 * Math.PI * wall.around]
      : [2 * Math.PI * wall.around, wall.length];
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
  view.render(seen, all, ground, 65535, null);
  flat.getContext("2d").drawImage(work, 0, 0);
  const bar = roundBar(0.4 * w);
  by("flat-bar").style.width = `${(100 * bar.mm) / w}%`;
  put("flat-mm", bar.text + whereTrue(wall));
  put("flat-size", flatWords(wall, data));
}

/** How large the unrolled wall is, and where it is true. */
export function flatWords(wall, { plane, map }) {
  const [around, along] = [lengthText(2 * Math.PI * wall.around), lengthText(wall.length)];
  if (plane) return `The flat place from above: ${around} wide, ${along} along.`;
  if (wall.straight) return `All around, unrolled: ${around} around, ${along} along the wall.`;
  const where = map.top > 0 ? "amid the engraving" : "where it is widest";
  return (
    `All around, unrolled, and true to size where it is ${lengthText(2 * wall.around)} across, ` +
    `${where}: ${around} around there, ${along} along the wall.`
  );
}
