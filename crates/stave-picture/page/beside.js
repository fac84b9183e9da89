// What stands beside and below the picture: lists, figures, texts, legends.

import { isolated, row, shownRows, words } from "./lists.js";

/**
 * Fills in what the data tell, and drops what this page has none of; `choose` and `pickPart` are
 * what a press on a finding or a part does.
 */
export function fillPage(
  { by, put },
  data,
  { groups, places, ramp, travels, isDrawn },
  { choose, pickPart },
) {
  if (data.customer) by("plays")?.remove();
  else {
    put("findings-title", data.findings_title);
    const list = document.querySelector("#findings ol");
    data.findings.forEach((finding, k) => {
      const inside = [
        words(String(k + 1), "flag"),
        words(`${finding.severity}: ${finding.message}`),
      ];
      row(list, k, inside, choose).className = finding.severity.replace(" ", "-");
    });
    if (groups.names.length > 1) {
      const sections = document.querySelector("#sections ul");
      for (const k of shownRows(groups, places)) {
        const count = groups.counts[k] > 1 ? [words(`× ${groups.counts[k]}`, "count")] : [];
        row(sections, k, [words(isolated(groups.names[k]), "name"), ...count], pickPart);
      }
    } else by("sections").remove();
    const table = document.querySelector("#figures dl");
    for (const [name, value] of data.figures) {
      const [term, figure] = [document.createElement("dt"), document.createElement("dd")];
      term.textContent = name;
      figure.textContent = value;
      table.append(term, figure);
    }
    put("most", data.map.top_text);
    by("differences").hidden = !data.map.compared;
    by("scale").hidden = data.map.top === 0;
    if (data.map.top === 0) put("dark-way", "walked at a set speed, beam off");
    by("travels").checked = travels;
    by("legend").hidden = !travels;
    const paint = by("ramp").getContext("2d"),
      strip = paint.createImageData(256, 1);
    for (let k = 0; k < 256; k++) strip.data.set([...ramp.subarray(3 * k, 3 * k + 3), 255], 4 * k);
    paint.putImageData(strip, 0, 0);
    if (!data.nozzles.length) by("nozzle-control").remove();
  }
  if (data.plane) {
    // A flat place neither turns nor is unrolled.
    put(
      "keys",
      "Drag to shift; wheel or two fingers to zoom. On the keyboard, with the piece in focus: " +
        "arrows shift, + and − zoom, 0 shows the whole, Enter reads the place in the middle, " +
        `M measures${data.customer ? "" : ", Space plays"}.`,
    );
    for (const id of ["ways", "sides", "tips", "turning", "nozzle-control"])
      if (by(id)) by(id).hidden = true;
  }
  if (!isDrawn) {
    by("notice").hidden = false;
    const instead = data.customer
      ? "The piece is shown as it is, and does not turn."
      : "The sheet as SVG or PNG (-o proof.svg) shows the piece.";
    put(
      "notice",
      `This browser cannot draw in three dimensions here (no WebGL 2). ${instead}`,
    );
  }
}
