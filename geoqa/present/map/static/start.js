// Everything in its place: unpack, draw the map, then fill the panel.
import { Layer, beneath } from "./canvas.js";
import * as card from "./card.js";
import * as choice from "./choice.js";
import * as close from "./close.js";
import * as decide from "./decide.js";
import { byId, element } from "./elements.js";
import * as fly from "./fly.js";
import * as grid from "./grid.js";
import * as hit from "./hit.js";
import * as ink from "./ink.js";
import * as labels from "./labels.js";
import * as legend from "./legend.js";
import * as linework from "./linework.js";
import * as list from "./list.js";
import * as measure from "./measure.js";
import * as paper from "./paper.js";
import * as pins from "./pins.js";
import * as pointer from "./pointer.js";
import * as popup from "./popup.js";
import * as profile from "./profile.js";
import * as readout from "./readout.js";
import * as records from "./records.js";
import * as search from "./search.js";
import * as sheet from "./sheet.js";
import * as shots from "./shots.js";
import * as taken from "./taken.js";
import * as title from "./title.js";
import * as turn from "./turn.js";
import * as unpack from "./unpack.js";
import * as view from "./view.js";
import * as whereabouts from "./whereabouts.js";
import * as words from "./words.js";

// What is open, for whoever looks into the page from its console; no script reads it.
export const opened = {};

export async function open(map) {
  try {
    const about = JSON.parse(byId("geoqa-about").textContent);
    const payload = byId("geoqa-payload");
    const tables = await unpack.open(about, payload.textContent);
    payload.remove();
    Object.assign(opened, { about, tables, map });
    begin(map, tables, about);
  } catch (error) {
    const said = `This map could not be opened: ${error.message} The findings are also in the tables written beside it.`;
    byId("list").append(element("li", { text: said }));
    throw error;
  }
}

function begin(map, tables, about) {
  document.documentElement.lang = "en";
  words.begin(about);
  labels.begin(ink.colours);
  view.begin(about, tables);
  records.begin(tables, about);
  choice.begin(tables, about);
  linework.begin(tables);
  shots.begin(tables, about);
  hit.begin(tables, about);
  pins.begin(about);
  close.begin(tables, about);
  card.begin(tables, about, popup.open);
  taken.begin(about);
  whereabouts.begin(about);
  popup.begin(tables);
  decide.begin(tables, about);
  title.begin(tables, about);
  sheet.begin();
  const layer = new Layer(
    [
      labels.clear,
      ...beneath.map(({ paint }) => paint),
      (ctx, seen) => grid.paint(ctx, seen, about),
      (ctx, seen) => linework.paint(ctx, seen, about),
      (ctx, seen) => grid.paintPlaces(ctx, seen, tables),
      shots.paint,
      close.paint,
      fly.paintRing,
      measure.paint,
      pins.paint,
      furniture,
      labels.paint,
    ],
    tables.shots.rows,
  );
  opened.layer = layer;
  ink.begin(about, () => layer.later());
  for (const under of beneath) under.begin(about, layer);
  fly.begin(map, layer, tables.shots.rows);
  legend.begin(tables, about, layer);
  map.invalidateSize({ animate: false });
  turn.begin(map);
  const toHome = () => fly.toBounds(view.home());
  toHome();
  layer.addTo(map);
  readout.begin(map, about);
  pointer.begin(map, layer);
  measure.begin(about, layer, map);
  profile.begin(tables, about, map);
  paper.begin(map, layer, about);
  byId("zoom-in").addEventListener("click", () => fly.zoom(1));
  byId("zoom-out").addEventListener("click", () => fly.zoom(-1));
  byId("zoom-home").addEventListener("click", toHome);
  opened.ready = performance.now();

  // the list comes when the map has been seen
  requestAnimationFrame(() =>
    setTimeout(() => {
      list.begin(tables, about);
      search.begin(tables);
      tellOutside(tables.shots.rows);
      layer.redraw();
      document.body.dataset.ready = "yes";
    }),
  );
}

// Keys, scale and legend lie over the map: nothing is written under them.
function furniture(ctx, { pad }) {
  for (const id of ["tools", "edge", "legend", "outside"]) {
    const { offsetLeft: x, offsetTop: y, offsetWidth: width, offsetHeight: height } = byId(id);
    if (width) labels.keep({ left: pad.x + x, right: pad.x + x + width, top: pad.y + y, bottom: pad.y + y + height, text: "", under: id });
  }
  // numbers of the grid stand along the upper and left edges
  if (choice.state.layers.grid) {
    labels.keep({ left: pad.x, right: pad.x + 64, top: pad.y, bottom: pad.y + 1e5, text: "", under: "grid" });
    labels.keep({ left: pad.x, right: pad.x + 1e5, top: pad.y, bottom: pad.y + 20, text: "", under: "grid" });
  }
}

// Shots more than a thousand feet or metres beyond the first view are told, not hidden.
function tellOutside(count) {
  const margin = 1000 / view.digit();
  const outside = count ? shots.outside(view.home().map((end, i) => end + (i < 2 ? -margin : margin))) : 0;
  if (!outside) return;
  const button = byId("outside");
  button.hidden = false;
  button.textContent = `${words.many(outside, "shot")} far outside: show all`;
  button.addEventListener("click", () => fly.toBounds(shots.wholeBox()));
}
