// Decisions of a reviewer: taken on the card of an item, kept in this browser, saved as a file that geoqa decide reads.
//
// The page says in `about.review` what names the job and the run (`format`, `version`, `job`, `run`), a hash of what is
// seen of each item (`seen`), what was decided before (`decided`), and the decisions in words (`words`). Without it there
// is nothing to decide. Three functions are the whole of the hook: `begin`, `panel` for a card, `said` for a list.
import { byId, element } from "./elements.js";
import * as records from "./records.js";
import { sha256 } from "./sha256.js";
import { absent } from "./unpack.js";
import * as words from "./words.js";

const NOTE = 2000, NAME = 200, POINTS = "points", AXES = ["easting", "northing", "elevation"];
const REACH = { start: "From station", end: "To station", right: "To the right (left with −)", up: "Up (down with −)" };
let tables = null, review = null, unit = "", kept = { by: "", items: {} }, lasting = true, bar = null, told = null;

export function begin(allTables, about) {
  tables = allTables;
  review = about.review ?? null;
  unit = about.unit;
  if (!review) return;
  restore();
  bar = element("details", { id: "decisions" }, element("summary"));
  byId("files").after(bar);
  showBar();
}

// What was decided on the item of a finding, by the run or in this browser; empty where nothing was.
export function said(finding) {
  if (!review || !finding.item) return "";
  const before = Object.hasOwn(review.decided, finding.item) ? review.decided[finding.item] : null;
  const now = mine(finding.item);
  if (now) return `Decided here, not applied yet: ${review.words[now.decision]}`;
  return before ? `Decided on ${before[1]}: ${review.words[before[0]]}` : "";
}

const store = () => `geoqa decisions ${review.run}`;
const mine = (item) => (Object.hasOwn(kept.items, item) ? kept.items[item] : null);
const whole = (text, most) => String(text).replace(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, "\ufffd").slice(0, most);

function restore() {
  try {
    const found = JSON.parse(localStorage.getItem(store()));
    if (found && typeof found.by === "string" && typeof found.items === "object" && found.items) kept = found;
  } catch {
    lasting = false;
  }
}

function keep() {
  try {
    localStorage.setItem(store(), JSON.stringify(kept));
  } catch {
    lasting = false;
  }
  showBar();
}

// The part of a card where its item is decided on; `findings` are those of the card, the one that leads first.
export function panel(findings) {
  const finding = review && findings.find(({ item }) => item && Object.hasOwn(review.seen, item));
  if (!finding) return null;
  const { item } = finding, now = mine(item), before = said(finding);
  const point = pointOf(finding), reach = reachOf(item), id = `decide-${item}`;
  const approved = point ? `Approved coordinates of ${point}` : `Approved move of a reach of ${reach?.[0]}, in ${unit}`;
  const change = element("fieldset", { class: "decide-change", hidden: true }, element("legend", { text: approved }));
  for (const axis of point ? AXES : []) change.append(field(id, item, axis, words.capital(axis), "as designed"));
  for (const [name, label] of point || !reach ? [] : Object.entries(REACH)) change.append(field(id, item, name, label, { start: reach[1], end: reach[2] }[name] ?? "0"));
  const note = element("textarea", { id: `${id}-note`, rows: "2", maxlength: NOTE });
  note.value = now?.note ?? "";
  const state = element("p", { class: "quiet", role: "status", text: before });
  const clear = element("button", { type: "button", class: "link", hidden: !now, text: "Take this decision out" });
  const choices = Object.entries(review.words).map(([name, text]) => {
    const radio = element("input", { type: "radio", name: id, value: name, checked: now?.decision === name });
    radio.addEventListener("change", () => set({ decision: name }));
    return element("label", {}, radio, element("span", { text: words.capital(text) }));
  });
  const show = () => {
    change.hidden = !(point || reach) || mine(item)?.decision !== "field-change";
    clear.hidden = !mine(item);
    state.textContent = said(finding);
  };
  function set(part) {
    const old = mine(item) ?? { note: note.value, change: {} };
    if (!part.decision && !old.decision) return;
    kept.items[item] = { ...old, ...part, when: moment(), point, reach, told: inWords(finding) };
    keep();
    show();
  }
  note.addEventListener("input", () => set({ note: note.value }));
  change.addEventListener("input", ({ target }) => {
    target.setAttribute("aria-invalid", String(Boolean(target.value.trim()) && !decimal(plainStation(target))));
    set({ change: { ...mine(item)?.change, [target.dataset.axis]: target.value } });
  });
  clear.addEventListener("click", () => {
    delete kept.items[item];
    for (const { firstChild } of choices) firstChild.checked = false;
    keep();
    show();
  });
  show();
  return element(
    "section", { class: "decide" },
    element("fieldset", {}, element("legend", { text: `Decision on item ${item}` }), ...choices),
    change,
    element("label", { for: `${id}-note`, text: "Note" }), note,
    element("label", { for: `${id}-by`, text: "Your name, as it shall stand in the log" }), nameField(`${id}-by`),
    state, element("div", { class: "links" }, saver(`${id}-by`), clear),
  );
}

// Saves from the card as well; without a name it asks for one.
function saver(by) {
  const save = () => (kept.by.trim() && Object.keys(kept.items).length ? download() : byId(by).focus());
  return element("button", { type: "button", class: "link", onclick: save, text: "Save all decisions" });
}

function nameField(id) {
  const by = element("input", { id, type: "text", maxlength: NAME, autocomplete: "name" });
  by.value = kept.by;
  by.addEventListener("input", () => {
    kept.by = by.value;
    keep();
  });
  return by;
}

function field(id, item, axis, label, empty) {
  const input = element("input", { id: `${id}-${axis}`, "data-axis": axis, inputmode: "decimal", placeholder: empty });
  input.value = mine(item)?.change?.[axis] ?? "";
  return element("span", {}, element("label", { for: input.id, text: label }), input);
}

// Line, first and last station of an item that lies beside a design line; nothing of any other.
const reachOf = (item) => (review.reaches && Object.hasOwn(review.reaches, item) ? review.reaches[item] : null);

// What a field holds, a station also as it is printed: 26+01.5 is 2601.5.
const plainStation = ({ value, dataset }) => (["start", "end"].includes(dataset.axis) ? station(value) : value);
const station = (text) => String(text ?? "").trim().replace(/^(\d+)\+(\d{2,3}(\.\d+)?)$/, "$1$2").replace(/^0+(?=\d)/, "");

// Name of the design point that a finding is about; only a point is changed by its coordinates.
function pointOf({ subject }) {
  const table = tables[POINTS];
  for (let i = 0; table && i < table.rows; i++) if (table.text("point", i) === subject) return subject;
  return "";
}

const moment = () => `${new Date().toISOString().slice(0, 19)}Z`;

function inWords(finding) {
  const number = finding.quantity === "count" || absent(finding.deviation) ? "" : `: ${words.judged(finding, { unit: true })}`;
  const of = [finding.kind, finding.subject === "-" ? "" : finding.subject].filter(Boolean).join(" ");
  return whole(`${finding.verdict.verdict} ${words.checkTitle(finding.check)}, ${of}${number}`, 1000);
}

function showBar() {
  const count = Object.keys(kept.items).length;
  if (!told) {
    const save = element("button", { type: "button", class: "more", id: "decisions-save", text: "Save decisions", onclick: download });
    told = { text: element("p", { role: "status" }), save };
    bar.append(told.text, save);
  }
  bar.firstChild.textContent = count ? `Decide (${count})` : "Decide";
  told.save.disabled = !count || !kept.by.trim();
  const where = lasting ? "kept in this browser" : "lost when this page is closed, for this browser keeps nothing";
  const next = !count ? "Open an item and decide: accept, fix, measure again, or a change of the design." : !kept.by.trim()
    ? `${words.many(count, "decision")}, ${where}. Write your name on the card, then save.`
    : `${words.many(count, "decision")}, ${where}. Save the file and send it to the surveyor.`;
  told.text.textContent = next;
}

// The approved change of an item as its file states it: coordinates of a point, or a moved reach of a line; else nothing.
function changed({ decision, point, reach, change }) {
  if (decision !== "field-change") return [];
  const given = (names, of) => Object.fromEntries(names.map((name) => [name, decimal(of(change?.[name]))]).filter(([, value]) => value));
  const place = point ? given(AXES, (text) => text) : {};
  if (Object.keys(place).length) return [{ point, ...place }];
  const move = !point && reach ? given(["right", "up"], (text) => text) : {};
  if (!Object.keys(move).length) return [];
  return [{ line: reach[0], start: reach[1], end: reach[2], ...given(["start", "end"], station), ...move }];
}

// What stands in the file for one item.
function decided([item, one], ids) {
  return {
    item, findings: ids.get(item) ?? [], seen: review.seen[item], told: one.told, decision: one.decision,
    by: whole(kept.by, NAME).trim(), when: one.when, note: whole(one.note ?? "", NOTE),
    change: changed(one),
  };
}

// A number as it is typed; nothing where it is none: what a comma in it means is not guessed.
function decimal(text) {
  const plain = String(text ?? "").trim().replace("\u2212", "-");
  return /^-?\d{1,9}(\.\d{1,6})?$/.test(plain) ? plain : "";
}

function idsByItem() {
  const ids = new Map();
  for (let row = 0; row < tables.findings.rows; row++) {
    const item = records.textOf("item", row);
    if (item && Object.hasOwn(kept.items, item)) ids.set(item, [...(ids.get(item) ?? []), records.idOf(row)]);
  }
  return ids;
}

// The same text for the same facts in every program: keys in order, no space.
function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  return `{${Object.keys(value).sort().map((key) => `${JSON.stringify(key)}:${canonical(value[key])}`).join(",")}}`;
}

// The file with its check value.
export function file() {
  const ids = idsByItem();
  const { format, version, job, run } = review;
  const decisions = Object.entries(kept.items).filter(([item]) => Object.hasOwn(review.seen, item)).map((each) => decided(each, ids));
  const facts = { format, version, job, run, decisions };
  return `${JSON.stringify({ ...facts, check: sha256(canonical(facts)) }, null, 1)}\n`;
}

function download() {
  const named = kept.by.normalize("NFKD").replace(/[^A-Za-z0-9]+/g, "-").replace(/^-|-$/g, "") || "reviewer";
  const url = URL.createObjectURL(new Blob([file()], { type: "application/json" }));
  const link = element("a", { href: url, download: `decisions-${named}-${new Date().toISOString().slice(0, 10)}.json` });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
