"""Elevations of shots against the design surface."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.surfaces import SURFACE
from geoqa.errors import StepError
from geoqa.kernels.design.tin_elevation import surface_at
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.surfaces import surfaces
from geoqa.steps.judging.findings import asked, findings_of, with_limits
from geoqa.steps.judging.remedies import level_ties
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS, WANTS, observed, shift_of
from geoqa.steps.surfaces.design_surface import Beneath, Surface, beneath, surface_named

APART = Length.parse("0.005 ft")
"""Faces that lie over each other by less give one answer: it changes no printed number."""


class SurfaceDeviations(Step):
    """Judge how far above or below the design surface each shot lies.

    Kinds with a `surface` tolerance are asked. The surface is taken face by face as it was given. Its elevation is that
    of the shot's own place in plan, so what the plan uncertainty makes on the grade, or on a break within reach of it,
    is part of the uncertainty of the number.
    """

    name = "surface-deviations"
    needs = ("limits", *NEEDS)
    wants = ("surface_points", "surface_faces", "control", *WANTS)
    adds = ("findings",)

    surface: str = Field("", description="Name of the design surface; where one was read, it need not be named")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One finding a shot."""
        shots = observed(layers)
        of_shot = ["shot", "kind", "easting", "northing", "elevation"]
        rows = asked(with_limits(shots[of_shot].assign(row=np.arange(len(shots))), layers["limits"], check=SURFACE))
        if not len(rows):
            return {"findings": empty("findings")}
        if self.surface and self.surface not in surfaces(layers):
            raise StepError(
                f"surface-deviations: no surface '{self.surface}' was read; read were: "
                f'{words.listed(surfaces(layers)) if surfaces(layers) else "none"}. Name it in surfaces = ["NAME"] '
                "of its [[design]]."
            )
        surface = surface_named(layers, self.surface)
        made = _unknown(layers, rows) if surface is None else _against(layers, rows, surface)
        made["label"] = "shot " + shots["name"].take(rows["row"].to_numpy()).reset_index(drop=True).astype("str")
        options = {
            "check": SURFACE,
            "limits": layers["limits"],
            "unit": layers.frame.unit.name,
            "u_tied": level_ties(layers),
        }
        return {"findings": findings_of(made.drop(columns=["row", "keys"], errors="ignore"), **options)}


def _unknown(layers: Layers, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows that no surface, or no one surface, stands behind."""
    why = SURFACE.why("several-surfaces" if surfaces(layers) else "no-surface")
    numbers = dict.fromkeys(("design", "measured", "deviation", "u_common", "u_random"), np.nan)
    return rows.assign(subject="-", source="-", why=why, **numbers)


def _against(layers: Layers, rows: pd.DataFrame, surface: Surface) -> pd.DataFrame:
    shots, unit = observed(layers), layers.frame.unit
    mine = shots.iloc[rows["row"]].reset_index(drop=True)
    u_plan = np.hypot(mine["u_h_random"].to_numpy(float), mine["u_h_common"].to_numpy(float))
    under = beneath(surface, mine[["easting", "northing"]].to_numpy(float), u_plan)
    limits = layers["limits"].iloc[rows["limit"]]
    deviation = mine["elevation"].to_numpy(float) - under.at.elevation
    beyond = np.fmax(deviation - limits["upper"].to_numpy(float), limits["lower"].to_numpy(float) - deviation)
    derived = derived_rows(
        layers, rows["row"].to_numpy()[:, None],
        {"easting": -under.grade[:, :1], "northing": -under.grade[:, 1:], "elevation": np.ones((len(rows), 1))},
        deviation, show=lambda value: words.length(value, unit.name, signed=True), beyond=beyond,
    )  # fmt: skip
    derived["u_random"] = np.hypot(derived["u_random"], under.broken)
    _where_it_would_be(layers, derived, rows["row"].to_numpy(), surface, APART.to(unit))
    off = (under.at.face < 0) & (mine["why_plan"].to_numpy() == 0)
    reach = np.where(under.in_hole, SURFACE.why("surface-hole"), SURFACE.why("off-surface"))
    # what lies beside the surface by a blunder may lie on it without
    reach = np.where(mine["blunder_plan"].to_numpy(bool), SURFACE.why("open-blunder"), reach)
    derived["why"] = np.where(off, reach, derived["why"])
    made = rows.assign(subject=surface.name, source=surface.source).join(derived)
    made["design"], made["measured"] = under.at.elevation, mine["elevation"]
    _over_each_other(made, under, unit.name, APART.to(unit))
    return made


def _where_it_would_be(layers: Layers, derived: pd.DataFrame, row: np.ndarray, surface: Surface, least: float) -> None:
    """Take the number without a blunder back where the grade of one face does not lead to it: it is not known then."""
    held = np.flatnonzero(derived["without"].notna().to_numpy())
    if not len(held):
        return
    shots = observed(layers)
    moved = shots[["easting", "northing", "elevation"]].to_numpy(float)[row[held]]
    moved = moved - shift_of(layers, shots)[0][row[held]]
    there = moved[:, 2] - surface_at(surface.points, surface.faces, *moved[:, :2].T).elevation
    without = derived["without"].to_numpy(float, copy=True)
    without[held] = np.where(np.abs(there - without[held]) <= least, there, np.nan)
    derived["without"] = without


def _over_each_other(made: pd.DataFrame, under: Beneath, unit: str, least: float) -> None:
    """Give the numbers where faces lie over each other a second reading: against the face farthest from the first."""
    at = under.at
    apart = np.nan_to_num(at.highest - at.lowest) > least
    if not apart.any():
        return
    other = np.where(at.highest - at.elevation >= at.elevation - at.lowest, at.highest, at.lowest)
    made["second"] = np.where(apart, made["measured"] - other, np.nan)
    made["second_why"], made["second_for"] = SURFACE.why("overlapping-faces"), "both"
    told = [
        f"the first of the faces here is taken, at {words.number(one, 3)} {unit}; another lies at "
        f"{words.number(two, 3)} {unit}" if some else None
        for one, two, some in zip(at.elevation, other, apart, strict=True)
    ]  # fmt: skip
    made["second_cause"] = pd.Series(told, dtype="str")
    made["cause"] = made["cause"].where(made["cause"].notna(), pd.Series(told, dtype="str"))
