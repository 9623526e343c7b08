// Distances on the grid from place to place: what is clicked is joined, to a shot where one is near.
import { byId } from "./elements.js";
import { colours } from "./ink.js";
import * as records from "./records.js";
import { near } from "./shots.js";
import { placeOf } from "./view.js";
import * as words from "./words.js";

let about = null, layer = null, map = null, places = [], on = false;

export const active = () => on;

export function begin(allAbout, theLayer, theMap) {
  [about, layer, map] = [allAbout, theLayer, theMap];
  byId("measure-button").addEventListener("click", () => turn(!on));
  document.addEventListener("keydown", (event) => {
    if (!on) return;
    if (event.key === "Escape") turn(false);
    // without a mouse the middle of the map is taken
    if (event.key === "Enter" && event.target === map.getContainer()) {
      add(placeOf(map.getCenter()), 0);
    }
  });
}

function turn(to) {
  on = to;
  places = [];
  byId("measure-button").setAttribute("aria-pressed", String(on));
  byId("measured").hidden = !on;
  byId("measured").textContent = "Click where to measure from.";
  if (on) map.closePopup();
  layer.redraw();
}

// A place, or the shot within reach of it, in whole last digits of the grid.
export function add(place, reach) {
  const [shot] = reach ? near(place, reach) : [];
  const taken = shot ? records.placeOfShot(shot.row) : { easting: Math.round(place.easting), northing: Math.round(place.northing) };
  places.push({ ...taken, name: shot ? `shot ${records.shot(shot.row).name}` : "" });
  byId("measured").textContent = told();
  layer.redraw();
}

// Of the last leg the distance, its parts and its azimuth from grid north, and the length of all.
function told() {
  const to = places.at(-1), named = to.name ? ` at ${to.name}` : "";
  if (places.length < 2) return `From here${named}: click where to.`;
  const from = places.at(-2), east = to.easting - from.easting, north = to.northing - from.northing;
  const whole = (value) => words.number(Math.round(value), about.digits);
  const azimuth = ((Math.atan2(east, north) * 180) / Math.PI + 360) % 360;
  const all = places.slice(1).reduce((sum, place, i) => sum + Math.hypot(place.easting - places[i].easting, place.northing - places[i].northing), 0);
  const signed = (value) => words.number(Math.round(value), about.digits, true);
  const parts = [`${whole(Math.hypot(east, north))} ${about.unit}${named}`, `dE ${signed(east)}`, `dN ${signed(north)}`, `azimuth ${azimuth.toFixed(2)}°`];
  return [...parts, places.length > 2 ? `${whole(all)} in all` : ""].filter(Boolean).join(" · ") + " (grid)";
}

export function paint(ctx, view) {
  if (!places.length) return;
  ctx.beginPath();
  places.forEach(({ easting, northing }, i) => {
    const x = view.x(easting, northing), y = view.y(easting, northing);
    if (i) ctx.lineTo(x, y);
    else ctx.moveTo(x, y);
  });
  for (const { easting, northing } of places) {
    const x = view.x(easting, northing), y = view.y(easting, northing);
    ctx.moveTo(x + 4, y);
    ctx.arc(x, y, 4, 0, 2 * Math.PI);
  }
  ctx.strokeStyle = colours.edge;
  ctx.lineWidth = 5;
  ctx.stroke();
  ctx.strokeStyle = colours.ink;
  ctx.lineWidth = 2;
  ctx.stroke();
}
