"use strict";
// Going to a place and opening its card there; coming back with Esc to where the reader was.
geoqa.fly = (() => {
  const CLOSE = 4; // pixels for a foot or metre that make neighbouring shots easy to tell apart
  let map = null, layer = null, card = null, back = null, ring = null;

  function begin(theMap, theLayer) {
    map = theMap;
    layer = theLayer;
    map.on("popupclose", () => {
      card = null;
      ring = null;
      layer.later();
      back?.focus({ preventScroll: true });
      back = null;
    });
    document.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && card) map.closePopup();
    });
  }

  const still = () => window.matchMedia("(prefers-reduced-motion: reduce)").matches || geoqa.size > 100000;

  // The place comes to rest below the middle, so that the card above it fits.
  function centreFor(place, zoom) {
    const size = map.getSize();
    const point = map.project(geoqa.view.latLng(place), zoom).subtract([0, size.y * 0.28]);
    return map.unproject(point, zoom);
  }

  function to(place, { zoom = null } = {}) {
    const target = zoom ?? Math.max(map.getZoom(), Math.log2(CLOSE));
    const centre = centreFor(place, target);
    if (still()) return map.setView(centre, target, { animate: false });
    layer.flying = true;
    map.once("moveend", () => (layer.flying = false));
    return map.flyTo(centre, target, { duration: 0.5 });
  }

  function toBounds(box) {
    map.fitBounds(geoqa.view.bounds(box), { padding: [24, 24], animate: false });
  }

  function show(content, place, heading) {
    const size = map.getSize();
    const options = {
      maxWidth: Math.min(380, size.x - 32),
      minWidth: Math.min(320, size.x - 32),
      maxHeight: Math.max(160, Math.round(size.y * 0.68)),
      autoPan: !layer.flying,
      autoPanPadding: [12, 12],
      className: "card-frame",
      offset: [0, -4],
    };
    const opener = back;
    back = null;
    card = L.popup(options).setLatLng(place ? geoqa.view.latLng(place) : map.getCenter()).setContent(content);
    const opened = card;
    map.openPopup(card);
    card = opened;
    back = opener;
    ring = place;
    layer.later();
    heading.focus({ preventScroll: true });
  }

  // Remembers which button the reader came from.
  const from = (button) => (back = button);

  function paintRing(ctx, view) {
    if (!ring) return;
    const x = view.x(ring.easting), y = view.y(ring.northing);
    ctx.beginPath();
    ctx.arc(x, y, 15, 0, 2 * Math.PI);
    ctx.strokeStyle = "#ffffff";
    ctx.lineWidth = 6;
    ctx.stroke();
    ctx.strokeStyle = "#14181c";
    ctx.lineWidth = 2.5;
    ctx.stroke();
  }

  return { begin, to, toBounds, show, from, paintRing };
})();
