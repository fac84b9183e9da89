// The colours of what is drawn over and around the piece.

/** Those that the page has now, by day or by night. */
export function coloursNow() {
  const style = getComputedStyle(document.documentElement);
  const of = (name) => style.getPropertyValue(name).trim();
  const stage = of("--stage");
  const part = (k) => parseInt(stage.slice(1 + 2 * k, 3 + 2 * k), 16) / 255;
  return { ink: of("--ink"), soft: of("--soft"), stage, ground: [part(0), part(1), part(2)] };
}

/** Those of paper. */
export const ON_PAPER = { ink: "#1c1c1a", soft: "#5f5f5a", stage: "#ffffff", ground: [1, 1, 1] };
