// What the reader has chosen to see: verdicts, kind, check and layers; and what follows for every shot.
import * as records from "./records.js";
import { absent } from "./unpack.js";

export const HIDDEN = 255;
const listeners = [];
export const state = { verdicts: new Set(), kind: "", check: "", layers: {} };
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

// Worst verdict of each shot among the findings of one check; a member of a run bears the verdict of the run.
function underCheck(check) {
  const codes = new Uint8Array(tables.shots.rows).fill(HIDDEN);
  const table = tables.findings;
  const place = table.texts("check").indexOf(check);
  const checks = table.numbers("check"), shots = table.numbers("shot"), verdicts = table.numbers("verdict");
  const runs = table.numbers("run");
  const order = (code) => (code === HIDDEN ? HIDDEN : records.order(code));
  for (let i = 0; i < table.rows; i++) {
    const shot = shots[i];
    if (checks[i] !== place || absent(shot)) continue;
    const verdict = verdicts[absent(runs[i]) ? i : runs[i]];
    if (order(verdict) < order(codes[shot])) codes[shot] = verdict;
  }
  return codes;
}

// For every shot the verdict code it is drawn with, or HIDDEN.
export function codes() {
  if (shown) return shown;
  const kinds = tables.shots.numbers("kind");
  const kind = state.kind ? tables.shots.texts("kind").indexOf(state.kind) : null;
  shown = state.check ? underCheck(state.check) : Uint8Array.from(tables.shots.numbers("verdict"));
  const seen = Array.from({ length: 256 }, (_, code) => state.verdicts.has(code));
  for (let i = 0; i < shown.length; i++) {
    if (!seen[shown[i]] || (kind !== null && kinds[i] !== kind)) shown[i] = HIDDEN;
  }
  return shown;
}
