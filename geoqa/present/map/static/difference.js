// As-built minus design surface, one square a cell, in the few colours of the legend; it is switched on there.
import { beneath } from "./canvas.js";
import { state } from "./choice.js";
import { byId } from "./elements.js";
import { decoded, paintRaster } from "./raster.js";

const ALWAYS = 0; // cells are squares at every size: a colour between two of the legend says nothing

let about = null, picture = null;

async function begin(allAbout, layer) {
  about = allAbout.difference;
  picture = await decoded(byId("geoqa-difference"), "image/png");
  if (!picture) {
    byId("difference-words").textContent = "This browser cannot show the difference of the surfaces; all else is complete.";
    return;
  }
  layer.later();
  document.body.dataset.difference = "yes";
}

function paint(ctx, view) {
  if (picture && state.layers.difference) paintRaster(ctx, view, picture, about, ALWAYS);
}

beneath.push({ begin, paint });
