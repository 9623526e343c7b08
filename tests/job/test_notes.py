"""Notes that no step can make."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd

from geoqa.contract.sentences import note_lines
from geoqa.job.inputs.intake import Intake
from geoqa.job.inputs.sources import trouble_lines
from geoqa.job.notes import _no_design, _not_judged, with_notes, without_spacing
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT
from geoqa.model.source import Trouble
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.read.delimited.values import numbers

FRAME = Frame(horizontal="EPSG:6547", horizontal_name="ND South (ft)", horizontal_wkt="EPSG:6547", unit=FOOT)


def layers(limits, lines):
    return Layers(
        {
            "limits": pd.DataFrame(limits, columns=["kind", "check"]),
            "design_lines": pd.DataFrame(lines, columns=["line", "kind"]),
            "notes": empty("notes"),
        },
        frame=FRAME,
    )


def test_judged_lines_without_a_spacing_are_told_once():
    made = layers(
        [("walk-back", "offset"), ("curb-top", "offset"), ("curb-top", "coverage"), ("rim", "position")],
        [("W1", "walk-back"), ("W2", "walk-back"), ("C1", "curb-top"), ("D1", "driveway")],
    )
    rows = list(without_spacing(made))
    assert [(row["subject"], row["count"]) for row in rows] == [("walk-back", 2)]
    (line,) = note_lines(conform("notes", with_notes(made, rows)["notes"]), "ft")
    assert line.startswith("No spacing is given for lines of: walk-back (2).")


def test_a_surface_that_was_read_is_said_to_be_compared_with_nothing():
    made = layers([("curb-top", "elevation")], [])
    shots = pd.DataFrame({"shot_key": ["a"], "kind": ["curb-top"], "role": ["feature"], "listed": [""]})
    surface = conform("surface_points", pd.DataFrame({
        "surface": ["FG"], "source": ["d"], "point": [0], "easting": [1.0], "northing": [1.0], "elevation": [1.0],
    }))  # fmt: skip
    points = pd.DataFrame({"kind": pd.Series([], dtype="str")})
    made = Layers({**made, "shots": shots, "design_points": points, "surface_points": surface}, frame=FRAME)
    unused, note = note_lines(conform("notes", with_notes(made, [*_no_design(made)])["notes"]), "ft")
    told = 'surface FG was read; nothing is compared with it: no [tolerance.KIND] has surface = "…"'
    assert f"cannot be compared; {told}." in unused
    assert note == f"S{told[1:]}."


def test_edges_that_no_code_pairs_are_told_and_paired_ones_are_not_idle():
    codes = conform("codes", pd.DataFrame([
        {"code": code, "kind": kind, "geometry": "line", "role": "feature", "pairs_with": other, "meaning": ""}
        for code, kind, other in [("A", "walk-lo", "B"), ("B", "walk-hi", "A"), ("C", "walk-near", None),
                                  ("D", "walk-far", None), ("E", "walker", None)]
    ]))  # fmt: skip
    kinds = codes["kind"].to_numpy(dtype=object)
    shots = pd.DataFrame({"shot_key": list("abcde"), "kind": kinds, "role": "feature", "listed": "", "code": ""})
    made = layers([("walk", "cross-slope"), ("walk", "clear-width")], [])
    made = Layers({**made, "shots": shots, "codes": codes}, frame=FRAME)
    pairs, idle = note_lines(conform("notes", with_notes(made, [*_not_judged(made)])["notes"]), "ft")
    assert pairs.startswith(
        "walk-far (1), walk-near (1): by their names these are edges under [tolerance.walk], but no"
    )
    assert "set pairs_with in the code list" in pairs
    assert idle.endswith("not judged: walker (1).")


def test_rows_that_lack_the_same_are_told_once_with_the_lines_of_all():
    short, strange = {"column": "row", "reason": "has 2 fields"}, {"column": "easting", "reason": "is not a number"}
    lost = [Trouble(line=line, text=f"a,{line}", **short) for line in (3, 5, *range(10, 26))]
    other = [Trouble(line=line, text=text, **strange) for line, text in ((4, "n/a"), (7, "--"))]
    held = sorted([*lost, *other], key=lambda each: each.line)
    first, second, third = trouble_lines([SimpleNamespace(name="p.csv", source=SimpleNamespace(troubles=held))])
    assert first == (
        "p.csv, line 3, row: 'a,3' has 2 fields; the same in lines 5, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20 "
        "and 5 more, 18 rows in all"
    )
    assert [second, third] == [
        f"p.csv, line {line}, easting: '{text}' is not a number" for line, text in ((4, "n/a"), (7, "--"))
    ]  # two alike are told one by one


def test_of_many_values_that_are_no_numbers_all_are_counted():
    text = pd.Series(["322-23-00"] * 43)
    troubles = numbers(text, lines=np.arange(2, 45), column="tilt_azimuth", decimal=".", largest=1e9).troubles
    (line,) = trouble_lines([SimpleNamespace(name="p.csv", source=SimpleNamespace(troubles=troubles))])
    assert line.startswith("p.csv, line 2, tilt_azimuth: '322-23-00' is not a number; the same in lines 3, 4, 5")
    assert line.endswith(" and 30 more, 43 rows in all")
    split = [*troubles[:-1], replace(troubles[-1], reason="is another matter")]
    told = trouble_lines([SimpleNamespace(name="p.csv", source=SimpleNamespace(troubles=split))])
    assert told[1] == "p.csv, line 21, tilt_azimuth: '322-23-00' is another matter; and 23 more rows like it"


def test_what_is_assumed_of_many_files_is_told_once():
    def assumed(count):
        files = [SimpleNamespace(name=f"{nth}.csv", assumed=(Assumed("metre"),)) for nth in range(count)]
        return Intake(layers=None, placement=SimpleNamespace(files=files)).assumed

    assert assumed(1) == ("0.csv: metre",)
    assert assumed(4) == ("0.csv, 1.csv, 2.csv and 3.csv: metre",)
    assert assumed(20) == ("0.csv, 1.csv, 2.csv and 17 more files: metre",)


class Assumed(str):
    first = True
