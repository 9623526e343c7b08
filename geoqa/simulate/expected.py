"""What each check of each shot may be expected to say, given what is really there."""

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from geoqa.model.tables.in_rows import in_rows
from geoqa.simulate import power
from geoqa.simulate.site import scenario

if TYPE_CHECKING:
    import pandas as pd

RADIAL = ("position", "control-position")
_CHECKS = {
    "line": ("offset", "elevation"),
    "point": ("position", "elevation"),
    "mark": ("control-position", "control-elevation"),
}
SHOT_CHECKS = tuple(dict.fromkeys(check for checks in _CHECKS.values() for check in checks))
"""Checks that judge one shot."""


def uncertainties(kind: str, check: str, *, shots: int = 1) -> tuple[float, float]:
    """Random and common standard uncertainty of a check of the mean of some shots, as the job declares them.

    Examples
    --------
    >>> [round(value, 4) for value in uncertainties("curb-flow", "elevation", shots=4)]
    [0.01, 0.02]
    """
    h_random, v_random, h_common, v_common = scenario.PRECISION.get(kind, scenario.PRECISION["*"])
    level = check.endswith("elevation")
    random, common = (v_random, v_common) if level else (h_random, h_common)
    if check.startswith("control"):
        common = float(np.hypot(common, scenario.CONTROL_U[1 if level else 0]))
    return random / float(np.sqrt(shots)), common


def expected_checks(shots: "pd.DataFrame", limits: "pd.DataFrame") -> "pd.DataFrame":
    """One row per shot and check that has a limit.

    Parameters
    ----------
    shots : DataFrame
        `geoqa.simulate.truth.Truth.shots`.
    limits : DataFrame

    Returns
    -------
    DataFrame
        ``number`` is the true deviation; ``mean`` and ``sd`` describe the measurement of this run,
        its realised common errors included; ``u`` is what is judged with; ``within``,
        ``undecided`` and ``out`` are the probabilities of the verdicts.
    """
    import pandas as pd

    rule = str(limits["rule"].iloc[0])
    keys = zip(limits["kind"], limits["check"], strict=True)
    bounds = dict(zip(keys, limits[["lower", "upper"]].itertuples(index=False, name=None), strict=True))
    rows: list[dict[str, Any]] = []
    for shot in in_rows(shots[shots["measured"]]):
        for check in _CHECKS.get(shot["target"], ()):
            if (shot["kind"], check) in bounds and not (check.endswith("elevation") and not shot["has_elevation"]):
                rows.append(_row(cast("dict[str, Any]", shot), check, *bounds[shot["kind"], check]))
    return _with_chances(pd.DataFrame(rows), rule)


def _row(shot: Mapping[str, Any], check: str, lower: float, upper: float) -> dict[str, Any]:
    random, common = uncertainties(shot["kind"], check)
    number = shot[f"{check.removeprefix('control-')}_deviation"]
    if check in RADIAL:
        mean = np.hypot(shot["deviation_e"] + shot["common_e"], shot["deviation_n"] + shot["common_n"])
    else:
        mean = number + (shot["common_v"] if check.endswith("elevation") else 0.0)
    return {
        "shot_key": shot["shot_key"],
        "check": check,
        "kind": shot["kind"],
        "design": shot["design"],
        "plant": shot["plant"],
        "number": number,
        "mean": mean,
        "sd": random,
        "u": float(np.hypot(random, common)),
        "lower": lower,
        "upper": upper,
    }


def _with_chances(rows: "pd.DataFrame", rule: str) -> "pd.DataFrame":
    radial = rows["check"].isin(RADIAL).to_numpy()
    made = np.full((3, len(rows)), np.nan)
    across, around = rows[~radial], rows[radial]
    made[:, ~radial] = power.chances(
        across["mean"], sd=across["sd"], lower=across["lower"], upper=across["upper"], u=across["u"], rule=rule
    )
    made[:, radial] = power.chances_radial(
        around["mean"], sd=around["sd"], limit=around["upper"], u=around["u"], rule=rule
    )
    return rows.assign(within=made[0], undecided=made[1], out=made[2])


@cache
def item_chances(check: str, number: float, *, lower: float, upper: float, u: float, rule: str) -> dict[str, float]:
    """Probability of each verdict on one planted number, nothing known of the run's own errors."""
    if check in RADIAL:
        found = power.chances_radial(number, sd=u, limit=upper, u=u, rule=rule)
    else:
        found = power.chances(number, sd=u, lower=lower, upper=upper, u=u, rule=rule)
    return dict(zip(("IN", "UNDECIDED", "OUT"), (round(float(value), 6) for value in found), strict=True))
