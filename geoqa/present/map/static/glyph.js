// The shapes of the verdicts, on canvas: shape and colour together, never colour alone.

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
  plus(path, x, y, r) {
    path.moveTo(x - r, y);
    path.lineTo(x + r, y);
    path.moveTo(x, y - r);
    path.lineTo(x, y + r);
  },
};

const open = (shape) => shape === "cross" || shape === "plus";

// Many shapes of one kind in one go; `halo` is the width of the light edge that lifts them off the rest.
export function paint(ctx, shape, colour, places, r, halo = 0) {
  if (!places.length) return;
  ctx.beginPath();
  for (let i = 0; i < places.length; i += 2) trace[shape](ctx, places[i], places[i + 1], r);
  ctx.lineJoin = "round";
  ctx.lineCap = "round";
  if (halo) {
    ctx.strokeStyle = "#ffffff";
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
