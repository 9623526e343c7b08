// The worst findings carry a number, in the list and as a pin on the map, so that the eye finds one from the other.
import { finding, placeOfFinding } from "./records.js";

const MOST = 40;
const WIDTH = 24, HEIGHT = 20, STEM = 10;
let ranks = new Map(), colour = "#000", drawn = [];

export const begin = (about) => (colour = about.verdicts.find(({ verdict }) => verdict === "OUT").colour);

// Numbers for the findings out of tolerance that are listed now, worst first: those of their items, which no filter changes.
export const number = (rows) => (ranks = new Map(rows.slice(0, MOST).map((row, place) => [row, finding(row).item || place + 1])));

export const rankOf = (row) => ranks.get(row) ?? null;

// A pin that would cover a worse one is left out; it comes back when the map is nearer.
function place(view) {
  const places = [];
  for (const [row, rank] of ranks) {
    const spot = placeOfFinding(row);
    if (!spot) continue;
    const x = view.x(spot.easting), y = view.y(spot.northing) - STEM - HEIGHT / 2 - 4;
    if (x < -WIDTH || y < -HEIGHT || x > view.width + WIDTH || y > view.height + HEIGHT + STEM) continue;
    if (places.some((other) => Math.abs(other.x - x) < WIDTH + 2 && Math.abs(other.y - y) < HEIGHT + 2)) continue;
    places.push({ x, y, row, rank });
  }
  return places;
}

export function paint(ctx, view) {
  drawn = place(view).map((pin) => ({ ...pin, pad: view.pad }));
  ctx.font = "700 12.5px system-ui, sans-serif";
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  for (const { x, y, rank } of drawn.slice().reverse()) {
    ctx.beginPath();
    ctx.roundRect(x - WIDTH / 2, y - HEIGHT / 2, WIDTH, HEIGHT, 6);
    ctx.moveTo(x - 5, y + HEIGHT / 2 - 0.5);
    ctx.lineTo(x, y + HEIGHT / 2 + STEM - 2);
    ctx.lineTo(x + 5, y + HEIGHT / 2 - 0.5);
    ctx.lineJoin = "round";
    ctx.strokeStyle = "#ffffff";
    ctx.lineWidth = 3;
    ctx.stroke();
    ctx.fillStyle = colour;
    ctx.fill();
    ctx.fillStyle = "#ffffff";
    ctx.fillText(String(rank), x, y + 0.5);
  }
  ctx.textAlign = "start";
  ctx.textBaseline = "alphabetic";
}

// The finding whose pin is under a place of the canvas, or null.
export function at(x, y) {
  const found = drawn.find((pin) => {
    const below = y - pin.y;
    return Math.abs(pin.x - x) <= WIDTH / 2 + 2 && below >= -HEIGHT / 2 - 2 && below <= HEIGHT / 2 + STEM;
  });
  return found ? found.row : null;
}
