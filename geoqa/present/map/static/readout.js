// Round the map: coordinates under the cursor, scale bar, north, and the numbers of the grid lines.
import * as choice from "./choice.js";
import { byId, element, onceAFrame } from "./elements.js";
import { roundStep } from "./grid.js";

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
  const [east, north] = [at.lng + about.origin[0], at.lat + about.origin[1]].map((value) => value.toFixed(places));
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
  const bounds = map.getBounds();
  const places = step < 1 ? 2 : 0;
  const write = (value, style) => holder.append(element("span", { style, text: value.toFixed(places) }));
  const [east, north] = about.origin;
  const size = map.getSize();
  for (let k = Math.ceil((bounds.getWest() + east) / step); k * step <= bounds.getEast() + east; k++) {
    const { x } = map.latLngToContainerPoint([0, k * step - east]);
    if (x > 40 && x < size.x - 40) write(k * step, `left: ${x}px; top: 4px; translate: -50% 0`);
  }
  for (let k = Math.ceil((bounds.getSouth() + north) / step); k * step <= bounds.getNorth() + north; k++) {
    const { y } = map.latLngToContainerPoint([k * step - north, 0]);
    if (y > 40 && y < size.y - 40) write(k * step, `left: 4px; top: ${y}px; translate: 0 -50%`);
  }
}
