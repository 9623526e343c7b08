"use strict";
// What opens on a click: the arithmetic of a finding in full, and the shot as it was written.
geoqa.popup = (() => {
  const { element } = geoqa;
  const absent = geoqa.unpack.absent;
  let tables = null, about = null;

  function begin(allTables, allAbout) {
    tables = allTables;
    about = allAbout;
  }

  const row = (name, value) => (value ? [element("dt", { text: name }), element("dd", { text: value })] : []);

  // "CTB-L, shot 104": the subject and what the label adds to it; where things are counted the label says it all.
  function titleOf({ subject, label, kind, quantity }) {
    const named = subject && subject !== "-" && !label.includes(subject) ? subject : "";
    if (quantity === "count" && label) return named ? `${label} (${named})` : label;
    return [named, label].filter(Boolean).join(", ") || geoqa.words.kind(kind || "finding");
  }

  const counted = (finding) => finding.quantity === "count";

  function uncertainty(finding) {
    if (absent(finding.u)) return "not known";
    const { quantity } = geoqa.words;
    const parts = [["common", finding.u_common], ["random", finding.u_random]]
      .filter(([, value]) => !absent(value))
      .map(([name, value]) => `${name} ${quantity(value, finding.quantity)}`);
    return `u = ${quantity(finding.u, finding.quantity)} (1 sigma)` + (parts.length ? `; ${parts.join(", ")}` : "");
  }

  function source(limit) {
    const text = [limit.reference, limit.edition].filter(Boolean).join(", ");
    if (!text) return "";
    return limit.verified === null ? text : `${text} (${limit.verified ? "compared with its source" : "not yet compared with its source"})`;
  }

  function along(finding) {
    if (absent(finding.station)) return "";
    const { station, deviation } = geoqa.words;
    const to = absent(finding.stationEnd) || finding.stationEnd === finding.station ? "" : ` to ${station(finding.stationEnd)}`;
    const beside = absent(finding.offset) ? "" : `, ${deviation(finding.offset, "offset", "length")}`;
    return station(finding.station) + to + beside;
  }

  function arithmetic(finding) {
    const { quantity, deviation, probability, why } = geoqa.words;
    return element(
      "dl", { class: "arithmetic" },
      ...row("What to do", counted(finding) ? finding.remedy : ""),
      ...row("Allowed", finding.limit.allowed),
      ...row("Required by", source(finding.limit)),
      ...row("Design", absent(finding.design) || counted(finding) ? "" : quantity(finding.design, finding.quantity)),
      ...row(counted(finding) ? "Counted" : "Measured", quantity(finding.measured, finding.quantity)),
      ...row("Deviation", counted(finding) ? "" : deviation(finding.deviation, finding.check, finding.quantity) + (absent(finding.design) ? "" : " (measured minus design)")),
      ...row("Uncertainty", counted(finding) ? "" : uncertainty(finding)),
      ...row("Rule", finding.limit.rule),
      ...row("Probability", absent(finding.p) ? "" : `${probability(finding.p)} that the true value conforms`),
      ...row("Why", why(finding.why)),
      ...row("Probably", finding.cause),
      ...row("What to do", counted(finding) ? "" : finding.remedy),
      ...row("Where", along(finding)),
      ...row("Compared with", finding.against),
      ...row("Item", finding.item),
      ...row("Finding", finding.id),
    );
  }

  const button = (text, work, icon = null) => element("button", { type: "button", class: "link", onclick: work }, icon, text);

  function shotButton(shot) {
    const style = geoqa.shots.style(tables.shots.numbers("verdict")[shot]);
    return button(`Shot ${tables.shots.name("shot", shot)}`, () => open({ type: "shot", row: shot }), geoqa.icon(style.shape, style.colour, 14));
  }

  // Shots behind a run, or behind any other finding without a main shot.
  function shotsBehind(row) {
    const members = geoqa.records.membersOfRun(row).map((member) => tables.findings.numbers("shot")[member]);
    const shots = members.length ? members : geoqa.records.evidenceOf(row).map((each) => each.shot);
    return [...new Set(shots.filter((shot) => shot !== null && !absent(shot)))];
  }

  function behind(finding) {
    const shown = shotsBehind(finding.row);
    const rest = geoqa.records.evidenceOf(finding.row)
      .filter((each) => each.shot === null)
      .map((each) => `${each.role}: ${each.key} (${each.layer})`);
    if (!shown.length && !rest.length) return null;
    return element(
      "section", { class: "behind" },
      element("h4", { text: shown.length ? `Judged from ${geoqa.words.many(shown.length, "shot")}` : "Judged from" }),
      element("div", { class: "links" }, ...shown.slice(0, 60).map(shotButton)),
      shown.length > 60 ? element("p", { text: `and ${shown.length - 60} more` }) : null,
      ...rest.slice(0, 20).map((text) => element("p", { text })),
    );
  }

  // One finding: verdict, headline, picture, arithmetic.
  function card(finding, { open: unfolded = true, main = false } = {}) {
    const { words, strip } = geoqa;
    const { verdict } = finding;
    const head = [
      element(
        "span", { class: "verdict", style: `--verdict: ${verdict.colour}` },
        geoqa.icon.ofVerdict(verdict, 18), words.capital(verdict.text),
      ),
      element("span", { class: "check", text: words.checkTitle(finding.check) }),
      counted(finding) ? null : element("span", { class: "headline", text: words.deviation(finding.deviation, finding.check, finding.quantity) }),
    ];
    const run = finding.run === null ? null : element(
      "p", { class: "part" },
      button("Part of a run that is judged as one", () => open({ type: "finding", row: finding.run }), geoqa.icon("swath", about.verdicts[tables.findings.numbers("verdict")[finding.run]].colour, 16)),
    );
    const body = [counted(finding) ? null : strip(finding), run, arithmetic(finding), behind(finding)];
    if (main) return element("article", { class: "finding" }, element("div", { class: "head" }, ...head), ...body);
    return element("details", { class: "finding", open: unfolded }, element("summary", { class: "head" }, ...head), ...body);
  }

  function coordinates(shot) {
    const names = ["Easting", "Northing", "Elevation"];
    return element(
      "table", { class: "coordinates" },
      element("tr", {}, element("th", {}), element("th", { text: `Grid, ${about.unit}` }), element("th", { text: "As written" })),
      ...names.map((name, i) =>
        element(
          "tr", {},
          element("th", { text: name }),
          element("td", { text: geoqa.words.number(shot.grid[i], about.digits) }),
          element("td", { text: shot.raw[i] || "none" }),
        ),
      ),
    );
  }

  function shotSection(shot, folded) {
    const { words } = geoqa;
    const length = (value) => (absent(value) ? "" : words.quantity(value, "length"));
    const facts = element(
      "dl", { class: "arithmetic" },
      ...row("Code", [shot.fieldCode, shot.kind && `(${words.kind(shot.kind).toLowerCase()})`].filter(Boolean).join(" ")),
      ...row("Line or item", shot.line_id),
      ...row("Observed", words.time(shot.time)),
      ...row("Solution", shot.solution),
      ...row("Session", shot.session),
      ...row("Rod", length(shot.rod)),
      ...row("Tilt", absent(shot.tilt) ? "" : `${words.number(shot.tilt, 1)}°`),
      ...row("Photo", shot.photo),
      ...row("Flags", shot.flags.map(words.flag).join("; ")),
      ...row("File", `${shot.source}, line ${shot.line}`),
    );
    const body = [shot.note ? element("blockquote", { text: shot.note }) : null, coordinates(shot), facts];
    if (!folded) return element("section", { class: "shot" }, ...body);
    return element("details", { class: "shot" }, element("summary", { text: `Shot ${shot.name || shot.key}, as it was taken` }), ...body);
  }

  function ofFinding(number) {
    const finding = geoqa.records.finding(number);
    const shot = finding.shot === null ? null : geoqa.records.shot(finding.shot);
    return {
      place: geoqa.records.placeOfFinding(number),
      also: shotsBehind(number).slice(0, 500).map(geoqa.records.placeOfShot).filter(Boolean),
      title: titleOf(finding),
      parts: [card(finding, { main: true }), ...others(finding), shot && shotSection(shot, true)],
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
        shotSection(shot, found.length > 0),
      ],
    };
  }

  function ofMark(number) {
    const table = tables.control;
    const whole = (name) => table.numbers(name)[number] + geoqa.records.base(name);
    return {
      place: { easting: table.numbers("easting")[number], northing: table.numbers("northing")[number] },
      title: `Control mark ${table.text("mark", number)}`,
      parts: [
        element(
          "dl", { class: "arithmetic" },
          ...["easting", "northing", "elevation"].flatMap((name) => row(geoqa.words.capital(name), geoqa.words.quantity(whole(name), "length"))),
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
    const whole = (axis) => table.numbers(axis)[number] + geoqa.records.base(axis);
    const found = [];
    for (let i = 0; i < tables.findings.rows; i++) if (geoqa.records.textOf("subject", i) === name) found.push(i);
    return {
      place: { easting: table.numbers("easting")[number], northing: table.numbers("northing")[number] },
      title: `Design point ${name}`,
      parts: [
        element(
          "dl", { class: "arithmetic" },
          ...row("Kind", geoqa.words.kind(table.text("kind", number))),
          ...["easting", "northing", "elevation"].flatMap((axis) => row(geoqa.words.capital(axis), geoqa.words.quantity(whole(axis), "length"))),
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
      more.length ? element("section", { class: "behind" }, element("h4", { text: "Also here" }), element("div", { class: "links" }, ...more.slice(0, 12).map(choice))) : null,
    );
    geoqa.fly.show(content, { place: place ?? at, also, heading, pinned });
  }

  function choice(target) {
    if (target.type === "shot") return shotButton(target.row);
    const { title } = OPENERS[resolved(target).type](resolved(target).row);
    return button(title, () => open(target));
  }

  return { begin, open, titleOf };
})();
