// The worst findings carry a number, in the list and as a pin on the map, so that the eye finds one from the other.
import { colours } from "./ink.js";
import { keep } from "./labels.js";
import { finding, placeOfFinding } from "./records.js";

const MOST = 400;
const WIDTH = 26, WIDE = 44, HEIGHT = 20, STEM = 10;
let ranks = new Map(), sign = null, drawn = [];

export const begin = (about) => (sign = about.verdicts.find(({ verdict }) => verdict === "OUT"));

// Numbers for the findings out of tolerance that are listed now, worst first: those of their items, which no filter changes.
export const number = (rows) => (ranks = new Map(rows.slice(0, MOST).map((row, place) => [row, finding(row).item || place + 1])));

export const rankOf = (row) => ranks.get(row) ?? null;

// A pin that would cover a worse one stands with it, as one that says how many more there are.
function place(view) {
  const places = [];
  for (const [row, rank] of ranks) {
    const spot = placeOfFinding(row);
    if (!spot) continue;
    const x = view.x(spot.easting, spot.northing), y = view.y(spot.easting, spot.northing) - STEM - HEIGHT / 2 - 4;
    if (x < -WIDE || y < -HEIGHT || x > view.width + WIDE || y > view.height + HEIGHT + STEM) continue;
    const over = places.find((other) => Math.abs(other.x - x) < WIDE + 3 && Math.abs(other.y - y) < HEIGHT + STEM);
    if (over) over.rows.push(row);
    else places.push({ x, y, rank, rows: [row] });
  }
  return places;
}

// The pins that are drawn now: where they are, and the findings each stands for.
export const shown = () => drawn;

const halfOf = ({ rows }) => (rows.length > 1 ? WIDE : WIDTH) / 2;

export function paint(ctx, view) {
  drawn = place(view).map((pin) => ({ ...pin, pad: view.pad }));
  ctx.font = "700 12.5px system-ui, sans-serif";
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  for (const pin of drawn.slice().reverse()) {
    const { x, y, rank, rows } = pin, half = halfOf(pin);
    keep({ left: x - half, right: x + half, top: y - HEIGHT / 2, bottom: y + HEIGHT / 2 + STEM - 2, text: String(rank), pin: true });
    ctx.beginPath();
    ctx.roundRect(x - half, y - HEIGHT / 2, 2 * half, HEIGHT, 6);
    ctx.moveTo(x - 5, y + HEIGHT / 2 - 0.5);
    ctx.lineTo(x, y + HEIGHT / 2 + STEM - 2);
    ctx.lineTo(x + 5, y + HEIGHT / 2 - 0.5);
    ctx.lineJoin = "round";
    ctx.strokeStyle = colours.edge;
    ctx.lineWidth = 3;
    ctx.stroke();
    ctx.fillStyle = sign.colour;
    ctx.fill();
    ctx.fillStyle = colours.edge;
    ctx.fillText(rows.length > 1 ? `${rank} +${rows.length - 1}` : String(rank), x, y + 0.5);
  }
  ctx.textAlign = "start";
  ctx.textBaseline = "alphabetic";
}

// The findings whose pin is under a place of the canvas, or null.
export function at(x, y) {
  const found = drawn.find((pin) => {
    const below = y - pin.y;
    return Math.abs(pin.x - x) <= halfOf(pin) + 2 && below >= -HEIGHT / 2 - 2 && below <= HEIGHT / 2 + STEM;
  });
  return found ? found.rows : null;
}
