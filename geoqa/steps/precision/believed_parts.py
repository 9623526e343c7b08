"""The parts of every shot's uncertainty that verdicts take: as stated, and as large as the data show them to be."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.precision.neighbours import neighbour_scale
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.precision.believed import Believed, Seen, believed, evidence
from geoqa.steps.precision.budget import TYPICAL
from geoqa.steps.precision.stated_parts import Stated, otherwise_read, stated_parts
from geoqa.steps.shots.flags import noted


class BelievedParts(Step):
    """Hold the stated parts of the uncertainty against what the data show, and take them larger where they must be.

    A random part is held against the scatter of neighbours along design lines and against repeats on marks; a common
    part against the shifts of sessions at control. What is believed, and why, is one note. No verdict is read. Together
    the parts are never smaller than stated; a log gives one number for both, so that what proves to be random is no
    longer shared.
    """

    name = "believed-parts"
    needs = (
        "precision",
        "sources",
        "reported_scale",
        "shots.kind",
        "shots.role",
        "shots.u_h_random",
        "shots.u_v_random",
        "shots.u_h_common",
        "shots.u_v_common",
    )
    wants = ("line_matches", "control", "session_shifts", "survey_doubt", "cause_shots", "shots.flags", "shots.use",
             "chorded_curves")  # fmt: skip
    gives = ("believed_parts", "otherwise_read")
    adds = ("notes",)

    reach_between: Length = Field(Length.parse("50 ft"), description="Longest distance between neighbours compared")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A row for every shot, if anything is taken larger; a note for either plane."""
        stated = stated_parts(layers)
        seen = evidence(layers, stated, reach=self.reach_between.to(layers.frame.unit))
        found = {plane: believed(stated[plane], seen[plane]) for plane in stated}
        table = _table(layers["shots"], found)
        as_borne = all(np.array_equal(table[name], layers["shots"][name], equal_nan=True) for name in table.columns[1:])
        feature = (layers["shots"]["role"] == "feature").to_numpy(bool)
        facts = [_fact(plane, stated[plane], seen[plane], found[plane], feature) for plane in stated if feature.any()]
        for plane in stated:
            facts += _wide(plane, stated[plane], seen[plane], found[plane])
        return {
            "believed_parts": empty("believed_parts") if as_borne else conform("believed_parts", table),
            "otherwise_read": self._otherwise(layers, stated),
            "notes": noted(self.name, facts),
        }

    def _otherwise(self, layers: Layers, stated: dict[str, Stated]) -> pd.DataFrame:
        """Shots that rest on a log that does not say what its precisions mean, had it meant 95 %."""
        shots, sources = layers["shots"], layers["sources"]
        other = {plane: otherwise_read(each, shots, sources, plane) for plane, each in stated.items()}
        changed = np.any([other[plane].random != stated[plane].random for plane in stated], axis=0)
        if not changed.any():
            return empty("otherwise_read")
        seen = evidence(layers, other, reach=self.reach_between.to(layers.frame.unit))
        table = _table(shots, {plane: believed(other[plane], seen[plane]) for plane in other})
        return conform("otherwise_read", table[changed].reset_index(drop=True))


def _table(shots: pd.DataFrame, found: dict[str, Believed]) -> pd.DataFrame:
    columns = {f"u_{plane}_{part}": getattr(each, part) for plane, each in found.items() for part in _PARTS}
    return pd.DataFrame({"shot_key": shots["shot_key"].to_numpy(dtype=object), **columns})


_PARTS = ("random", "common")
_TYPICAL_PARTS = {(False, False): "", (True, False): "own", (False, True): "session", (True, True): "both"}
"""Which parts are typical values for most shots, for nobody states them."""


def _fact(plane: str, stated: Stated, seen: Seen, found: Believed, feature: np.ndarray) -> dict[str, Any]:
    """Medians of feature shots, now and as stated, and what speaks of them."""
    use = feature & ~stated.leans if (feature & ~stated.leans).any() else feature
    random = float(np.median(stated.random[use]))
    own, common = (bool(np.mean(each[use] == TYPICAL) > 0.5) for each in (stated.origin, stated.origin_common))
    return {
        "note": "believed-parts", "variant": _TYPICAL_PARTS[own, common],
        "place": "plan" if plane == "h" else "elevation", "unit": "job",
        "number": float(np.median(found.random[use])), "limit": random,
        "second": float(np.median(found.common[use])), "third": float(np.median(stated.common[use])),
        "u": found.neighbours.value * random, "fourth": seen.repeats.value * random,
        "count": found.compared, "total": seen.visits, "session": words.listed(list(found.off)) if found.off else "",
    }  # fmt: skip


def _wide(plane: str, stated: Stated, seen: Seen, found: Believed) -> list[dict[str, Any]]:
    """Lines that scatter so widely that theirs is taken by itself: 1 sigma of neighbours there and elsewhere."""
    of, told = seen.line[seen.row], []
    elsewhere = ~np.isin(of, found.wide)
    for number in found.wide:
        there = of == number
        line, session = seen.pass_of(number)
        here, rest = (neighbour_scale(seen.size[part]).value * float(np.median(stated.random[seen.row[part]]))
                      for part in (there, elsewhere))  # fmt: skip
        told.append({
            "note": "wide-lines", "place": "plan" if plane == "h" else "elevation", "unit": "job", "number": here,
            "limit": rest, "count": int(there.sum()), "subject": line,
            "session": session if len(seen.names) > 1 else "",
        })  # fmt: skip
    return told
