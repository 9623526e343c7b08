"""Layers hold a step to what it declared."""

import pandas as pd
import pytest

from geoqa.errors import LayerError, StepError
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers

FRAME = Frame(horizontal="EPSG:6547", horizontal_name="ND South (ft)", horizontal_wkt="EPSG:6547", unit=FOOT)


def layers():
    return Layers({"marks": pd.DataFrame({"name": ["a", "b"], "height": [1.0, 2.0]})}, frame=FRAME)


class Doubles(Step):
    """Doubles heights."""

    name = "doubles"
    needs = ("marks",)
    extends = ("marks.double",)

    def run(self, layers):
        return {"marks": pd.DataFrame({"double": layers["marks"]["height"] * 2})}


def test_a_step_adds_exactly_its_columns_and_leaves_the_old_table_alone():
    before = layers()
    step = Doubles()
    after = before.after(step, step.run(before))
    assert list(after["marks"]["double"]) == [2.0, 4.0]
    assert "double" not in before["marks"]


@pytest.mark.parametrize(
    ("made", "message"),
    [
        ({}, "must return exactly those"),
        ({"marks": pd.DataFrame({"height": [1.0, 2.0]})}, r"declared marks.\['double'\]"),
        ({"marks": pd.DataFrame({"double": [1.0]})}, "other rows"),
        ({"marks": pd.DataFrame({"double": [1.0, 2.0]}), "more": pd.DataFrame()}, "must return exactly those"),
    ],
)
def test_a_step_that_made_something_else_is_refused(made, message):
    with pytest.raises(StepError, match=message):
        layers().after(Doubles(), made)


def test_a_step_cannot_change_an_old_column():
    class Changes(Doubles):
        extends = ("marks.height",)

    with pytest.raises(StepError, match="would change the old columns"):
        layers().after(Changes(), {"marks": pd.DataFrame({"height": [0.0, 0.0]})})


def finding(**values):
    row = {
        "finding": "F1",
        "check": "offset",
        "against": "job",
        "kind": "curb-top",
        "subject": "A",
        "label": "A",
        "quantity": "length",
        "verdict": "IN",
        "why": "proven",
        "reference": "note 4",
        "easting": 1.0,
        "northing": 2.0,
    }
    return conform("findings", pd.DataFrame([row | values]))


class Adds(Step):
    """Adds findings."""

    name = "adds"
    adds = ("findings",)


def test_a_second_finding_of_one_id_is_refused():
    once = layers().after(Adds(), {"findings": finding()})
    with pytest.raises(StepError, match="second finding F1"):
        once.after(Adds(), {"findings": finding()})


def test_added_findings_get_their_place_and_missing_ones_get_none():
    whole = layers().after(Adds(), {"findings": pd.concat([finding(), finding(finding="F2", easting=float("nan"))])})
    geometry = whole["findings"].geometry
    assert geometry.iloc[0].x == 1.0
    assert geometry.iloc[1] is None


def test_a_point_at_another_place_than_its_row_says_is_made_anew():
    import geopandas
    import shapely

    rows = pd.concat([finding(), finding(finding="F2"), finding(finding="F3", easting=float("nan"))], ignore_index=True)
    points = shapely.points([1.0, 5.0, 1.0], 2.0)
    whole = layers().after(Adds(), {"findings": geopandas.GeoDataFrame(rows, geometry=points)})
    assert whole["findings"].geometry.iloc[0] is points[0]
    assert whole["findings"].geometry.iloc[1] == shapely.Point(1.0, 2.0)
    assert whole["findings"].geometry.iloc[2] is None
    assert whole["findings"].crs == layers()["findings"].crs


def test_an_unknown_layer_lists_the_known_ones():
    with pytest.raises(LayerError, match="there are evidence, findings, flags, marks"):
        layers()["shots"]


def test_a_column_that_cannot_be_held_is_named():
    table = empty("evidence").astype({"weight": "str"})
    table.loc[0] = ["F", "r", "l", "k", "heavy"]
    with pytest.raises(LayerError, match="Column 'weight' of table 'evidence' must be float64"):
        conform("evidence", table)


def test_other_tables_stand_in_place_of_some_and_what_the_rest_told_is_still_known():
    before, made = layers(), []

    def told(of, name):
        return of.derived(name, (name,), lambda: made.append(name) or len(of[name]))

    other = Layers({**dict(before), "more": pd.DataFrame({"name": ["c"]})}, frame=FRAME)
    assert [told(other, "marks"), told(other, "more"), made] == [2, 1, ["marks", "more"]]
    tried = other.instead({"more": pd.DataFrame({"name": ["c", "d", "e"]})})
    assert [told(tried, "marks"), told(tried, "more"), made] == [2, 3, ["marks", "more", "more"]]
    assert [told(other, "more"), made] == [1, ["marks", "more", "more"]]  # as it was
    assert len(other["more"]) == 1
