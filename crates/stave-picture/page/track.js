// Where the beam is, and when.

/** The stretch that holds a time: the index of the point it ends at. */
export function stretchAt(track, time) {
  let low = 0,
    high = track.count - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (track.time[middle] < time) low = middle + 1;
    else high = middle;
  }
  return low;
}

/**
 * The beam at a time: place, what it does (0 travels, 1 burns, 2 runs up), and in which section.
 */
export function beamAt(track, time) {
  if (track.count === 0) return null;
  const end = stretchAt(track, time);
  const start = Math.max(0, end - 1);
  const span = track.time[end] - track.time[start];
  const f = span > 0 ? Math.min(1, Math.max(0, (time - track.time[start]) / span)) : 1;
  const mix = (list) => list[start] + f * (list[end] - list[start]);
  const still = time >= track.time[track.count - 1];
  return {
    s: mix(track.s),
    turn: mix(track.turn),
    kind: still ? 0 : track.kind[end],
    section: track.section[end],
    done: still,
    end,
  };
}

/** What the beam does, by its kind; a program that burns nothing has nothing to run up to. */
export function doingWords({ kind, done }, burnsAny) {
  if (done) return "○ travelling";
  return ["○ travelling", "● burning", burnsAny ? "○ running up" : "○ walking"][kind];
}

/** A time for people. */
export function clockText(seconds) {
  const whole = Math.round(seconds);
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  const two = (n) => String(n).padStart(2, "0");
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`;
}
