// A place of the wall and a way on it, in words.

import { folded } from "./geometry.js";
import { clockText } from "./track.js";
import { isolated } from "./lists.js";
import { burnedAt } from "./mesh.js";
import { lengthText } from "./measure.js";
import { zoneAt } from "./overlay.js";

/** What is at a place: where it is, what burns there, and whether that was meant. */
export function placeWords(found, { wall, data, map, mesh, groups }) {
  const cellOf = ({ s, turn }) => {
    const row = Math.min(map.rows - 1, Math.floor((s / wall.length) * map.rows));
    const column = Math.min(
      map.columns - 1,
      Math.floor((folded(turn) / (2 * Math.PI) + 0.5) * map.columns),
    );
    return row * map.columns + column;
  };
  /** 1 where something burns that was not meant to, 2 where what was meant does not, else 0. */
  const differentHere = (place) => map?.different?.[cellOf(place)] ?? 0;
  const burnedHere = (place) => {
    const found = mesh ? burnedAt(mesh, place.s, place.turn) : null;
    if (found || !map) return found;
    const cell = cellOf(place);
    return map.time[cell] > 0 && differentHere(place) !== 2
      ? { time: map.time[cell], energy: map.energy[cell], section: map.section[cell] }
      : null;
  };
  const section = wall.section(found.s);
  const degrees = ((found.turn * 180) / Math.PI).toFixed(1);
  const told = [
    data.plane
      ? `at ${lengthText(section.at)}, ${lengthText(found.turn * section.r)} across`
      : `at ${lengthText(section.at)}, turn ${degrees}°, ⌀ ${lengthText(2 * section.r)}`,
  ];
  // Names over the picture are cut where they are long; here they are whole.
  const zone = data.customer ? null : zoneAt(data.zones, found);
  if (zone) told.push(`in the zone ${isolated(zone.name)}`);
  const flat = data.customer ? null : zoneAt(data.facets, found);
  if (flat) told.push(`beside the flat place ${isolated(flat.name)}, which is burned by itself`);
  const burned = burnedHere(found);
  const different = ["", "not meant to be", "meant to be"][differentHere(found)];
  if (!burned) told.push("not burned here");
  else if (data.customer) told.push("engraved");
  else {
    const unit = data.map.unit ? ` ${data.map.unit}` : "";
    told.push(`energy ${((burned.energy / 255) * data.map.top).toPrecision(3)}${unit}`);
    const part = groups.names.length > 1 ? ` in ${isolated(groups.names[burned.section])}` : "";
    told.push(`burned at ${clockText(((burned.time - 1) / 65534) * data.duration)}${part}`);
  }
  if (different) told.push(different);
  return told.join("; ");
}

/** How far two places are from each other. */
export function wayWords({ along, around, radius, straight, bound }) {
  return (
    `${lengthText(Math.abs(along))} along the wall, ` +
    `${lengthText(Math.abs(around))} around at ⌀ ${lengthText(2 * radius)}; ` +
    `${bound ? "at most " : ""}${lengthText(straight)} the shortest way on the wall`
  );
}
