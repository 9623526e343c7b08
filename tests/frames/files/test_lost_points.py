"""A mark that lost its decimal point is refused with its file and name; what only looks so is not."""

import pandas as pd
import pytest

from geoqa.errors import SourceError
from geoqa.frames.files.lost_points import refuse_lost_points
from geoqa.frames.files.place import place_files
from geoqa.frames.files.reading import FileAsRead
from geoqa.frames.systems.resolve import resolve
from geoqa.model.source import Source


def marks(*rows):
    table = pd.DataFrame(rows, columns=["mark", "easting", "northing", "elevation"])
    return FileAsRead(role="control", name="marks.csv", source=Source(layers={"control": table}))


GOOD = [("M1", 2228100.25, 446010.5, 1460.25), ("M2", 2228400.0, 446200.0, 1462.0), ("M3", 2228000.0, 445900.0, 1455.0)]


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        ((2228150.5, 445968253.0, 1460.0), "mark LOST has the northing 445968253, .* decimal point lost .445968.253."),
        ((2228150500.0, 445968.253, 1460.0), "mark LOST has the easting 2228150500, .* lost .2228150.5."),
        ((2228150.5, 445968.253, 146025.0), "mark LOST has the elevation 146025, .* lost .1460.25."),
    ],
)
@pytest.mark.parametrize("place", [0, 1, 3])
def test_a_mark_without_its_decimal_point_is_named(bad, says, place):
    rows = [*GOOD[:place], ("LOST", *bad), *GOOD[place:]]
    with pytest.raises(SourceError, match="marks.csv: " + says):
        refuse_lost_points([marks(*rows)])
    with pytest.raises(SourceError, match="marks.csv: " + says):
        place_files([marks(*rows)], resolve("EPSG:6547"))


def test_shots_speak_where_there_are_too_few_marks():
    shots = pd.DataFrame({"easting": [2228100.0, 2228200.0], "northing": [446000.0, 446100.0], "elevation": 1460.0})
    shot = FileAsRead(role="shots", name="day1.csv", source=Source(layers={"shots": shots}))
    with pytest.raises(SourceError, match="mark LOST"):
        refuse_lost_points([marks(("LOST", 2228150.5, 445968253.0, 1460.0)), shot])
    refuse_lost_points([marks(("LOST", 2228150.5, 445968253.0, 1460.0))])  # nothing to hold it against


@pytest.mark.parametrize(
    "rows",
    [
        GOOD,
        [("L1", 5000.0, 5000.0, 100.0), ("L2", 50.0, 48.0, 100.0), ("L3", 52.0, 50.0, 100.0)],
        [*GOOD, ("FAR", 2400000.0, 510000.0, 900.0)],
        [*GOOD, ("NONE", float("nan"), 445968.0, float("nan"))],
        [("A", 600000.0, 5000000.0, 3.0), ("B", 600100.0, 5000100.0, 30.0), ("C", 600200.0, 5000200.0, 2.0)],
    ],
)
def test_marks_that_lie_as_marks_do_are_taken(rows):
    refuse_lost_points([marks(*rows)])
