// Many shots on few pixels, drawn honestly: a cell is filled in the shares of its verdicts.
//
// The rule: shots are counted in cells of 8 pixels. A cell with several shots is one dot in the colour of its
// best verdict; on it lie, centred, the worse ones, each covering the share of the dot that it and all worse ones
// have. So a line with one failure in a hundred stays blue with red specks, and a speck is never smaller than
// 3 pixels, so no failure is hidden. A cell with one shot shows that shot's own shape.

export const CELL = 8;
const SMALLEST = 3;
let counts = new Uint32Array(0), single = new Int32Array(0);

export function count(view, blocks, codes, easting, northing, classes) {
  const { left, top, scale, cos, sin } = view;
  // cells hang on the ground, not on the screen, so that they do not crawl while the map is moved
  const phaseX = (((left * scale) % CELL) + CELL) % CELL, phaseY = (((-top * scale) % CELL) + CELL) % CELL;
  const columns = Math.ceil(view.width / CELL) + 2, rows = Math.ceil(view.height / CELL) + 2;
  if (counts.length < columns * rows * classes) {
    counts = new Uint32Array(columns * rows * classes);
    single = new Int32Array(columns * rows);
  } else counts.fill(0, 0, columns * rows * classes);
  let shots = 0;
  const touched = [];
  for (const [from, to] of blocks) {
    for (let i = from; i < to; i++) {
      const code = codes[i];
      if (code >= classes) continue;
      const e = easting[i], n = northing[i];
      const x = (e * cos - n * sin - left) * scale + phaseX, y = (top - e * sin - n * cos) * scale + phaseY;
      if (!(x >= 0 && y >= 0 && x < view.width + CELL && y < view.height + CELL)) continue;
      const cell = Math.floor(y / CELL) * columns + Math.floor(x / CELL);
      let total = 0;
      for (let c = 0; c < classes; c++) total += counts[cell * classes + c];
      if (!total) touched.push(cell);
      counts[cell * classes + code]++;
      single[cell] = total ? -1 : i;
      shots++;
    }
  }
  return { shots, touched, columns, phaseX, phaseY };
}

// Dots by verdict (x, y, radius) for the cells with several shots, and the shots that are alone in theirs.
export function filled(cells, classes, order) {
  const dots = Array.from({ length: classes }, () => []);
  const alone = [];
  for (const cell of cells.touched) {
    if (single[cell] >= 0) {
      alone.push(single[cell]);
      continue;
    }
    const x = (cell % cells.columns) * CELL - cells.phaseX + CELL / 2;
    const y = Math.floor(cell / cells.columns) * CELL - cells.phaseY + CELL / 2;
    let rest = 0;
    for (const code of order) rest += counts[cell * classes + code];
    const total = rest;
    for (const code of order) {
      const here = counts[cell * classes + code];
      if (here) dots[code].push(x, y, Math.max(SMALLEST / 2, (CELL / 2) * Math.sqrt(rest / total)));
      rest -= here;
    }
  }
  return { dots, alone };
}

export function paint(ctx, dots, colour) {
  ctx.beginPath();
  for (let i = 0; i < dots.length; i += 3) {
    ctx.moveTo(dots[i] + dots[i + 2], dots[i + 1]);
    ctx.arc(dots[i], dots[i + 1], dots[i + 2], 0, 2 * Math.PI);
  }
  ctx.fillStyle = colour;
  ctx.fill();
}
