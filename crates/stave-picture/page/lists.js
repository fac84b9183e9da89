// The lists beside the picture, and what equal parts of the program have in common.

/** What stands for a part without a name. */
const UNNAMED = "(before the first name)";

/**
 * The parts of the program, equal ones as one: names that differ by a count alone ("stroke 3 of
 * 19") are equal. `group` holds the number of the part's group for every part.
 */
export function groupsOf(sections) {
  const names = [],
    counts = [],
    group = [];
  for (const section of sections) {
    const name = section.replace(/ \d+ of \d+$/, "") || UNNAMED;
    let k = names.indexOf(name);
    if (k < 0) {
      k = names.push(name) - 1;
      counts.push(0);
    }
    counts[k]++;
    group.push(k);
  }
  return { names, counts, group };
}

/** The middle of what burned of each group: a place {s, turn} or null. */
export function middles(track, group, count) {
  const sums = Array.from({ length: count }, () => ({ weight: 0, s: 0, x: 0, y: 0 }));
  for (let k = 1; k < track.count; k++) {
    if (track.kind[k] !== 1) continue;
    const sum = sums[group[track.section[k]]];
    if (!sum) continue;
    const weight = Math.max(1e-6, track.time[k] - track.time[k - 1]),
      turn = 0.5 * (track.turn[k] + track.turn[k - 1]);
    sum.weight += weight;
    sum.s += 0.5 * weight * (track.s[k] + track.s[k - 1]);
    sum.x += weight * Math.cos(turn);
    sum.y += weight * Math.sin(turn);
  }
  return sums.map((sum) =>
    sum.weight > 0 ? { s: sum.s / sum.weight, turn: Math.atan2(sum.y, sum.x) } : null,
  );
}

/**
 * The groups that are rows of the list: where nothing burns before the first name, there is no row
 * for that.
 */
export function shownRows({ names }, places) {
  return [...names.keys()].filter((k) => names[k] !== UNNAMED || places[k]);
}

/** A name that is read from the right, kept apart from the words around it; any other as it is. */
export const isolated = (name) =>
  /[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff\u{10800}-\u{10fff}\u{1e800}-\u{1efff}]/u.test(name)
    ? `\u2068${name}\u2069`
    : name;

/** A span of words. */
export function words(text, name) {
  const span = document.createElement("span");
  span.textContent = text;
  if (name) span.className = name;
  return span;
}

/** A row that can be pressed. */
export function row(list, k, inside, press) {
  const item = document.createElement("li"),
    button = document.createElement("button");
  button.type = "button";
  button.dataset.k = String(k);
  button.setAttribute("aria-pressed", "false");
  button.append(...inside);
  button.addEventListener("click", () => press(k));
  item.append(button);
  list.append(item);
  return item;
}

/** Marks the row that is chosen, or none. */
export function mark(selector, chosen) {
  for (const button of document.querySelectorAll(selector)) {
    button.setAttribute("aria-pressed", String(Number(button.dataset.k) === chosen));
  }
}
