// Mouse and finger on the map: what is under them opens on a click.
import { onceAFrame } from "./elements.js";
import * as hit from "./hit.js";
import * as measure from "./measure.js";
import * as pins from "./pins.js";
import { open } from "./popup.js";
import { digit, placeOf as placeAt } from "./view.js";

const FINE = 12, COARSE = 24; // reach in pixels

export function begin(map, layer) {
  const placeOf = ({ latlng }) => placeAt(latlng);
  const pinUnder = (event) => pins.at(...onCanvas(map, layer, event.containerPoint));

  function reach() {
    const pixels = window.matchMedia("(pointer: coarse)").matches ? COARSE : FINE;
    return pixels / 2 ** map.getZoom() / digit();
  }

  map.on("click", (event) => {
    const place = placeOf(event), pin = pinUnder(event);
    if (measure.active()) return measure.add(place, reach());
    const found = pin === null ? hit.at(place, reach()) : pin.map((row) => ({ type: "finding", row }));
    if (found.length) open(found[0], { others: found.slice(1), at: place });
  });

  let latest = null;
  const point = onceAFrame(() => {
    const under = pinUnder(latest) !== null || hit.any(placeOf(latest), reach());
    map.getContainer().style.cursor = measure.active() ? "crosshair" : under ? "pointer" : "";
  });
  map.on("mousemove", (event) => {
    latest = event;
    point();
  });
}

// A place of the map as a place of the wider canvas under it.
function onCanvas(map, layer, point) {
  const place = map.containerPointToLayerPoint(point).subtract(layer.topLeft);
  return [place.x, place.y];
}
