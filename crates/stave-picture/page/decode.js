// From the page's data to arrays. Nothing is fetched.

/** Bytes from base64. */
export function bytesOf(text) {
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
  return bytes;
}

/**
 * The rows of a grey PNG of eight bits without filters: its chunks are walked, its data inflated by
 * the browser.
 */
export async function greyOf(png) {
  const view = new DataView(png.buffer, png.byteOffset, png.byteLength);
  const parts = [];
  let width = 0,
    height = 0;
  for (let at = 8; at + 12 <= png.length;) {
    const length = view.getUint32(at),
      kind = String.fromCharCode(...png.subarray(at + 4, at + 8));
    if (kind === "IHDR") [width, height] = [view.getUint32(at + 8), view.getUint32(at + 12)];
    if (kind === "IDAT") parts.push(png.subarray(at + 8, at + 8 + length));
    at += 12 + length;
  }
  const stream = new Blob(parts).stream().pipeThrough(new DecompressionStream("deflate"));
  const packed = new Uint8Array(await new Response(stream).arrayBuffer());
  const grey = new Uint8Array(width * height);
  for (let row = 0; row < height; row++) {
    const from = row * (width + 1);
    if (packed[from] !== 0) throw new Error("a filtered row");
    grey.set(packed.subarray(from + 1, from + 1 + width), row * width);
  }
  return { width, height, grey };
}

/**
 * The map: energy (0 none, 255 the most), first time (0 never, else 1 to 65535) and section of
 * every cell, rows from s = 0; `different`, where two programs are compared: 1 what only the one
 * burns, 2 what only the other does, else 0.
 */
export async function mapOf(data) {
  const { width, height, grey } = await greyOf(bytesOf(data.png));
  const rows = height / (data.compared ? 5 : 4),
    cells = width * rows;
  const time = new Uint16Array(cells);
  for (let i = 0; i < cells; i++) time[i] = (grey[cells + i] << 8) | grey[2 * cells + i];
  return {
    columns: width,
    rows,
    energy: grey.subarray(0, cells),
    time,
    section: grey.subarray(3 * cells, 4 * cells),
    different: data.compared ? grey.subarray(4 * cells) : null,
  };
}

/**
 * Reads lists of numbers one after the other, each into the array it is given, in steps. They come
 * as differences, seven bits a byte, in a grey picture.
 */
export async function planesOf(text) {
  const { grey } = await greyOf(bytesOf(text));
  let at = 0;
  return (made, step = 1) => {
    let value = 0;
    for (let i = 0; i < made.length; i++) {
      let rest = 0,
        scale = 1,
        byte;
      do {
        byte = grey[at++];
        rest += (byte & 127) * scale;
        scale *= 128;
      } while (byte & 128);
      value += rest % 2 ? -(rest + 1) / 2 : rest / 2;
      made[i] = value * step;
    }
    return made;
  };
}

/**
 * The way of the beam: arrays of s (mm), turn (rad), time (s), kind (0 travels, 1 burns, 2 runs
 * up), section; one entry a point.
 */
export async function trackOf(data) {
  const plane = await planesOf(data.bytes);
  const { count, steps } = data;
  const [s, turn, time] = steps.map((step) => plane(new Float64Array(count), step));
  const [kind, section] = [plane(new Uint8Array(count)), plane(new Uint8Array(count))];
  return { s, turn, time, kind, section, count };
}
