"""A baseline north along the design lines of the tables for tests, then a spiral and a curve to the right."""

import pandas as pd
import pytest

from geoqa import testing
from geoqa.model.alignment import Alignment, Equation, Piece, Pvi
from geoqa.model.baseline import end_of
from geoqa.read.baseline.alignment_reader import alignment_tables


def alignment(equations=(), profile=((1000.0, 50.0, 0, 0), (1300.0, 47.0, 100, 100), (1900.0, 53.0, 0, 0))):
    east, north = testing.ORIGIN
    straight = Piece(kind="line", easting=east, northing=north, azimuth=0.0, length=500.0, station=1000.0)
    spiral = Piece(kind="spiral", easting=east, northing=north + 500.0, azimuth=0.0, length=100.0, end_radius=400.0,
                   station=1500.0)  # fmt: skip
    x, y, azimuth = end_of(spiral)
    arc = Piece(kind="arc", easting=x, northing=y, azimuth=azimuth, length=300.0, start_radius=400.0, end_radius=400.0,
                station=1600.0)  # fmt: skip
    return Alignment(
        name="TL",
        pieces=(straight, spiral, arc),
        equations=tuple(Equation(back=back, ahead=ahead) for back, ahead in equations),
        profile=tuple(Pvi(station=s, elevation=z, curve_in=a, curve_out=b, place="line 9") for s, z, a, b in profile),
    )


@pytest.fixture
def baseline():
    """Tables of the baseline, by the record."""

    def made(**options):
        return alignment_tables(alignment(**options), file="cl.xml")

    return made


@pytest.fixture
def section():
    """Rows (line, kind, from, to, after, width, slope, rise) as the table `section`."""

    def made(*rows):
        names = ("line", "kind", "from_station", "to_station", "after", "width", "slope", "rise")
        table = pd.DataFrame([dict(zip(names, row, strict=True)) for row in rows])
        table = table.assign(
            sequence=range(len(rows)), source="section", place=[f"'s.csv', line {n + 2}" for n in range(len(rows))]
        )
        return table.assign(left_out="", from_equation=pd.array([None] * len(rows), dtype="Int64"),
                            to_equation=pd.array([None] * len(rows), dtype="Int64"))  # fmt: skip

    return made
