// What lies along a line or the baseline: judged numbers by station, and the shots of a section across it.
import { along } from "./baseline.js";
import * as records from "./records.js";
import { absent } from "./unpack.js";

let tables = null;
const byCheck = new Map();

export const begin = (allTables) => (tables = allTables);

// Checks of which several numbers lie at stations, the most frequent first.
export function checks() {
  const counts = new Map();
  const count = (name) => counts.set(name, (counts.get(name) ?? 0) + 1);
  const texts = tables.findings.texts("check"), deviation = tables.findings.numbers("deviation"), from = records.stations();
  tables.findings.numbers("check").forEach((place, row) => {
    if (!absent(deviation[row]) && (!absent(from[row]) || records.textOf("baseline", row))) count(texts[place]);
  });
  for (let row = 0; row < tables.along.rows; row++) count(tables.along.text("check", row));
  return [...counts].filter(([, many]) => many > 1).sort((a, b) => b[1] - a[1]).map(([name]) => name);
}

// Numbers of one check by the line they are of; a run stands for its members, which are drawn as well.
export function ofCheck(check) {
  if (byCheck.has(check)) return byCheck.get(check);
  const lines = new Map();
  const held = new Map();
  const push = (subject, row) => (held.has(subject) ? held.get(subject).push(row) : held.set(subject, [row]));
  const table = tables.findings, place = table.texts("check").indexOf(check);
  const [codes, deviation, u, limit, verdict, shot, run] =
    ["check", "deviation", "u", "limit", "verdict", "shot", "run"].map((name) => table.numbers(name));
  const facts = table.facts("limits"), own = records.stations();
  const ends = new Set(Array.from(run).filter((row) => !absent(row)));
  for (let row = 0; row < table.rows; row++) {
    if (codes[row] !== place || absent(deviation[row]) || ends.has(row)) continue;
    const { from, to } = along(records.textOf("baseline", row));
    const x = from === null ? own[row] : (from + to) / 2;
    if (absent(x)) continue;
    push(records.textOf("subject", row), {
      x, row, shot: absent(shot[row]) ? null : shot[row], beside: from !== null, deviation: deviation[row], u: u[row],
      limit: facts[limit[row]], code: verdict[absent(run[row]) ? row : run[row]], quantity: table.text("quantity", row), check,
    });
  }
  within(check, push);
  for (const [subject, rows] of [...held].sort(([a], [b]) => (a < b ? -1 : 1))) {
    rows.sort((a, b) => a.x - b.x);
    lines.set(subject, rows);
  }
  byCheck.set(check, lines);
  return lines;
}

// What is within its limits and was not sent as a finding of its own.
function within(check, push) {
  const table = tables.along;
  const [station, deviation, u, limit, shot, beside] =
    ["station", "deviation", "u", "limit", "shot", "on_baseline"].map((name) => table.numbers(name));
  for (let row = 0; row < table.rows; row++) {
    if (table.text("check", row) !== check) continue;
    push(table.text("subject", row), {
      x: station[row], row: null, shot: absent(shot[row]) ? null : shot[row], beside: Boolean(beside[row]), deviation: deviation[row],
      u: u[row], limit: table.facts("limits")[limit[row]], code: null, quantity: table.text("quantity", row), check,
    });
  }
}

export const all = (check) => [...ofCheck(check).values()].flat().sort((a, b) => a.x - b.x);

let beside = null;

// Shots with an elevation beside the baseline, by station: where, how far right, and what was designed there.
export function shotsBeside() {
  if (beside) return beside;
  const designed = new Map();
  for (const rows of ofCheck("elevation").values()) for (const each of rows) if (each.shot !== null) designed.set(each.shot, each);
  const elevation = tables.shots.numbers("elevation"), verdict = tables.shots.numbers("verdict");
  beside = [];
  for (let shot = 0; shot < tables.shots.rows; shot++) {
    const { from, offset } = along(tables.shots.text("baseline", shot));
    if (from === null || offset === null || absent(elevation[shot]) || tables.shots.text("role", shot) === "control") continue;
    beside.push({ x: from, offset, shot, elevation: elevation[shot], judged: designed.get(shot) ?? null, code: verdict[shot] });
  }
  return beside.sort((a, b) => a.x - b.x);
}
