// Between grid, map and canvas. The map's degrees are feet (or metres) of the grid, counted from the origin.

const FOOT = 0.3048;
let oneDigit = 0.001, oneFoot = 1;

export function begin(about) {
  oneDigit = 10 ** -about.digits;
  oneFoot = FOOT / about.metres; // one foot in units of the grid
}

// Last digits from the origin -> what Leaflet takes.
export const latLng = (place) => L.latLng(place.northing * oneDigit, place.easting * oneDigit);

// Where a canvas lies: `left` and `top` in last digits, `scale` in pixels for one last digit. How near the ground
// is, for signs and names, is counted in pixels for a foot whatever the unit of the grid.
export function windowOf(map, topLeft, width, height) {
  const corner = map.layerPointToLatLng(topLeft);
  const scale = 2 ** map.getZoom() * oneDigit;
  const left = corner.lng / oneDigit, top = corner.lat / oneDigit;
  return {
    left, top, scale, width, height,
    perUnit: 2 ** map.getZoom(),
    perFoot: 2 ** map.getZoom() * oneFoot,
    right: left + width / scale,
    bottom: top - height / scale,
    x: (easting) => (easting - left) * scale,
    y: (northing) => (top - northing) * scale,
  };
}

export const sees = (view, box) =>
  box[0] <= view.right && box[2] >= view.left && box[1] <= view.top && box[3] >= view.bottom;

export const within = ({ easting, northing }, box, reach) =>
  easting >= box[0] - reach && easting <= box[2] + reach && northing >= box[1] - reach && northing <= box[3] + reach;

export function boxOf(eastings, northings, from = 0, to = eastings.length) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = from; i < to; i++) {
    const e = eastings[i], n = northings[i];
    if (e < box[0]) box[0] = e;
    if (e > box[2]) box[2] = e;
    if (n < box[1]) box[1] = n;
    if (n > box[3]) box[3] = n;
  }
  return box;
}

const joined = (boxes) =>
  boxes.reduce(
    (all, box) => [Math.min(all[0], box[0]), Math.min(all[1], box[1]), Math.max(all[2], box[2]), Math.max(all[3], box[3])],
    [Infinity, Infinity, -Infinity, -Infinity],
  );

// Where most of the shots are: from their 1st to their 99th percentile, so that one blunder does not set the view.
function most(numbers) {
  const there = Float64Array.from(numbers.filter((value) => value === value)).sort();
  if (!there.length) return [Infinity, -Infinity];
  return [there[Math.floor(there.length * 0.01)], there[Math.ceil(there.length * 0.99) - 1]];
}

// The job as it is first shown: the design and the control, or most of the shots where there is neither.
export function home(tables) {
  const boxes = ["lines.points", "points", "control"]
    .filter((name) => tables[name].rows)
    .map((name) => boxOf(tables[name].numbers("easting"), tables[name].numbers("northing")));
  if (!boxes.length && tables.shots.rows) {
    const [west, east] = most(tables.shots.numbers("easting")), [south, north] = most(tables.shots.numbers("northing"));
    boxes.push([west, south, east, north]);
  }
  const box = joined(boxes);
  return box[0] <= box[2] ? box : [-1e5, -1e5, 1e5, 1e5];
}

export const bounds = (box) =>
  L.latLngBounds([box[1] * oneDigit, box[0] * oneDigit], [box[3] * oneDigit, box[2] * oneDigit]);

export const digit = () => oneDigit;
export const foot = () => oneFoot;
