"""Many shots on few pixels: no failure is hidden, and a dense line with few failures does not look failed."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]

COLOURS = """() => { const c = document.querySelector("canvas");
const d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
let red = 0, blue = 0, orange = 0;
for (let i = 0; i < d.length; i += 4) { if (d[i + 3] < 200) continue;
  const [r, g, b] = [d[i], d[i + 1], d[i + 2]];
  if (r > 150 && g < 70 && b < 70) red++;
  else if (r < 40 && b > 140) blue++;
  else if (r > 200 && g > 110 && b < 40) orange++; }
return {red, blue, orange}; }"""

CELLS = """() => { const view = geoqa.view, map = opened.map, layer = opened.layer;
const window_ = view.windowOf(map, layer.topLeft, layer._canvas.width, layer._canvas.height);
const codes = geoqa.choice.codes();
const [e, n] = ["easting", "northing"].map((name) => opened.tables.shots.numbers(name));
const cells = geoqa.thin.count(window_, [[0, e.length]], codes, e, n, 5);
const { dots, alone } = geoqa.thin.filled(cells, 5, [4, 1, 0, 2, 3]);
const spots = [];
for (let i = 0; i < dots[3].length; i += 3) spots.push([dots[3][i], dots[3][i + 1], dots[3][i + 2]]);
const lone = alone.filter((i) => codes[i] === 3).length;
const data = layer._canvas.getContext("2d");
const red = spots.filter(([x, y]) => {
  const p = data.getImageData(Math.round(x) - 1, Math.round(y) - 1, 3, 3).data;
  for (let i = 0; i < p.length; i += 4) if (p[i] > 120 && p[i + 1] < 110 && p[i + 2] < 130) return true;
  return false; }).length;
return {cells: spots.length, red, lone, radii: spots.map((s) => s[2]), touched: cells.touched.length}; }"""

# shots only: no grid, no lines, no numbered pins
BARE = "() => { geoqa.choice.change((s) => { s.layers.grid = s.layers.lines = false; }); geoqa.pins.number([]); }"


def opened(many, show, shots, **options):
    page = show(many(shots, **options)).page
    page.evaluate(BARE)
    page.evaluate("() => opened.layer.redraw()")
    return page


def test_a_dense_line_with_one_failure_in_a_hundred_stays_blue(many, show):
    page = opened(many, show, 20_000, out=0.01)
    colours = page.evaluate(COLOURS)
    assert colours["red"] > 0
    assert colours["red"] < 0.2 * (colours["red"] + colours["blue"] + colours["orange"])


def test_every_cell_with_a_failure_shows_it(many, show):
    page = opened(many, show, 20_000, out=0.01)
    found = page.evaluate(CELLS)
    assert found["cells"] > 20
    assert found["red"] == found["cells"]
    assert min(found["radii"]) >= 1.5


def test_a_line_that_failed_all_along_looks_failed(many, show):
    page = opened(many, show, 20_000, out=1.0)
    colours = page.evaluate(COLOURS)
    assert colours["red"] > 0.9 * (colours["red"] + colours["blue"] + colours["orange"])


def test_a_single_failure_among_a_hundred_thousand_is_seen(many, show):
    results = many(100_000, out=0.0)
    findings = results.findings
    rows = findings.index[findings["check"] == "offset"]
    findings.loc[:, "verdict"] = "IN"
    findings.loc[rows[54_321], "verdict"] = "OUT"
    page = show(results).page
    page.evaluate(BARE)
    page.evaluate("() => opened.layer.redraw()")
    found = page.evaluate(CELLS)
    assert found["cells"] + found["lone"] == 1
    assert page.evaluate(COLOURS)["red"] >= 4


def test_near_enough_every_shot_is_drawn_by_itself(many, show):
    page = opened(many, show, 20_000, out=0.01)
    page.evaluate("() => opened.map.setZoom(3, {animate: false})")
    counted = page.evaluate(
        "() => { const { map, layer } = opened, { _canvas: canvas } = layer; "
        "return geoqa.shots.paint(canvas.getContext('2d'), "
        "geoqa.view.windowOf(map, layer.topLeft, canvas.width, canvas.height)); }"
    )
    assert counted["crowded"] is False
    assert counted["shots"] > 50
