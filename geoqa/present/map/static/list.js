// The findings that are not in tolerance, worst first; what shares one reason is said once.
import { nextOf, titleOf } from "./card.js";
import * as choice from "./choice.js";
import * as decide from "./decide.js";
import { byId, element } from "./elements.js";
import * as fly from "./fly.js";
import { ofVerdict } from "./icon.js";
import { boxOfFinding } from "./linework.js";
import * as pins from "./pins.js";
import { open } from "./popup.js";
import * as records from "./records.js";
import { onSelect } from "./selection.js";
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
  const [chapter, below] = ["chapter", "below"].map((name) => tables.listed.numbers(name));
  const kinds = records.kindPlaces(rows);
  // the same verdict, check, kind and reason give the same crowd
  listed = Array.from(rows, (row, place) => {
    const kind = kinds[place], code = verdict[row];
    // what is undecided stands in one line a kind; what is not judged in one a kind, check and reason
    const asked = about.verdicts[code].verdict === "UNDECIDED" ? 0 : check[row] * 256 + why[row] + 1;
    const crowd = (kind * 65537 + asked) * 8 + code;
    return { row, place, code, check: check[row], kind, crowd, chapter: chapter[place], below: absent(below[place]) ? null : below[place] };
  });
  choice.onChange(draw);
  onSelect(follow);
  draw();
}

// The line of what is open is marked and comes into sight; what stands for others of its item answers for them.
function follow(target) {
  for (const each of holder.querySelectorAll("[aria-current]")) each.removeAttribute("aria-current");
  if (!target) return;
  const rows = target.type === "finding" ? [target.row] : target.type === "shot" ? [...records.findingsOfShot(target.row)] : [];
  const runs = rows.map((row) => tables.findings.numbers("run")[row]).filter((row) => !absent(row));
  const items = new Set(rows.map((row) => tables.findings.text("item", row)).filter(Boolean));
  const lines = [...holder.querySelectorAll(".item[data-finding]")];
  const own = new Set([...rows, ...runs].map(String));
  const found = lines.find((each) => own.has(each.dataset.finding)) ?? lines.find((each) => items.has(tables.findings.text("item", each.dataset.finding)));
  if (!found) return;
  found.setAttribute("aria-current", "true");
  if (found !== document.activeElement) found.scrollIntoView({ block: "nearest" });
}

// Whether an entry is among what the reader has chosen.
function chosen() {
  const wanted = choice.wants();
  return ({ row }) => choice.ofVerdict(row) && wanted(row);
}

// Findings out of tolerance stand alone; others of one verdict, check, kind and reason come together.
function gather(rows) {
  const sizes = new Map();
  for (const { crowd } of rows) sizes.set(crowd, (sizes.get(crowd) ?? 0) + 1);
  const groups = new Map();
  const out = [];
  for (const entry of rows) {
    const name = about.verdicts[entry.code].verdict;
    if (name === "OUT" || sizes.get(entry.crowd) <= (name === "UNDECIDED" ? 1 : CROWD)) out.push(entry);
    else if (groups.has(entry.crowd)) groups.get(entry.crowd).push(entry);
    else {
      const group = [entry];
      groups.set(entry.crowd, group);
      out.push(group);
    }
  }
  return out;
}

// What a cause that is listed explains stands below it.
function folded(rows) {
  const there = new Set(rows.map(({ row }) => row));
  return rows.filter(({ below }) => below === null || !there.has(below));
}

const chapters = (rows) =>
  about.chapters.map((chapter, at) => [chapter, rows.filter((entry) => entry.chapter === at)]).filter(([, mine]) => mine.length);

// What the list shows now: an entry, or a group of entries.
export const gathered = () => chapters(folded(listed.filter(chosen()))).flatMap(([, rows]) => gather(rows));

function draw() {
  const rows = listed.filter(chosen());
  const top = folded(rows), leads = new Set(top);
  pins.number(top.filter((entry) => about.verdicts[entry.code].verdict === "OUT").map((entry) => entry.row));
  holder.replaceChildren();
  if (!rows.length) {
    const none = "Nothing is out of tolerance, undecided or left unjudged.";
    holder.append(element("li", { class: "quiet", text: listed.length ? "Nothing matches what is chosen above." : none }));
  }
  // counts are those of the job, whatever is chosen
  const whole = new Map(chapters(listed));
  for (const [names, mine] of chapters(rows)) {
    holder.append(element("li", { class: "chapter" }, element("h3", { text: names.head }), element("span", { text: tally(names, whole.get(names)) })));
    more(holder, gather(mine.filter((entry) => leads.has(entry))), 0);
  }
  byId("list-count").textContent = `${rows.length.toLocaleString("en-US")} of ${words.many(listed.length, "finding")}.`;
}

// How many of a chapter are out, open, or not judged; chosen as they are.
function tally(names, rows) {
  const count = (verdict) => rows.filter(({ code }) => about.verdicts[code].verdict === verdict).length;
  const said = ["OUT", "UNDECIDED", "NO_DATA"].map((verdict) => [count(verdict), names[verdict]]);
  return said.filter(([many]) => many).map(([many, name]) => `${many} ${name}`).join(", ");
}

// A page of the list, and a button for the next.
function more(place, shown, from, before = null) {
  const to = Math.min(shown.length, from + PAGE);
  const put = (...lines) => (before ? before.before(...lines) : place.append(...lines));
  put(...shown.slice(from, to).map((each) => (Array.isArray(each) ? crowd(each) : item(each))));
  if (to === shown.length) return before?.remove();
  const left = shown.length - to;
  const button = element("button", { type: "button", class: "more", text: `Show ${Math.min(PAGE, left)} more of ${left}` });
  const line = element("li", {}, button);
  button.addEventListener("click", () => more(place, shown, to, line));
  put(line);
  before?.remove();
}

function item({ row, place }) {
  const finding = records.finding(row);
  // what other rule sets say of the same number names this finding as well, and is no member
  const against = tables.findings.numbers("against");
  const members = records.membersOfRun(row).filter((each) => against[each] === against[row]);
  const several = members.length && absent(tables.findings.numbers("shot")[members[0]]);
  // slopes across a walk are of sections, other numbers of several shots of places
  const one = several ? (finding.check.endsWith("slope") ? "section" : "place") : "shot";
  const run = members.length ? ` · ${words.many(members.length, one)} as one` : "";
  const rank = pins.rankOf(row);
  const text = (part, value) => (value ? element("span", { class: `item-${part}`, text: value }) : null);
  const button = element(
    "button", { type: "button", class: "item", "data-finding": row, onclick: () => choose(row, button) },
    element(
      "span", { class: "item-text" },
      element("span", { class: "item-title" }, ofVerdict(finding.verdict, 18), numbered(rank, finding), headOf(place, finding), since(finding)),
      text("number", headline(place, finding)),
      text("sure", tables.listed.text("sure", place)),
      text("sure", words.capital(tables.listed.text("chance", place) ?? "")),
      text("next", nextOf(finding)),
      text("check", [words.checkTitle(finding.check), titleOf(finding) + run].join(" · ")),
      text("check", decide.said(finding)),
    ),
    element("span", { class: "unseen", text: finding.verdict.text }),
  );
  return element("li", {}, button, ...shows(row, place));
}

// The number people cite: filled where a pin on the map bears it, with a rim where only lists do.
function numbered(rank, { item, verdict }) {
  if (rank) return element("span", { class: "pin", title: "Number on the map", text: rank });
  return item && verdict.verdict !== "OUT" ? element("span", { class: "cited", title: "Number in the report and the sheets", text: item }) : null;
}

// What became of the item since the round before, where there was one.
const since = ({ item }) => (Object.hasOwn(about.since, item) ? element("span", { class: "since", title: "Since the round before", text: about.since[item] }) : null);

export const headOf = (place, finding) =>
  tables.listed.text("head", place)?.replace("\x01", () => finding.baseline) || [words.kind(finding.kind || ""), finding.subject].filter(Boolean).join(" ");

// The checks that a cause explains, folded.
function shows(row, place) {
  const text = tables.listed.text("shows", place);
  const group = listed.filter(({ below }) => below === row);
  if (!text || !group.length) return [];
  const inside = element("ul", { class: "list", hidden: true });
  const button = element("button", { type: "button", class: "item crowd", "aria-expanded": "false" }, element("span", { class: "item-text", text }));
  button.addEventListener("click", () => unfold(button, inside, group));
  return [button, inside];
}

function unfold(button, inside, group) {
  inside.hidden = !inside.hidden;
  button.setAttribute("aria-expanded", String(!inside.hidden));
  if (!inside.hidden && !inside.childElementCount) more(inside, group, 0);
}

// The number with its direction, or, where there is none to speak of, what to do or why.
export function number(finding) {
  if (finding.quantity === "count") return words.capital(finding.remedy || words.why(finding.why));
  if (absent(finding.deviation)) return words.capital(words.why(finding.why));
  return words.judged(finding, { unit: true });
}

function headline(place, finding) {
  const said = tables.listed.text("number", place);
  const unlimited = finding.limit.lower === null && finding.limit.upper === null;
  return said ? said + (unlimited ? ` – ${words.why(finding.why)}` : "") : number(finding);
}

// Many of one kind: by check, and why where that is the same of all.
export function together(group) {
  const first = records.finding(group[0].row), kind = words.kind(first.kind || "no kind");
  const asked = new Map();
  for (const { check } of group) asked.set(check, (asked.get(check) ?? 0) + 1);
  const checks = [...asked].map(([check, count]) => [words.checkTitle(tables.findings.texts("check")[check]), count]);
  const undecided = first.verdict.verdict === "UNDECIDED";
  const said = undecided ? checks.map(([title, count]) => `${title} ${count}`).join(", ") : checks[0][0];
  const title = undecided ? `${kind}: ${group.length} undecided` : `${group.length} × ${kind}`;
  return { first, undecided, said, title, items: [...new Set(group.map(({ row }) => tables.findings.text("item", row)).filter(Boolean))] };
}

function crowd(group) {
  const { first, undecided, said, title, items } = together(group);
  const cited = items.length ? `${items.length > 1 ? "Items" : "Item"} ${items.join(", ")} · ` : "";
  const inside = element("ul", { class: "list", hidden: true });
  const button = element(
    "button", { type: "button", class: "item crowd", "aria-expanded": "false" },
    ofVerdict(first.verdict, 22),
    element(
      "span", { class: "item-text" },
      element("span", { class: "item-title", text: title }),
      element("span", { class: "item-number", text: undecided ? said : words.capital(words.why(first.why)) }),
      element("span", { class: "item-check", text: cited + (undecided ? "each says what measurement would decide it" : said) }),
    ),
    element("span", { class: "unseen", text: first.verdict.text }),
  );
  button.addEventListener("click", () => unfold(button, inside, group));
  return element("li", {}, button, inside);
}

function choose(row, button) {
  const place = records.placeOfFinding(row);
  lower();
  fly.from(button);
  if (place) fly.to(place, { box: boxOfFinding(row) });
  open({ type: "finding", row });
}
