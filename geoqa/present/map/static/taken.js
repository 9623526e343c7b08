// A shot as it was taken: coordinates on the grid and as written, code, note, time, and how it was measured.
import { row } from "./card.js";
import { element } from "./elements.js";
import { absent } from "./unpack.js";
import * as words from "./words.js";

let about = null;

export const begin = (allAbout) => (about = allAbout);

function coordinates(shot) {
  const names = ["Easting", "Northing", "Elevation"];
  return element(
    "table", { class: "coordinates" },
    element("tr", {}, element("th", {}), element("th", { text: `Grid, ${about.unit}` }), element("th", { text: "As written" })),
    ...names.map((name, i) =>
      element(
        "tr", {},
        element("th", { text: name }),
        element("td", { text: words.number(shot.grid[i], about.digits) }),
        element("td", { text: shot.raw[i] || "none" }),
      ),
    ),
  );
}

// Both parts of the shot's uncertainty, and where they come from: once, where plan and elevation agree.
function uncertainty(shot) {
  const { quantity, knownFrom } = words;
  const from = { h: knownFrom(shot.kind, "h"), v: knownFrom(shot.kind, "v") };
  const rows = { h: ["Uncertainty in plan", "1 sigma, each axis"], v: ["Uncertainty in elevation", "1 sigma"] };
  return Object.entries(rows).flatMap(([axis, [name, level]]) => {
    const [random, common] = shot.u[axis];
    if (absent(random) && absent(common)) return [];
    const parts = `${quantity(random, "length")} of its own, ${quantity(common, "length")} shared by the session`;
    return [...row(name, `${parts} (${level})`), ...row("Known from", axis === "h" && from.h === from.v ? "" : from[axis])];
  });
}

// Photos with links, where the job says in which folder they are; small ones where it asks for them.
function photos(text) {
  const held = about.photos;
  if (!text || !held) return row("Photo", text);
  const one = (name) => {
    if (!Object.hasOwn(held.small, name)) return element("span", { text: `${name} (not among the photos) ` });
    const small = held.small[name] ? element("img", { src: `data:image/jpeg;base64,${held.small[name]}`, alt: "" }) : null;
    return element("a", { class: "photo", href: held.folder + encodeURIComponent(name), target: "_blank", rel: "noopener" }, small, name);
  };
  return [element("dt", { text: "Photo" }), element("dd", {}, ...text.split(";").map((each) => each.trim()).filter(Boolean).map(one))];
}

export function taken(shot, folded) {
  const length = (value) => (absent(value) ? "" : words.quantity(value, "length"));
  const facts = element(
    "dl", { class: "arithmetic" },
    ...row("Code", [shot.fieldCode, shot.kind && `(${words.kind(shot.kind).toLowerCase()})`].filter(Boolean).join(" ")),
    ...row("Line or item", shot.line_id),
    ...row("On the baseline", shot.baseline),
    ...row("Observed", words.time(shot.time)),
    ...row("Solution", shot.solution),
    ...row("Session", shot.session),
    ...row("Rod", length(shot.rod)),
    ...row("Tilt", absent(shot.tilt) ? "" : `${words.number(shot.tilt, 1)}°`),
    ...uncertainty(shot),
    ...photos(shot.photo),
    ...row("Flags", shot.flags.map(words.flag).join("; ")),
    ...row("File", `${shot.source}, line ${shot.line}`),
  );
  const body = [shot.note ? element("blockquote", { text: shot.note }) : null, coordinates(shot), facts];
  if (!folded) return element("section", { class: "shot" }, ...body);
  const summary = element("summary", { text: `Shot ${shot.name || shot.key}, as it was taken` });
  return element("details", { class: "shot" }, summary, ...body);
}
