// Between grid, map and canvas. The map's degrees are feet (or metres) of the grid, counted from the origin and turned as
// the view is: an azimuth of the grid points up.

import { absent } from "./unpack.js";

const FOOT = 0.3048, ENOUGH = 20000;
let oneDigit = 0.001, oneFoot = 1, upward = 0, cos = 1, sin = 0, job = [], loose = false;

export function begin(about, tables) {
  oneDigit = 10 ** -about.digits;
  oneFoot = FOOT / about.metres; // one foot in units of the grid
  job = ["lines.points", "points", "control"].map((name) => tables[name]).filter(({ rows }) => rows);
  loose = !job.length;
  if (loose) job = [tables.shots];
}

// Cosine and sine of an azimuth in degrees, exact where it is one of the grid's own.
const partsOf = (up) => [[1, 0], [0, 1], [-1, 0], [0, -1]][(up / 90 + 4) % 4] ?? [Math.cos((up * Math.PI) / 180), Math.sin((up * Math.PI) / 180)];

export function turn(up) {
  upward = up;
  [cos, sin] = partsOf(up);
}

export const up = () => upward;

// Last digits from the origin -> what Leaflet takes, and back.
export const latLng = ({ easting: e, northing: n }) => L.latLng((e * sin + n * cos) * oneDigit, (e * cos - n * sin) * oneDigit);
export const placeOf = ({ lat, lng }) => ({ easting: (lng * cos + lat * sin) / oneDigit, northing: (lat * cos - lng * sin) / oneDigit });

// Where a canvas lies: `left` and `top` in last digits, `scale` in pixels for one last digit. How near the ground
// is, for signs and names, is counted in pixels for a foot whatever the unit of the grid.
export function windowOf(map, topLeft, width, height) {
  const corner = map.layerPointToLatLng(topLeft);
  const scale = 2 ** map.getZoom() * oneDigit;
  const left = corner.lng / oneDigit, top = corner.lat / oneDigit, [c, s] = [cos, sin];
  const us = [left, left + width / scale], vs = [top, top - height / scale];
  const eastings = us.flatMap((u) => vs.map((v) => u * c + v * s)), northings = us.flatMap((u) => vs.map((v) => v * c - u * s));
  return {
    left, top, scale, width, height, cos: c, sin: s,
    perUnit: 2 ** map.getZoom(),
    perFoot: 2 ** map.getZoom() * oneFoot,
    box: boxOf(eastings, northings), // of the grid, round what is seen
    x: (e, n) => (e * c - n * s - left) * scale,
    y: (e, n) => (top - e * s - n * c) * scale,
  };
}

export const sees = (view, box) =>
  box[0] <= view.box[2] && box[2] >= view.box[0] && box[1] <= view.box[3] && box[3] >= view.box[1];

export const within = ({ easting, northing }, box, reach) =>
  easting >= box[0] - reach && easting <= box[2] + reach && northing >= box[1] - reach && northing <= box[3] + reach;

// The box round places, as they lie on the grid.
export function boxOf(eastings, northings, from = 0, to = eastings.length) {
  return roundOf(eastings, northings, from, to, 1, 0);
}

// The same as they lie on the screen.
export const turnedBox = (eastings, northings, from = 0, to = eastings.length) => roundOf(eastings, northings, from, to, cos, sin);

function roundOf(eastings, northings, from, to, c, s) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = from; i < to; i++) {
    const u = eastings[i] * c - northings[i] * s, v = eastings[i] * s + northings[i] * c;
    if (u < box[0]) box[0] = u;
    if (u > box[2]) box[2] = u;
    if (v < box[1]) box[1] = v;
    if (v > box[3]) box[3] = v;
  }
  return box;
}

const joined = (boxes) =>
  boxes.reduce(
    (all, box) => [Math.min(all[0], box[0]), Math.min(all[1], box[1]), Math.max(all[2], box[2]), Math.max(all[3], box[3])],
    [Infinity, Infinity, -Infinity, -Infinity],
  );

// About so many places of the job.
export function someOf(many) {
  const all = job.reduce((sum, { rows }) => sum + rows, 0), step = Math.max(1, Math.ceil(all / many)), found = [];
  for (const table of job) {
    const easting = table.numbers("easting"), northing = table.numbers("northing");
    for (let i = 0; i < table.rows; i += step) if (!absent(easting[i]) && !absent(northing[i])) found.push([easting[i], northing[i]]);
  }
  return found;
}

// Where most of them are: from their 1st to their 99th percentile, so that one blunder does not set the view.
export const most = (places, up = upward) => [...reach(places, up, 0), ...reach(places, up, 90)];

// The same along one direction of the screen: to its right, or turned by 90 degrees up it.
export function reach(places, up, by) {
  const [c, s] = partsOf(up), there = new Float64Array(places.length), [a, b] = by ? [s, c] : [c, -s];
  for (let i = 0; i < there.length; i++) there[i] = places[i][0] * a + places[i][1] * b;
  there.sort();
  return there.length ? [there[Math.floor(there.length * 0.01)], there[Math.ceil(there.length * 0.99) - 1]] : [Infinity, -Infinity];
}

// The job as it is first shown: the design and the control, or most of the shots where there is neither.
export function home() {
  const [left, right, low, high] = loose ? most(someOf(ENOUGH)) : [];
  const box = loose ? [left, low, right, high] : joined(job.map((table) => turnedBox(table.numbers("easting"), table.numbers("northing"))));
  return box[0] <= box[2] ? box : [-1e5, -1e5, 1e5, 1e5];
}

// A box on the screen as Leaflet takes it.
export const bounds = (box) =>
  L.latLngBounds([box[1] * oneDigit, box[0] * oneDigit], [box[3] * oneDigit, box[2] * oneDigit]);

export const digit = () => oneDigit;
export const foot = () => oneFoot;
