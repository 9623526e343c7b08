// Find a shot, an item, a line, a mark or a station by what is written on the stake.
import { along } from "./baseline.js";
import { titleOf } from "./card.js";
import { change as choose } from "./choice.js";
import { byId, element } from "./elements.js";
import * as fly from "./fly.js";
import { boxOfLine, layers } from "./linework.js";
import { entries } from "./list.js";
import { open } from "./popup.js";
import * as records from "./records.js";
import { lower } from "./sheet.js";
import * as words from "./words.js";

const MOST = 16, NEAREST = 4;
const STATION = /^(?:(.*?)\s+)?(-?\d+)\+(\d{1,2})(?:\.(\d{0,2}))?(?:\s+(l|r|left|right))?$/i;
let tables = null, field = null, results = null;

export function begin(allTables) {
  tables = allTables;
  field = byId("search");
  results = byId("search-results");
  field.addEventListener("input", show);
  field.addEventListener("keydown", (event) => {
    if (event.key === "Enter") results.querySelector("button")?.click();
    if (event.key === "Escape") clear();
    if (event.key === "ArrowDown") results.querySelector("button")?.focus();
    if (["Enter", "Escape", "ArrowDown"].includes(event.key)) event.preventDefault();
  });
  results.addEventListener("keydown", (event) => {
    const step = { ArrowDown: "nextElementSibling", ArrowUp: "previousElementSibling" }[event.key];
    if (event.key === "Escape") clear();
    if (!step) return;
    event.preventDefault();
    (event.target.closest("li")?.[step]?.querySelector("button") ?? field).focus();
  });
}

function clear() {
  field.value = "";
  show();
  field.focus();
}

function show() {
  const query = field.value.trim();
  const found = query ? find(query) : [];
  results.replaceChildren(...found.map(line));
  const hint = "Nothing found. Try a shot number, an item, a line name or a station such as 12+50.";
  if (query && !found.length) results.append(element("li", { class: "quiet", text: hint }));
  results.hidden = !query;
}

function line({ text, note, go }) {
  const parts = [element("span", { text }), element("span", { class: "quiet", text: note })];
  return element("li", {}, element("button", { type: "button", class: "result", onclick: go }, ...parts));
}

function find(query) {
  const text = query.toLowerCase();
  return [
    ...items(query),
    ...stations(query),
    ...marks("control", "mark", "Control mark", text),
    ...marks("points", "point", "Design point", text),
    ...findings(text),
    ...shots(text),
    ...lines(text),
    ...kinds(text),
    ...worded("code", text),
    ...worded("note", text),
  ].slice(0, MOST);
}

const go = (target, place) => () => {
  lower();
  fly.from(field);
  if (place) fly.to(place);
  open(target);
};

function stations(query) {
  const match = STATION.exec(query);
  if (!match) return [];
  const [, line, full, rest, part, hand] = match;
  const size = Math.abs(Number(full)) * 10000 + Number(rest.padEnd(2, "0")) * 100 + Number((part ?? "").padEnd(2, "0"));
  const station = full.startsWith("-") ? -size : size;
  const found = line ? [] : besideBaseline(station, { l: "left", r: "right" }[hand?.[0].toLowerCase()]);
  for (let row = 0; row < tables.lines.rows && !hand; row++) {
    const name = tables.lines.text("line", row);
    if (line && !name.toLowerCase().includes(line.toLowerCase())) continue;
    const place = placeAlong(row, station);
    if (!place) continue;
    const note = words.kind(tables.lines.text("kind", row));
    found.push({ text: `${name} at ${words.station(station)}`, note, go: go({ type: "station", row, station, place }, place) });
  }
  return found;
}

// The shots nearest along the baseline, on one side of it or both; a shot on the line is on either side.
function besideBaseline(station, side) {
  const table = tables.shots, near = [];
  for (let row = 0; row < table.rows; row++) {
    const said = table.text("baseline", row);
    const { from } = along(said);
    if (from === null) continue;
    if (side && !said.endsWith(side) && !said.endsWith("on the line")) continue;
    const away = Math.abs(from - station);
    if (near.length === NEAREST && away >= near.at(-1).away) continue;
    const at = near.findIndex((each) => away < each.away);
    near.splice(at < 0 ? near.length : at, 0, { row, away, said });
    near.length = Math.min(near.length, NEAREST);
  }
  return near.map(({ row, said }) => ({
    text: `Shot ${table.name("shot", row)}, baseline ${said}`,
    note: words.kind(table.text("kind", row)),
    go: go({ type: "shot", row }, records.placeOfShot(row)),
  }));
}

// Where a station lies on a drawn line, between its two neighbouring vertices.
function placeAlong(row, station) {
  const { starts, easting, northing } = layers.lines;
  const stations = tables["lines.points"].numbers("station");
  for (let i = starts[row]; i < starts[row + 1] - 1; i++) {
    const from = stations[i], to = stations[i + 1];
    if (!(station >= Math.min(from, to) && station <= Math.max(from, to))) continue;
    const share = to === from ? 0 : (station - from) / (to - from);
    const between = (column) => column[i] + share * (column[i + 1] - column[i]);
    return { easting: between(easting), northing: between(northing) };
  }
  return null;
}

function marks(name, column, note, text) {
  const table = tables[name];
  const found = [];
  for (let row = 0; row < table.rows && found.length < 6; row++) {
    const label = table.text(column, row);
    if (!label.toLowerCase().includes(text)) continue;
    const place = { easting: table.numbers("easting")[row], northing: table.numbers("northing")[row] };
    found.push({ text: label, note, go: go({ type: name, row }, place) });
  }
  return found;
}

// The item that is cited, by its number alone: 10, #10 or item 10.
function items(query) {
  const cited = /^(?:item\s*|#\s*)?(\S+)$/i.exec(query)?.[1];
  const lead = cited && entries().find(({ row }) => tables.findings.text("item", row) === cited);
  return lead ? [finding(lead.row, `Item ${cited}: `)] : [];
}

function finding(row, before = "") {
  const told = records.finding(row), note = `${told.verdict.short}, ${words.checkTitle(told.check).toLowerCase()}`;
  return { text: before + titleOf(told), note, go: go({ type: "finding", row }, records.placeOfFinding(row)) };
}

function findings(text) {
  const found = [];
  const named = /^f[0-9a-f]{4,16}$/.test(text);
  for (const { row } of entries()) {
    const table = tables.findings;
    const texts = [records.labelOf(row), table.text("item", row), records.textOf("subject", row)];
    const said = texts.some((each) => each.toLowerCase().includes(text));
    if (!said && !(named && records.idOf(row).toLowerCase().startsWith(text))) continue;
    found.push(finding(row));
    if (found.length === 6) break;
  }
  return found;
}

// Names are a stem and a number, so a million of them are searched without writing them out.
function shots(text) {
  const table = tables.shots;
  if (!table.rows) return [];
  const [, stem, digits] = /^(.*?)(\d{0,9})$/s.exec(text);
  const stems = table.texts("shot.stem").map((each) => each.toLowerCase());
  const fits = stems.map((each) => (digits ? each.endsWith(stem) : each.includes(text)));
  const places = table.numbers("shot.stem"), numbers = table.numbers("shot.number");
  const found = [];
  for (let row = 0; row < table.rows && found.length < 6; row++) {
    if (!fits[places[row]] || (digits && numbers[row] !== Number(digits))) continue;
    const note = table.text("kind", row).replaceAll("-", " ");
    found.push({ text: `Shot ${table.name("shot", row)}`, note, go: go({ type: "shot", row }, records.placeOfShot(row)) });
  }
  return found;
}

// A kind is shown alone, and all of it.
function kinds(text) {
  const found = records.allKinds().filter((kind) => kind && words.kind(kind).toLowerCase().includes(text));
  return found.slice(0, 4).map((kind) => ({
    text: words.kind(kind), note: "Kind: show it alone",
    go: () => {
      lower();
      choose((state) => (state.kind = kind));
    },
  }));
}

// Shots by what was written in the field: their code or their note.
function worded(name, text) {
  const table = tables.shots;
  if (!table.rows || text.length < 2) return [];
  const fits = table.texts(name).map((each) => each.toLowerCase().includes(text));
  if (!fits.includes(true)) return [];
  const places = table.numbers(name), found = [];
  for (let row = 0; row < table.rows && found.length < 6; row++) {
    if (!fits[places[row]]) continue;
    const said = table.text(name, row), note = `${name} ${said.length > 40 ? `${said.slice(0, 40)}…` : said}`;
    found.push({ text: `Shot ${table.name("shot", row)}`, note, go: go({ type: "shot", row }, records.placeOfShot(row)) });
  }
  return found;
}

function lines(text) {
  const found = [];
  for (let row = 0; row < tables.lines.rows && found.length < 4; row++) {
    const name = tables.lines.text("line", row);
    if (!name.toLowerCase().includes(text)) continue;
    const show = () => {
      lower();
      fly.toBounds(boxOfLine(row));
    };
    found.push({ text: name, note: `Design line, ${words.kind(tables.lines.text("kind", row)).toLowerCase()}`, go: show });
  }
  return found;
}
