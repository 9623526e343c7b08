// Rows of the tables as records with their words, and who belongs to whom.
import { sha256 } from "./sha256.js";
import { absent } from "./unpack.js";
import * as words from "./words.js";

let tables = null, about = null, ofShot = null, ofRun = null, ofMember = null, ofFinding = null, spots = null;

export function begin(allTables, allAbout) {
  tables = allTables;
  about = allAbout;
}

// Rows grouped by the row they point to: places of `to` in one list, with where each starts.
function grouped(pointers, count) {
  const starts = new Uint32Array(count + 1);
  for (const to of pointers) if (!absent(to)) starts[to + 1]++;
  for (let i = 0; i < count; i++) starts[i + 1] += starts[i];
  const rows = new Uint32Array(starts[count]);
  const next = starts.slice();
  pointers.forEach((to, row) => {
    if (!absent(to)) rows[next[to]++] = row;
  });
  return (to) => rows.subarray(starts[to], starts[to + 1]);
}

export const order = (code) => about.verdicts[code].order;

export function findingsOfShot(shot) {
  ofShot ??= grouped(tables.findings.numbers("shot"), tables.shots.rows);
  const verdicts = tables.findings.numbers("verdict");
  return [...ofShot(shot)].sort((a, b) => order(verdicts[a]) - order(verdicts[b]) || a - b);
}

export function membersOfRun(finding) {
  ofRun ??= grouped(tables.findings.numbers("run"), tables.findings.rows);
  return [...ofRun(finding)];
}

// Station and offset are written once for all findings about one shot; an offset that is the deviation not at all.
function along() {
  if (spots) return spots;
  const table = tables.findings;
  const [station, length, offset] = ["station", "length", "offset"].map((name) => table.numbers(name).slice());
  const same = table.numbers("as_before"), shot = table.numbers("shot"), asDeviation = table.numbers("offset_as");
  const deviation = table.numbers("deviation");
  const last = new Int32Array(tables.shots.rows).fill(-1);
  for (let i = 0; i < table.rows; i++) {
    if (asDeviation[i] === 1) offset[i] = deviation[i];
    if (absent(shot[i])) continue;
    if (same[i] === 1) for (const column of [station, length, offset]) column[i] = column[last[shot[i]]];
    last[shot[i]] = i;
  }
  spots = { station, length, offset };
  return spots;
}

// Station of every finding along its own line.
export const stations = () => along().station;

// Where a finding or shot is, in last digits from the origin; null where nobody knows.
export function placeOfShot(shot) {
  const easting = tables.shots.numbers("easting")[shot], northing = tables.shots.numbers("northing")[shot];
  return absent(easting) || absent(northing) ? null : { easting, northing };
}

export function placeOfFinding(row) {
  const table = tables.findings;
  if (table.numbers("at_shot")[row]) return placeOfShot(table.numbers("shot")[row]);
  const easting = table.numbers("easting")[row], northing = table.numbers("northing")[row];
  return absent(easting) || absent(northing) ? null : { easting, northing };
}

// A text of a finding that its shot mostly says itself is written as a mark.
const SAID = { kind: "kind", subject: "line_id", baseline: "baseline" };

export function textOf(name, row) {
  const text = tables.findings.text(name, row);
  return text === "\x01" && SAID[name] ? tables.shots.text(SAID[name], tables.findings.numbers("shot")[row]) : text;
}

// All kinds of shots and findings in one list, and the place of a finding's kind in it.
let kinds = null, kindOfShot = null, kindOfFinding = null;

function listKinds() {
  const own = tables.findings.texts("kind"), shots = tables.shots.texts("kind");
  kinds = [...new Set(["", ...shots, ...own])].filter((kind) => kind !== "\x01");
  kindOfShot = shots.map((kind) => kinds.indexOf(kind));
  kindOfFinding = own.map((kind) => kinds.indexOf(kind));
}

// For many rows at once: the place of the kind of each.
export function kindPlaces(rows) {
  if (!kinds) listKinds();
  const own = tables.findings.numbers("kind"), shot = tables.findings.numbers("shot"), shots = tables.shots.numbers("kind");
  return Array.from(rows, (row) => {
    const place = own[row];
    if (absent(place)) return 0;
    if (kindOfFinding[place] >= 0) return kindOfFinding[place];
    const said = shots[shot[row]];
    return absent(said) ? 0 : kindOfShot[said];
  });
}

export function allKinds() {
  if (!kinds) listKinds();
  return kinds;
}

function keyOf(shot) {
  return tables.shots.text("key", shot) || `${tables.shots.text("source", shot)}/${tables.shots.name("shot", shot)}`;
}

// A name that follows from check, rule set, subject and shot is made as the tables make it.
export function idOf(row) {
  const written = tables.findings.text("id", row);
  if (written !== "\x01") return written;
  const shot = tables.findings.numbers("shot")[row];
  const parts = [textOf("check", row), textOf("against", row), textOf("subject", row), keyOf(shot)];
  return `F${sha256(parts.join("\x1f")).slice(0, 16)}`;
}

// What is typed off paper: a search and `geoqa trace` take the beginning of a name.
export const shortOf = (id) => id.slice(0, 13);

export function labelOf(row) {
  const shot = tables.findings.numbers("shot")[row];
  return tables.findings
    .text("label", row)
    .replace("\x02", () => textOf("subject", row))
    .replace("\x01", () => (absent(shot) ? "" : tables.shots.name("shot", shot)));
}

export function finding(row) {
  const table = tables.findings;
  const value = (name) => table.numbers(name)[row];
  const shot = absent(value("shot")) ? null : value("shot");
  const where = along();
  const offset = where.offset[row];
  const elevation = value("at_shot") ? tables.shots.numbers("elevation")[shot] : value("elevation");
  const measured = [value("measured"), offset, elevation][value("measured_as")];
  const deviation = value("deviation");
  // the design value is written as what is missing from measured minus deviation
  const rest = value("design");
  const design = absent(rest) ? rest : rest + (absent(measured) ? 0 : measured) - (absent(deviation) ? 0 : deviation);
  return {
    row, shot, elevation, offset, design, measured, deviation,
    id: idOf(row),
    label: labelOf(row),
    verdict: about.verdicts[value("verdict")],
    code: value("verdict"),
    run: absent(value("run")) ? null : value("run"),
    station: where.station[row],
    stationEnd: where.station[row] + (absent(where.length[row]) ? NaN : where.length[row]),
    quantity: table.text("quantity", row),
    p: value("p_conform"),
    limit: table.facts("limits")[value("limit")],
    ...Object.fromEntries(["u", "u_common", "u_random"].map((name) => [name, value(name)])),
    ...Object.fromEntries(
      ["check", "kind", "subject", "against", "why", "cause", "remedy", "odds", "item", "toward", "levelled", "baseline",
       "ruleset", "sets_differ"].map(
        (name) => [name, textOf(name, row)],
      ),
    ),
  };
}

function rawText(name, row) {
  const table = tables.shots;
  const decimals = table.numbers(`raw_${name}.decimals`)[row];
  if (absent(decimals)) return table.text(`raw_${name}.text`, row);
  if (decimals < 0) return words.number(grid(name, row), about.digits);
  return words.number(table.numbers(`raw_${name}`)[row], decimals);
}

// A coordinate on the grid, in last digits.
function grid(name, row) {
  const value = tables.shots.numbers(name)[row];
  return absent(value) ? value : value + base(name);
}

export const base = (name) => ({ easting: about.origin[0], northing: about.origin[1] })[name] * 10 ** about.digits || 0;

export function shot(row) {
  const table = tables.shots;
  const name = table.name("shot", row);
  const source = table.text("source", row);
  return {
    row, name, source,
    key: keyOf(row),
    line: table.numbers("row")[row] + (absent(table.numbers("shot.number")[row]) ? 0 : table.numbers("shot.number")[row]),
    code: table.numbers("verdict")[row],
    grid: ["easting", "northing", "elevation"].map((axis) => grid(axis, row)),
    raw: ["easting", "northing", "elevation"].map((axis) => rawText(axis, row)),
    baseline: table.text("baseline", row),
    time: table.numbers("time")[row],
    rod: table.numbers("rod_height")[row],
    tilt: table.numbers("tilt")[row],
    u: Object.fromEntries(
      ["h", "v"].map((axis) => [axis, ["random", "common"].map((part) => table.numbers(`u_${axis}_${part}`)[row])]),
    ),
    flags: table.text("flags", row).split(";").filter(Boolean),
    ...Object.fromEntries(
      ["kind", "role", "line_id", "note", "photo", "session", "solution"].map((each) => [each, table.text(each, row)]),
    ),
    fieldCode: table.text("code", row),
  };
}

// Findings judged from several shots, of which this is one; worst first.
export function togetherOf(shot) {
  ofMember ??= grouped(tables.evidence.numbers("shot"), tables.shots.rows);
  const owners = tables.evidence.numbers("finding"), verdicts = tables.findings.numbers("verdict");
  const found = [...new Set([...ofMember(shot)].map((row) => owners[row]))];
  return found.sort((a, b) => order(verdicts[a]) - order(verdicts[b]) || a - b);
}

export function evidenceOf(finding) {
  const table = tables.evidence;
  ofFinding ??= grouped(table.numbers("finding"), tables.findings.rows);
  return [...ofFinding(finding)].map((row) => ({
    shot: absent(table.numbers("shot")[row]) ? null : table.numbers("shot")[row],
    role: table.text("role", row), layer: table.text("layer", row), key: table.text("key", row),
  }));
}
