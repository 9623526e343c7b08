"use strict";
// On paper: letter size, landscape; the map at a round scale, title, legend and the list after it.
geoqa.paper = (() => {
  const INCH = 96;
  const SCALES = [1, 2, 4, 5, 10, 20, 30, 40, 50, 60, 80, 100, 150, 200, 300, 400, 500, 600, 800, 1000, 2000, 5000, 10000, 20000, 50000];
  let map = null, layer = null, tables = null, about = null, before = null;
  const paper = { printing: false, begin };

  function begin(theMap, theLayer, allTables, allAbout) {
    [map, layer, tables, about] = [theMap, theLayer, allTables, allAbout];
    window.addEventListener("beforeprint", lay);
    window.addEventListener("afterprint", restore);
  }

  // The same stretch of ground, at the next smaller round scale, in a map of the size of the paper.
  function lay() {
    if (paper.printing) return;
    const bounds = map.getBounds();
    before = { centre: map.getCenter(), zoom: map.getZoom() };
    map.closePopup();
    paper.printing = true;
    document.body.classList.add("printing");
    map.invalidateSize({ animate: false, pan: false });
    const fitting = map.getBoundsZoom(bounds);
    const scale = SCALES.find((each) => INCH / each <= 2 ** fitting) ?? SCALES[SCALES.length - 1];
    map.options.zoomSnap = 0;
    map.setView(bounds.getCenter(), Math.log2(INCH / scale), { animate: false });
    geoqa.byId("paper-scale").textContent = `1 in = ${scale.toLocaleString("en-US")} ${about.unit} when printed at 100 % on letter paper`;
    geoqa.byId("paper-list").replaceChildren(...rows());
    layer.redraw();
    geoqa.readout.redraw();
  }

  function restore() {
    if (!paper.printing) return;
    paper.printing = false;
    document.body.classList.remove("printing");
    map.options.zoomSnap = 0.25;
    map.invalidateSize({ animate: false, pan: false });
    map.setView(before.centre, before.zoom, { animate: false });
    geoqa.byId("paper-list").replaceChildren();
    layer.redraw();
  }

  // What is out of tolerance or undecided, as a table; the first two hundred.
  function rows() {
    const { element, words } = geoqa;
    const wanted = geoqa.list.shown().filter((entry) => about.verdicts[entry.code].verdict !== "NO_DATA");
    const shown = wanted.slice(0, 200).map(({ row }) => {
      const finding = geoqa.records.finding(row);
      return element(
        "tr", {},
        element("td", {}, geoqa.icon.ofVerdict(finding.verdict, 14), ` ${finding.verdict.short}`),
        element("td", { text: geoqa.popup.titleOf(finding) }),
        element("td", { text: words.checkTitle(finding.check) }),
        element("td", { text: words.deviation(finding.deviation, finding.check, finding.quantity) }),
        element("td", { text: finding.limit.allowed }),
        element("td", { text: words.quantity(finding.u, finding.quantity) }),
        element("td", { text: [finding.limit.reference, finding.limit.edition].filter(Boolean).join(", ") }),
        element("td", { text: finding.id }),
      );
    });
    if (wanted.length > shown.length) {
      shown.push(element("tr", {}, element("td", { colspan: 8, text: `and ${words.many(wanted.length - shown.length, "more finding")}, in the tables written beside this map` })));
    }
    return shown;
  }

  return paper;
})();
