"""Notes that no step can make."""

import pandas as pd

from geoqa.contract.sentences import note_lines
from geoqa.job.notes import _no_design, with_notes, without_spacing
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers

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
