// How finely the picture is drawn while it moves.

/**
 * A picture that takes longer than this on the mean, ms, is drawn coarser while it moves: by this
 * share of the pixels a side.
 */
const SLOW_MS = 20,
  COARSE = 0.34;

/**
 * The share of the pixels a side with which the picture of a time, ms, is to be drawn: coarser
 * while it moves and drawing it takes too long. Once it rests `rested` is called, and it is fine
 * again.
 */
export function makeCoarseness(rested) {
  let drawnAt = 0,
    apartMean = 0,
    rest = 0,
    coarse = 1;
  return (now) => {
    const apart = now - drawnAt;
    drawnAt = now;
    clearTimeout(rest);
    if (apart > 120) {
      apartMean = 0;
      coarse = 1;
      return coarse;
    }
    apartMean = apartMean ? 0.8 * apartMean + 0.2 * apart : apart;
    if (coarse === 1 && apartMean < SLOW_MS) return coarse;
    rest = setTimeout(() => {
      coarse = 1;
      drawnAt = 0;
      rested();
    }, 160);
    if (apartMean > SLOW_MS) coarse = COARSE;
    return coarse;
  };
}
