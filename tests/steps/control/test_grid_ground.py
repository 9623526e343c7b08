"""Combined factors and both distances, held against published and worked values."""

import numpy as np
import pandas as pd
import pytest

from geoqa.frames.systems.resolve import resolve
from geoqa.model.quantity import Length
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, placed
from geoqa.steps.control.grid_ground import GridGround

# Michigan South, point 1 of the zone's published test points (13,360,891.735 ft, 300,809.979 ft): scale 0.99995483;
# 180.0 m above the ellipsoid the elevation factor is 0.99997177 and the combined factor 0.99992660
FRAME = resolve("EPSG:2253", "EPSG:8228")
POINTS = np.array([[13_360_891.735, 300_809.979], [13_333_303.173, 304_930.588]])
LIFT = "-30 m"
HEIGHT = (180.0 + 30.0) / 0.3048
"""Elevation that lies 180 m above the ellipsoid with that separation."""


def layers(*, elevation=HEIGHT, frame=FRAME, role="check", marks=True):
    shots = pd.DataFrame(
        {
            "shot_key": ["d/1", "d/2", "d/3"],
            "source": "d",
            "line": [1, 2, 3],
            "shot": ["1", "2", "3"],
            "easting": [*POINTS[:, 0], np.nan],
            "northing": [*POINTS[:, 1], np.nan],
            "elevation": [elevation, elevation, elevation],
            "line_id": ["M1", "M2", None],
            "role": role,
        }
    )
    shots = conform("shots", shots, made_by="").assign(role=pd.Series([role] * 3, dtype="str"))
    control = conform(
        "control",
        pd.DataFrame(
            {"mark": ["M1", "M2"], "easting": POINTS[:, 0], "northing": POINTS[:, 1], "elevation": elevation,
             "held": False, "independent": False}
        ),
    )  # fmt: skip
    control = control if marks else empty("control")
    return Layers({"shots": placed("shots", shots, frame), "control": placed("control", control, frame)}, frame=frame)


def test_the_factor_of_a_published_point_is_the_worked_one():
    made = GridGround(separation=Length.validate(LIFT)).run(layers())
    factor = made["shots"]["combined_factor"]
    assert factor.iloc[0] == pytest.approx(0.99992660, abs=2e-8)
    assert np.isnan(factor.iloc[2])
    row = made["grid_ground"].iloc[0]
    assert np.isnan(row["u"])
    assert "±" not in row["words"]


def test_grid_and_ellipsoid_distances_of_two_published_points():
    made = GridGround(separation=Length.validate(LIFT)).run(layers(elevation=30.0 / 0.3048))
    (row,) = made["ground_distances"].to_dict("records")
    # grid distance 27,894.5904 ft; geodesic 27,895.8783 ft on GRS 80
    assert row["grid"] == pytest.approx(27894.5904, abs=0.001)
    assert row["ellipsoid"] == pytest.approx(27895.8783, abs=0.001)
    assert row["ground"] == pytest.approx(row["ellipsoid"], abs=1e-6)  # at height 0
    assert row["measured"] == pytest.approx(row["grid"], abs=1e-6)


def test_a_thousand_feet_of_ground_are_999_9266_of_grid():
    made = GridGround(separation=Length.validate(LIFT)).run(layers())
    (row,) = made["ground_distances"].to_dict("records")
    assert row["grid"] / row["ground"] == pytest.approx(row["combined_factor"], abs=1e-12)
    assert row["ground"] - row["ellipsoid"] == pytest.approx(27895.8783 * (1 / 0.99997177 - 1), abs=0.005)
    assert "1,000 ft on the ground are 999.92" in made["grid_ground"]["words"].iloc[0]


def test_an_unstated_separation_is_said_and_carries_its_uncertainty():
    row = GridGround().run(layers())["grid_ground"].iloc[0]
    assert row["u"] == pytest.approx(12.0 / 6_371_000.0)
    assert row["words"].endswith("± 0.000004 at 95 %)")


@pytest.mark.parametrize("separation", [None, Length.validate(LIFT)])
def test_where_no_vertical_datum_is_stated_no_uncertainty_is_claimed(separation):
    """Elevations about a bench mark of 100 ft on ground at 1,400 ft are 62 ppm off, whatever the geoid is."""
    made = GridGround(separation=separation).run(layers(frame=resolve("EPSG:2253")))
    row = made["grid_ground"].iloc[0]
    assert np.isnan(row["u"])
    assert "±" not in row["words"]
    assert row["words"].endswith("), if elevations count from sea level: their datum is not stated")


def test_missing_elevations_give_no_factor_and_no_sentence():
    made = GridGround().run(layers(elevation=np.nan))
    assert made["shots"]["combined_factor"].isna().all()
    assert len(made["grid_ground"]) == 0
    assert made["ground_distances"]["ground"].isna().all()
    assert made["ground_distances"]["grid"].iloc[0] == pytest.approx(27894.5904, abs=0.001)


def test_without_marks_there_are_no_distances():
    assert len(GridGround().run(layers(marks=False))["ground_distances"]) == 0


def test_a_projection_without_one_factor_gives_none():
    frame = resolve("EPSG:5070")  # equal area, metres
    made = GridGround().run(layers(frame=frame))
    assert made["shots"]["combined_factor"].isna().all()
    assert len(made["ground_distances"]) == 0
