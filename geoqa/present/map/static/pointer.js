"use strict";
// Mouse and finger on the map: what is under them opens on a click.
geoqa.pointer = (() => {
  const FINE = 12, COARSE = 24; // reach in pixels

  function begin(map) {
    const reach = () => (window.matchMedia("(pointer: coarse)").matches ? COARSE : FINE) / 2 ** map.getZoom() / geoqa.view.digit();

    function under(event) {
      const digit = geoqa.view.digit();
      const place = { easting: event.latlng.lng / digit, northing: event.latlng.lat / digit };
      const pin = geoqa.pins.at(...onCanvas(map, event.containerPoint));
      const found = geoqa.hit.at(place, reach());
      return { place, found: pin === null ? found : [{ type: "finding", row: pin }] };
    }

    map.on("click", (event) => {
      const { place, found } = under(event);
      if (found.length) geoqa.popup.open(found[0], { others: found.slice(1), at: place });
    });

    let latest = null;
    const point = geoqa.onceAFrame(() => {
      map.getContainer().style.cursor = under(latest).found.length ? "pointer" : "";
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
