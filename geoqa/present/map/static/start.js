"use strict";
// Everything in its place: unpack, draw the map, then fill the panel.
geoqa.start = async (map) => {
  try {
    const about = JSON.parse(geoqa.byId("geoqa-about").textContent);
    const payload = geoqa.byId("geoqa-payload");
    const tables = await geoqa.unpack.open(about, payload.textContent);
    payload.remove();
    Object.assign(geoqa, { about, tables, map, size: tables.shots.rows });
    geoqa.begin(map, tables, about);
  } catch (error) {
    const words = `This map could not be opened: ${error.message} The findings are also in the tables written beside it.`;
    geoqa.byId("list").append(geoqa.element("li", { text: words }));
    throw error;
  }
};

geoqa.begin = (map, tables, about) => {
  const { byId, canvas, choice, fly, grid, legend, linework, shots, view } = geoqa;
  document.documentElement.lang = "en";
  geoqa.words.begin(about);
  view.begin(about);
  geoqa.records.begin(tables, about);
  choice.begin(tables, about);
  linework.begin(tables);
  shots.begin(tables, about);
  geoqa.hit.begin(tables);
  geoqa.pins.begin(about);
  geoqa.close.begin(tables);
  geoqa.card.begin(tables, about);
  geoqa.whereabouts.begin(about);
  geoqa.popup.begin(tables);
  geoqa.title.begin(tables, about);
  geoqa.sheet.begin();
  const layer = new canvas.Layer([
    (ctx, seen) => geoqa.background?.paint(ctx, seen),
    (ctx, seen) => grid.paint(ctx, seen, about),
    (ctx, seen) => linework.paint(ctx, seen, about),
    (ctx, seen) => grid.paintPlaces(ctx, seen, tables),
    (ctx, seen) => shots.paint(ctx, seen),
    (ctx, seen) => geoqa.close.paint(ctx, seen),
    (ctx, seen) => fly.paintRing(ctx, seen),
    (ctx, seen) => geoqa.pins.paint(ctx, seen),
  ]);
  geoqa.layer = layer;
  geoqa.background?.begin(about, layer);
  fly.begin(map, layer);
  legend.begin(tables, about, layer);
  map.invalidateSize({ animate: false });
  const home = view.home(tables);
  fly.toBounds(home);
  layer.addTo(map);
  geoqa.readout.begin(map, about);
  geoqa.pointer.begin(map);
  geoqa.paper.begin(map, layer, tables, about, home);
  byId("zoom-in").addEventListener("click", () => fly.zoom(1));
  byId("zoom-out").addEventListener("click", () => fly.zoom(-1));
  byId("zoom-home").addEventListener("click", () => fly.toBounds(home));
  geoqa.tellOutside(home);
  geoqa.ready = performance.now();

  // the list comes when the map has been seen
  requestAnimationFrame(() =>
    setTimeout(() => {
      geoqa.list.begin(tables, about);
      geoqa.search.begin(tables);
      layer.redraw();
      document.body.dataset.ready = "yes";
    }),
  );
};

// Shots more than a thousand feet or metres beyond the first view are told, not hidden.
geoqa.tellOutside = (home) => {
  const margin = 1000 / geoqa.view.digit();
  const outside = geoqa.size ? geoqa.shots.outside(home.map((end, i) => end + (i < 2 ? -margin : margin))) : 0;
  if (!outside) return;
  const button = geoqa.byId("outside");
  button.hidden = false;
  button.textContent = `${geoqa.words.many(outside, "shot")} far outside: show all`;
  button.addEventListener("click", () => geoqa.fly.toBounds(geoqa.shots.wholeBox()));
};
