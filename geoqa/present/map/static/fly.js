// Going to a place and opening its card there; coming back with Esc to where the reader was.
import { byId } from "./elements.js";
import { colours } from "./ink.js";
import { bounds, digit, foot, latLng } from "./view.js";

const CLOSE = 4; // pixels for a foot that make neighbouring shots easy to tell apart
let map = null, layer = null, shots = 0, card = null, back = null, ring = null, rings = [];

export function begin(theMap, theLayer, howMany) {
  map = theMap;
  layer = theLayer;
  shots = howMany;
  map.on("popupclose", () => {
    card = null;
    ring = null;
    rings = [];
    document.body.classList.remove("carded");
    layer.later();
    back?.focus({ preventScroll: true });
    back = null;
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && card) map.closePopup();
  });
}

const still = () => window.matchMedia("(prefers-reduced-motion: reduce)").matches || shots > 100000;

// How far down the map is free: to the open legend, or nearly to its foot.
function free() {
  const legend = byId("legend");
  const size = map.getSize();
  const share = size.y < 560 ? 0.92 : 0.82; // over a profile there is little to spare
  const end = legend.hidden || size.x < 760 ? size.y * share : legend.offsetTop - 40;
  return Math.max(end, size.y * 0.5);
}

// The place comes to rest low in the free part of the map, so that the card above it fits.
function centreFor(place, zoom) {
  const point = map.project(latLng(place), zoom).add([0, map.getSize().y / 2 - free()]);
  return map.unproject(point, zoom);
}

// Close enough to tell neighbouring shots apart, or to see all of a run or gap.
function zoomFor(box) {
  const close = Math.log2(CLOSE / foot());
  if (!box) return Math.max(map.getZoom(), close);
  const size = map.getSize();
  const width = (box[2] - box[0]) * digit(), height = (box[3] - box[1]) * digit();
  const fitting = Math.log2(Math.min((size.x * 0.8) / Math.max(width, 1), (size.y * 0.3) / Math.max(height, 1)));
  return Math.min(close, Math.max(map.getMinZoom(), fitting));
}

export function to(place, { box = null } = {}) {
  const target = zoomFor(box);
  const centre = centreFor(place, target);
  if (still()) return map.setView(centre, target, { animate: false });
  layer.flying = true;
  map.once("moveend", () => (layer.flying = false));
  return map.flyTo(centre, target, { duration: 0.5 });
}

export function toBounds(box) {
  const { offsetTop: top, offsetHeight: tall } = byId("tools");
  map.fitBounds(bounds(box), { paddingTopLeft: [28, top + tall], paddingBottomRight: [28, 56], animate: false }); // clear of keys and scale
}

export function show(content, { place, also, heading, pinned }) {
  const size = map.getSize();
  const options = {
    maxWidth: Math.min(380, size.x - 32),
    minWidth: Math.min(320, size.x - 32),
    maxHeight: Math.max(180, Math.round(free() - 150)),
    autoPan: !layer.flying,
    autoPanPaddingTopLeft: [12, 84], // clear of the keys for zoom and legend
    autoPanPaddingBottomRight: [12, 12],
    className: "card-frame",
    offset: [0, pinned ? -32 : -10],
  };
  const opener = back;
  back = null;
  card = L.popup(options).setLatLng(place ? latLng(place) : map.getCenter()).setContent(content);
  const opened = card;
  map.openPopup(card);
  card = opened;
  back = opener;
  ring = place;
  rings = also;
  document.body.classList.add("carded");
  layer.later();
  heading.focus({ preventScroll: true });
}

// The card stands at its place again, where the view was turned.
export function again() {
  if (card && ring) card.setLatLng(latLng(ring));
}

// Nearer or farther, with the place that is open staying where it is.
export function zoom(by) {
  if (ring) map.setZoomAround(latLng(ring), map.getZoom() + by);
  else map.setZoom(map.getZoom() + by);
}

// Remembers which button the reader came from.
export const from = (button) => (back = button);

// A ring round the place that is open, smaller ones round the shots behind it.
export function paintRing(ctx, view) {
  ctx.beginPath();
  for (const place of rings) circle(ctx, view, place, 11);
  if (ring) circle(ctx, view, ring, 16);
  ctx.strokeStyle = colours.edge;
  ctx.lineWidth = 5;
  ctx.stroke();
  ctx.strokeStyle = colours.ink;
  ctx.lineWidth = 2;
  ctx.stroke();
}

function circle(ctx, view, place, r) {
  const x = view.x(place.easting, place.northing), y = view.y(place.easting, place.northing);
  ctx.moveTo(x + r, y);
  ctx.arc(x, y, r, 0, 2 * Math.PI);
}
