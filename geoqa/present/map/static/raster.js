// A picture in the grid of the job: only the pixels in sight are drawn, from whole pixel to whole pixel, so that a place
// stays where it is at any zoom.
import { isDark } from "./ink.js";
import { bytesOf } from "./bytes.js";
import { digit as lastDigit } from "./view.js";

const SHARP = 3; // screen pixels of one of the picture's from which they are shown as the squares they are

// The bytes are in the page and go straight to the decoder: nothing is asked for. Null where a browser cannot show it.
export async function decoded(holder, media) {
  const bytes = bytesOf(holder.textContent);
  holder.remove();
  try {
    return await createImageBitmap(new Blob([bytes], { type: media }));
  } catch {
    return null;
  }
}

export function paintRaster(ctx, view, picture, { west, north, pixel, width, height, opacity }, sharp = SHARP) {
  const digit = lastDigit();
  const size = (pixel / digit) * view.scale;
  const column = (easting) => (easting * digit - west) / pixel, row = (northing) => (north - northing * digit) / pixel;
  const left = Math.max(0, Math.floor(column(view.left))), right = Math.min(width, Math.ceil(column(view.right)));
  const top = Math.max(0, Math.floor(row(view.top))), bottom = Math.min(height, Math.ceil(row(view.bottom)));
  if (left >= right || top >= bottom) return;
  ctx.save();
  ctx.globalAlpha = isDark() ? opacity * 0.45 : opacity;
  ctx.imageSmoothingEnabled = size < sharp;
  ctx.imageSmoothingQuality = "high";
  const x = view.x((west + left * pixel) / digit), y = view.y((north - top * pixel) / digit);
  ctx.drawImage(picture, left, top, right - left, bottom - top, x, y, (right - left) * size, (bottom - top) * size);
  ctx.restore();
}
