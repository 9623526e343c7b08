"""Design lines of a typical section lie where offsets, slopes and profile say, and shots are judged against them."""

import numpy as np
import pytest

from geoqa import testing
from geoqa.errors import SourceError
from geoqa.kernels.baseline.course import place
from geoqa.kernels.baseline.profile import profile_at
from geoqa.kernels.design.station import nearest
from geoqa.steps.baseline.centre_line import centre_line, profile_of
from geoqa.steps.baseline.section_lines import SectionLines
from geoqa.steps.design.alignments import alignments
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets

ROWS = [
    ("FL", "curb-flow", 1000.0, 1900.0, "", -16.0, -0.02, 0.0),
    ("TB", "curb-top", 1000.0, 1900.0, "FL", -0.5, 0.0, 0.5),
    ("WB", "walk-back", 1100.0, 1850.0, "TB", -5.0, 1 / 48, 0.0),
]


def made(baseline, section, rows=ROWS, **options):
    return testing.run(testing.layers(section=section(*rows), **baseline(**options)), SectionLines())


def test_lines_lie_at_offset_and_height(baseline, section):
    layers = made(baseline, section)
    course, profile = centre_line(layers).course, profile_of(layers)
    lines = alignments(layers)
    known = {"FL": (-16.0, -0.32), "TB": (-16.5, 0.18), "WB": (-21.5, 0.18 + 5 / 48)}
    station = np.linspace(1101, 1849, 500)
    for name, (offset, rise) in known.items():
        number = np.full(500, list(lines.names).index(name))
        east, north, _ = place(course, station, offset)
        found = nearest(np.column_stack([east, north]), lines.elements, reach=1.0, point_group=number,
                        element_group=lines.elements.line)  # fmt: skip
        within = SectionLines().within.to(layers.frame.unit) + 1e-6
        assert np.abs(found.offset).max() < within
        assert np.abs(found.elevation - profile_at(profile, station)[0] - rise).max() < 2 * within
    assert layers["design_elements"]["shape"].value_counts()["arc"] > 3
    assert layers["design_lines"].crs is not None


def test_shots_are_judged_against_them(baseline, section):
    course_layers = made(baseline, section)
    course, profile = centre_line(course_layers).course, profile_of(course_layers)
    station = np.linspace(1050, 1850, 20)
    east, north, _ = place(course, station, -16.5)
    high = profile_at(profile, station)[0] + 0.18
    rows = [{"easting": e, "northing": n, "elevation": z + (0.5 if at == 7 else 0.0), "offset": 0, "station": 0}
            for at, (e, n, z) in enumerate(zip(east, north, high, strict=True))]  # fmt: skip
    limits = testing.limits(("curb-top", "offset", -0.1, 0.1), ("curb-top", "elevation", -0.1, 0.1))
    start = testing.layers(section=section(*ROWS), shots=testing.judged_shots(rows), limits=limits, **baseline())
    done = testing.run(start, SectionLines(), MatchLines(), Offsets(), Elevations())
    said = [verdict for verdict, _ in testing.verdicts(done, "elevation").values()]
    assert said.count("OUT") == 1
    assert said.count("IN") == 19
    assert {verdict for verdict, _ in testing.verdicts(done, "offset").values()} == {"IN"}


@pytest.mark.parametrize(("row", "said"), [
    (("X", "walk", 1000.0, 1900.0, "NONE", -5.0, 0.0, 0.0), "line 2: 'X' counts from 'NONE', which no row"),
    (("X", "walk", 1200.0, 1200.0, "", -5.0, 0.0, 0.0), "line 2: the stretch ends before it starts"),
    (("X", "walk", 900.0, 1200.0, "", -5.0, 0.0, 0.0), r"line 2: the station from 9\+00.00 does not lie on"),
    (("X", "walk", 1000.0, 1900.0, "", 420.0, 0.0, 0.0), "line 2: 'X': A line 420.00 right would reach the centre"),
])  # fmt: skip
def test_a_row_that_cannot_be_is_refused_with_its_line(baseline, section, row, said):
    with pytest.raises(SourceError, match=f"'s.csv', {said}"):
        made(baseline, section, rows=[row])


def test_a_stretch_that_the_line_below_does_not_cover_is_refused(baseline, section):
    rows = [("FL", "f", 1000.0, 1500.0, "", -16.0, 0.0, 0.0), ("TB", "t", 1000.0, 1900.0, "FL", -0.5, 0.0, 0.5)]
    with pytest.raises(SourceError, match="line 3: 'TB' counts from 'FL', which does not cover"):
        made(baseline, section, rows=rows)


def test_a_stretch_beyond_the_profile_is_refused(baseline, section):
    with pytest.raises(SourceError, match=r"leaves the profile, which runs from 10\+00.00 to 15\+00.00"):
        made(baseline, section, profile=((1000.0, 50.0, 0, 0), (1500.0, 51.0, 0, 0)))


def test_stretches_of_one_line_are_numbered(baseline, section):
    rows = [("FL", "f", 1000.0, 1400.0, "", -16.0, -0.02, 0.0), ("FL", "f", 1400.0, 1900.0, "", -18.0, -0.03, 0.0)]
    assert made(baseline, section, rows=rows)["design_lines"]["line"].tolist() == ["FL-1", "FL-2"]
