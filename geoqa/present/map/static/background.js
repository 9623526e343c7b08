// A picture of the ground under everything else, faint enough that findings stand out; to look at, never to measure on.
import { beneath } from "./canvas.js";
import { state } from "./choice.js";
import { byId } from "./elements.js";
import { decoded, paintRaster } from "./raster.js";

let about = null, picture = null;

// Drawing does not wait for it.
async function begin(allAbout, layer) {
  about = allAbout.background;
  picture = await decoded(byId("geoqa-background"), about.media);
  if (!picture) {
    byId("background-words").textContent = "This browser cannot show the background picture; all else is complete.";
    return;
  }
  layer.later();
  document.body.dataset.pictured = "yes";
}

function paint(ctx, view) {
  if (picture && state.layers.background) paintRaster(ctx, view, picture, about);
}

beneath.push({ begin, paint });
