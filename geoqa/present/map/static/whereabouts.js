// Longitude and latitude of a place of the grid, for a phone to find it; never to measure with.
import { element } from "./elements.js";
import { digit } from "./view.js";

const DECIMALS = 6; // a tenth of a metre: less than the mesh is known to, so that rounding adds nothing
let mesh = null;

export const begin = (about) => (mesh = about.lonlat);

// Weights of the five columns or rows of the mesh in Lagrange's polynomial, or null beyond it.
function weights(place) {
  const half = (mesh.nodes - 1) / 2;
  if (!(Math.abs(place) <= half)) return null;
  const knots = Array.from({ length: mesh.nodes }, (_, i) => i - half);
  return knots.map((knot) => knots.reduce((all, other) => (other === knot ? all : (all * (place - other)) / (knot - other)), 1));
}

// Degrees of a place given in last digits from the origin, or null where they are not known.
export function of({ easting, northing }) {
  if (!mesh) return null;
  const across = weights((easting * digit()) / mesh.step), up = weights((northing * digit()) / mesh.step);
  if (!across || !up) return null;
  const sum = (values) =>
    up.reduce((all, high, j) => all + high * across.reduce((row, wide, i) => row + wide * values[j * mesh.nodes + i], 0), 0);
  return { longitude: sum(mesh.longitude), latitude: sum(mesh.latitude) };
}

// A link that a phone's own map opens. RFC 5870 wants latitude first; its u parameter is left out because
// not every map reads on behind a semicolon: how well the place is known stands beside the link in words.
export function link(place) {
  const found = place && of(place);
  if (!found) return null;
  const text = `${found.latitude.toFixed(DECIMALS)},${found.longitude.toFixed(DECIMALS)}`;
  return element(
    "p", { class: "whereabouts quiet" },
    element("a", { href: `geo:${text}`, text: "Open this place on your phone" }),
    ` ${text.replace(",", ", ")} (latitude, longitude): about ${Math.ceil(mesh.accuracy)} m, for finding the place, never for measuring`,
  );
}
