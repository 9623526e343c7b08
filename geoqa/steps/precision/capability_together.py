"""What a number made of several expected shots can prove under each tolerance."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.contract.decided import decided_together
from geoqa.kernels.precision.budget import capability
from geoqa.kernels.precision.several import difference_u, slope_u
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers

_OF_LIMIT = ("kind", "check", "ruleset", "quantity", "lower", "upper", "rule")


class CanDecideTogether(Step):
    """Tell for every tolerance on a number of several shots what it can prove, and what was assumed of the shots.

    The shots are taken as of one session: what it shares cancels in a difference, and their own part is left. How far
    apart they lie is assumed, of the design or of what the job asks for; each row says of what. It runs before field
    work alone, for `geoqa capability JOB`; after a run the uncertainty stands beside each finding.
    """

    name = "capability-together"
    only_with = ("expected_sizes",)
    needs = ("expected_sizes", "limits", "shots.kind", "shots.u_h_random", "shots.u_v_random")
    wants = ("shots.u_v_common",)
    gives = ("capability_together",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A row for every limit whose number has an expected size."""
        sizes = layers["expected_sizes"]
        asked = layers["limits"][list(_OF_LIMIT)].merge(sizes, on=["kind", "check"], how="inner")
        if not len(asked):
            return {"capability_together": empty("capability_together")}
        asked["u"] = _u(layers, asked)
        rows = [_row(each, layers.frame.unit.name) for each in asked.to_dict("records")]
        return {"capability_together": conform("capability_together", pd.DataFrame(rows))}


def _u(layers: Layers, asked: pd.DataFrame) -> np.ndarray:
    """1 sigma of each number, in its quantity."""
    shots = layers["shots"]
    typical = shots.groupby("kind")[["u_h_random", "u_v_random"]].median()
    common = shots.groupby("kind")["u_v_common"].median() if "u_v_common" in shots else pd.Series(dtype="float64")

    def of(name: str, kinds: str) -> np.ndarray:
        return asked[kinds].map(typical[name]).to_numpy(float)

    plan = difference_u(of("u_h_random", "first"), of("u_h_random", "second"))
    one, two = (np.hypot(of("u_v_random", kinds), asked["u_beside"].to_numpy(float)) for kinds in ("first", "second"))
    mean = np.sqrt(asked["averaged"].to_numpy(float))
    plan = plan / mean
    level = np.sqrt(one**2 + asked["second_weight"].to_numpy(float) * two**2) / mean
    alone = asked["second_weight"].to_numpy(float) == 0
    level = np.where(alone, np.hypot(level, asked["first"].map(common).fillna(0.0).to_numpy(float)), level)
    bounds = asked[["lower", "upper"]].abs().replace(np.inf, np.nan)
    slope = bounds.min(axis=1).fillna(0.0).to_numpy(float)
    steep = slope_u(level, plan, length=asked["length"], slope=slope)
    return np.select([asked["quantity"] == "slope", asked["axis"] == "h"], [steep, plan], level)


def _row(asked: dict[str, Any], unit: str) -> dict[str, Any]:
    lower, upper, u = (np.array([asked[name]]) for name in ("lower", "upper", "u"))
    radial = check_named(str(asked["check"])).radial
    found = capability(lower=lower, upper=upper, u=u, rule=str(asked["rule"]), radial=radial)
    row = asked | {name: values[0].item() for name, values in vars(found).items()}
    return row | {"words": decided_together(row, unit)}
