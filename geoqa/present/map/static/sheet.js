// On a narrow screen the panel is a sheet at the bottom: low, half or full.
import { byId } from "./elements.js";

const STATES = ["low", "half", "full"];
let panel = null, handle = null;

export function begin() {
  panel = byId("panel");
  handle = byId("handle");
  handle.addEventListener("click", () => set(STATES[(STATES.indexOf(panel.dataset.sheet) + 1) % STATES.length]));
  let from = null;
  handle.addEventListener("pointerdown", (event) => {
    from = event.clientY;
    handle.setPointerCapture(event.pointerId);
  });
  handle.addEventListener("pointerup", (event) => {
    const moved = from === null ? 0 : event.clientY - from;
    from = null;
    if (Math.abs(moved) < 24) return;
    const next = STATES.indexOf(panel.dataset.sheet) + (moved < 0 ? 1 : -1);
    set(STATES[Math.min(2, Math.max(0, next))]);
    handle.addEventListener("click", (click) => click.stopImmediatePropagation(), { once: true, capture: true });
  });
  byId("search").addEventListener("focus", () => narrow() && set("full"));
  // what a key leads to is not left under the sheet
  byId("place").addEventListener("focusin", ({ target }) => target.matches(":focus-visible") && lower());
  set("low");
}

const narrow = () => window.matchMedia("(max-width: 760px)").matches;

function set(state) {
  panel.dataset.sheet = state;
  handle.setAttribute("aria-expanded", String(state !== "low"));
  byId("handle-text").textContent = { low: "Show the list", half: "Show more of the list", full: "Show the map" }[state];
}

export const lower = () => narrow() && set("low");
