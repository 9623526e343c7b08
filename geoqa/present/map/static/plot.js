// A plot of judged numbers in lines of SVG: axes, tolerance, two standard uncertainties, and the signs of the verdicts.
import { shape, symbol } from "./icon.js";

const LEFT = 66, RIGHT = 16, TOP = 22, BOTTOM = 24;

// Round values between two ends, at most so many.
export function ticks(low, high, most) {
  const span = high - low || 1;
  let step = 10 ** Math.floor(Math.log10(span / most));
  for (const factor of [1, 2, 5, 10]) {
    if (span / (step * factor) <= most) {
      step *= factor;
      break;
    }
  }
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k++) found.push(Math.round(k * step * 1e6) / 1e6);
  return found;
}

export function begin(width, height, [x0, x1], [y0, y1]) {
  const made = shape("svg", { viewBox: `0 0 ${width} ${height}`, width, height, class: "plot", tabindex: 0, role: "group" });
  const x = (value) => LEFT + ((value - x0) / (x1 - x0 || 1)) * (width - LEFT - RIGHT);
  const y = (value) => height - BOTTOM - ((value - y0) / (y1 - y0 || 1)) * (height - TOP - BOTTOM);
  return { made, x, y, width, height, x0, x1, y0, y1 };
}

const label = (text, facts) => {
  const made = shape("text", facts);
  made.textContent = text;
  return made;
};

export function axes(plot, { textX, textY, head }) {
  const { made, x, y, width, height } = plot;
  for (const value of ticks(plot.y0, plot.y1, 5)) {
    made.append(shape("path", { d: `M${LEFT} ${y(value)}H${width - RIGHT}`, class: "plot-grid" }));
    made.append(label(textY(value), { x: LEFT - 6, y: y(value) + 4, "text-anchor": "end" }));
  }
  for (const value of ticks(plot.x0, plot.x1, Math.max(2, Math.floor(width / 130)))) {
    made.append(shape("path", { d: `M${x(value)} ${TOP}V${height - BOTTOM}`, class: "plot-grid" }));
    made.append(label(textX(value), { x: x(value), y: height - 8, "text-anchor": "middle" }));
  }
  made.append(label(head, { x: 6, y: 14, class: "plot-head" }));
}

// A limit on one side is open to the other: it is drawn to the edge.
export function band(plot, from, to, lower, upper) {
  const top = plot.y(upper === null ? plot.y1 : Math.min(upper, plot.y1)), foot = plot.y(lower === null ? plot.y0 : Math.max(lower, plot.y0));
  const left = Math.min(plot.x(from), plot.x(to)), width = Math.max(1, Math.abs(plot.x(to) - plot.x(from)));
  plot.made.append(shape("rect", { x: left, y: top, width, height: Math.max(0, foot - top), class: "plot-allowed" }));
  for (const [limit, at] of [[upper, top], [lower, foot]]) {
    if (limit !== null && limit >= plot.y0 && limit <= plot.y1) plot.made.append(shape("path", { d: `M${left} ${at}h${width}`, class: "plot-limit" }));
  }
}

export function line(plot, points, name) {
  if (points.length < 2) return;
  const d = points.map(([a, b], i) => `${i ? "L" : "M"}${plot.x(a).toFixed(1)} ${plot.y(b).toFixed(1)}`).join("");
  plot.made.append(shape("path", { d, class: name }));
}

// One number: whisker, sign, and its words; what lies beyond the plot stands at its edge, marked as beyond.
export function mark(plot, { x, y, spread, sign, said, id }) {
  const at = Math.min(Math.max(y, plot.y0), plot.y1), px = plot.x(x), py = plot.y(at);
  const group = shape("g", { class: at === y ? "mark" : "mark beyond", "data-mark": id });
  const title = shape("title", {});
  title.textContent = said;
  group.append(title);
  const clip = (value) => plot.y(Math.min(Math.max(value, plot.y0), plot.y1));
  if (spread > 0 && at === y) group.append(shape("path", { d: `M${px} ${clip(y - spread)}V${clip(y + spread)}`, class: "plot-spread" }));
  group.append(symbol(sign, px, py, sign.verdict === "OUT" ? 15 : 11));
  plot.made.append(group);
  return group;
}
