// The findings that are not in tolerance, worst first; what shares one reason is said once.
import { titleOf } from "./card.js";
import * as choice from "./choice.js";
import { byId, element } from "./elements.js";
import * as fly from "./fly.js";
import { ofVerdict } from "./icon.js";
import { boxOfFinding } from "./linework.js";
import * as pins from "./pins.js";
import { open } from "./popup.js";
import * as records from "./records.js";
import { lower } from "./sheet.js";
import { absent } from "./unpack.js";
import * as words from "./words.js";

const PAGE = 60;
const CROWD = 3;
let tables = null, about = null, holder = null, listed = [];

export const entries = () => listed;

export function begin(allTables, allAbout) {
  tables = allTables;
  about = allAbout;
  holder = byId("list");
  const table = tables.findings;
  const [verdict, check, why] = ["verdict", "check", "why"].map((name) => table.numbers(name));
  const rows = tables.listed.numbers("finding");
  const kinds = records.kindPlaces(rows);
  // the same verdict, check, kind and reason give the same crowd
  listed = Array.from(rows, (row, place) => {
    const kind = kinds[place], code = verdict[row];
    return { row, code, check: check[row], kind, crowd: ((kind * 256 + check[row]) * 256 + why[row]) * 8 + code };
  });
  choice.onChange(draw);
  draw();
}

// Whether an entry is among what the reader has chosen.
function chosen() {
  const { state } = choice;
  const kind = state.kind ? records.allKinds().indexOf(state.kind) : null;
  const check = state.check ? tables.findings.texts("check").indexOf(state.check) : null;
  return (entry) =>
    state.verdicts.has(entry.code) && (kind === null || entry.kind === kind) && (check === null || entry.check === check);
}

// Findings out of tolerance stand alone; others of one verdict, check, kind and reason come together.
function gather(rows) {
  const sizes = new Map();
  for (const { crowd } of rows) sizes.set(crowd, (sizes.get(crowd) ?? 0) + 1);
  const groups = new Map();
  const out = [];
  for (const entry of rows) {
    if (about.verdicts[entry.code].verdict === "OUT" || sizes.get(entry.crowd) <= CROWD) out.push(entry);
    else if (groups.has(entry.crowd)) groups.get(entry.crowd).push(entry);
    else {
      const group = [entry];
      groups.set(entry.crowd, group);
      out.push(group);
    }
  }
  return out;
}

// What the list shows now: an entry, or a group of entries.
export const gathered = () => gather(listed.filter(chosen()));

function draw() {
  const rows = listed.filter(chosen());
  pins.number(rows.filter((entry) => about.verdicts[entry.code].verdict === "OUT").map((entry) => entry.row));
  const shown = gather(rows);
  holder.replaceChildren();
  if (!rows.length) {
    const none = "Nothing is out of tolerance, undecided or left unjudged.";
    holder.append(element("li", { class: "quiet", text: listed.length ? "Nothing matches what is chosen above." : none }));
  }
  more(holder, shown, 0);
  byId("list-count").textContent = `${words.many(rows.length, "finding")} · in ${about.unit}`;
}

// A page of the list, and a button for the next.
function more(place, shown, from) {
  const to = Math.min(shown.length, from + PAGE);
  place.append(...shown.slice(from, to).map((each) => (Array.isArray(each) ? crowd(each) : item(each.row))));
  if (to === shown.length) return;
  const left = shown.length - to;
  const button = element("button", { type: "button", class: "more", text: `Show ${Math.min(PAGE, left)} more of ${left}` });
  const line = element("li", {}, button);
  button.addEventListener("click", () => {
    line.remove();
    more(place, shown, to);
  });
  place.append(line);
}

function item(row) {
  const finding = records.finding(row);
  const members = records.membersOfRun(row).length;
  const run = members ? ` · ${words.many(members, "shot")} as one` : "";
  const rank = pins.rankOf(row);
  const button = element(
    "button", { type: "button", class: "item", "data-finding": row, onclick: () => choose(row, button) },
    ofVerdict(finding.verdict, 22),
    element(
      "span", { class: "item-text" },
      element("span", { class: "item-title", text: titleOf(finding) }),
      element("span", { class: "item-number", text: headline(finding) }),
      element("span", { class: "item-check", text: words.checkTitle(finding.check) + run }),
      finding.baseline ? element("span", { class: "item-check", text: finding.baseline }) : null,
    ),
    element("span", { class: "unseen", text: finding.verdict.text }),
    rank ? element("span", { class: "pin", title: "Number on the map", text: rank }) : null,
  );
  return element("li", {}, button);
}

// The number with its direction, or, where there is none to speak of, what to do or why.
export function number(finding) {
  if (finding.quantity === "count") return words.capital(finding.remedy || words.why(finding.why));
  if (absent(finding.deviation)) return words.capital(words.why(finding.why));
  return words.judged(finding);
}

function headline(finding) {
  if (finding.quantity === "count" || absent(finding.deviation)) return number(finding);
  const unlimited = finding.limit.lower === null && finding.limit.upper === null;
  return number(finding) + (unlimited ? ` – ${words.why(finding.why)}` : `; allowed ${finding.limit.allowed}`);
}

function crowd(group) {
  const first = records.finding(group[0].row);
  const inside = element("ul", { class: "list", hidden: true });
  const button = element(
    "button", { type: "button", class: "item crowd", "aria-expanded": "false" },
    ofVerdict(first.verdict, 22),
    element(
      "span", { class: "item-text" },
      element("span", { class: "item-title", text: `${group.length} × ${words.kind(first.kind || "no kind")}` }),
      element("span", { class: "item-number", text: words.capital(words.why(first.why)) }),
      element("span", { class: "item-check", text: words.checkTitle(first.check) }),
    ),
    element("span", { class: "unseen", text: first.verdict.text }),
  );
  button.addEventListener("click", () => {
    inside.hidden = !inside.hidden;
    button.setAttribute("aria-expanded", String(!inside.hidden));
    if (!inside.hidden && !inside.childElementCount) more(inside, group, 0);
  });
  return element("li", {}, button, inside);
}

function choose(row, button) {
  const place = records.placeOfFinding(row);
  lower();
  fly.from(button);
  if (place) fly.to(place, { box: boxOfFinding(row) });
  open({ type: "finding", row });
}
