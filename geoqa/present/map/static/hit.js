// What lies under a click or a finger: shots first, then marks, then gaps and runs.
import { state } from "./choice.js";
import { layers } from "./linework.js";
import * as records from "./records.js";
import { near, touches } from "./shots.js";
import { within } from "./view.js";

let tables = null, about = null;

export function begin(allTables, allAbout) {
  tables = allTables;
  about = allAbout;
}

function nearMarks(name, place, reach) {
  const table = tables[name];
  const found = [];
  if (!table.rows || !state.layers[name]) return found;
  const easting = table.numbers("easting"), northing = table.numbers("northing");
  for (let i = 0; i < table.rows; i++) {
    const distance = Math.hypot(easting[i] - place.easting, northing[i] - place.northing);
    if (distance <= reach) found.push({ type: name, row: i, distance });
  }
  return found;
}

function toSegment(place, ax, ay, bx, by) {
  const dx = bx - ax, dy = by - ay;
  const square = dx * dx + dy * dy;
  const t = square ? Math.min(1, Math.max(0, ((place.easting - ax) * dx + (place.northing - ay) * dy) / square)) : 0;
  return Math.hypot(place.easting - ax - t * dx, place.northing - ay - t * dy);
}

function nearPaths(name, place, reach) {
  const layer = layers[name];
  const found = [];
  if (!state.layers[name]) return found;
  for (let path = 0; path < layer.count; path++) {
    if (!within(place, layer.boxes[path], reach)) continue;
    let distance = Infinity;
    for (let i = layer.starts[path]; i < layer.starts[path + 1] - 1; i++) {
      const { easting, northing } = layer;
      distance = Math.min(distance, toSegment(place, easting[i], northing[i], easting[i + 1], northing[i + 1]));
    }
    if (distance <= reach) found.push({ type: name, row: layer.owners[path], distance });
  }
  return found;
}

// Whether anything is within reach, as fast as it can be said.
export const any = (place, reach) =>
  touches(place, reach) ||
  ["control", "points"].some((name) => nearMarks(name, place, reach).length) ||
  ["gaps", "runs"].some((name) => nearPaths(name, place, reach).length);

// Everything within reach; of shots that touch each other on the screen the worst comes first.
export function at(place, reach) {
  const order = (code) => (code < about.verdicts.length ? records.order(code) : 9);
  const shots = near(place, reach).map((shot) => ({ type: "shot", ...shot }));
  const third = ({ distance }) => Math.round((3 * distance) / reach);
  shots.sort((a, b) => third(a) - third(b) || order(a.code) - order(b.code));
  const sort = (found) => found.sort((a, b) => a.distance - b.distance);
  return [
    ...shots,
    ...sort([...nearMarks("control", place, reach), ...nearMarks("points", place, reach)]),
    ...sort([...nearPaths("gaps", place, reach), ...nearPaths("runs", place, reach)]),
  ];
}
