// What is written on the map never lies on what is written: texts are placed by rank, and hidden where no place is left.

const FONT = "600 12px system-ui, sans-serif";
const TALL = 13, GAP = 3;
let wanted = [], kept = [], ink = null;

export const begin = (colours) => (ink = colours);

// All that is written now: boxes on the canvas, pins among them.
export const drawn = () => kept;

// A new drawing begins.
export function clear() {
  wanted = [];
  kept = [];
}

const apart = (a, b) => a.right + GAP <= b.left || b.right + GAP <= a.left || a.bottom + GAP <= b.top || b.bottom + GAP <= a.top;
const free = (box) => kept.every((other) => apart(box, other));

// Ground that belongs to something else, or to a pin.
export function keep(box) {
  kept.push(box);
}

// A text, and the places where it may begin, the best first: where its foot begins, or ends for `end`.
export const want = (text, spots, { rank, soft = false }) => wanted.push({ text, spots, rank, soft });

// Round a sign: right below, right above, left, under, over.
export const around = (x, y, r) => [
  { x: x + r, y: y + r + 4 }, { x: x + r, y: y - r + 4 }, { x: x - r, y: y + r + 4, end: true }, { x: x - r, y: y - r + 4, end: true },
  { x: x + r + 4, y: y + 4 }, { x: x - r - 4, y: y + 4, end: true }, { x: x - 2 * r, y: y + 2 * r + 8 }, { x: x - 2 * r, y: y - 2 * r },
];

const boxOf = ({ x, y, end }, width) => {
  const left = end ? x - width : x;
  return { left, right: left + width, top: y - TALL + 2, bottom: y + 3 };
};

export function paint(ctx, view) {
  ctx.font = FONT;
  ctx.lineJoin = "round";
  const { x, y } = view.pad;
  const inside = (box) => box.left >= x + 2 && box.right <= view.width - x - 2 && box.top >= y + 2 && box.bottom <= view.height - y - 2;
  wanted.sort((a, b) => a.rank - b.rank);
  for (const { text, spots, soft } of wanted) {
    const width = ctx.measureText(text).width;
    const box = spots.map((spot) => boxOf(spot, width)).find((each) => inside(each) && free(each));
    if (!box) continue;
    kept.push({ ...box, text });
    ctx.strokeStyle = ink.halo;
    ctx.lineWidth = 4;
    ctx.strokeText(text, box.left, box.bottom - 3);
    ctx.fillStyle = soft ? ink.line : ink.ink;
    ctx.fillText(text, box.left, box.bottom - 3);
  }
}
