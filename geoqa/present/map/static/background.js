// A picture of the ground under everything else, faint enough that findings stand out; to look at, never to measure on.
import { beneath } from "./canvas.js";
import { state } from "./choice.js";
import { byId } from "./elements.js";
import { bytesOf } from "./unpack.js";
import { digit as lastDigit } from "./view.js";

const SHARP = 3; // screen pixels of one of the picture's from which they are shown as the squares they are
let about = null, picture = null;

// The bytes are in the page and go straight to the decoder: nothing is asked for, and drawing does not wait.
async function begin(allAbout, layer) {
  about = allAbout.background;
  const holder = byId("geoqa-background");
  const bytes = bytesOf(holder.textContent);
  holder.remove();
  try {
    picture = await createImageBitmap(new Blob([bytes], { type: about.media }));
  } catch {
    byId("background-words").textContent = "This browser cannot show the background picture; all else is complete.";
    return;
  }
  layer.later();
  document.body.dataset.pictured = "yes";
}

// Only the pixels in sight are drawn, from whole pixel to whole pixel, so that a place stays where it is at any zoom.
function paint(ctx, view) {
  if (!picture || !state.layers.background) return;
  const digit = lastDigit();
  const { west, north, pixel, width, height, opacity } = about;
  const size = (pixel / digit) * view.scale;
  const column = (easting) => (easting * digit - west) / pixel, row = (northing) => (north - northing * digit) / pixel;
  const left = Math.max(0, Math.floor(column(view.left))), right = Math.min(width, Math.ceil(column(view.right)));
  const top = Math.max(0, Math.floor(row(view.top))), bottom = Math.min(height, Math.ceil(row(view.bottom)));
  if (left >= right || top >= bottom) return;
  ctx.save();
  ctx.globalAlpha = opacity;
  ctx.imageSmoothingEnabled = size < SHARP;
  ctx.imageSmoothingQuality = "high";
  const x = view.x((west + left * pixel) / digit), y = view.y((north - top * pixel) / digit);
  ctx.drawImage(picture, left, top, right - left, bottom - top, x, y, (right - left) * size, (bottom - top) * size);
  ctx.restore();
}

beneath.push({ begin, paint });
