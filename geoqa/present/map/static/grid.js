// Grid lines in round numbers of the grid, and the marks that have a place: control and design points.
import { state } from "./choice.js";
import { structureOf, trace } from "./glyph.js";
import { colours } from "./ink.js";
import { around, want } from "./labels.js";
import { digit as lastDigit } from "./view.js";

const STEPS = [1, 2, 5];

// The smallest round step that takes at least `pixels` on the screen, in units of the grid.
export function roundStep(perUnit, pixels) {
  for (let power = -2; power < 8; power++) {
    for (const step of STEPS) if (step * 10 ** power * perUnit >= pixels) return step * 10 ** power;
  }
  return 10 ** 8;
}

export function paint(ctx, view, about) {
  if (!state.layers.grid) return;
  const digit = lastDigit();
  const step = roundStep(view.perUnit, 140);
  const [originE, originN] = about.origin;
  ctx.beginPath();
  const [west, south, east, north] = view.box, put = (value) => Math.round(value) + 0.5;
  const line = (...ends) => ends.forEach(([e, n], i) => ctx[i ? "lineTo" : "moveTo"](put(view.x(e, n)), put(view.y(e, n))));
  for (let k = Math.ceil((west * digit + originE) / step); k * step <= east * digit + originE; k++) {
    const e = (k * step - originE) / digit;
    line([e, south], [e, north]);
  }
  for (let k = Math.ceil((south * digit + originN) / step); k * step <= north * digit + originN; k++) {
    const n = (k * step - originN) / digit;
    line([west, n], [east, n]);
  }
  ctx.strokeStyle = colours.grid;
  ctx.lineWidth = 1;
  ctx.stroke();
}

export function paintPlaces(ctx, view, tables) {
  const on = state.layers;
  const kind = state.kind;
  if (on.points) {
    ctx.strokeStyle = colours.line;
    ctx.fillStyle = colours.paper;
    ctx.lineWidth = 1.6;
    each(tables.points, view, (x, y, row) => {
      if (kind && tables.points.text("kind", row) !== kind) return;
      const structure = structureOf(tables.points.text("kind", row)), size = structure ? Math.min(11, 6 + view.perFoot) : 5;
      ctx.beginPath();
      trace[structure ?? "square"](ctx, x, y, size);
      ctx.fill();
      ctx.stroke();
    });
  }
  if (on.control) {
    each(tables.control, view, (x, y, row) => {
      ctx.beginPath();
      trace.square(ctx, x, y, 6.5);
      trace.plus(ctx, x, y, 10);
      ctx.strokeStyle = colours.edge;
      ctx.lineWidth = 5;
      ctx.stroke();
      ctx.strokeStyle = colours.ink;
      ctx.lineWidth = 1.8;
      ctx.stroke();
      want(tables.control.text("mark", row), around(x, y, 12), { rank: 3 });
    });
  }
}

function each(table, view, work) {
  if (!table.rows) return;
  const easting = table.numbers("easting"), northing = table.numbers("northing");
  for (let i = 0; i < table.rows; i++) {
    const x = view.x(easting[i], northing[i]), y = view.y(easting[i], northing[i]);
    if (x > -20 && y > -20 && x < view.width + 20 && y < view.height + 20) work(x, y, i);
  }
}
