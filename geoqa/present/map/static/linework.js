// Bands, design lines, gaps and runs; under the shots.
import { ofVerdict, state, wants } from "./choice.js";
import { colours } from "./ink.js";
import { order } from "./records.js";
import { absent } from "./unpack.js";
import { boxOf, sees, turnedBox } from "./view.js";

const TINTS = ["#6f9ea8", "#a39a6b", "#9d86ad", "#7f9b7a", "#b0937c", "#7d8fb3", "#8aa39b", "#a88b98"];
export const layers = {};
let tables = null, bandKinds = [];

// Paths of a layer: where each starts in the list of points, and its box.
function pathsOf(paths, points, owners) {
  const counts = paths.numbers("count");
  const easting = points.numbers("easting"), northing = points.numbers("northing");
  const starts = new Uint32Array(counts.length + 1);
  const boxes = [];
  for (let i = 0; i < counts.length; i++) {
    starts[i + 1] = starts[i] + counts[i];
    boxes.push(boxOf(easting, northing, starts[i], starts[i + 1]));
  }
  return { starts, boxes, easting, northing, owners, count: counts.length };
}

export function begin(allTables) {
  tables = allTables;
  const lines = tables.lines;
  layers.lines = pathsOf(lines, tables["lines.points"], Array.from({ length: lines.rows }, (_, i) => i));
  for (const name of ["bands", "runs", "gaps"]) {
    const paths = tables[`${name}.paths`];
    layers[name] = pathsOf(paths, tables[`${name}.points`], paths.numbers("owner"));
  }
  layers.asbuilt = asbuilt();
  layers.reaches = reaches();
  bandKinds = tables.bands.rows ? tables.bands.texts("kind") : [];
}

export const kinds = () => bandKinds;

const column = (rows) => ({ numbers: (name) => rows[name] });

// Lines through shots: `rows` are those of the shots, path after path, `counts` how many each path has.
function throughShots(rows, counts, owners) {
  const easting = tables.shots.numbers("easting"), northing = tables.shots.numbers("northing");
  const points = { easting: new Float64Array(rows.length), northing: new Float64Array(rows.length) };
  let from = 0, to = 0;
  const known = Array.from(counts, (count) => {
    const begun = to;
    for (const end = from + count; from < end; from++) {
      const e = easting[rows[from]], n = northing[rows[from]];
      if (absent(e) || absent(n)) continue;
      points.easting[to] = e;
      points.northing[to++] = n;
    }
    return to - begun;
  });
  return pathsOf(column({ count: known }), column(points), owners);
}

// Through the middle of neighbours, so that two lines of shots give one stroke between them.
function between(paths, owners) {
  const layer = throughShots(paths.flat(), paths.map(({ length }) => length), owners);
  const points = { easting: [], northing: [] }, counts = [];
  for (let path = 0; path < layer.count; path++) {
    const first = layer.starts[path], size = layer.starts[path + 1] - first, step = size > 2 ? 1 : 0;
    counts.push(size - step);
    for (const axis of ["easting", "northing"]) {
      for (let i = first; i < first + size - step; i++) points[axis].push((layer[axis][i] + layer[axis][i + step]) / 2);
    }
  }
  return pathsOf(column({ count: counts }), column(points), owners);
}

function asbuilt() {
  const counts = tables.asbuilt.numbers("count");
  return throughShots(tables["asbuilt.points"].numbers("shot"), counts, Array.from(counts, (_, path) => path));
}

// What is judged from several shots and is not within its limits reaches over them, in the order they lie in.
function reaches() {
  const table = tables.evidence, verdicts = tables.findings.numbers("verdict"), run = tables.findings.numbers("run");
  const members = new Map(), drawn = new Set(["runs", "gaps"].flatMap((name) => Array.from(tables[name].numbers("finding"))));
  const role = table.texts("role").indexOf("member"), shots = table.numbers("shot"), roles = table.numbers("role");
  table.numbers("finding").forEach((finding, i) => {
    if (roles[i] !== role || absent(shots[i]) || drawn.has(finding) || !absent(run[finding]) || order(verdicts[finding]) > 1) return;
    members.set(finding, [...(members.get(finding) ?? []), shots[i]]);
  });
  const several = [...members].filter(([, path]) => path.length > 1);
  return between(several.map(([, path]) => inLine(path)), several.map(([finding]) => finding));
}

// Shots sorted along the direction they lie in.
function inLine(path) {
  const easting = tables.shots.numbers("easting"), northing = tables.shots.numbers("northing");
  const mean = (values) => path.reduce((all, shot) => all + values[shot], 0) / path.length;
  const east = mean(easting), north = mean(northing);
  let ee = 0, en = 0, nn = 0;
  for (const shot of path) {
    const e = easting[shot] - east, n = northing[shot] - north;
    ee += e * e;
    en += e * n;
    nn += n * n;
  }
  const angle = Math.atan2(2 * en, ee - nn) / 2;
  const along = (shot) => easting[shot] * Math.cos(angle) + northing[shot] * Math.sin(angle);
  return path.slice().sort((a, b) => along(a) - along(b));
}

function paintAsbuilt(ctx, view) {
  ctx.beginPath();
  for (const path of visible(layers.asbuilt, view)) trace(ctx, view, layers.asbuilt, path, false);
  ctx.strokeStyle = colours.asbuilt;
  ctx.lineWidth = 1;
  ctx.setLineDash([2, 3]);
  ctx.stroke();
  ctx.setLineDash([]);
}

// Chosen as runs are, but thinner, and what is undecided only from near.
function paintReaches(ctx, view, about) {
  const chosen = wants();
  const wanted = (finding) =>
    ofVerdict(finding) && (view.perFoot > 1 || verdictOf(about, finding).verdict === "OUT") && chosen(finding);
  for (const path of visible(layers.reaches, view, wanted)) {
    ctx.beginPath();
    trace(ctx, view, layers.reaches, path, false);
    asRun(ctx, verdictOf(about, layers.reaches.owners[path]), view);
    ctx.lineJoin = "round";
    ctx.lineWidth /= 2;
    ctx.stroke();
    ctx.globalAlpha = 1;
  }
}

// Adds one path, leaving out what would fall on the same pixel.
function trace(ctx, view, layer, path, closed) {
  const { easting, northing, starts } = layer;
  const first = starts[path], end = starts[path + 1];
  let lastX = view.x(easting[first], northing[first]), lastY = view.y(easting[first], northing[first]);
  ctx.moveTo(lastX, lastY);
  for (let i = first + 1; i < end; i++) {
    const x = view.x(easting[i], northing[i]), y = view.y(easting[i], northing[i]);
    if (i < end - 1 && Math.abs(x - lastX) + Math.abs(y - lastY) < 1) continue;
    ctx.lineTo(x, y);
    lastX = x;
    lastY = y;
  }
  if (closed) ctx.closePath();
}

function visible(layer, view, wanted = () => true) {
  const found = [];
  for (let i = 0; i < layer.count; i++) if (sees(view, layer.boxes[i]) && wanted(layer.owners[i])) found.push(i);
  return found;
}

const ofKind = (table) => {
  const kind = state.kind;
  return kind ? (row) => table.text("kind", row) === kind : () => true;
};

function paintBands(ctx, view) {
  const byKind = new Map();
  for (const path of visible(layers.bands, view, ofKind(tables.bands))) {
    const kind = tables.bands.numbers("kind")[layers.bands.owners[path]];
    byKind.set(kind, [...(byKind.get(kind) ?? []), path]);
  }
  for (const [kind, paths] of byKind) {
    ctx.beginPath();
    for (const path of paths) trace(ctx, view, layers.bands, path, true);
    ctx.globalAlpha = colours.band;
    ctx.fillStyle = tintOf(kind);
    ctx.fill("evenodd");
    ctx.globalAlpha = 1;
  }
}

export const tintOf = (kind) => TINTS[kind % TINTS.length];

function paintLines(ctx, view) {
  ctx.beginPath();
  for (const path of visible(layers.lines, view, ofKind(tables.lines))) trace(ctx, view, layers.lines, path, false);
  ctx.strokeStyle = colours.line;
  ctx.lineWidth = view.perFoot > 8 ? 1.5 : 1;
  ctx.lineJoin = "round";
  ctx.stroke();
}

const verdictOf = (about, finding) =>
  absent(finding) ? null : about.verdicts[tables.findings.numbers("verdict")[finding]];

// A run lies as a wide, see-through stroke under its shots; a gap is a thick dashed line.
function paintOwned(ctx, view, about, name, style) {
  const layer = layers[name], owners = tables[name];
  if (!layer.count) return;
  const chosen = wants();
  const wanted = (row) => {
    const finding = owners.numbers("finding")[row];
    return absent(finding) || (ofVerdict(finding) && chosen(finding));
  };
  for (const path of visible(layer, view, wanted)) {
    const verdict = verdictOf(about, owners.numbers("finding")[layer.owners[path]]);
    ctx.beginPath();
    trace(ctx, view, layer, path, false);
    style(ctx, verdict, view);
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.globalAlpha = 1;
  }
}

const asRun = (ctx, verdict, view) => {
  ctx.lineCap = "round";
  ctx.globalAlpha = verdict?.verdict === "OUT" ? 0.36 : 0.2;
  ctx.strokeStyle = verdict?.colour ?? colours.line;
  ctx.lineWidth = view.perFoot > 4 ? 20 : view.perFoot > 0.7 ? 13 : 8;
};

const asGap = (ctx, verdict) => {
  ctx.lineCap = "butt";
  ctx.strokeStyle = verdict?.colour ?? colours.line;
  ctx.lineWidth = 5;
  ctx.setLineDash([9, 5]);
};

const boxOnScreen = ({ easting, northing, starts }, path) => turnedBox(easting, northing, starts[path], starts[path + 1]);

// Where design lines lie on the screen.
export const boxOfLine = (row) => boxOnScreen(layers.lines, row);

// The run or gap of a finding: its box on the screen, or null.
export function boxOfFinding(finding) {
  for (const name of ["runs", "gaps"]) {
    const owner = tables[name].numbers("finding").indexOf(finding);
    const path = owner < 0 ? -1 : layers[name].owners.indexOf(owner);
    if (path >= 0) return boxOnScreen(layers[name], path);
  }
  const reach = layers.reaches.owners.indexOf(finding);
  return reach < 0 ? null : boxOnScreen(layers.reaches, reach);
}

export function paint(ctx, view, about) {
  const on = state.layers;
  if (on.bands) paintBands(ctx, view);
  if (on.lines) paintLines(ctx, view);
  if (on.asbuilt) paintAsbuilt(ctx, view);
  if (on.gaps) paintOwned(ctx, view, about, "gaps", asGap);
  if (on.runs) {
    paintOwned(ctx, view, about, "runs", asRun);
    paintReaches(ctx, view, about);
  }
}
