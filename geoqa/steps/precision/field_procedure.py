"""The field test of the equipment on two points: blunders, achieved precision, and what it may be called."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.precision.field_procedure import POINTS, SETS, FieldPrecision, full_test, meets_stated, screen_sets
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.words import length
from geoqa.steps.causes.left_out import left_out, told

TEST = "field-test"
"""Kind of the shots of such a test."""
SERIES = 3


class FieldProcedure(Step):
    """Hold shots of the field test against its limits: simplified test on each series, full test on three.

    A shot of kind field-test belongs to the point its line ID names, to the set its sequence numbers, and to the series
    of its session. Distance and height difference of the two points come from `control`, where both are marks; without
    them blunders cannot be screened, and it is said. Layout, limits and degrees of freedom of ISO 17123-8, from memory.
    """

    name = "field-procedure"
    needs = ("shots.kind", "shots.line_id", "control")
    wants = ("cause_shots",)
    gives = ("field_test",)

    stated_horizontal: Length = Field(Length.parse("15 mm"), description="Stated 1 sigma, both plan axes together")
    stated_vertical: Length = Field(Length.parse("25 mm"), description="Stated 1 sigma in elevation")
    alpha: float = Field(0.05, gt=0, lt=1, description="Probability of refusing equipment that is as stated")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One row a decision; empty without shots of a field test."""
        shots, unit = layers["shots"], layers.frame.unit
        mine = pd.DataFrame(shots[(shots["kind"] == TEST) & shots["line_id"].notna()]).reset_index(drop=True)
        if not len(mine):
            return {"field_test": empty("field_test")}
        apart = left_out(layers, mine)
        without = told(mine, apart)
        mine = mine[apart.isna()].reset_index(drop=True)
        names = sorted(mine["line_id"].unique())
        if len(names) != POINTS:
            said = f"the test needs two points and the shots name {len(names)}: {', '.join(names)}"
            return {"field_test": _table([("simplified", "layout", np.nan, np.nan, None, False, said)], without)}
        series, sets, full = _arranged(mine, names)
        stated = self.stated_horizontal.to(unit), self.stated_vertical.to(unit)
        known = _known(layers["control"], names)
        rows, kept = _screened(series, sets, known, stated, unit.name)
        rows += self._full(kept, stated, unit.name, full)
        return {"field_test": _table(rows, without)}

    def _full(self, sets: np.ndarray, stated: tuple[float, float], unit: str, full: bool) -> list[tuple]:
        if len(sets) != SERIES or not full:
            said = f"the full test needs {SERIES} series of {SETS} sets, and there are {len(sets)} series"
            return [("full", "layout", np.nan, np.nan, None, None, said)]
        found: FieldPrecision = full_test(sets)
        decided = meets_stated(found, sigma_xy=stated[0], sigma_h=stated[1], alpha=self.alpha)
        part = "" if found.complete else "; shots are missing, which costs degrees of freedom"
        return [
            ("full", name, value, limit, dof, passed, f"{_met(passed)}: {length(value, unit)} against "
             f"{length(limit, unit)}{part}")
            for name, value, limit, dof, passed in (
                ("horizontal precision", found.s_xy, decided.high_xy, found.dof_xy, decided.meets_xy),
                ("vertical precision", found.s_h, decided.high_h, found.dof_h, decided.meets_h),
            )
        ]  # fmt: skip


def _arranged(shots: pd.DataFrame, names: list[str]) -> tuple[list[str], np.ndarray, bool]:
    """Shots as (series, sets, points, coordinates), missing ones NaN; whether all fit the layout of the full test."""
    session = shots["session"].where(shots["session"].notna(), shots["source"])
    order = shots.groupby(session)["time"].min().sort_values(kind="stable").index.tolist()
    again = shots.groupby([session, "line_id"]).cumcount()
    numbered = shots["sequence"].astype("Float64")
    number = numbered.where(numbered.notna(), (again + 1).astype("Float64")).astype(int) - 1
    most = max(SETS, int(number.max()) + 1)
    made = np.full((len(order), most, POINTS, 3), np.nan)
    at = (session.map(order.index).to_numpy(int), number.to_numpy(), shots["line_id"].map(names.index).to_numpy(int))
    made[at] = shots[["easting", "northing", "elevation"]].to_numpy(float)
    return [str(each) for each in order], made, most == SETS


def _known(control: pd.DataFrame, names: list[str]) -> tuple[float, float] | None:
    marks = control[control["mark"].isin(names)].set_index("mark")
    if len(marks) != POINTS:
        return None
    places = marks.loc[names, ["easting", "northing", "elevation"]].astype(float)
    apart = places.iloc[1] - places.iloc[0]
    if apart.isna().any():
        return None
    return float(np.hypot(apart["easting"], apart["northing"])), float(apart["elevation"])


def _screened(
    series: list[str], sets: np.ndarray, published: tuple[float, float] | None, stated: tuple[float, float], unit: str
) -> tuple[list[tuple], np.ndarray]:
    """Decisions of the simplified test on every series, and the sets without suspect ones."""
    if published is None:
        reason = "distance and height difference of the two points are not in control; blunders cannot be screened"
        return [("simplified", f"series {name}", np.nan, np.nan, None, None, reason) for name in series], sets
    rows, kept = [], sets.copy()
    for place, name in enumerate(series):
        found = screen_sets(
            sets[place], distance=published[0], height_difference=published[1], s_xy=stated[0], s_h=stated[1]
        )  # fmt: skip
        kept[place][found.suspect] = np.nan
        parts = (("distance", found.distance, found.limit_distance), ("height", found.height, found.limit_height))
        for what, values, limit in parts:
            worst = float(np.nanmax(np.abs(values))) if np.isfinite(values).any() else np.nan
            some = bool(np.isnan(values).any())
            passed = None if np.isnan(worst) or (some and worst <= limit) else worst <= limit
            reason = f"{_met(passed)}: largest {length(worst, unit)} against {length(limit, unit)}"
            reason += "; sets beyond it are left out of the full test" if passed is False else ""
            rows.append(("simplified", f"{what}, series {name}", worst, limit, None, passed, reason))
    return rows, kept


def _met(passed: bool | None) -> str:
    return {True: "passed", False: "not passed", None: "cannot be told"}[passed]


def _table(rows: list[tuple], without: str) -> pd.DataFrame:
    """Decisions; each says which shots it was made without."""
    made = pd.DataFrame(rows, columns=["test", "quantity", "value", "limit", "dof", "passed", "words"])
    made["dof"] = pd.array(made["dof"].to_list(), dtype="Int64")
    made["passed"] = pd.array(made["passed"].to_list(), dtype="boolean")
    made["words"] += f"; without {without}" if without else ""
    return conform("field_test", made)
