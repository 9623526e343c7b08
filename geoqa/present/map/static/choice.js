// What the reader has chosen to see: verdicts, kind, check, question, session, stations and layers; and what follows
// for every shot. Nothing is counted anew by it.
import { along } from "./baseline.js";
import * as records from "./records.js";
import { absent } from "./unpack.js";

export const HIDDEN = 255;
const listeners = [];
export const state = { verdicts: new Set(), kind: "", check: "", question: "", session: "", from: null, to: null, layers: {} };
let tables = null, about = null, shown = null;

export function begin(allTables, allAbout) {
  tables = allTables;
  about = allAbout;
  about.verdicts.forEach((_, code) => state.verdicts.add(code));
  state.verdicts.add(about.verdicts.length); // shots no check asks about
}

export function change(work) {
  work(state);
  shown = null;
  for (const listener of listeners) listener(state);
}

export const onChange = (listener) => listeners.push(listener);

// Places of the checks that are chosen, alone or by a question; null where all are.
function chosenChecks() {
  if (!state.check && !state.question) return null;
  const wanted = state.check ? [state.check] : about.overview.find(({ name }) => name === state.question).checks;
  return new Set(wanted.map((name) => tables.findings.texts("check").indexOf(name)));
}

const inRange = ({ from, to }) =>
  from === null ? state.from === null && state.to === null : (state.to === null || from <= state.to) && (state.from === null || to >= state.from);

// Whether a finding is of the kind, check, session and stations that are chosen; its verdict is asked beside it.
export function wants() {
  const checks = chosenChecks(), table = tables.findings;
  const [check, shot] = ["check", "shot"].map((name) => table.numbers(name));
  const ranged = state.from !== null || state.to !== null;
  return (row) =>
    (!checks || checks.has(check[row])) &&
    (!state.kind || records.textOf("kind", row) === state.kind) &&
    (!state.session || (!absent(shot[row]) && tables.shots.text("session", shot[row]) === state.session)) &&
    (!ranged || inRange(along(records.textOf("baseline", row))));
}

export const ofVerdict = (row) => state.verdicts.has(tables.findings.numbers("verdict")[row]);

// Worst verdict of each shot among the findings of some checks; a member of a run bears the verdict of the run.
function underChecks(wanted) {
  const codes = new Uint8Array(tables.shots.rows).fill(HIDDEN);
  const table = tables.findings;
  const checks = table.numbers("check"), shots = table.numbers("shot"), verdicts = table.numbers("verdict");
  const runs = table.numbers("run");
  const order = (code) => (code === HIDDEN ? HIDDEN : records.order(code));
  const take = (shot, verdict) => {
    if (order(verdict) < order(codes[shot])) codes[shot] = verdict;
  };
  for (let i = 0; i < table.rows; i++) {
    if (wanted.has(checks[i]) && !absent(shots[i])) take(shots[i], verdicts[absent(runs[i]) ? i : runs[i]]);
  }
  const { rows } = tables.evidence, owners = tables.evidence.numbers("finding"), members = tables.evidence.numbers("shot");
  for (let i = 0; i < rows; i++) if (wanted.has(checks[owners[i]]) && !absent(members[i])) take(members[i], verdicts[owners[i]]);
  return codes;
}

// For every shot the verdict code it is drawn with, or HIDDEN.
export function codes() {
  if (shown) return shown;
  const table = tables.shots, kinds = table.numbers("kind"), sessions = table.numbers("session");
  const placeOf = (name, value) => (value ? table.texts(name).indexOf(value) : null);
  const kind = placeOf("kind", state.kind), session = placeOf("session", state.session), checks = chosenChecks();
  const ranged = state.from !== null || state.to !== null;
  shown = checks ? underChecks(checks) : Uint8Array.from(table.numbers("verdict"));
  const seen = Array.from({ length: 256 }, (_, code) => state.verdicts.has(code));
  for (let i = 0; i < shown.length; i++) {
    const fits = seen[shown[i]] && (kind === null || kinds[i] === kind) && (session === null || sessions[i] === session);
    if (!fits || (ranged && !inRange(along(table.text("baseline", i))))) shown[i] = HIDDEN;
  }
  return shown;
}
