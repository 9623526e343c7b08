// What every sign means, how many there are, and switches for the layers.
import * as choice from "./choice.js";
import { byId, element } from "./elements.js";
import { structureOf } from "./glyph.js";
import { icon as iconOf, ofStructure, ofVerdict } from "./icon.js";
import * as linework from "./linework.js";
import * as records from "./records.js";
import { NOT_ASKED } from "./shots.js";
import * as words from "./words.js";

let tables = null, about = null;

export function begin(allTables, allAbout, layer) {
  tables = allTables;
  about = allAbout;
  const holder = byId("legend-body");
  const state = choice.state;
  for (const { name, off } of switches()) state.layers[name] = !off;
  holder.append(
    part("Shots, by the worst that is reported", shots(), honesty()),
    part("Layers", [...switches().map(layerSwitch), ...structures()], ...pictured(), ...differing(), ...tints()),
  );
  choice.onChange(() => layer.later());
  const button = byId("legend-button");
  button.addEventListener("click", () => unfold(button.getAttribute("aria-expanded") !== "true"));
  unfold(window.matchMedia("(min-width: 1800px) and (min-height: 1000px)").matches);
}

// The signs of the structures there are, as they are drawn.
function structures() {
  const there = new Set(tables.points.rows ? tables.points.texts("kind").map(structureOf).filter(Boolean) : []);
  return [...there].map((name) => element("li", { class: "structure" }, ofStructure(name), element("span", { text: words.capital(name) })));
}

const part = (title, rows, ...rest) =>
  element("section", {}, element("h3", { text: title }), element("ul", { class: "signs" }, ...rows), ...rest);

// How many shots on few pixels are drawn.
const honesty = () =>
  element("p", {
    class: "quiet",
    text:
      "Zoomed out, shots that share a few pixels are one dot, coloured in the shares of their verdicts, " +
      "the worst in the middle.",
  });

function unfold(open) {
  byId("legend-button").setAttribute("aria-expanded", String(open));
  byId("legend").hidden = !open;
}

function shots() {
  const row = (icon, text, count) =>
    element("li", {}, icon, element("span", { text }), element("span", { class: "count", text: count.toLocaleString("en-US") }));
  const codes = about.verdicts.map((_, code) => code).sort((a, b) => records.order(a) - records.order(b));
  return [
    ...codes.map((code) => {
      const verdict = about.verdicts[code];
      return row(ofVerdict(verdict), words.capital(verdict.text), about.signs[verdict.verdict]);
    }),
    row(iconOf("dot", NOT_ASKED.colour), words.capital(about.unasked.text), about.signs[about.unasked.sign]),
  ];
}

function switches() {
  return [
    { name: "runs", icon: ["swath", "#B3261E"], text: "Run of shots judged as one", count: tables.runs.rows + linework.layers.reaches.count },
    { name: "arrows", icon: ["arrow", "#B3261E"], text: "Deviation arrow", count: null, id: "arrow-factor" },
    { name: "gaps", icon: ["dashes", "#B3261E"], text: "Design without a shot", count: tables.gaps.rows },
    { name: "control", icon: ["mark", "currentColor"], text: "Control mark", count: tables.control.rows },
    { name: "points", icon: ["open", "currentColor"], text: "Design point", count: tables.points.rows },
    { name: "lines", icon: ["line", "currentColor"], text: "Design line", count: tables.lines.rows },
    { name: "asbuilt", icon: ["dashes", "#8d7a55"], text: "As-built line", count: tables.asbuilt.rows },
    { name: "bands", icon: ["band", "#6f9ea8"], text: "Tolerance band", count: tables.bands.rows },
    { name: "background", icon: ["picture", "#7b8a76"], text: "Background picture", count: about.background ? null : 0 },
    { name: "difference", icon: ["tile", "#9467b0"], text: "As-built minus design surface", count: about.difference ? null : 0, off: true },
    { name: "grid", icon: ["grid", "#8a9097"], text: `Grid, ${about.unit}`, count: null },
  ].filter(({ count }) => count !== 0);
}

function layerSwitch({ name, icon, text, count, id = null, off = false }) {
  const box = element("input", { type: "checkbox", checked: !off, id: `layer-${name}` });
  box.addEventListener("change", () => choice.change((state) => (state.layers[name] = box.checked)));
  return element(
    "li", {},
    element(
      "label", { for: `layer-${name}` },
      box, iconOf(...icon), element("span", { text }),
      id ? element("span", { class: "factor", id }) : null,
      count === null ? null : element("span", { class: "count", text: count.toLocaleString("en-US") }),
    ),
  );
}

// What the picture is, how fine, and that nothing is measured on it.
const pictured = () =>
  about.background ? [element("p", { id: "background-words", class: "quiet", text: about.background.words })] : [];

// What the colours of the difference of the surfaces mean; shown while it is.
function differing() {
  if (!about.difference) return [];
  const { words: said, classes } = about.difference;
  const rows = classes.map(({ colour, text }) => element("li", {}, iconOf("tile", colour), element("span", { text })));
  const holder = element(
    "div", { id: "difference", hidden: true },
    element("ul", { class: "signs" }, ...rows),
    element("p", { id: "difference-words", class: "quiet", text: said }),
  );
  choice.onChange(() => (holder.hidden = !choice.state.layers.difference));
  return [holder];
}

// Which tint is the band of which kind.
function tints() {
  const kinds = linework.kinds();
  if (!kinds.length) return [];
  const folded = element(
    "details", { class: "tints" },
    element("summary", { text: "Bands by kind" }),
    element(
      "ul", { class: "signs" },
      ...kinds.map((kind, place) => {
        const icon = iconOf("band", linework.tintOf(place));
        return element("li", {}, icon, element("span", { text: words.kind(kind) }));
      }),
    ),
  );
  return [folded];
}
