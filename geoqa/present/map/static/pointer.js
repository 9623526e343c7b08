"use strict";
// Mouse and finger on the map: what is under them opens on a click.
geoqa.pointer = (() => {
  const FINE = 12, COARSE = 24; // reach in pixels

  function begin(map) {
    const placeOf = ({ latlng }) => ({ easting: latlng.lng / geoqa.view.digit(), northing: latlng.lat / geoqa.view.digit() });
    const pinUnder = (event) => geoqa.pins.at(...onCanvas(map, event.containerPoint));

    function reach() {
      const pixels = window.matchMedia("(pointer: coarse)").matches ? COARSE : FINE;
      return pixels / 2 ** map.getZoom() / geoqa.view.digit();
    }

    map.on("click", (event) => {
      const place = placeOf(event), pin = pinUnder(event);
      const found = pin === null ? geoqa.hit.at(place, reach()) : [{ type: "finding", row: pin }];
      if (found.length) geoqa.popup.open(found[0], { others: found.slice(1), at: place });
    });

    let latest = null;
    const point = geoqa.onceAFrame(() => {
      const under = pinUnder(latest) !== null || geoqa.hit.any(placeOf(latest), reach());
      map.getContainer().style.cursor = under ? "pointer" : "";
    });
    map.on("mousemove", (event) => {
      latest = event;
      point();
    });
  }

  // A place of the map as a place of the wider canvas under it.
  function onCanvas(map, point) {
    const place = map.containerPointToLayerPoint(point).subtract(geoqa.layer.topLeft);
    return [place.x, place.y];
  }

  return { begin };
})();
