// Profile and section under the map: what was judged along a line, by station, and across the baseline at one.
import { shotsBehind } from "./card.js";
import * as choice from "./choice.js";
import { byId, element, onceAFrame } from "./elements.js";
import * as fly from "./fly.js";
import * as plot from "./plot.js";
import { open as openCard } from "./popup.js";
import * as records from "./records.js";
import { now, onSelect } from "./selection.js";
import * as stationed from "./stationed.js";
import { absent } from "./unpack.js";
import { foot } from "./view.js";
import * as words from "./words.js";

const MOST = 1200, NARROW = 5, LEVELS = "levels", SECTION = "section";
let about = null, map = null, holder = null, shown = [], chosen = { line: "", view: "" }, station = null, picked = null, ready = false;

export const marks = () => shown;

export function begin(tables, allAbout, theMap) {
  [about, map, holder] = [allAbout, theMap, byId("profile-plot")];
  stationed.begin(tables);
  const later = onceAFrame(draw);
  byId("profile-button").addEventListener("click", () => unfold(byId("profile").hidden));
  byId("profile-close").addEventListener("click", () => {
    unfold(false);
    byId("profile-button").focus();
  });
  byId("profile-line").addEventListener("change", ({ target }) => choose({ line: target.value }));
  byId("profile-view").addEventListener("change", ({ target }) => choose({ view: target.value }));
  byId("profile-back").addEventListener("click", () => step(-1));
  byId("profile-on").addEventListener("click", () => step(1));
  holder.addEventListener("click", ({ target }) => visit(target.closest("[data-mark]")));
  holder.addEventListener("keydown", keys);
  onSelect((target) => !byId("profile").hidden && follow(target));
  choice.onChange(later);
  window.addEventListener("resize", later);
}

const views = () => [
  ...stationed.checks().map((check) => [check, words.checkTitle(check)]),
  ...(stationed.ofCheck("elevation").size ? [[LEVELS, "Elevations, as built and design"]] : []),
  ...(stationed.shotsBeside().length ? [[SECTION, "Section across the baseline"]] : []),
];

function unfold(open) {
  byId("profile").hidden = !open;
  byId("profile-button").setAttribute("aria-expanded", String(open));
  document.body.classList.toggle("profiled", open);
  map.invalidateSize({ animate: false });
  if (!open) return;
  if (!ready) {
    ready = true;
    const offered = views();
    byId("profile-view").append(...offered.map(([value, text]) => element("option", { value, text })));
    const first = ["elevation", "offset"].find((name) => offered.some(([value]) => value === name)) ?? offered[0]?.[0] ?? "";
    chosen.view = first;
  }
  choose({});
  if (now()) openCard(now()); // its card finds room in the smaller map
}

const checkOf = (view) => (view === LEVELS ? "elevation" : view);

function choose(part) {
  chosen = { ...chosen, ...part };
  picked = null;
  byId("profile-said").textContent = "";
  const lines = chosen.view === SECTION ? [] : [...stationed.ofCheck(checkOf(chosen.view)).keys()];
  if (chosen.view === LEVELS && !lines.includes(chosen.line)) chosen.line = lines[0] ?? "";
  if (!lines.includes(chosen.line)) chosen.line = "";
  const all = chosen.view === LEVELS ? [] : [element("option", { value: "", text: "All lines" })];
  byId("profile-line").replaceChildren(...all, ...lines.map((value) => element("option", { value, text: value })));
  byId("profile-line").value = chosen.line;
  byId("profile-line").parentElement.hidden = chosen.view === SECTION;
  byId("profile-view").value = chosen.view;
  for (const name of ["profile-back", "profile-on"]) byId(name).hidden = chosen.view !== SECTION;
  draw();
}

// Rows of what is chosen; numbers that are hidden on the map are hidden here.
function rowsShown() {
  const rows = chosen.line ? (stationed.ofCheck(checkOf(chosen.view)).get(chosen.line) ?? []) : stationed.all(checkOf(chosen.view));
  const seen = choice.state.verdicts, inCode = about.verdicts.findIndex(({ verdict }) => verdict === "IN");
  const visible = rows.filter(({ code }) => seen.has(code ?? inCode));
  // along the baseline, unless some of it lies beside none
  const beside = visible.filter(({ beside: known }) => known);
  return beside.length * 2 >= visible.length ? beside : visible.filter(({ beside: known }) => !known);
}

// All that is out, and of the rest as many as can be told apart.
function thinned(rows) {
  if (rows.length <= MOST) return rows;
  const every = Math.ceil(rows.length / MOST);
  return rows.filter((row, i) => signOf(row).verdict === "OUT" || i % every === 0);
}

const inSign = () => about.verdicts.find(({ verdict }) => verdict === "IN");
const signOf = ({ code }) => (code === null ? inSign() : (about.verdicts[code] ?? { ...inSign(), colour: "#6b7280", verdict: "" }));

const spanOf = (values, least) => {
  const [low, high] = values.reduce(([a, b], value) => [Math.min(a, value), Math.max(b, value)], [Infinity, -Infinity]);
  const pad = Math.max((high - low) * 0.06, least);
  return [low - pad, high + pad];
};

function draw() {
  if (byId("profile").hidden || !ready) return;
  const size = [Math.max(280, holder.clientWidth), Math.max(120, holder.clientHeight)];
  byId("profile-scale").textContent = "";
  if (chosen.view === SECTION) section(size);
  else if (chosen.view === LEVELS) levels(size);
  else deviations(size);
  if (!shown.length) holder.replaceChildren(element("p", { class: "quiet", text: "Nothing of this is shown: it lies at no station, or is hidden." }));
  highlight();
}

const textX = (value) => words.station(Math.round(value)).replace(/\.\d\d$/, "");
const axisOf = (quantity) => (value) => words.quantity(Math.round(value), quantity).replace(/\.?0+(?=$| |°)/, "");

function saidOf(row, subject) {
  if (row.row !== null) {
    const finding = records.finding(row.row);
    return `${words.station(row.x)}, ${subject || finding.subject}: ${words.judged(finding)} ${row.u > 0 ? words.expanded(row.u, row.quantity) : ""}, ${finding.verdict.short}`;
  }
  return `${words.station(row.x)}: ${words.deviation(row.deviation, row.check, row.quantity)}, in`;
}

function deviations(size) {
  const rows = rowsShown();
  shown = thinned(rows);
  if (!shown.length) return;
  const limits = [...new Set(shown.map(({ limit }) => `${limit.lower}|${limit.upper}`))];
  const bounds = shown.flatMap(({ limit }) => [limit.lower, limit.upper]).filter((bound) => bound !== null);
  // one number far off does not flatten all others: what lies beyond stands at the edge
  const sizes = shown.map(({ deviation }) => deviation).sort((a, b) => a - b);
  const reach = 5 * Math.max(...bounds.map(Math.abs), 1), at = (share) => sizes[Math.round((sizes.length - 1) * share)];
  const spread = 2 * (shown.map(({ u }) => (absent(u) ? 0 : u)).sort((a, b) => a - b)[shown.length >> 1] ?? 0);
  const ends = [...bounds, ...(bounds.length ? [] : [0]), ...[sizes[0] - spread, ...sizes, sizes.at(-1) + spread].map((each) => Math.min(Math.max(each, Math.min(-reach, at(0.02))), Math.max(reach, at(0.98))))];
  const made = plot.begin(...size, spanOf(shown.map(({ x }) => x), 500), spanOf(ends, 1));
  const { quantity, check } = shown[0];
  const sides = about.words.directions[check];
  const head = `${words.checkTitle(check)}${quantity === "length" ? `, ${about.unit}` : ""}${sides ? ` (up is ${sides[1]})` : ""}, by station`;
  if (limits.length === 1) plot.band(made, made.x0, made.x1, shown[0].limit.lower, shown[0].limit.upper);
  else {
    const half = (made.x1 - made.x0) / 400;
    for (const { x, limit } of shown) plot.band(made, x - half, x + half, limit.lower, limit.upper);
  }
  plot.axes(made, { textX, textY: axisOf(quantity), head });
  if (made.y0 < 0 && made.y1 > 0) plot.line(made, [[made.x0, 0], [made.x1, 0]], "plot-zero");
  shown.forEach((row, id) => plot.mark(made, { x: row.x, y: row.deviation, spread: absent(row.u) ? 0 : 2 * row.u, sign: signOf(row), said: saidOf(row), id }));
  const left = rows.length - shown.length;
  byId("profile-scale").textContent = `tolerance shaded, whiskers ±2 u${left ? `; ${left.toLocaleString("en-US")} not drawn, none of them out` : ""}`;
  holder.replaceChildren(made.made);
}

// As built and design at true elevations, drawn higher by a factor that is printed.
function levels(size) {
  shown = thinned(rowsShown().filter(({ row }) => row !== null)).map((row) => ({ ...row, ...pick(row.row) })).filter(({ measured }) => !absent(measured));
  if (!shown.length) return;
  const made = plot.begin(...size, spanOf(shown.map(({ x }) => x), 500), spanOf(shown.flatMap(({ measured, design }) => [measured, absent(design) ? measured : design]), 30));
  plot.axes(made, { textX, textY: axisOf("length"), head: `Elevation, ${about.unit}: signs as built, dashes design, by station` });
  const designed = shown.filter(({ design }) => !absent(design));
  for (const side of ["lower", "upper"]) {
    plot.line(made, designed.filter(({ limit }) => limit[side] !== null).map(({ x, design, limit }) => [x, design + limit[side]]), "plot-limit");
  }
  plot.line(made, designed.map(({ x, design }) => [x, design]), "plot-design");
  shown.forEach((row, id) => plot.mark(made, { x: row.x, y: row.measured, spread: absent(row.u) ? 0 : 2 * row.u, sign: signOf(row), said: saidOf(row, chosen.line), id }));
  exaggerated(made, 100);
  holder.replaceChildren(made.made);
}

const pick = (row) => {
  const { measured, design } = records.finding(row);
  return { measured, design };
};

// Vertical over horizontal scale; a unit of x is `across` of a unit of the grid.
function exaggerated(made, across) {
  const tall = Math.abs(made.y(0) - made.y(1)) * 10 ** about.digits, wide = Math.abs(made.x(1) - made.x(0)) * across;
  byId("profile-scale").textContent = `heights × ${Number((tall / wide).toPrecision(2))}; tolerance thin, whiskers ±2 u`;
}

// Shots near one station, seen up the stations: left is left.
function section(size) {
  const all = stationed.shotsBeside();
  if (station === null) station = all[Math.floor(all.length / 2)].x;
  const reach = NARROW * foot() * 100;
  shown = all.filter(({ x }) => Math.abs(x - station) <= reach);
  byId("profile-said").textContent = `Section at ${words.station(station)}, ${words.many(shown.length, "shot")} within ${NARROW * foot() === NARROW ? NARROW : (NARROW * foot()).toFixed(1)} ${about.unit}`;
  if (!shown.length) return;
  const designs = shown.filter(({ judged }) => judged?.row !== undefined && judged?.row !== null).map((each) => ({ ...each, ...pick(each.judged.row), limit: each.judged.limit, u: each.judged.u }));
  const made = plot.begin(...size, spanOf(shown.map(({ offset }) => offset), 2), spanOf([...shown.map(({ elevation }) => elevation), ...designs.map(({ design }) => design)], 100));
  plot.axes(made, { textX: (value) => (value ? `${Math.abs(value)} ${value < 0 ? "left" : "right"}` : "0"), textY: axisOf("length"), head: `Elevation across, ${about.unit}: signs as built, bars design and tolerance` });
  const half = (made.x1 - made.x0) / 120;
  for (const { offset, design, limit } of designs) {
    plot.band(made, offset - half, offset + half, limit.lower === null ? null : design + limit.lower, limit.upper === null ? null : design + limit.upper);
    plot.line(made, [[offset - half, design], [offset + half, design]], "plot-design");
  }
  const spread = new Map(designs.map(({ shot, u }) => [shot, u]));
  shown.forEach((each, id) => {
    const u = spread.get(each.shot);
    const said = `Shot ${records.shot(each.shot).name}, ${words.station(each.x)}, ${words.quantity(each.elevation, "length")}`;
    plot.mark(made, { x: each.offset, y: each.elevation, spread: absent(u ?? NaN) ? 0 : 2 * u, sign: signOf(each), said, id });
  });
  exaggerated(made, 1);
  holder.replaceChildren(made.made);
}

// The next or last place with shots that this section does not show.
function step(by) {
  const all = stationed.shotsBeside(), reach = NARROW * foot() * 100;
  const next = by > 0 ? all.find(({ x }) => x > station + reach) : all.findLast(({ x }) => x < station - reach);
  if (!next) return;
  station = next.x + by * reach / 2;
  draw();
  const place = records.placeOfShot(next.shot);
  if (place) fly.to(place);
}

const targetOf = (each) => (each.row === null || each.row === undefined ? (each.shot === null ? null : { type: "shot", row: each.shot }) : { type: "finding", row: each.row });
const placeOf = ({ type, row }) => (type === "shot" ? records.placeOfShot(row) : records.placeOfFinding(row));

// A mark was asked for: the map goes there and its card opens.
function visit(group) {
  const each = group ? shown[Number(group.dataset.mark)] : null, target = each ? targetOf(each) : null;
  if (!target) return;
  picked = Number(group.dataset.mark);
  const place = placeOf(target);
  fly.from(holder.querySelector("svg"));
  if (place) fly.to(place);
  openCard(target);
}

// Arrows go from mark to mark, Enter opens.
function keys(event) {
  const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (event.key === "Enter" && picked !== null) visit(holder.querySelector(`[data-mark="${picked}"]`));
  if (!by || !shown.length) return;
  event.preventDefault();
  event.stopPropagation();
  picked = picked === null ? (by > 0 ? 0 : shown.length - 1) : Math.min(shown.length - 1, Math.max(0, picked + by));
  highlight();
  const target = targetOf(shown[picked]), place = target && placeOf(target);
  if (place) fly.to(place);
}

// What was opened elsewhere is shown here; where it is no number of what is drawn, its own line is.
function follow(target) {
  picked = null;
  if (!target || (target.type !== "finding" && target.type !== "shot")) return highlight();
  if (chosen.view === SECTION) return across(target);
  picked = placeOfMark(target);
  if (picked === null && target.type === "finding") {
    const { check, subject } = records.finding(target.row);
    const members = new Set([target.row, ...records.membersOfRun(target.row)]);
    const lines = stationed.checks().includes(check) ? stationed.ofCheck(check) : new Map();
    const there = [...lines].find(([, rows]) => rows.some(({ row }) => members.has(row)));
    if (there) {
      choose({ view: check, line: there[0] });
      picked = placeOfMark(target);
    } else if (stationed.ofCheck(checkOf(chosen.view)).has(subject)) choose({ line: subject });
  }
  highlight();
}

function placeOfMark({ type, row }) {
  const members = type === "finding" ? new Set([row, ...records.membersOfRun(row)]) : null;
  const found = shown.findIndex((each) => (members ? members.has(each.row) : each.shot === row));
  return found < 0 ? null : found;
}

function across({ type, row }) {
  const shots = new Set(type === "shot" ? [row] : [records.finding(row).shot, ...shotsBehind(row)]);
  const there = stationed.shotsBeside().find((each) => shots.has(each.shot));
  if (there) station = there.x;
  draw();
  picked = there ? shown.findIndex((each) => each.shot === there.shot) : -1;
  if (picked < 0) picked = null;
  highlight();
}

function highlight() {
  for (const each of holder.querySelectorAll(".picked")) each.classList.remove("picked");
  const group = picked === null ? null : holder.querySelector(`[data-mark="${picked}"]`);
  if (!group) return;
  group.classList.add("picked");
  byId("profile-said").textContent = group.querySelector("title").textContent;
}
