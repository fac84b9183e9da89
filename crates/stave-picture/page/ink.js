// What of the map shows at a time: pixels that are kept and changed by little.

/** How strongly a part that was not picked still shows, 0 to 255. */
const FAINT = 46;
/**
 * What is burned and not meant, vermillion; what is meant and not burned, sky blue (Okabe and Ito).
 */
export const DIFFERENT = [213, 94, 0, 86, 180, 233];

/**
 * The burned cells in order of time, and a picture of them: `pixels` is RGBA with colours
 * premultiplied. `show(time, picked)` brings the picture to a time (1 to 65535) and, where `picked`
 * is not null, to one section; it returns the rows that changed as [from, to), or null for none.
 */
export function makeInk(map, ramp) {
  const cells = map.columns * map.rows;
  const counts = new Uint32Array(65537);
  for (let i = 0; i < cells; i++) counts[map.time[i] + 1]++;
  const never = counts[1];
  // Where in the order each time begins; time 0, never, is left out.
  const begin = new Uint32Array(65537);
  for (let t = 1, sum = 0; t < 65536; t++) {
    begin[t] = sum;
    sum += counts[t + 1];
    begin[t + 1] = sum;
  }
  const order = new Uint32Array(cells - never);
  const next = begin.slice();
  for (let i = 0; i < cells; i++) if (map.time[i] > 0) order[next[map.time[i]]++] = i;
  const pixels = new Uint8Array(4 * cells);
  let shown = 0,
    pickedNow = null;

  const set = (cell, alpha) => {
    const different = map.different?.[cell],
      at = 4 * cell;
    const [colours, colour] = different
      ? [DIFFERENT, 3 * (different - 1)]
      : [ramp, 3 * map.energy[cell]];
    pixels[at] = (colours[colour] * alpha) / 255;
    pixels[at + 1] = (colours[colour + 1] * alpha) / 255;
    pixels[at + 2] = (colours[colour + 2] * alpha) / 255;
    pixels[at + 3] = alpha;
  };
  const alphaOf = (cell) => (pickedNow === null || map.section[cell] === pickedNow ? 255 : FAINT);

  const show = (time, picked) => {
    if (picked !== pickedNow) {
      pickedNow = picked;
      for (let k = 0; k < shown; k++) set(order[k], alphaOf(order[k]));
      show(time, picked);
      return [0, map.rows];
    }
    const target = begin[Math.min(65535, Math.max(0, Math.floor(time))) + 1];
    if (target === shown) return null;
    let low = cells,
      high = 0;
    const touch = (cell) => {
      if (cell < low) low = cell;
      if (cell > high) high = cell;
    };
    for (let k = shown; k < target; k++) {
      set(order[k], alphaOf(order[k]));
      touch(order[k]);
    }
    for (let k = target; k < shown; k++) {
      pixels.fill(0, 4 * order[k], 4 * order[k] + 4);
      touch(order[k]);
    }
    shown = target;
    return [Math.floor(low / map.columns), Math.floor(high / map.columns) + 1];
  };
  return { pixels, show, burned: order.length };
}
