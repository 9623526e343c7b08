// What is written on the map when it is near: names of lines, and the deviation of shots out of tolerance, as words
// and as an arrow drawn larger by a factor that is printed in the legend.
import * as choice from "./choice.js";
import { byId } from "./elements.js";
import { around, want } from "./labels.js";
import { layers } from "./linework.js";
import { rankOf } from "./pins.js";
import * as records from "./records.js";
import { absent } from "./unpack.js";
import { digit as lastDigit, sees } from "./view.js";
import * as words from "./words.js";

const NAMES_FROM = 2.5, NUMBERS_FROM = 3.5; // pixels for a foot
const MOST = 80;
const SHARES = [0.36, 0.5, 0.62, 0.26, 0.72]; // of the picture, where names of lines may stand
const ARROW = 22; // pixels for a tenth of a foot, at least
const FACTORS = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000];
const CAP = 90; // longest arrow, in pixels; a longer one is drawn dashed
let tables = null, about = null, worst = null, capped = false;

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
function rightOf({ cos, sin }, name, station) {
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
      return { x: (dy * cos + dx * sin) / length, y: (dx * cos - dy * sin) / length };
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
    const x = view.x(easting[shot], northing[shot]), y = view.y(easting[shot], northing[shot]);
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
  capped = false;
  for (const { row, x, y } of found) {
    const finding = records.finding(row);
    const right = finding.check === "offset" ? rightOf(view, finding.subject, finding.station) : null;
    if (!right) continue;
    const whole = finding.deviation * digit * factor * view.perUnit, size = Math.max(-CAP, Math.min(CAP, whole));
    ctx.setLineDash(size === whole ? [] : [5, 3]);
    capped ||= size !== whole;
    arrow(ctx, x, y, right.x * size, right.y * size);
    drawn++;
  }
  ctx.setLineDash([]);
  return drawn ? factor : null;
}

function paintNumbers(found) {
  for (const { row, x, y } of found) {
    const finding = records.finding(row);
    want(words.judged(finding, { way: false }), around(x, y, 13), { rank: 1 + Math.min(1, (Number(rankOf(row)) || 900) / 1000) });
  }
}

// One name for each line in sight, at the first of some shares of the picture where there is room.
function nameLines(view) {
  const { starts, boxes, easting, northing, count } = layers.lines;
  const kind = choice.state.kind;
  for (let row = 0; row < count; row++) {
    if (!sees(view, boxes[row]) || (kind && tables.lines.text("kind", row) !== kind)) continue;
    const spots = placesAt(view, easting, northing, starts[row], starts[row + 1]);
    if (spots.length) want(tables.lines.text("line", row), spots, { rank: 4, soft: true });
  }
}

// The points of a path at the shares of the picture, along its longer side, in their order; found in one walk along it.
function placesAt(view, easting, northing, from, to) {
  const at = (i) => [view.x(easting[i], northing[i]), view.y(easting[i], northing[i])];
  const [[x0, y0], [x1, y1]] = [at(from), at(to - 1)], main = Math.abs(y1 - y0) > 2 * Math.abs(x1 - x0) ? 1 : 0;
  const wanted = SHARES.map((share) => view[main ? "height" : "width"] * share), low = Math.min(...wanted), high = Math.max(...wanted);
  const found = [];
  let next = [x0, y0];
  for (let i = from; i < to - 1; i++) {
    const here = next;
    next = at(i + 1);
    const first = Math.min(here[main], next[main]), last = Math.max(here[main], next[main]);
    if (last < low || first > high || first === last) continue;
    wanted.forEach((share, place) => {
      if (found[place] || first > share || last < share) return;
      const [x, y] = here.map((value, axis) => value + ((share - here[main]) / (next[main] - here[main])) * (next[axis] - value));
      if (y > 20 && y < view.height - 20) found[place] = main ? { x: x + 4, y } : { x, y: y - 4 };
    });
  }
  return found.filter(Boolean);
}

export function paint(ctx, view) {
  const on = choice.state.layers;
  if (view.perFoot >= NAMES_FROM && on.lines) nameLines(view);
  const found = view.perFoot >= NUMBERS_FROM ? inSight(view) : [];
  const factor = on.arrows ? paintArrows(ctx, view, found) : null;
  const line = byId("arrow-factor");
  if (line) {
    line.textContent = factor ? `× ${factor}` : "zoom in";
    line.classList.toggle("idle", !factor);
  }
  byId("exaggerated").textContent = factor ? `arrows × ${factor}${capped ? ", dashed ones longer" : ""}` : "";
  if (found.length) paintNumbers(found);
}
