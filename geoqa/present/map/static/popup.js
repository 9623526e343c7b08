// What opens on a click: findings, shots, marks, points and stations, each with its title, place and parts.
import { button, card, row, shotButton, shotsBehind, titleOf } from "./card.js";
import { panel } from "./decide.js";
import { element } from "./elements.js";
import { show } from "./fly.js";
import { ofVerdict } from "./icon.js";
import { rankOf } from "./pins.js";
import * as records from "./records.js";
import { select } from "./selection.js";
import { taken } from "./taken.js";
import { absent } from "./unpack.js";
import { link } from "./whereabouts.js";
import * as words from "./words.js";

let tables = null;

export const begin = (allTables) => (tables = allTables);

function ofFinding(number) {
  const finding = records.finding(number);
  const shot = finding.shot === null ? null : records.shot(finding.shot);
  return {
    place: records.placeOfFinding(number),
    also: shotsBehind(number).slice(0, 500).map(records.placeOfShot).filter(Boolean),
    title: titleOf(finding),
    parts: [card(finding, { main: true }), panel([finding]), ...others(finding), shot && taken(shot, true)],
  };
}

// The other findings about the same shot, folded.
function others(finding) {
  if (finding.shot === null) return [];
  return records.findingsOfShot(finding.shot)
    .filter((other) => other !== finding.row)
    .map((other) => card(records.finding(other), { open: false }));
}

function ofShot(number) {
  const shot = records.shot(number);
  const found = records.findingsOfShot(number).map(records.finding);
  const kind = shot.kind ? `, ${words.kind(shot.kind).toLowerCase()}` : "";
  return {
    place: records.placeOfShot(number),
    title: `Shot ${shot.name || shot.key}${kind}`,
    parts: [
      ...found.map((finding, i) => card(finding, { open: i === 0, main: found.length === 1 })),
      found.length ? null : element("p", { class: "quiet", text: "No check asks about this shot." }),
      panel(found),
      ...withOthers(number),
      taken(shot, found.length > 0),
    ],
  };
}

const MOST = 12;

// What the shot shows together with others: what is not within its limits can be opened, the rest is counted.
function withOthers(number) {
  const found = records.togetherOf(number), within = tables.together.text("within", number);
  if (!found.length && !within) return [];
  const opener = (each) => button(titleTogether(each), () => open({ type: "finding", row: each.row }), ofVerdict(each.verdict, 14));
  return [
    element(
      "section", { class: "behind" },
      element("h4", { text: "Judged together with other shots" }),
      element("div", { class: "links" }, ...found.slice(0, MOST).map(records.finding).map(opener)),
      found.length > MOST ? element("p", { text: `and ${found.length - MOST} more` }) : null,
      within ? element("p", { text: `Within tolerance: ${within}` }) : null,
    ),
  ];
}

function titleTogether(finding) {
  const number = absent(finding.deviation) ? finding.verdict.short : words.judged(finding, { unit: true });
  return `${words.checkTitle(finding.check)}: ${number}`;
}

const placeIn = (table, number) => ({ easting: table.numbers("easting")[number], northing: table.numbers("northing")[number] });

function coordinates(table, number) {
  return ["easting", "northing", "elevation"].flatMap((axis) => {
    const whole = table.numbers(axis)[number] + records.base(axis);
    return row(words.capital(axis), words.quantity(whole, "length", { unit: axis === "easting" }));
  });
}

function ofMark(number) {
  const table = tables.control;
  return {
    place: placeIn(table, number),
    title: `Control mark ${table.text("mark", number)}`,
    parts: [
      element(
        "dl", { class: "arithmetic" },
        ...coordinates(table, number),
        ...row("From", table.text("reference", number)),
        ...row("Held", table.numbers("held")[number] ? "yes" : "no"),
        ...row("Independent", table.numbers("independent")[number] ? "yes" : "no"),
      ),
    ],
  };
}

function ofPoint(number) {
  const table = tables.points;
  const name = table.text("point", number);
  const found = [];
  for (let i = 0; i < tables.findings.rows; i++) if (records.textOf("subject", i) === name) found.push(i);
  return {
    place: placeIn(table, number),
    title: `Design point ${name}`,
    parts: [
      element(
        "dl", { class: "arithmetic" },
        ...row("Kind", words.kind(table.text("kind", number))),
        ...coordinates(table, number),
      ),
      ...found.slice(0, 8).map((finding) => card(records.finding(finding), { open: found.length === 1 })),
    ],
  };
}

// A place on a design line that was asked for by its station.
function ofStation(number, { station, place }) {
  const whole = (axis, unit) => words.quantity(Math.round(place[axis]) + records.base(axis), "length", { unit });
  return {
    place,
    title: `${tables.lines.text("line", number)} at ${words.station(station)}`,
    parts: [
      element(
        "dl", { class: "arithmetic" },
        ...row("Kind", words.kind(tables.lines.text("kind", number))),
        ...row("Easting", whole("easting", true)), ...row("Northing", whole("northing")),
      ),
    ],
  };
}

const OPENERS = { finding: ofFinding, shot: ofShot, control: ofMark, points: ofPoint, station: ofStation };

// Runs and gaps are opened through their finding.
function resolved(target) {
  if (target.type !== "runs" && target.type !== "gaps") return target;
  return { type: "finding", row: tables[target.type].numbers("finding")[target.row] };
}

export function open(target, { others: more = [], at = null } = {}) {
  const { type, row: number } = resolved(target);
  if (absent(number)) return;
  const { place, also = [], title, parts } = OPENERS[type](number, target);
  const pinned = type === "finding" && rankOf(number) !== null;
  const heading = element("h3", { tabindex: "-1", text: title });
  const content = element(
    "div", { class: "card" }, heading,
    place ? null : element("p", { class: "quiet", text: "No position was recorded, so it cannot be shown on the map." }),
    ...parts,
    link(place),
    more.length ? alsoHere(more) : null,
  );
  select({ type, row: number });
  show(content, { place: place ?? at, also, heading, pinned });
}

const alsoHere = (targets) =>
  element(
    "section", { class: "behind" },
    element("h4", { text: "Also here" }),
    element("div", { class: "links" }, ...targets.slice(0, 12).map(choice)),
  );

function choice(target) {
  if (target.type === "shot") return shotButton(target.row);
  const { title } = OPENERS[resolved(target).type](resolved(target).row);
  return button(title, () => open(target));
}
