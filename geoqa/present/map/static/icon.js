// The same shapes as small pictures in lists, legend and popup.

import { trace } from "./glyph.js";

const SVG = "http://www.w3.org/2000/svg";
const POINTS = {
  triangle: "10,2.5 18.5,17 1.5,17",
  diamond: "10,1.5 18.5,10 10,18.5 1.5,10",
};

export function shape(tag, facts) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(facts)) made.setAttribute(name, value);
  return made;
}

// Open shapes: the path, and how it is stroked.
const PATHS = {
  cross: ["M4 4L16 16M16 4L4 16", { "stroke-width": 3.4, "stroke-linecap": "round" }],
  mark: ["M3.5 3.5H16.5V16.5H3.5ZM10 0.5V19.5M0.5 10H19.5", { "stroke-width": 1.7 }],
  line: ["M1 10H19", { "stroke-width": 2.4 }],
  dashes: ["M0 10H20", { "stroke-width": 5, "stroke-dasharray": "5 3" }],
  swath: ["M2 10H18", { "stroke-width": 11, "stroke-linecap": "round", opacity: 0.38 }],
  grid: ["M6 1V19M14 1V19M1 6H19M1 14H19", { "stroke-width": 1.2 }],
  arrow: ["M3 17L15 5M15 5H7.5M15 5V12.5", { "stroke-width": 2.4 }],
  picture: ["M2 3.5H18V16.5H2ZM2 14L7.5 8L11.5 12L14 9.5L18 14", { "stroke-width": 1.6, "stroke-linejoin": "round" }],
  open: ["M4.5 4.5H15.5V15.5H4.5Z", { "stroke-width": 2 }],
};

function picture(kind, colour) {
  if (kind in PATHS) return shape("path", { d: PATHS[kind][0], stroke: colour, fill: "none", ...PATHS[kind][1] });
  if (kind === "circle") return shape("circle", { cx: 10, cy: 10, r: 7, fill: colour });
  if (kind === "dot") return shape("circle", { cx: 10, cy: 10, r: 3.5, fill: colour });
  if (kind === "tile") return shape("rect", { x: 2, y: 2, width: 16, height: 16, fill: colour, stroke: "#8a9097", "stroke-width": 1 });
  if (kind === "band") return shape("rect", { x: 1, y: 4, width: 18, height: 12, fill: colour, opacity: 0.45 });
  return shape("polygon", { points: POINTS[kind], fill: colour, "stroke-linejoin": "round" });
}

export function icon(kind, colour, size = 20) {
  const made = shape("svg", { viewBox: "0 0 20 20", width: size, height: size, "aria-hidden": "true", class: "icon" });
  made.append(picture(kind, colour));
  return made;
}

// In the colour that the page gives the verdict, by day and in the dark.
export function ofVerdict(verdict, size) {
  const made = icon(verdict.shape, "currentColor", size);
  made.classList.add("sign");
  made.style.color = `var(--v-${verdict.verdict}, ${verdict.colour})`;
  return made;
}

// A structure as the map draws it: the same path, written down instead of painted.
export function ofStructure(name) {
  const parts = [], put = (letter) => (...at) => parts.push(letter + at.join(" "));
  trace[name]({
    moveTo: put("M"), lineTo: put("L"), closePath: put("Z"),
    rect: (x, y, w, h) => parts.push(`M${x} ${y}h${w}v${h}h${-w}Z`),
    arc: (x, y, r) => parts.push(`M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`),
  }, 10, 10.5, 7.5);
  const made = shape("svg", { viewBox: "0 0 20 20", width: 20, height: 20, "aria-hidden": "true", class: "icon" });
  made.append(shape("path", { d: parts.join(""), fill: "none", stroke: "currentColor", "stroke-width": 1.6 }));
  return made;
}

// The sign of a verdict inside another picture, its middle at a place of it.
export function symbol(verdict, x, y, size) {
  const made = ofVerdict(verdict, size);
  made.setAttribute("x", x - size / 2);
  made.setAttribute("y", y - size / 2);
  return made;
}
