// The shapes of the verdicts, on canvas: shape and colour together, never colour alone.

import { colours } from "./ink.js";

const TAU = 2 * Math.PI;

export const trace = {
  circle(path, x, y, r) {
    path.moveTo(x + r, y);
    path.arc(x, y, r, 0, TAU);
  },
  triangle(path, x, y, r) {
    path.moveTo(x, y - 1.15 * r);
    path.lineTo(x + 1.1 * r, y + 0.8 * r);
    path.lineTo(x - 1.1 * r, y + 0.8 * r);
    path.closePath();
  },
  diamond(path, x, y, r) {
    path.moveTo(x, y - 1.2 * r);
    path.lineTo(x + 1.2 * r, y);
    path.lineTo(x, y + 1.2 * r);
    path.lineTo(x - 1.2 * r, y);
    path.closePath();
  },
  cross(path, x, y, r) {
    path.moveTo(x - r, y - r);
    path.lineTo(x + r, y + r);
    path.moveTo(x + r, y - r);
    path.lineTo(x - r, y + r);
  },
  square(path, x, y, r) {
    path.rect(x - r, y - r, 2 * r, 2 * r);
  },
  // a lid with its cross
  manhole(path, x, y, r) {
    path.moveTo(x + r, y);
    path.arc(x, y, r, 0, TAU);
    path.moveTo(x - 0.7 * r, y - 0.7 * r);
    path.lineTo(x + 0.7 * r, y + 0.7 * r);
    path.moveTo(x + 0.7 * r, y - 0.7 * r);
    path.lineTo(x - 0.7 * r, y + 0.7 * r);
  },
  // a body with two outlets and a bonnet
  hydrant(path, x, y, r) {
    path.rect(x - 0.45 * r, y - 0.7 * r, 0.9 * r, 1.6 * r);
    path.rect(x - r, y - 0.25 * r, 0.55 * r, 0.5 * r);
    path.rect(x + 0.45 * r, y - 0.25 * r, 0.55 * r, 0.5 * r);
    path.moveTo(x - 0.6 * r, y - 0.7 * r);
    path.lineTo(x, y - 1.2 * r);
    path.lineTo(x + 0.6 * r, y - 0.7 * r);
  },
  // two cones that meet
  valve(path, x, y, r) {
    path.moveTo(x - r, y - 0.7 * r);
    path.lineTo(x + r, y + 0.7 * r);
    path.lineTo(x + r, y - 0.7 * r);
    path.lineTo(x - r, y + 0.7 * r);
    path.closePath();
  },
  // a grate
  inlet(path, x, y, r) {
    path.rect(x - r, y - 0.75 * r, 2 * r, 1.5 * r);
    for (const at of [-0.5, 0, 0.5]) {
      path.moveTo(x + at * r, y - 0.75 * r);
      path.lineTo(x + at * r, y + 0.75 * r);
    }
  },
  plus(path, x, y, r) {
    path.moveTo(x - r, y);
    path.lineTo(x + r, y);
    path.moveTo(x, y - r);
    path.lineTo(x, y + r);
  },
};

const STRUCTURES = [["hydrant", /hydrant/], ["valve", /valve/], ["inlet", /inlet|basin|grate/], ["manhole", /manhole|rim/]];

// What is drawn for a kind of structure, or null for all other points.
export const structureOf = (kind) => STRUCTURES.find(([, words]) => words.test(kind))?.[0] ?? null;

const open = (shape) => shape === "cross" || shape === "plus";

// Many shapes of one kind in one go; `halo` is the width of the light edge that lifts them off the rest.
export function paint(ctx, shape, colour, places, r, halo = 0) {
  if (!places.length) return;
  ctx.beginPath();
  for (let i = 0; i < places.length; i += 2) trace[shape](ctx, places[i], places[i + 1], r);
  ctx.lineJoin = "round";
  ctx.lineCap = "round";
  if (halo) {
    ctx.strokeStyle = colours.edge;
    ctx.lineWidth = (open(shape) ? 2 : 0) + 2 * halo;
    ctx.stroke();
  }
  if (open(shape)) {
    ctx.strokeStyle = colour;
    ctx.lineWidth = Math.max(1.2, r / 2);
    ctx.stroke();
  } else {
    ctx.fillStyle = colour;
    ctx.fill();
  }
}
