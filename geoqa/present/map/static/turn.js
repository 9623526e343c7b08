// The view turned along a job that is long and thin; north goes up at a press, and the arrow says where it is.
import { byId } from "./elements.js";
import * as fly from "./fly.js";
import * as view from "./view.js";

const SAMPLE = 2000, THIN = 2.5, LEVEL = 15, WORTH = 1.25; // how thin, degrees left as they are, how much larger the other side
const COARSE = 6; // degrees, before single ones
let map = null, places = [], northUp = false;

export function begin(theMap) {
  map = theMap;
  places = view.someOf(SAMPLE);
  const { x, y } = map.getSize(), button = byId("north-up");
  set(along(x, y));
  button.hidden = !view.up();
  button.addEventListener("click", () => {
    northUp = !northUp;
    button.setAttribute("aria-pressed", String(northUp));
    const size = map.getSize();
    change(northUp ? 0 : along(size.x, size.y));
  });
}

// Width and height of most of the job with an azimuth up.
const sizeOf = (up) => {
  const [u0, u1, v0, v1] = view.most(places, up);
  return [u1 - u0, v1 - v0];
};

// The azimuth in degrees that is to point up in a window, so that a long and thin job lies along one of its sides: the
// one that is up anyhow, or to the right, unless the other shows it much larger.
function along(wide, high) {
  if (northUp || !places.length) return 0;
  const fit = (up) => {
    const [width, height] = sizeOf(up);
    return Math.min(wide / width, high / height);
  };
  const thin = thinnest();
  const [length, width] = sizeOf(thin);
  if (length < THIN * width) return 0;
  const [right, up] = [thin, thin > 0 ? thin - 90 : thin + 90].map((each) => (Math.abs(each) <= LEVEL ? 0 : each));
  const [first, other] = up ? [right, up] : [up, right];
  return fit(other) > WORTH * fit(first) ? other : first;
}

// The azimuth with which the job is least high, to a degree. A job that is long has one valley of heights, as deep as it is
// thin; of another, nothing follows from which is found.
function thinnest() {
  const heights = new Map();
  const height = (up) => {
    if (!heights.has(up)) heights.set(up, view.reach(places, up, 90).reduce((low, high) => high - low));
    return heights.get(up);
  };
  const least = (all) => all.reduce((best, up) => (height(up) < height(best) ? up : best));
  const round = least(Array.from({ length: 180 / COARSE }, (_, i) => i * COARSE - 90 + COARSE));
  return least(Array.from({ length: 2 * COARSE - 1 }, (_, i) => ((round + i - COARSE + 1 + 269) % 180) - 89));
}

function set(up) {
  view.turn(up);
  byId("north").querySelector("svg").style.rotate = `${-up}deg`;
  byId("north").setAttribute("aria-label", up ? `Grid north is ${Math.abs(up)}° ${up > 0 ? "left" : "right"} of up` : "Grid north is up");
}

// Another way up: what is seen stays in the middle, and all of the job stays all of it.
function change(up) {
  if (up === view.up()) return;
  const whole = map.getBounds().contains(view.bounds(view.home())), centre = view.placeOf(map.getCenter());
  set(up);
  if (whole) fly.toBounds(view.home());
  else map.setView(view.latLng(centre), map.getZoom(), { animate: false });
  fly.again();
}

// The whole job as it lies best on paper of a shape; called again, as it was.
export function forPaper(wide, high) {
  const before = view.up();
  if (map.getBounds().contains(view.bounds(view.home()))) {
    set(along(wide, high));
    fly.toBounds(view.home());
  }
  return () => set(before);
}
