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
  const [w, s, e, n] = view.box;
  const left = Math.max(0, Math.floor(column(w))), right = Math.min(width, Math.ceil(column(e)));
  const top = Math.max(0, Math.floor(row(n))), bottom = Math.min(height, Math.ceil(row(s)));
  if (left >= right || top >= bottom) return;
  ctx.save();
  ctx.globalAlpha = isDark() ? opacity * 0.45 : opacity;
  ctx.imageSmoothingEnabled = size < sharp;
  ctx.imageSmoothingQuality = "high";
  const corner = [(west + left * pixel) / digit, (north - top * pixel) / digit];
  ctx.translate(view.x(...corner), view.y(...corner));
  ctx.rotate(-Math.atan2(view.sin, view.cos));
  ctx.drawImage(picture, left, top, right - left, bottom - top, 0, 0, (right - left) * size, (bottom - top) * size);
  ctx.restore();
}
