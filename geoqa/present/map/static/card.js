// A finding as it is read: verdict, the number, a picture of it, and the arithmetic in full.
import { element } from "./elements.js";
import { icon, ofVerdict } from "./icon.js";
import * as records from "./records.js";
import { style } from "./shots.js";
import { strip } from "./strip.js";
import { absent } from "./unpack.js";
import * as words from "./words.js";

let tables = null, about = null, opener = null;

// `theOpener` opens the card of another finding or shot.
export function begin(allTables, allAbout, theOpener) {
  tables = allTables;
  about = allAbout;
  opener = theOpener;
}

export const row = (name, value) => (value ? [element("dt", { text: name }), element("dd", { text: value })] : []);

// "CTB-L, shot 104": the subject and what the label adds to it; where things are counted the label says it all.
export function titleOf({ subject, label, kind, quantity }) {
  const named = subject && subject !== "-" && !label.includes(subject) ? subject : "";
  if (quantity === "count" && label) return named ? `${label} (${named})` : label;
  return [named, label].filter(Boolean).join(", ") || words.kind(kind || "finding");
}

const counted = (finding) => finding.quantity === "count";

function uncertainty(finding) {
  if (absent(finding.u)) return "not known";
  if (finding.u === 0 && finding.quantity === "length") return "none: no shot is part of this number";
  const { quantity } = words;
  const shared = finding.levelled ? "of the marks" : "shared by the session";
  const parts = [[shared, finding.u_common], [finding.levelled ? "of the levelling" : "of its own", finding.u_random]]
    .filter(([, value]) => !absent(value))
    .map(([name, value]) => `${quantity(value, finding.quantity)} ${name}`);
  const sigma = `1 sigma ${quantity(finding.u, finding.quantity)}`;
  return `${words.expanded(finding.u, finding.quantity)} (95 %); ${[sigma, parts.join(", ")].filter(Boolean).join(": ")}`;
}

// Where its parts come from; what is judged against a mark carries the mark's own part as well.
function knownFrom(finding) {
  const axis = about.words.axes[finding.check];
  if (absent(finding.u) || !axis) return "";
  if (finding.levelled) return `level run ${finding.levelled} and the marks it stands on`;
  const said = words.knownFrom(finding.kind, axis);
  return said && finding.check.startsWith("control-") ? `${said}; the mark: as published` : said;
}

function source(limit) {
  const text = [limit.reference, limit.edition].filter(Boolean).join(", ");
  if (!text) return "";
  if (limit.verified === null) return text;
  return `${text} (${limit.verified ? "" : "not yet "}compared with its source)`;
}

function along(finding) {
  if (absent(finding.station)) return "";
  const { station, deviation } = words;
  const reaches = !absent(finding.stationEnd) && finding.stationEnd !== finding.station;
  const to = reaches ? ` to ${station(finding.stationEnd)}` : "";
  const beside = absent(finding.offset) ? "" : `, ${deviation(finding.offset, "offset", "length")}`;
  return station(finding.station) + to + beside;
}

// What was designed, measured, and the difference with its uncertainty.
function numbers(finding) {
  const { beside, deviation, judged } = words;
  // where no design is compared, zero stands for it, and the deviation is what was measured
  const designed = !absent(finding.design) && !finding.against.endsWith("no design"), slope = finding.quantity === "slope";
  const difference = slope ? judged(finding, { way: false }) : deviation(finding.deviation, finding.check, finding.quantity);
  // a reveal or a fall is held to limits of its own: the design stands beside it, and nothing was taken off
  const { measured, design } = finding, off = Math.abs(measured - design - finding.deviation);
  const itself = designed && Math.abs(finding.deviation - measured) < off;
  return [
    ...row("Design", designed ? beside(finding.design, finding.quantity, finding) : ""),
    ...row("Measured", absent(finding.measured) ? "" : beside(finding.measured, finding.quantity, finding)),
    ...(itself ? row("Judged", `${difference} (the measured number itself)`)
      : designed || finding.deviation !== measured
        ? row("Deviation", difference + (designed ? " (measured minus design)" : ""))
        : []),
    ...row("Uncertainty", uncertainty(finding)),
    ...row("Known from", knownFrom(finding)),
  ];
}

// Sheet, revision and date of the design it was held against, where the job says them.
function registered(against) {
  const source = against.split("; ").pop();
  return Object.hasOwn(about.register, source) ? about.register[source] : "";
}

// What to do comes first; where things are counted there is no deviation to speak of.
function arithmetic(finding) {
  const { quantity, probability, why } = words;
  return element(
    "dl", { class: "arithmetic" },
    ...row("What next", nextOf(finding, "")),
    ...row("Chance?", chanceOf(finding.row)),
    ...row("Work or survey?", finding.odds),
    ...row("Probably", finding.cause),
    ...row("Why", why(finding.why)),
    ...row("Allowed", finding.limit.allowed),
    ...(counted(finding) ? row("Counted", quantity(finding.measured, finding.quantity)) : numbers(finding)),
    ...row("Probability", absent(finding.p) ? "" : `${probability(finding.p)} that the true value lies within the limits`),
    ...row("Rule set", finding.ruleset),
    ...row("Required by", source(finding.limit)),
    ...row("Other rule sets", words.capital(finding.sets_differ)),
    ...row("Rule", finding.limit.rule),
    ...row("On the baseline", finding.baseline),
    ...row("Where", along(finding)),
    ...row("Compared with", finding.against),
    ...row("Design", registered(finding.against)),
    ...row("Item", finding.item),
    ...row("Finding", finding.id),
  );
}

let placeOf = null;

// Where a finding stands in the list, or null.
function listedPlace(row) {
  placeOf ??= new Map(Array.from(tables.listed.numbers("finding"), (listed, place) => [listed, place]));
  return placeOf.get(row) ?? null;
}

// Whether it stands when all numbers are looked at together.
function chanceOf(row) {
  const place = listedPlace(row);
  return place === null ? "" : words.capital(tables.listed.text("chance", place) ?? "");
}

// What it means and what happens next, as the terminal says it.
// Under a head that asks for the next step, a step alone needs no word for it.
export function nextOf(finding, alone = "next: ") {
  const place = listedPlace(finding.row);
  const step = finding.remedy || (place === null ? "" : tables.listed.text("next", place));
  const means = finding.verdict.verdict === "OUT" ? words.means(finding.check) : "";
  return words.capital([means, step ? `${means ? "next: " : alone}${step}` : ""].filter(Boolean).join("; "));
}

export const button = (text, work, icon = null) =>
  element("button", { type: "button", class: "link", onclick: work }, icon, text);

export function shotButton(shot) {
  const { shape, colour } = style(tables.shots.numbers("verdict")[shot]);
  const open = () => opener({ type: "shot", row: shot });
  return button(`Shot ${tables.shots.name("shot", shot)}`, open, icon(shape, colour, 14));
}

// Shots behind a run, or behind any other finding without a main shot.
export function shotsBehind(row) {
  const members = records.membersOfRun(row), mainShot = tables.findings.numbers("shot");
  // a run of shots is judged from them; one of sections, from what each of those is judged from
  const ofSections = members.every((member) => absent(mainShot[member]));
  const shots = ofSections
    ? [row, ...members].flatMap((each) => records.evidenceOf(each).map(({ shot }) => shot))
    : members.map((member) => mainShot[member]);
  return [...new Set(shots.filter((shot) => shot !== null && !absent(shot)))];
}

function behind(finding) {
  const shown = shotsBehind(finding.row);
  const rest = records.evidenceOf(finding.row)
    .filter((each) => each.shot === null)
    .map((each) => `${each.role}: ${each.key} (${each.layer})`);
  if (!shown.length && !rest.length) return null;
  return element(
    "section", { class: "behind" },
    element("h4", { text: shown.length ? `Judged from ${words.many(shown.length, "shot")}` : "Judged from" }),
    element("div", { class: "links" }, ...shown.slice(0, 60).map(shotButton)),
    shown.length > 60 ? element("p", { text: `and ${shown.length - 60} more` }) : null,
    ...rest.slice(0, 20).map((text) => element("p", { text })),
  );
}

function partOfRun({ run }) {
  if (run === null) return null;
  const { colour } = about.verdicts[tables.findings.numbers("verdict")[run]];
  const open = () => opener({ type: "finding", row: run });
  return element("p", { class: "part" }, button("Part of a run, or of a place, that is judged as one", open, icon("swath", colour, 16)));
}

function head(finding) {
  const number = words.judged(finding, { unit: true });
  return [
    element("span", { class: "verdict" }, ofVerdict(finding.verdict, 18), words.capital(finding.verdict.text)),
    element("span", { class: "check", text: words.checkTitle(finding.check) }),
    counted(finding) ? null : element("span", { class: "headline", text: number }),
  ];
}

// One finding: verdict, headline, picture, arithmetic.
export function card(finding, { open: unfolded = true, main = false } = {}) {
  const body = [counted(finding) ? null : strip(finding), partOfRun(finding), arithmetic(finding), behind(finding)];
  if (main) return element("article", { class: "finding" }, element("div", { class: "head" }, ...head(finding)), ...body);
  const summary = element("summary", { class: "head" }, ...head(finding));
  return element("details", { class: "finding", open: unfolded }, summary, ...body);
}
