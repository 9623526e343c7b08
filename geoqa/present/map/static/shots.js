// The shots: which are in sight, and how each is drawn.
import * as choice from "./choice.js";
import * as glyph from "./glyph.js";
import { colours } from "./ink.js";
import * as thin from "./thin.js";
import { boxOf, sees, turnedBox, within } from "./view.js";

const BLOCK = 256;
const MOST = 400;
export const NOT_ASKED = { shape: "circle", get colour() { return colours.unasked; } };
let tables = null, about = null, easting = null, northing = null, boxes = [], last = 0;

export function begin(allTables, allAbout) {
  tables = allTables;
  about = allAbout;
  easting = tables.shots.numbers("easting");
  northing = tables.shots.numbers("northing");
  // shots without a place lie at the end of the curve
  last = easting.length;
  while (last > 0 && (easting[last - 1] !== easting[last - 1] || northing[last - 1] !== northing[last - 1])) last--;
  boxes = [];
  for (let from = 0; from < last; from += BLOCK) {
    boxes.push(boxOf(easting, northing, from, Math.min(from + BLOCK, last)));
  }
}

// Stretches of the list whose box is in sight; neighbours on the curve are neighbours on the ground.
function blocksIn(view) {
  const found = [];
  boxes.forEach((box, block) => {
    if (!sees(view, box)) return;
    const from = block * BLOCK, to = Math.min(from + BLOCK, last);
    if (found.length && found[found.length - 1][1] === from) found[found.length - 1][1] = to;
    else found.push([from, to]);
  });
  return found;
}

export const style = (code) => about.verdicts[code] ?? NOT_ASKED;

// Best first, so that the worst is drawn last.
function orderOfDrawing() {
  const codes = about.verdicts.map((_, code) => code).sort((a, b) => about.verdicts[b].order - about.verdicts[a].order);
  return [about.verdicts.length, ...codes];
}

// Half sizes in pixels: small when the whole job is in sight, large when a few feet are.
function radii(view) {
  const near = Math.min(1, Math.max(0, (Math.log2(view.perFoot) + 2) / 6));
  return { IN: 2.2 + 2.8 * near, UNDECIDED: 3 + 3 * near, NO_DATA: 2.4 + 2.4 * near, OUT: 5 + 4 * near, rest: 1.6 + 1.4 * near };
}

export function paint(ctx, view) {
  const classes = about.verdicts.length + 1;
  const codes = choice.codes();
  const order = orderOfDrawing();
  const blocks = blocksIn(view);
  const cells = thin.count(view, blocks, codes, easting, northing, classes);
  const crowded = cells.shots > 400 && cells.shots / Math.max(1, cells.touched.length) > 2;
  const places = Array.from({ length: classes }, () => []);
  if (crowded) {
    const { dots, alone } = thin.filled(cells, classes, order);
    for (const code of order) thin.paint(ctx, dots[code], style(code).colour);
    for (const i of alone) places[codes[i]].push(view.x(easting[i], northing[i]), view.y(easting[i], northing[i]));
  } else {
    for (const [from, to] of blocks) {
      for (let i = from; i < to; i++) if (codes[i] < classes) places[codes[i]].push(view.x(easting[i], northing[i]), view.y(easting[i], northing[i]));
    }
  }
  const r = radii(view);
  for (const code of order) {
    const { shape, colour, verdict } = style(code);
    glyph.paint(ctx, shape, colour, places[code], r[verdict] ?? r.rest, verdict === "OUT" ? 2 : verdict ? 0.8 : 0);
  }
  return { crowded, shots: cells.shots };
}

// Calls `found` for every drawn shot within `reach` last digits of a place, until it answers true.
function visit(place, reach, found) {
  const codes = choice.codes();
  for (let block = 0; block < boxes.length; block++) {
    if (!within(place, boxes[block], reach)) continue;
    for (let i = block * BLOCK; i < Math.min(block * BLOCK + BLOCK, last); i++) {
      if (codes[i] === choice.HIDDEN) continue;
      const distance = Math.hypot(easting[i] - place.easting, northing[i] - place.northing);
      if (distance <= reach && found(i, distance, codes[i])) return true;
    }
  }
  return false;
}

// Shots near a place, nearest first; where very many are, only the nearest.
export function near(place, reach) {
  const found = [];
  const crowded = visit(place, reach, (row, distance, code) => found.push({ row, distance, code }) > MOST);
  if (crowded) return near(place, reach / 2);
  return found.sort((a, b) => a.distance - b.distance || a.row - b.row);
}

export const touches = (place, reach) => visit(place, reach, () => true);

// Shots beyond a box on the screen.
export function outside(box) {
  let count = 0;
  for (let i = 0; i < last; i++) {
    const [u, v] = turnedBox(easting, northing, i, i + 1);
    if (u < box[0] || u > box[2] || v < box[1] || v > box[3]) count++;
  }
  return count;
}

export const wholeBox = () => turnedBox(easting, northing, 0, last);
