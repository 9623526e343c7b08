"""The truth of a simulated job: what is really there, and what the tool may be expected to say."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.simulate.crew.plants import PLANTS, Item
from geoqa.simulate.crew.record import NULL_ELEVATIONS, true_positions
from geoqa.simulate.expected import expected_checks, item_chances, uncertainties
from geoqa.simulate.site.design import lines
from geoqa.simulate.site.scenario import U_HORIZONTAL, Zone

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Truth:
    """What is really there.

    Attributes
    ----------
    shots : DataFrame
        One row a shot: ``shot_key``, what it is of, where it truly is, its true deviations, and
        the errors it shares with others.
    items : tuple of mapping
        One for each planted thing that should be found: check, level, subject, shots, places,
        number, u, limits, excess (distance beyond the limit over u), and the probability of
        each verdict.
    limits : DataFrame
    seed : int
    zone : str
    plants : tuple of str
    """

    shots: "pd.DataFrame"
    items: tuple[Mapping[str, Any], ...]
    limits: "pd.DataFrame"
    seed: int
    zone: str
    plants: tuple[str, ...]

    @cached_property
    def checks(self) -> "pd.DataFrame":
        """What every check of every measured shot may be expected to say."""
        return expected_checks(self.shots, self.limits)

    def planted(self) -> dict[str, str]:
        """Plants by id, in words."""
        return {name: PLANTS[name][0] for name in self.plants}

    def as_json(self) -> dict[str, Any]:
        """Plain values; a number that is not there is null."""
        shots = self.shots.round(5).astype(object)
        shots = shots.where(shots.notna(), None)
        return {
            "seed": self.seed,
            "zone": self.zone,
            "plants": self.planted(),
            "items": [dict(item) for item in self.items],
            "shots": {"columns": list(shots.columns), "rows": shots.to_numpy().tolist()},
        }


def truth_of(
    plan: "pd.DataFrame",
    keys: "pd.DataFrame",
    zone: Zone,
    limits: "pd.DataFrame",
    items: Mapping[str, list[Item]],
    seed: int,
) -> Truth:
    """Put the truth together from the plan as it was sown; `keys` is shot key by id of the plan."""
    shots = _shots(plan, zone)
    key_of = dict(zip(keys["id"], keys["shot_key"], strict=True))
    looked_at = shots[["kind", "design", "station", "easting", "northing"]]
    row_of = {each: row for row, each in enumerate(shots["id"].tolist())}
    rows = tuple(
        _item(name, item, looked_at, row_of, key_of, limits, zone) for name, found in items.items() for item in found
    )
    shots = keys[["id", "shot_key"]].merge(shots, on="id", how="left", validate="one_to_one").drop(columns="id")
    return Truth(shots, rows, limits, seed, zone.code, tuple(items))


def _shots(plan: "pd.DataFrame", zone: Zone) -> "pd.DataFrame":
    import pandas as pd

    where = true_positions(plan) + np.array([zone.easting, zone.northing, 0.0])
    line = plan["target"] == "line"
    spot = plan["target"].isin(["point", "mark"])
    return pd.DataFrame(
        {
            "id": plan["id"],
            "plant": plan["plant"],
            "target": plan["target"],
            "kind": plan["kind"],
            "design": plan["design"],
            "station": plan["station"],
            "easting": where[:, 0],
            "northing": where[:, 1],
            "elevation": where[:, 2],
            "offset_deviation": plan["aside"].where(line),
            "position_deviation": np.where(spot, np.hypot(plan["dev_e"], plan["dev_n"]), np.nan),
            "deviation_e": plan["dev_e"].where(spot),
            "deviation_n": plan["dev_n"].where(spot),
            "elevation_deviation": plan["dev_z"].where(line | spot),
            "common_e": plan["common_e"],
            "common_n": plan["common_n"],
            "common_v": plan["common_v"],
            "measured": ~plan["copied"] & (plan["tilt"] <= 30.0),
            "has_elevation": ~plan["written_elevation"].isin(NULL_ELEVATIONS),
        }
    )


def _item(
    plant: str,
    item: Item,
    shots: "pd.DataFrame",
    row_of: Mapping[str, int],
    key_of: Mapping[str, str],
    limits: "pd.DataFrame",
    zone: Zone,
) -> dict[str, Any]:
    planted = shots.iloc[sorted({row_of[each] for each in item.ids if each in row_of})]
    row: dict[str, Any] = {
        "plant": plant,
        "check": item.check,
        "level": item.level,
        "subject": item.subject,
        "shots": [key_of[each] for each in item.ids],
        "stations": _reach(item, planted),
        "places": _places(item, planted, zone),
        "number": _number(item.number),
        "flag": item.flag,
        "expect": item.expect,
    }
    kind = str(planted["kind"].iloc[0]) if len(planted) else _kind_of(item, shots)
    bounds = limits[(limits["kind"] == kind) & (limits["check"] == item.check)]
    if item.expect or not (len(bounds) or item.limits):
        return {**row, "kind": kind, "u": None, "limits": None, "excess": None, "chances": _certain(item.expect)}
    rule = limits["rule"].iloc[0]
    lower, upper = item.limits or bounds[["lower", "upper"]].iloc[0]
    u = item.u if np.isfinite(item.u) else _u(item, kind)
    beyond = max(item.number - upper, lower - item.number)
    return {
        **row,
        "kind": kind,
        "u": round(u, 6),
        "limits": [_number(lower), _number(upper)],
        "excess": round(float(beyond / u), 3),
        "chances": item_chances(item.check, item.number, lower=lower, upper=upper, u=u, rule=rule),
    }


def _u(item: Item, kind: str | None) -> float:
    if item.check == "coverage":
        # the length between two shots
        return float(np.sqrt(2) * U_HORIZONTAL)
    return float(np.hypot(*uncertainties(kind or "*", item.check, shots=len(item.ids) if item.level == "run" else 1)))


def _reach(item: Item, shots: "pd.DataFrame") -> list[float] | None:
    if item.at is not None:
        return [round(value, 3) for value in item.at]
    known = shots["station"].dropna()
    if shots["design"].nunique() > 1:
        return None
    return [round(float(known.min()), 3), round(float(known.max()), 3)] if len(known) else None


def _kind_of(item: Item, shots: "pd.DataFrame") -> str | None:
    rows = shots.loc[shots["design"] == item.subject, "kind"]
    return str(rows.iloc[0]) if len(rows) else None


def _certain(expect: str) -> dict[str, float] | None:
    return {expect: 1.0} if expect else None


def _places(item: Item, shots: "pd.DataFrame", zone: Zone) -> list[list[float]]:
    """Easting and northing of every shot, or of the two ends of a reach without shots."""
    if item.at is not None:
        line = lines()[item.subject]
        east = zone.easting + np.interp(item.at, line.station, line.easting)
        north = zone.northing + np.interp(item.at, line.station, line.northing)
        return np.column_stack([east, north]).round(3).tolist()
    return shots[["easting", "northing"]].to_numpy().round(3).tolist()


def _number(value: float) -> float | None:
    return round(float(value), 6) if np.isfinite(value) else None
