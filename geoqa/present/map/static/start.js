"use strict";
// Everything in its place: unpack, then the map, then the panel.
geoqa.start = async (map) => {
  const { byId, canvas, choice, fly, grid, legend, linework, shots, view } = geoqa;
  const about = JSON.parse(byId("geoqa-about").textContent);
  const payload = byId("geoqa-payload");
  const tables = await geoqa.unpack.open(about, payload.textContent);
  payload.remove();
  geoqa.about = about;
  geoqa.tables = tables;
  geoqa.map = map;
  geoqa.size = tables.shots.rows;
  document.documentElement.lang = "en";
  geoqa.words.begin(about);
  view.begin(about);
  geoqa.records.begin(tables, about);
  choice.begin(tables, about);
  linework.begin(tables);
  shots.begin(tables, about);
  geoqa.hit.begin(tables);
  geoqa.popup.begin(tables, about);

  const layer = new canvas.Layer([
    (ctx, seen) => grid.paint(ctx, seen, about),
    (ctx, seen) => linework.paint(ctx, seen, about),
    (ctx, seen) => grid.paintPlaces(ctx, seen, tables),
    (ctx, seen) => shots.paint(ctx, seen),
    (ctx, seen) => fly.paintRing(ctx, seen),
  ]);
  fly.begin(map, layer);
  geoqa.sheet.begin();
  legend.begin(tables, about, layer);
  const home = view.home(tables);
  fly.toBounds(home);
  layer.addTo(map);
  geoqa.readout.begin(map, about);
  geoqa.title.begin(tables, about);
  geoqa.list.begin(tables, about);
  geoqa.search.begin(tables);
  geoqa.paper.begin(map, layer, tables, about);

  const outside = geoqa.size ? shots.outside(home.map((end, i) => end + (i < 2 ? -1 : 1) * 1e6)) : 0;
  if (outside) {
    byId("outside").hidden = false;
    byId("outside").textContent = `${geoqa.words.many(outside, "shot")} lie far outside: show all`;
    byId("outside").addEventListener("click", () => fly.toBounds(shots.wholeBox()));
  }
  byId("zoom-in").addEventListener("click", () => map.zoomIn());
  byId("zoom-out").addEventListener("click", () => map.zoomOut());
  byId("zoom-home").addEventListener("click", () => fly.toBounds(home));
  map.on("click", (event) => {
    const digit = view.digit();
    const place = { easting: event.latlng.lng / digit, northing: event.latlng.lat / digit };
    const coarse = window.matchMedia("(pointer: coarse)").matches;
    const found = geoqa.hit.at(place, (coarse ? 24 : 12) / 2 ** map.getZoom() / digit);
    if (found.length) geoqa.popup.open(found[0], { others: found.slice(1), at: place });
  });
  geoqa.layer = layer;
  geoqa.ready = performance.now();
  document.body.dataset.ready = "yes";
};
