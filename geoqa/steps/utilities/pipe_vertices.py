"""How each vertex of a pipe is known, and lines that mix what was measured with what was only marked."""

import numpy as np
import pandas as pd

from geoqa.contract.utilities import KNOWN_LEVELS
from geoqa.contract.utility_sentences import levels
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, placed
from geoqa.steps.judging.text_columns import taken
from geoqa.steps.linework.observed import NEEDS, observed
from geoqa.steps.shots.strings import pass_words
from geoqa.steps.utilities.bodies import pipe_kinds
from geoqa.steps.utilities.ends import WANTS as END_WANTS
from geoqa.steps.utilities.ends import pipe_ends
from geoqa.steps.utilities.judged import Found, listed, together
from geoqa.steps.utilities.pipes import network
from geoqa.steps.utilities.tops import WANTS, pipe_shots

AGAIN = ", places shot again"
"""What is put behind the name of a pipe for single places of it that were taken again."""


class PipeVertices(Step):
    """List the vertices of every pipe with how each is known, and split pipes that are known in several ways.

    A code says it in the column `known_by` of the code list: exposed, measure-down, mark or record. A pipe with marks
    or records beside measurements is two lines: nothing is drawn or judged across them.
    """

    name = "pipe-vertices"
    needs = ("limits", *NEEDS)
    wants = tuple(dict.fromkeys(("precision", *END_WANTS, *WANTS)))
    gives = ("pipe_vertices",)
    adds = ("findings", "evidence")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Shots on pipes first, then the ends that were noted."""
        tops = pipe_shots(layers, pipe_kinds(layers))
        shots = observed(layers)
        table = pd.DataFrame(
            {"pipe": _of_passes(tops), "kind": tops["kind"], "measured": tops["measured"], "known_by": tops["known_by"]}
            | {"shot_key": taken(shots["shot"], tops["row"])}
            | {name: shots[name].to_numpy(float)[tops["row"]] for name in ("easting", "northing", "elevation")}
        )
        whole = pd.concat([table, _of_ends(layers)], ignore_index=True)
        whole["sequence"] = whole.groupby(["pipe", "kind", "measured"]).cumcount()
        made = conform("pipe_vertices", whole) if len(whole) else empty("pipe_vertices")
        return {"pipe_vertices": placed("pipe_vertices", made, layers.frame)} | together(_mixed(layers, tops))


def _of_passes(tops: pd.DataFrame) -> pd.Series:
    """Names of lines: a pipe that was shot again is a line for each pass; places taken again are in none."""
    words = [AGAIN if turn < 0 else pass_words(turn) for turn in tops["turn"].tolist()]
    return tops["pipe"] + pd.Series(words, index=tops.index, dtype="str")


def _of_ends(layers: Layers) -> pd.DataFrame:
    """Inverts of both ends of every pipe that was noted."""
    ends, rows = pipe_ends(layers), []
    for pipe in network(layers):
        for at in (each for each in (pipe.upper, pipe.lower) if each >= 0):
            one = ends.iloc[at]
            direct = isinstance(one["invert_shot"], str)
            rows.append(
                {"pipe": pipe.name, "kind": pipe.kind, "measured": True, "easting": one["easting"]}
                | {"northing": one["northing"], "elevation": one["invert"]}
                | {"known_by": "exposed" if direct else "measure-down"}
                | {"shot_key": observed(layers)["shot"].iloc[one["row"]] if one["row"] >= 0 else None}
            )
    return pd.DataFrame(
        rows, columns=["pipe", "kind", "measured", "known_by", "shot_key", "easting", "northing", "elevation"]
    )


def _mixed(layers: Layers, tops: pd.DataFrame) -> Found:
    shots, rows = observed(layers), []
    for (kind, pipe), mine in tops.groupby(["kind", "pipe"], sort=True):
        if mine["measured"].nunique() < 2:
            continue
        first = shots.iloc[int(mine.loc[~mine["measured"], "row"].iloc[0])]
        counts = mine["known_by"].value_counts(sort=False).sort_index()
        rows.append(
            {"kind": kind, "subject": pipe, "source": mine["source"].iloc[0], "why": KNOWN_LEVELS.why("several-levels")}
            | {"label": levels({str(name): int(count) for name, count in counts.items()})}
            | {"measured": float(np.sum(~mine["measured"])), "easting": first["easting"], "northing": first["northing"]}
            | {"keys": shots["shot"].iloc[mine["row"]].tolist(), "shot": first["shot"]}
        )
    return listed(layers, rows, check=KNOWN_LEVELS)
