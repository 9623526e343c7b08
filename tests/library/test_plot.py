"""The figure of results: what is drawn where, that nothing needs a window, and what cannot be drawn."""

import subprocess
import sys
from itertools import pairwise

import geopandas
import numpy as np
import pytest
import shapely
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PathCollection
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from geoqa.errors import LayerError, OutputError
from geoqa.library.assess import assess
from geoqa.model.signs import SIGNS

CRS = "EPSG:6547"
EAST, NORTH = 2228000.0, 444000.0
OFF = (0.0, 0.5, 0.14, 0.01, -0.02)
HIGH = (0.0, 0.01, 0.3, 0.0, 0.01)


def walks(turned=False):
    across = [(EAST, NORTH, 1457.0), (EAST + 400, NORTH, 1461.0)]
    other = [(EAST, NORTH + 30, 1457.0), (EAST + 400, NORTH + 30, 1461.0)]
    if turned:
        across, other = ([(EAST + n - NORTH, NORTH + e - EAST, z) for e, n, z in each] for each in (across, other))
    names = {"kind": ["walk-front", "walk-front"], "name": ["W-1", "W_$2$"]}
    return geopandas.GeoDataFrame(names, geometry=[shapely.LineString(each) for each in (across, other)], crs=CRS)


def shots():
    along = [10.0 + 20 * at for at in range(len(OFF))]
    place = [
        shapely.Point(EAST + each, NORTH - off, 1457 + each / 100 + high)
        for each, off, high in zip(along, OFF, HIGH, strict=True)
    ]
    names = {"shot": [str(101 + at) for at in range(len(OFF))], "code": ["WKF"] * len(OFF)}
    return geopandas.GeoDataFrame(names, geometry=place, crs=CRS)


def judged(table=None, design=None, **others):
    given = {
        "frame": CRS,
        "codes": {"WKF": "walk-front"},
        "tolerances": {"walk-front": {"horizontal": "0.15 ft", "vertical": "0.1 ft", "reference": "C-101"}},
        "uncertainty": {
            "default": {
                "horizontal_random": "0.02 ft",
                "vertical_random": "0.01 ft",
                "horizontal_common": "0 ft",
                "vertical_common": "0 ft",
                "reference": "repeats",
            }
        },
        "name": "Walk $x$",
    }
    return assess(shots() if table is None else table, walks() if design is None else design, **given | others)


@pytest.fixture(scope="module")
def results():
    return judged()


def panel(drawn, title):
    (found,) = (axes for axes in drawn.axes if axes.get_title(loc="left").startswith(title))
    return found


def points(axes):
    """Places of the markers by the colour they have."""
    found = {}
    for each in axes.collections:
        if isinstance(each, PathCollection) and len(each.get_offsets()):
            found[to_hex(each.get_facecolor()[0]).upper()] = np.asarray(each.get_offsets())
    return found


def shapes(axes):
    """Outlines of the markers, as text, by colour."""
    return {
        to_hex(each.get_facecolor()[0]).upper(): str(each.get_paths()[0].vertices.round(3).tolist())
        for each in axes.collections
        if isinstance(each, PathCollection) and len(each.get_offsets())
    }


@pytest.mark.long
def test_a_figure_comes_back_and_needs_no_window(results):
    assert isinstance(results.plot(), Figure)
    code = (
        "import sys; sys.path.insert(0, 'tests/library'); import geoqa, geoqa.present.plot.figure; "
        "from matplotlib.figure import Figure; import test_plot; test_plot.judged().plot()._repr_png_(); "
        "print('matplotlib.pyplot' in sys.modules)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"


@pytest.mark.long
def test_a_notebook_is_given_a_picture(results):
    assert results.plot()._repr_png_().startswith(b"\x89PNG\r\n")


@pytest.mark.long
def test_the_plan_is_in_the_grid_of_the_job_with_one_scale_both_ways(results):
    plan = panel(results.plot(), "Plan")
    assert plan.get_aspect() == 1.0
    assert (plan.get_xlabel(), plan.get_ylabel()) == ("Easting (ft)", "Northing (ft)")
    by_colour = points(plan)
    np.testing.assert_allclose(
        by_colour[SIGNS["OUT"].colour.upper()], [(EAST + 30, NORTH - 0.5), (EAST + 50, NORTH - 0.14)]
    )
    assert sum(len(each) for each in by_colour.values()) == len(OFF)
    drawn = [line.get_xydata().tolist() for line in plan.lines]
    assert [[EAST, NORTH], [EAST + 400, NORTH]] in drawn
    assert [[EAST, NORTH + 30], [EAST + 400, NORTH + 30]] in drawn


def test_verdicts_differ_by_shape_as_well_as_by_colour(results):
    found = shapes(panel(results.plot(check="offset"), "Offset"))
    assert {SIGNS[name].colour.upper() for name in ("OUT", "UNDECIDED", "IN")} == set(found)
    assert len(set(found.values())) == 3


def test_coordinates_are_written_in_full(results):
    drawn = results.plot()
    FigureCanvasAgg(drawn).draw()
    plan = panel(drawn, "Plan")
    for axis, least in ((plan.xaxis, EAST - 1000), (plan.yaxis, NORTH - 1000)):
        assert axis.get_offset_text().get_text() == ""
        written = [label.get_text().replace("−", "-") for label in axis.get_ticklabels()]
        assert len(written) > 1
        assert all(float(each) > least for each in written)


@pytest.mark.long
def test_nothing_is_clipped_and_no_label_lies_on_another(results):
    for drawn in (results.plot(), judged(design=walks(turned=True)).plot()):
        FigureCanvasAgg(drawn).draw()
        paper = drawn.bbox
        for axes in drawn.axes:
            for axis in (axes.xaxis, axes.yaxis):
                low, high = sorted(axis.get_view_interval())
                boxes = [
                    tick.label1.get_window_extent()
                    for tick in axis.get_major_ticks()
                    if low <= tick.get_loc() <= high and tick.label1.get_text()
                ]
                assert len(boxes) > 1
                for box in boxes:
                    assert paper.x0 <= box.x0
                    assert box.x1 <= paper.x1
                assert not any(one.overlaps(two) for one, two in pairwise(boxes))
            title = axes.title if axes.title.get_text() else axes._left_title
            assert title.get_window_extent().x1 <= paper.x1
        (legend,) = drawn.legends
        assert legend.get_window_extent().y0 >= paper.y0
        assert not any(legend.get_window_extent().overlaps(axes.get_tightbbox()) for axes in drawn.axes)


@pytest.mark.long
def test_the_profile_shows_deviations_with_their_band_and_uncertainty(results):
    profile = panel(results.plot(line="W-1", check="offset"), "Offset from design line, W-1")
    np.testing.assert_allclose(np.vstack([points(profile)[SIGNS["OUT"].colour.upper()]]), [[30.0, 0.5]], atol=1e-6)
    assert profile.get_ylabel() == "Left (−), right (+) (ft)"
    edges = {round(float(line.get_ydata()[0]), 6) for line in profile.lines if line.get_linestyle() == "--"}
    assert edges == {-0.15, 0.15}
    (bars,) = profile.containers
    (_, _, (segments,)) = bars
    lengths = {round(float(np.ptp(each[:, 1])), 6) for each in segments.get_segments()}
    assert lengths == {round(2 * 2 * 0.02, 6)}
    texts = [text.get_text() for text in results.plot(line="W-1", check="offset").legends[0].get_texts()]
    assert "±2 standard uncertainties" in texts
    assert "allowed" in texts


def test_elevations_are_drawn_beside_their_deviations(results):
    drawn = results.plot(line="W-1", check="elevation")
    heights = panel(drawn, "Elevation, W-1")
    (design,) = heights.lines
    np.testing.assert_allclose(design.get_ydata(), 1457 + np.array([10, 30, 50, 70, 90]) / 100, atol=1e-6)
    np.testing.assert_allclose(points(heights)[SIGNS["OUT"].colour.upper()], [[50, 1457.8]], atol=1e-6)
    deviations = panel(drawn, "Elevation against design, W-1")
    np.testing.assert_allclose(points(deviations)[SIGNS["OUT"].colour.upper()], [[50, 0.3]], atol=1e-6)
    assert heights.get_xlim() == deviations.get_xlim()


def test_without_a_word_the_worst_line_and_check_are_shown(results):
    found = results.findings
    worst = found[found["station"].notna() & found["shot"].notna()].iloc[0]
    title = results.plot().axes[-1].get_title(loc="left")
    assert (worst["check"], title) in (
        ("elevation", "Elevation against design, W-1"),
        ("offset", "Offset from design line, W-1"),
    )


def test_the_legend_tells_every_sign_that_is_drawn_with_its_count(results):
    texts = [text.get_text() for text in results.plot().legends[0].get_texts()]
    assert "2 shots out of tolerance" in texts
    assert any(text.endswith("within tolerance") for text in texts)
    assert texts.index("2 shots out of tolerance") < next(
        at for at, text in enumerate(texts) if text.endswith("within tolerance")
    )


@pytest.mark.long
def test_a_tall_job_has_its_plan_beside_the_profile():
    drawn = judged(design=walks(turned=True)).plot()
    plan = drawn.axes[0].get_position()
    wide = judged().plot()
    assert plan.height > plan.width * 0.8
    assert panel(wide, "Plan").get_position().y0 > wide.axes[-1].get_position().y1 - 1e-9


@pytest.mark.long
def test_signs_of_formulas_in_names_are_drawn_as_they_are_written():
    table = shots()
    table["geometry"] = table.translate(0, 30, 0)
    found = judged(table)
    drawn = found.plot(line="W_$2$", check="offset")
    FigureCanvasAgg(drawn).draw()
    assert drawn.get_suptitle() == r"Walk \$x\$"
    assert panel(drawn, r"Offset from design line, W_\$2\$") is drawn.axes[-1]


@pytest.mark.long
def test_without_a_line_there_is_a_plan_alone():
    drawn = judged(design=None, table=shots(), tolerances={}).plot()
    assert len(drawn.axes) >= 1
    alone = assess(shots(), frame=CRS, codes={"WKF": "walk-front"}).plot()
    assert [axes.get_title(loc="left") for axes in alone.axes] == ["Plan"]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"line": "W-9"}, r"line: 'W-9' is not among these results; there are W-1, W_\$2\$"),
        ({"line": "W_$2$"}, r"line: no shot was judged along 'W_\$2\$'"),
        ({"check": "reveal"}, "check: 'reveal' is not among these results; there are elevation, offset"),
    ],
)
def test_what_is_not_there_is_told_with_what_is(results, asked, words):
    with pytest.raises(LayerError, match=words):
        results.plot(**asked)


def test_without_matplotlib_it_is_said_what_to_install(results, monkeypatch):
    for name in [name for name in sys.modules if name.partition(".")[0] == "matplotlib"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    monkeypatch.setattr("geoqa.present.plot.figure._class", _class_anew())
    with pytest.raises(OutputError, match=r"pip install 'geoqa-survey\[plot\]'"):
        results.plot()


def _class_anew():
    from geoqa.present.plot.figure import _class

    return _class.__wrapped__
