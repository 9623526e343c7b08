// One canvas under everything Leaflet draws; wider than the map, so that a small pan needs no new drawing.
import { onceAFrame } from "./elements.js";
import { windowOf } from "./view.js";

const PAD = 0.25;
const FEW = 100000;

// What is drawn under all else, by scripts that only some pages hold: each begins with the map and paints.
export const beneath = [];

export const Layer = L.Layer.extend({
  initialize(painters, shots) {
    this._painters = painters;
    this._shots = shots;
    this.printing = false; // on paper nothing is moved, and it is drawn finer
    this.drawn = 0;
  },

  onAdd(map) {
    this._canvas = L.DomUtil.create("canvas", "drawing leaflet-zoom-animated", map.getPane("overlayPane"));
    this._later = onceAFrame(() => this.redraw());
    this.redraw();
  },

  onRemove() {
    this._canvas.remove();
  },

  getEvents() {
    return { zoomanim: this._animate, zoom: this._follow, move: this._whenLeft, moveend: this.redraw, resize: this.redraw };
  },

  later() {
    this._later();
  },

  redraw() {
    const map = this._map;
    if (!map) return;
    const begun = performance.now();
    const size = map.getSize();
    const pad = this.printing ? L.point(0, 0) : size.multiplyBy(PAD).round();
    const topLeft = map.containerPointToLayerPoint(pad.multiplyBy(-1)).round();
    const whole = size.add(pad.multiplyBy(2));
    const ratio = this.printing ? 2 : window.devicePixelRatio || 1;
    const { _canvas: canvas } = this;
    if (canvas.width !== Math.round(whole.x * ratio) || canvas.height !== Math.round(whole.y * ratio)) {
      canvas.width = Math.round(whole.x * ratio);
      canvas.height = Math.round(whole.y * ratio);
      canvas.style.width = `${whole.x}px`;
      canvas.style.height = `${whole.y}px`;
    }
    L.DomUtil.setTransform(canvas, topLeft, 1);
    this.topLeft = topLeft;
    this._zoom = map.getZoom();
    this._bounds = L.latLngBounds(map.layerPointToLatLng(topLeft), map.layerPointToLatLng(topLeft.add(whole)));
    const ctx = canvas.getContext("2d");
    ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
    ctx.clearRect(0, 0, whole.x, whole.y);
    const view = windowOf(map, topLeft, whole.x, whole.y);
    view.pad = pad;
    for (const painter of this._painters) painter(ctx, view);
    this.took = performance.now() - begun;
    this.drawn++;
  },

  // The drawing that is there is stretched until there is time for a new one.
  _stretch(zoom, center) {
    const scale = this._map.getZoomScale(zoom, this._zoom);
    L.DomUtil.setTransform(this._canvas, this._map._latLngBoundsToNewLayerBounds(this._bounds, zoom, center).min, scale);
  },

  _animate(event) {
    this._stretch(event.zoom, event.center);
  },

  _follow() {
    if (this.flying && this._shots <= FEW) this.redraw();
    else this._stretch(this._map.getZoom(), this._map.getCenter());
  },

  _whenLeft() {
    if (this._map.getZoom() === this._zoom && !this._bounds.contains(this._map.getBounds())) this._later();
  },
});
