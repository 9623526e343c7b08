"""The truth of a simulated job: what is really there, and what the tool may be expected to say."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.simulate.plants import PLANTS, Item
from geoqa.simulate.record import true_positions
from geoqa.simulate.scenario import Zone

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
        One for each planted thing that should be found.
    seed : int
    zone : str
    """

    shots: "pd.DataFrame"
    items: tuple[Mapping[str, Any], ...]
    seed: int
    zone: str
    plants: tuple[str, ...]

    def planted(self) -> dict[str, str]:
        """Plants by id, in words."""
        return {name: PLANTS[name][0] for name in self.plants}

    def as_json(self) -> dict[str, Any]:
        """Plain values; a number that is not there is null."""
        shots = self.shots.astype(object).where(self.shots.notna(), None)
        return {
            "seed": self.seed,
            "zone": self.zone,
            "plants": self.planted(),
            "items": list(self.items),
            "shots": {"columns": list(shots.columns), "rows": shots.to_numpy().tolist()},
        }


def truth_of(
    plan: "pd.DataFrame",
    keys: "pd.DataFrame",
    zone: Zone,
    tables: "Mapping[str, pd.DataFrame]",
    items: Mapping[str, list[Item]],
    seed: int,
) -> Truth:
    """Put the truth together from the plan as it was sown."""
    shots = _shots(plan, keys, zone)
    key_of = dict(zip(keys["id"], keys["shot_key"], strict=True))
    rows = tuple(
        {
            "plant": name,
            "check": item.check,
            "level": item.level,
            "subject": item.subject,
            "shots": [key_of[each] for each in item.ids],
            "number": None if np.isnan(item.number) else item.number,
            "flag": item.flag,
        }
        for name, found in items.items()
        for item in found
    )
    return Truth(shots, rows, seed, zone.code, tuple(items))


def _shots(plan: "pd.DataFrame", keys: "pd.DataFrame", zone: Zone) -> "pd.DataFrame":
    import pandas as pd

    where = true_positions(plan) + np.array([zone.easting, zone.northing, 0.0])
    line = plan["target"] == "line"
    spot = plan["target"].isin(["point", "mark"])
    made = pd.DataFrame(
        {
            "id": plan["id"],
            "plant": plan["plant"],
            "target": plan["target"],
            "kind": plan["kind"],
            "design": plan["design"],
            "station": plan["station"],
            "easting": where[:, 0].round(4),
            "northing": where[:, 1].round(4),
            "elevation": where[:, 2].round(4),
            "offset_deviation": plan["aside"].where(line),
            "position_deviation": np.hypot(plan["dev_e"], plan["dev_n"]).where(spot),
            "elevation_deviation": plan["dev_z"].where(line | spot),
            "common_e": plan["common_e"],
            "common_n": plan["common_n"],
            "common_v": plan["common_v"],
            "measured": ~plan["copied"],
        }
    )
    made = keys.merge(made, on="id", how="left", validate="one_to_one")
    return made.drop(columns="id")
