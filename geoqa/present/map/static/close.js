// What is written on the map when it is near: names of lines, and the deviation of shots out of tolerance, as words
// and as an arrow drawn larger by a factor that is printed in the legend.
import * as choice from "./choice.js";
import { byId } from "./elements.js";
import { write } from "./grid.js";
import { layers } from "./linework.js";
import * as records from "./records.js";
import { absent } from "./unpack.js";
import { digit as lastDigit, sees } from "./view.js";
import * as words from "./words.js";

const NAMES_FROM = 2.5, NUMBERS_FROM = 3.5; // pixels for a foot
const MOST = 80;
const ARROW = 22; // pixels for a tenth of a foot, at least
const FACTORS = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000];
let tables = null, about = null, worst = null;

export function begin(allTables, allAbout) {
  tables = allTables;
  about = allAbout;
}

// The first finding out of tolerance of every shot that has one.
function outOfTolerance() {
  if (worst) return worst;
  worst = new Map();
  const code = about.verdicts.findIndex(({ verdict }) => verdict === "OUT");
  const verdicts = tables.findings.numbers("verdict"), shots = tables.findings.numbers("shot");
  for (let row = 0; row < verdicts.length; row++) {
    if (verdicts[row] === code && !absent(shots[row]) && !worst.has(shots[row])) worst.set(shots[row], row);
  }
  return worst;
}

const factorFor = (view) => FACTORS.find((factor) => 0.1 * factor * view.perFoot >= ARROW) ?? FACTORS[FACTORS.length - 1];

// Direction to the right of a design line at a station, as a unit vector on the screen.
function rightOf(name, station) {
  const rows = tables.lines.texts("line").indexOf(name);
  const lines = tables.lines.numbers("line");
  const { starts, easting, northing } = layers.lines;
  const stations = tables["lines.points"].numbers("station");
  for (let row = 0; row < lines.length; row++) {
    if (lines[row] !== rows) continue;
    for (let i = starts[row]; i < starts[row + 1] - 1; i++) {
      if (!(station >= stations[i] && station <= stations[i + 1])) continue;
      const dx = easting[i + 1] - easting[i], dy = northing[i + 1] - northing[i];
      const length = Math.hypot(dx, dy) || 1;
      return { x: dy / length, y: dx / length };
    }
  }
  return null;
}

function arrow(ctx, x, y, dx, dy) {
  const length = Math.hypot(dx, dy);
  if (length < 6) return;
  const ux = dx / length, uy = dy / length;
  const tipX = x + dx, tipY = y + dy;
  ctx.beginPath();
  ctx.moveTo(x, y);
  ctx.lineTo(tipX - 7 * ux, tipY - 7 * uy);
  ctx.moveTo(tipX, tipY);
  ctx.lineTo(tipX - 9 * ux - 4.5 * uy, tipY - 9 * uy + 4.5 * ux);
  ctx.lineTo(tipX - 9 * ux + 4.5 * uy, tipY - 9 * uy - 4.5 * ux);
  ctx.closePath();
  ctx.fill();
  ctx.stroke();
}

// Shots out of tolerance in sight that are drawn at all.
function inSight(view) {
  const codes = choice.codes();
  const easting = tables.shots.numbers("easting"), northing = tables.shots.numbers("northing");
  const found = [];
  for (const [shot, row] of outOfTolerance()) {
    if (about.verdicts[codes[shot]]?.verdict !== "OUT") continue;
    const x = view.x(easting[shot]), y = view.y(northing[shot]);
    if (x > 0 && y > 0 && x < view.width && y < view.height) found.push({ row, x, y });
    if (found.length > MOST) return [];
  }
  return found;
}

function paintArrows(ctx, view, found) {
  const factor = factorFor(view);
  const digit = lastDigit();
  const colour = about.verdicts.find(({ verdict }) => verdict === "OUT").colour;
  ctx.strokeStyle = ctx.fillStyle = colour;
  ctx.lineWidth = 2.2;
  let drawn = 0;
  for (const { row, x, y } of found) {
    const finding = records.finding(row);
    const right = finding.check === "offset" ? rightOf(finding.subject, finding.station) : null;
    if (!right) continue;
    const size = Math.max(-90, Math.min(90, finding.deviation * digit * factor * view.perUnit));
    arrow(ctx, x, y, right.x * size, right.y * size);
    drawn++;
  }
  return drawn ? factor : null;
}

function paintNumbers(ctx, view, found) {
  for (const { row, x, y } of found) {
    const finding = records.finding(row);
    write(ctx, words.judged(finding, { way: false }), x + 13, y + 17);
  }
}

// One name for each line in sight, near the middle of what is seen of it.
function paintNames(ctx, view) {
  const { starts, boxes, easting, northing, count } = layers.lines;
  const kind = choice.state.kind;
  const taken = [];
  for (let row = 0; row < count; row++) {
    if (!sees(view, boxes[row]) || (kind && tables.lines.text("kind", row) !== kind)) continue;
    const spot = middleInSight(view, easting, northing, starts[row], starts[row + 1]);
    if (!spot || taken.some((other) => Math.abs(other.x - spot.x) < 70 && Math.abs(other.y - spot.y) < 13)) continue;
    taken.push(spot);
    write(ctx, tables.lines.text("line", row), spot.x, spot.y - 4, "#4a5058");
  }
}

// The point of a path at the share of the picture where names stand, or null.
function middleInSight(view, easting, northing, from, to) {
  const wanted = view.width * 0.36;
  for (let i = from; i < to - 1; i++) {
    const x1 = view.x(easting[i]), x2 = view.x(easting[i + 1]);
    if (Math.min(x1, x2) > wanted || Math.max(x1, x2) < wanted || x1 === x2) continue;
    const share = (wanted - x1) / (x2 - x1);
    const y = view.y(northing[i] + share * (northing[i + 1] - northing[i]));
    if (y > 20 && y < view.height - 20) return { x: wanted, y };
  }
  return null;
}

export function paint(ctx, view) {
  const on = choice.state.layers;
  if (view.perFoot >= NAMES_FROM && on.lines) paintNames(ctx, view);
  const found = view.perFoot >= NUMBERS_FROM ? inSight(view) : [];
  const factor = on.arrows ? paintArrows(ctx, view, found) : null;
  const line = byId("arrow-factor");
  if (line) line.textContent = factor ? `× ${factor}` : "zoom in";
  if (found.length) paintNumbers(ctx, view, found);
}
