"""What one shot can prove under each tolerance, and what it cannot."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.contract.decided import capability_words
from geoqa.kernels.precision.budget import capability
from geoqa.model.check import CONTROL
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.precision.lean_budget import UNTESTED
from geoqa.steps.precision.of_marks import of_marks


class CanDecide(Step):
    """Tell for every tolerance what one shot with this crew's uncertainty can prove, and what it cannot.

    The uncertainty is the median of the shots of the kind, common and random part together; of checks on control that
    of check shots, with what their mark states or, where it states none, what is assumed of it. A run of neighbours
    that agree proves more than one shot does; nothing here counts on it. Kinds without shots are left out: before any
    shot exists, `geoqa capability JOB` asks the same step with one expected shot of every kind.
    """

    name = "capability"
    needs = ("limits", "codes", "flags", "shots.kind", "shots.u_h_random", "shots.u_v_random")
    wants = ("shots.role", "control", "believed_parts")
    gives = ("capability",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One row for every kind and check that has a limit and shots."""
        shots, unit = layers["shots"], layers.frame.unit.name
        geometry = layers["codes"].drop_duplicates("kind").set_index("kind")["geometry"]
        parts = shots
        if "believed_parts" in layers and len(layers["believed_parts"]):
            # a row for every shot, in their order: what verdicts take where the data show more than is stated
            parts = layers["believed_parts"].set_axis(shots.index)
        u = pd.DataFrame(
            {
                "kind": shots["kind"],
                **{axis: np.hypot(parts[f"u_{axis}_random"], parts[f"u_{axis}_common"]) for axis in "hv"},
            }
        )
        beyond = layers["flags"].loc[layers["flags"]["flag"] == UNTESTED, "shot_key"]
        u.loc[shots["shot_key"].isin(beyond), ["h", "v"]] = np.nan
        typical = u.groupby("kind").median()
        of_checks = _of_checks(layers, u)
        asked = []
        for row in layers["limits"].to_dict("records"):
            kind, check = str(row["kind"]), check_named(str(row["check"]))
            other = check.of_geometry not in ("", str(geometry.get(kind, "line")))
            mine = of_checks if check.of_kind == CONTROL else typical.loc[kind] if kind in typical.index else None
            if not check.axis or other or mine is None:
                continue
            asked.append({name: row[name] for name in _OF_LIMIT} | {"u": mine[check.axis]})
        rows = _rows(asked, unit)
        return {"capability": conform("capability", pd.DataFrame(rows)) if rows else empty("capability")}


def _of_checks(layers: Layers, u: pd.DataFrame) -> pd.Series | None:
    """Medians of check shots with their marks, in plan and in elevation; None without a check shot."""
    if "role" not in layers["shots"].columns:
        return None
    check = (layers["shots"]["role"] == "check").to_numpy(bool)
    if not check.any():
        return None
    marks = of_marks(layers)
    return pd.DataFrame({axis: np.hypot(u[axis], marks.u[axis]) for axis in "hv"})[check].median()


_OF_LIMIT = ("kind", "check", "lower", "upper", "rule")


def _rows(asked: list[dict[str, Any]], unit: str) -> list[dict[str, Any]]:
    """Rows of the table, in the order asked; all that share a rule are worked out together."""
    alike: dict[tuple[str, bool], list[int]] = {}
    for place, row in enumerate(asked):
        alike.setdefault((str(row["rule"]), check_named(str(row["check"])).radial), []).append(place)
    rows = list(asked)
    for (rule, radial), places in alike.items():
        lower, upper, u = (np.array([asked[place][name] for place in places]) for name in ("lower", "upper", "u"))
        found = capability(lower=lower, upper=upper, u=u, rule=rule, radial=radial)
        for nth, place in enumerate(places):
            row = asked[place] | {name: values[nth].item() for name, values in vars(found).items()}
            rows[place] = row | {"words": capability_words(row, unit)}
    return rows
