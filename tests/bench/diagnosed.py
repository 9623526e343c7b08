"""The diagnosis of blunders held against what was planted: the cause, the shots, the numbers.

Reads tables only: what the shots were before and after planting, and what the diagnosis said.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

SLACK = 0.01
"""Feet: rounding of the files and of the planted numbers."""
NUMBER, WITHIN = 4.5, 2.0
"""Standard uncertainties within which every number must lie, and within which 95 % should."""
_AXES = ("easting", "northing", "elevation")


@dataclass(frozen=True, kw_only=True)
class Case:
    """What is planted together, and what must be said.

    Attributes
    ----------
    plants : tuple of str
    causes : tuple of str
        The only right answer; empty for "no blunder" and, with `unlisted`, for "none fits".
    unlisted : bool
    zones : tuple of str
        Where it can be planted; everywhere if empty.
    """

    plants: tuple[str, ...]
    causes: tuple[str, ...] = ()
    unlisted: bool = False
    zones: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Ids of the plants."""
        return " + ".join(self.plants) or "nothing"

    @property
    def right(self) -> str:
        """The right answer in one text."""
        return said_as(self.causes, "none-fits" if self.unlisted else "none")


SINGLE = {
    "T01": "foot",
    "T02": "frame-epoch",
    "T03": "ellipsoid-heights",
    "T04": "ground",
    "T05": "swapped",
    "T06": "rod",
    "T07": "initialization",
    "T08": "mark",
    "T09": "mark-name",
    "T12": "tilt-off",
    "B01": "metres",
    "B02": "geoid-sign",
    "B03": "geoid-twice",
    "B04": "north",
    "B05": "zone",
    "B06": "NAD27",
    "B07": "rod",
    "B08": "initialization",
    "B09": "foot",
    "B10": "bad-shot",
}
"""Plant: the cause to be named."""
WHOLE = frozenset({"T01", "T02", "T03", "T04", "T05", "B01", "B02", "B03", "B04", "B05", "B06"})
"""Plants that act on every shot."""
PAIRS = (
    ("T01", "T02"),
    ("T01", "T03"),
    ("T03", "T04"),
    ("T01", "T06"),
    ("T02", "T06"),
    ("T03", "T06"),
    ("T04", "T06"),
    ("T05", "T06"),
    ("T01", "T08"),
    ("T02", "T09"),
    ("T04", "T08"),
    ("T06", "T08"),
    ("T06", "T07"),
    ("T06", "T12"),
    ("T08", "T09"),
    ("T01", "B08"),
    ("B07", "B10"),
)
UNLISTED = ("U01", "U02", "U03", "U04")

CASES = (
    Case(plants=()),
    *(Case(plants=(plant,), causes=(cause,)) for plant, cause in SINGLE.items()),
    *(Case(plants=pair, causes=tuple(sorted(SINGLE[each] for each in pair))) for pair in PAIRS),
    *(Case(plants=(plant,), unlisted=True) for plant in UNLISTED),
)
"""Everything that is scored."""


def said_as(causes: tuple[str, ...], status: str) -> str:
    """An answer in one text.

    Examples
    --------
    >>> said_as(("foot", "rod"), "named"), said_as((), "none-fits")
    ('foot + rod', 'none-fits')
    """
    return " + ".join(sorted(causes)) or status


def held_against(
    case: Case, before: "pd.DataFrame", after: "pd.DataFrame", layers: Mapping[str, Any]
) -> dict[str, Any]:
    """One diagnosis beside what was planted.

    Parameters
    ----------
    case : Case
    before, after : DataFrame
        Shots of the same job without and with the plants.
    layers : mapping
        With `causes` and `cause_shots`.

    Returns
    -------
    dict
        ``case, said, right, grouped`` (right only as one of a named group), ``group`` (how many causes it
        holds), ``place`` (the very shots), ``off`` (largest error of a number over what is allowed),
        ``within`` (share of numbers within 2 u).
    """
    causes = layers["causes"]
    answer = causes[causes["explanation"] == 1]
    status = str(answer["status"].iloc[0])
    named = tuple(sorted(answer["cause"])) if status in ("named", "group") else ()
    alike = {each for text in answer["alike"] for each in text.split("; ") if each}
    said = said_as(named, status)
    grouped = said != case.right and bool(case.causes) and set(case.causes) <= {*named, *alike}
    grouped = grouped and len(named) == len(case.causes)
    made = {
        "case": case.name, "expected": case.right, "said": said, "right": said == case.right or grouped,
        "grouped": grouped, "group": len(alike | set(named)), "place": None, "off": np.nan, "within": np.nan,
    }  # fmt: skip
    if len(case.plants) != 1 or not case.causes or said != case.right:
        return made
    return made | _place_and_number(case, before, after, layers, answer)


def _place_and_number(
    case: Case, before: "pd.DataFrame", after: "pd.DataFrame", layers: Mapping[str, Any], answer: "pd.DataFrame"
) -> dict[str, Any]:
    pair = before.merge(after, on="shot_key", suffixes=("", "_after"), validate="one_to_one")
    moved = np.column_stack([pair[f"{name}_after"] - pair[name] for name in _AXES])
    acted = set(layers["cause_shots"]["shot_key"])
    if case.plants[0] in WHOLE:
        place = acted == set(pair["shot_key"])
    else:
        place = acted == set(pair.loc[np.abs(np.nan_to_num(moved)).max(axis=1) > 0.0015, "shot_key"])
    mine = pair["shot_key"].isin(acted).to_numpy(bool)
    told = layers["cause_shots"].set_index("shot_key").reindex(pair["shot_key"])
    shift = told[[f"shift_{name}" for name in _AXES]].to_numpy(float)
    error = np.nanmean((shift - moved)[mine], axis=0)
    u = answer[[f"u_{name}" for name in _AXES]].to_numpy(float)[0]
    off = np.maximum(np.abs(error) - SLACK, 0.0) / np.where(u > 0, u, 1.0)
    off = np.where((u > 0) | (np.abs(error) <= SLACK), off, np.inf)
    return {"place": place, "off": float(off.max()) / NUMBER, "within": float(np.mean(off <= WITHIN))}
