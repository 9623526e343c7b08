"""Kinds that share no limits with others in a draft: what is drawn twice, and what nothing tells."""

import pandas as pd

from geoqa.job.begin.drafted_limits import drafted_limits
from geoqa.job.begin.kinds_aside import kinds_aside
from geoqa.job.begin.seen_codes import SeenCode

KINDS = {"curb-top": "line", "e-prop-row": "line", "inl": "point", "rim": "point", "valve": "point"}
CODES = (SeenCode("TC", 40, "curb-top", "line"), SeenCode("INL", 2, "inl", "point"))


def points(*rows):
    return {"design_points": pd.DataFrame(rows, columns=["kind", "easting", "northing"])}


def test_points_drawn_again_and_kinds_nobody_knows_stand_aside():
    one = points(("inl", 10.0, 10.0), ("inl", 90.0, 10.0))
    other = points(("rim", 10.02, 10.0), ("rim", 90.0, 9.99), ("valve", 10.0, 10.0), ("valve", 50.0, 50.0))
    aside = kinds_aside(KINDS, CODES, [one, other])
    assert list(aside) == ["e-prop-row", "rim"]
    assert aside["rim"] == "the 2 points of it are those of inl, drawn again"
    text = drafted_limits(KINDS, "ft", aside=aside)
    assert [line.split(" = ")[0].strip() for line in text.splitlines() if "reference =" in line] == [
        "# curb-top", '# "inl, valve"',
    ]  # fmt: skip
    assert "#   e-prop-row: no word says what it is" in text


def test_where_no_shot_tells_a_kind_none_stands_aside():
    assert kinds_aside(KINDS, (SeenCode("TC", 40),), [points(("rim", 1.0, 1.0))]) == {}
