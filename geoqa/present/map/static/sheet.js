"use strict";
// On a narrow screen the panel is a sheet at the bottom: low, half or full.
geoqa.sheet = (() => {
  const STATES = ["low", "half", "full"];
  let panel = null, handle = null;

  function begin() {
    panel = geoqa.byId("panel");
    handle = geoqa.byId("handle");
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
    geoqa.byId("search").addEventListener("focus", () => narrow() && set("full"));
    set("low");
  }

  const narrow = () => window.matchMedia("(max-width: 760px)").matches;

  function set(state) {
    panel.dataset.sheet = state;
    handle.setAttribute("aria-expanded", String(state !== "low"));
    geoqa.byId("handle-text").textContent = { low: "Show the list", half: "Show more of the list", full: "Show the map" }[state];
  }

  const lower = () => narrow() && set("low");

  return { begin, lower };
})();
