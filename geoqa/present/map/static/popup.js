"use strict";
// What opens on a click: findings, shots, marks, points and stations, each with its title, place and parts.
geoqa.popup = (() => {
  const { element } = geoqa;
  const { card, row, button, shotButton, shotsBehind, titleOf } = geoqa.card;
  const absent = geoqa.unpack.absent;
  let tables = null;

  const begin = (allTables) => (tables = allTables);

  function ofFinding(number) {
    const finding = geoqa.records.finding(number);
    const shot = finding.shot === null ? null : geoqa.records.shot(finding.shot);
    return {
      place: geoqa.records.placeOfFinding(number),
      also: shotsBehind(number).slice(0, 500).map(geoqa.records.placeOfShot).filter(Boolean),
      title: titleOf(finding),
      parts: [card(finding, { main: true }), ...others(finding), shot && geoqa.taken(shot, true)],
    };
  }

  // The other findings about the same shot, folded.
  function others(finding) {
    if (finding.shot === null) return [];
    return geoqa.records.findingsOfShot(finding.shot)
      .filter((other) => other !== finding.row)
      .map((other) => card(geoqa.records.finding(other), { open: false }));
  }

  function ofShot(number) {
    const shot = geoqa.records.shot(number);
    const found = geoqa.records.findingsOfShot(number).map(geoqa.records.finding);
    const kind = shot.kind ? `, ${geoqa.words.kind(shot.kind).toLowerCase()}` : "";
    return {
      place: geoqa.records.placeOfShot(number),
      title: `Shot ${shot.name || shot.key}${kind}`,
      parts: [
        ...found.map((finding, i) => card(finding, { open: i === 0, main: found.length === 1 })),
        found.length ? null : element("p", { class: "quiet", text: "No check asks about this shot." }),
        geoqa.taken(shot, found.length > 0),
      ],
    };
  }

  const placeIn = (table, number) => ({ easting: table.numbers("easting")[number], northing: table.numbers("northing")[number] });

  function coordinates(table, number) {
    return ["easting", "northing", "elevation"].flatMap((axis) => {
      const whole = table.numbers(axis)[number] + geoqa.records.base(axis);
      return row(geoqa.words.capital(axis), geoqa.words.quantity(whole, "length"));
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
    for (let i = 0; i < tables.findings.rows; i++) if (geoqa.records.textOf("subject", i) === name) found.push(i);
    return {
      place: placeIn(table, number),
      title: `Design point ${name}`,
      parts: [
        element(
          "dl", { class: "arithmetic" },
          ...row("Kind", geoqa.words.kind(table.text("kind", number))),
          ...coordinates(table, number),
        ),
        ...found.slice(0, 8).map((finding) => card(geoqa.records.finding(finding), { open: found.length === 1 })),
      ],
    };
  }

  // A place on a design line that was asked for by its station.
  function ofStation(number, { station, place }) {
    const words = geoqa.words;
    const whole = (axis) => words.quantity(Math.round(place[axis]) + geoqa.records.base(axis), "length");
    return {
      place,
      title: `${tables.lines.text("line", number)} at ${words.station(station)}`,
      parts: [
        element(
          "dl", { class: "arithmetic" },
          ...row("Kind", words.kind(tables.lines.text("kind", number))),
          ...row("Easting", whole("easting")), ...row("Northing", whole("northing")),
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

  function open(target, { others: more = [], at = null } = {}) {
    const { type, row: number } = resolved(target);
    if (absent(number)) return;
    const { place, also = [], title, parts } = OPENERS[type](number, target);
    const pinned = type === "finding" && geoqa.pins.rankOf(number) !== null;
    const heading = element("h3", { tabindex: "-1", text: title });
    const content = element(
      "div", { class: "card" }, heading,
      place ? null : element("p", { class: "quiet", text: "No position was recorded, so it cannot be shown on the map." }),
      ...parts,
      geoqa.whereabouts.link(place),
      more.length ? alsoHere(more) : null,
    );
    geoqa.fly.show(content, { place: place ?? at, also, heading, pinned });
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

  return { begin, open };
})();
