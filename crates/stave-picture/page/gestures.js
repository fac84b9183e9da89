// Fingers, mouse and keys on the picture, as what they mean.

/**
 * Listens on a canvas and calls `act`: drag(dx, dy) and shift(dx, dy) in pixels, zoom(factor),
 * press(x, y), and for keys the functions of `keys` by name of the key, told whether Shift is down.
 */
export function listen(canvas, act, keys) {
  canvas.addEventListener("keydown", (event) => {
    const key = keys[event.key] ?? keys[event.key.toLowerCase()];
    if (!key || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    key(event.shiftKey);
  });
  const down = new Map();
  let moved = 0;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    if (down.size === 0) moved = 0;
    down.set(event.pointerId, [event.offsetX, event.offsetY]);
  });
  canvas.addEventListener("pointermove", (event) => {
    const last = down.get(event.pointerId);
    if (!last) return;
    const here = [event.offsetX, event.offsetY],
      [dx, dy] = [here[0] - last[0], here[1] - last[1]];
    moved += Math.abs(dx) + Math.abs(dy);
    if (down.size === 2) {
      const other = [...down.entries()].find(([id]) => id !== event.pointerId)[1];
      const apart = (point) => Math.max(1, Math.hypot(point[0] - other[0], point[1] - other[1]));
      act.zoom(apart(here) / apart(last));
      act.shift(dx / 2, dy / 2);
    } else if (event.shiftKey || event.buttons === 4) act.shift(dx, dy);
    else act.drag(dx, dy);
    down.set(event.pointerId, here);
  });
  const up = (event) => {
    const pressed = down.delete(event.pointerId) && event.type === "pointerup" && moved < 5;
    if (pressed) act.press(event.offsetX, event.offsetY);
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      act.zoom(Math.exp(-event.deltaY * 0.0015));
    },
    { passive: false },
  );
}
