"""The tilt test: plumb against tilted shots of the same points."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.errors import GeometryInputError
from geoqa.kernels.tilt.compensation import TiltModel, learn_tilt
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.read_facts import ANGLE_DOUBT, facts_of_shots
from geoqa.steps.precision.lean_budget import UNTESTED
from geoqa.steps.shots.flags import noted
from geoqa.steps.shots.listings import listings_of
from geoqa.steps.tilt.proofs import conclusion, headline, limits_table, plan_table, scope_of, setting
from geoqa.steps.tilt.rods import rods_apart, rods_of, worst_of
from geoqa.steps.tilt.tables import classes_table, curve_table, model_table, pairs_table

TABLES = ("tilt_pairs", "tilt_model", "tilt_curve", "tilt_classes", "tilt_limits", "tilt_plan", "tilt_test")
TEST = "tilt-test"
"""Kind of the shots of such a test."""
TILTED = ("tilt", UNTESTED)
"""Flags of shots that lean too much to be judged: just what is tested."""


class TiltStudy(Step):
    """Learn a crew's tilt errors from its own test, and how far its rod may lean.

    A shot of kind tilt-test belongs to the point that its line ID names, else its own name; shots of different
    sessions are never compared, because a session may be shifted as a whole. A shot that leans less than
    `plumb_below` counts as plumb: held with the bubble, free of tilt errors. A compensation left on at plumb is not.

    Shots that another check rejects are left out, but not those rejected for their tilt: that is what is tested.
    Nothing is claimed beyond the tilts and rods tested. Nothing is fed back into the verdicts of this job by
    itself: `tilt_test.setting` is what to write into a job file to use the result.
    """

    name = "tilt-study"
    needs = ("shots.kind", "limits", "codes", "flags")
    wants = ("sources", "shots.u_h_random", "shots.u_v_random", "shots.u_h_common", "shots.u_v_common")
    gives = TABLES
    adds = ("notes",)

    plumb_below: float = Field(3.0, gt=0, lt=20, description="Degrees; a shot that leans less counts as plumb")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Seven tables, empty without shots of a tilt test; and what it says, to be read first."""
        tables, short = self._studied(layers)
        said = tables["tilt_test"]["conclusion"]
        notes = [{"note": "tilt-test", "written": each, "proposal": short} for each in said]
        return tables | {"notes": noted(self.name, notes)}

    def _studied(self, layers: Layers) -> tuple[dict[str, Any], str]:
        """The tables, and what they say in one line."""
        shots, aside = self._shots(layers)
        if not len(shots):
            return {name: empty(name) for name in TABLES}, ""
        if asked := _angles_asked(layers, shots):
            plumb = (shots["tilt"] < self.plumb_below).to_numpy(bool)
            none = _nothing_learned(shots, plumb, asked, sum(aside), what=_STATE_ANGLES)
            return {name: empty(name) for name in TABLES} | none, ""
        point = _points(shots)
        plumb = (shots["tilt"] < self.plumb_below).to_numpy(bool)
        try:
            model = _learned(shots, point, plumb)
        except GeometryInputError as error:
            none = _nothing_learned(shots, plumb, str(error), sum(aside))
            return {name: empty(name) for name in TABLES} | none, ""
        unit = layers.frame.unit
        pairs = pairs_table(shots, point, plumb, model)
        scope = scope_of(pairs, shots, model, aside=aside)
        found = model_table(model, shots, point, plumb, unit)
        rods = rods_apart(shots, rods_of(shots, facts_of_shots(dict(layers)), unit), self._learned_alone, plumb=plumb)
        scope = replace(scope, rods=rods.words, worse=bool(rods.models))
        asked_of = layers["limits"], layers["codes"], _common(shots), unit
        limits = worst_of([limits_table(each, *asked_of) for each in rods.models or (model,)])
        test = {
            "points": model.points,
            "plumb_shots": model.plumb_shots,
            "tilted_shots": model.tilted_shots,
            "left_out": model.left_out + sum(aside),
            "tilt_low": model.tilt_low,
            "tilt_high": model.tilt_high,
            "rod_low": model.rod_low,
            "rod_high": model.rod_high,
            "with_azimuths": model.tangential is not None,
            "conclusion": conclusion(model, limits, scope, unit),
            "setting": setting(model, scope, rods.models),
        }
        tables = {
            "tilt_pairs": pairs,
            "tilt_model": found,
            "tilt_curve": curve_table(model),
            "tilt_classes": classes_table(model, pairs),
            "tilt_limits": limits,
            "tilt_plan": plan_table(model, limits, scope, unit),
            "tilt_test": conform("tilt_test", pd.DataFrame([test])),
        }
        return tables, headline(limits, scope)

    def _learned_alone(self, shots: pd.DataFrame) -> TiltModel:
        return _learned(shots, _points(shots), (shots["tilt"] < self.plumb_below).to_numpy(bool))

    def _shots(self, layers: Layers) -> tuple[pd.DataFrame, tuple[int, int]]:
        """Shots of the test; and how many are set aside, rejected by other checks and without a tilt."""
        shots, flags = layers["shots"], layers["flags"]
        rejected = flags.loc[flags["reject"] & ~flags["flag"].isin(TILTED), "shot_key"]
        mine = (shots["kind"] == TEST) & ~listings_of(layers).again
        told, read = ~shots["shot_key"].isin(rejected), shots["tilt"].notna()
        aside = int((mine & ~told).sum()), int((mine & told & ~read).sum())
        return pd.DataFrame(shots[mine & told & read]).reset_index(drop=True), aside


def _points(shots: pd.DataFrame) -> pd.Series:
    session = shots["session"].where(shots["session"].notna(), shots["source"])
    return _nails(shots) + ", session " + session


def _nails(shots: pd.DataFrame) -> pd.Series:
    return shots["line_id"].where(shots["line_id"].notna(), shots["shot"]).fillna("?")


def _learned(shots: pd.DataFrame, point: pd.Series, plumb: np.ndarray) -> TiltModel:
    azimuth = shots["tilt_azimuth"].to_numpy(float)
    u = [shots.loc[plumb, name].median() if name in shots else np.nan for name in ("u_h_random", "u_v_random")]
    return learn_tilt(
        point.to_numpy(str),
        *(shots[name].to_numpy(float) for name in ("easting", "northing", "elevation")),
        tilt=shots["tilt"].to_numpy(float),
        azimuth=azimuth if np.isfinite(azimuth[~plumb]).any() else None,
        plumb=plumb,
        rod=shots["rod_height"].to_numpy(float),
        session=shots["session"].fillna("").to_numpy(str),
        nail=_nails(shots).to_numpy(str),
        plumb_u=(float(u[0]), float(u[1])) if np.isfinite(u).all() else None,
    )


def _common(shots: pd.DataFrame) -> tuple[float, float]:
    """What a session has in common, which a test within it cannot show; 0 where nothing is known."""
    plan, level = (shots[name].median() if name in shots else 0.0 for name in ("u_h_common", "u_v_common"))
    return 0.0 if np.isnan(plan) else float(plan), 0.0 if np.isnan(level) else float(level)


_SHOOT_AGAIN = "Shoot every point at least twice plumb and tilted to four sides, in one session"
_STATE_ANGLES = 'State the unit of the angles in the [[shots]] of each file: angle_unit = "deg", "gon" or "rad"'


def _angles_asked(layers: Layers, shots: pd.DataFrame) -> str:
    """Why a test of angles in a unit that nobody states, and that are hardly degrees, tells nothing."""
    facts = facts_of_shots(dict(layers))
    asked = sorted({str(name) for name in shots["source"].unique() if facts.get(str(name), {}).get(ANGLE_DOUBT)})
    looks = {"gon": "gon", "rad": "radians"}
    told = [f"the angles of {name} look like {looks[facts[name][ANGLE_DOUBT]]}, and nobody states it" for name in asked]
    return "; ".join(told)


def _nothing_learned(
    shots: pd.DataFrame, plumb: np.ndarray, why: str, aside: int, *, what: str = _SHOOT_AGAIN
) -> dict[str, pd.DataFrame]:
    """What is left to say where plumb and tilted shots of one point do not meet, or their angles are in doubt."""
    plan = pd.DataFrame({"order": [1], "shots": [0], "words": [what], "reason": [why.rstrip(".")]})
    test: dict[str, object] = {
        "points": 0,
        "plumb_shots": int(plumb.sum()),
        "tilted_shots": 0,
        "left_out": int((~plumb).sum()) + aside,
    }
    test |= {"with_azimuths": False, "conclusion": f"Nothing can be said about tilt: {why.rstrip('.')}.", "setting": ""}
    return {"tilt_plan": conform("tilt_plan", plan), "tilt_test": conform("tilt_test", pd.DataFrame([test]))}
