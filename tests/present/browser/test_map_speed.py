"""Sizes and times from a thousand shots to a million, printed; and the bounds a reader feels."""

import time

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.benchmark, pytest.mark.timeout(600)]

TIMES = """async () => {
const frame = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
const middle = (all) => all.sort((a, b) => a - b)[all.length >> 1];
async function timed(work, until) { const all = [];
  for (let i = 0; i < 7; i++) {
    const begun = performance.now(); work(i); await until(); all.push(performance.now() - begun); }
  return middle(all); }
const redraw = await timed(() => opened.layer.redraw(), async () => {});
const pan = await timed((i) => opened.map.panBy([i % 2 ? -400 : 400, 60], {animate: false}), frame);
const zoom = await timed((i) => opened.map.setZoom(opened.map.getZoom() + (i < 4 ? 1 : -1), {animate: false}), frame);
return {first: opened.ready, redraw, pan, zoom}; }"""

# shots -> megabytes, seconds to the first drawing, milliseconds of a redraw (two frames are 33) and of a pan
BOUNDS = {1_000: (0.5, 1.0, 33), 10_000: (0.7, 1.0, 33), 100_000: (3.0, 1.0, 33), 1_000_000: (16.0, 2.0, 100)}
PAN = 100


@pytest.mark.parametrize("shots", BOUNDS)
def test_a_map_of_many_shots_is_small_and_quick(shots, many, show, tmp_path, measured):
    results = many(shots)
    begun = time.process_time()
    opened = show(results)
    wrote = time.process_time() - begun
    size = (tmp_path / "map.html").stat().st_size / 1e6
    times = opened.page.evaluate(TIMES)
    elements = len(results.layers["design_elements"])
    print(
        f"\n{shots:>9,} shots, {len(results.findings):>9,} findings, {elements:>9,} elements: "
        f"{size:6.2f} MB, written in {wrote:5.1f} s; first {times['first']:5.0f} ms, redraw {times['redraw']:4.0f} ms, "
        f"pan {times['pan']:4.0f} ms, zoom {times['zoom']:4.0f} ms"
    )
    measured.add(
        "map",
        "Two findings a shot and as many design elements as shots, in Chromium without a screen, which shares cores "
        "with the writer. Two frames are 33 ms. Written is processor time, first drawing and frames are elapsed.",
        shots=f"{shots:,}",
        file=f"{size:.1f} MB",
        written=f"{wrote:.1f} s",
        first_drawing=f"{times['first']:.0f} ms",
        redraw=f"{times['redraw']:.0f} ms",
        pan=f"{times['pan']:.0f} ms",
        zoom=f"{times['zoom']:.0f} ms",
    )
    megabytes, first, redraw = BOUNDS[shots]
    assert opened.messages == []
    assert size <= megabytes
    assert times["first"] <= first * 1000
    assert times["redraw"] <= redraw
    assert times["pan"] <= PAN
