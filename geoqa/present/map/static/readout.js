// Round the map: coordinates under the cursor, scale bar, north, and the numbers of the grid lines.
import * as choice from "./choice.js";
import { byId, element, onceAFrame } from "./elements.js";
import { roundStep } from "./grid.js";
import { digit, placeOf, up } from "./view.js";

let map = null, about = null, cursor = null;

export function begin(theMap, allAbout) {
  map = theMap;
  about = allAbout;
  cursor = byId("cursor");
  map.on("mousemove click", (event) => show(event.latlng));
  const later = onceAFrame(redraw);
  map.on("move zoom resize", later);
  choice.onChange(later);
  redraw();
}

const decimals = () => (map.getZoom() >= 5 ? 3 : map.getZoom() >= 1 ? 2 : map.getZoom() >= -2 ? 1 : 0);

// Cursor coordinates on the grid.
function show(at) {
  const places = decimals();
  const { easting, northing } = placeOf(at);
  const [east, north] = [easting, northing].map((value, axis) => (value * digit() + about.origin[axis]).toFixed(places));
  cursor.textContent = `E ${east}   N ${north} ${about.unit}`;
}

export function redraw() {
  scaleBar();
  gridNumbers();
}

function scaleBar() {
  const perUnit = 2 ** map.getZoom();
  const length = roundStep(perUnit, 60);
  byId("scale-bar").style.width = `${length * perUnit}px`;
  byId("scale-text").textContent = `${length.toLocaleString("en-US")} ${about.unit}`;
}

function gridNumbers() {
  const holder = byId("grid-numbers");
  holder.replaceChildren();
  if (!choice.state.layers.grid) return;
  const step = roundStep(2 ** map.getZoom(), 140);
  const places = step < 1 ? 2 : 0, size = map.getSize();
  const at = (x, y) => placeOf(map.containerPointToLatLng([x, y])), corner = at(0, 0);
  // each edge tells the axis that changes most along it
  for (const [edge, end, long] of [["left", at(size.x, 0), size.x], ["top", at(0, size.y), size.y]]) {
    const axis = Math.abs(end.easting - corner.easting) > Math.abs(end.northing - corner.northing) ? "easting" : "northing";
    const [from, to] = [corner, end].map((each) => each[axis] * digit() + about.origin[axis === "easting" ? 0 : 1]);
    for (let k = Math.ceil(Math.min(from, to) / step); k * step <= Math.max(from, to); k++) {
      const along = ((k * step - from) / (to - from)) * long, name = up() ? `${axis[0].toUpperCase()} ` : "";
      if (along < 40 || along > long - 40) continue;
      const style = edge === "left" ? `left: ${along}px; top: 4px; translate: -50% 0` : `left: 4px; top: ${along}px; translate: 0 -50%`;
      holder.append(element("span", { style, text: name + (k * step).toFixed(places) }));
    }
  }
}
