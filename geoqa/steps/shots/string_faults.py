"""Strings that do not close, jump across a gap, go back and forth, cross themselves, or are of one shot."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import all_flags, flagged
from geoqa.steps.shots.listings import counted
from geoqa.steps.shots.string_order import alone_flags, order_flags
from geoqa.steps.shots.strings import String, legs, places_of, strings_in


class StringFaults(Step):
    """Flag outlines that nearly close, legs across a place where nothing is designed, and shots in a wrong order.

    ``unclosed``: the last shot of a string comes back to the first, but by less than `share` of its length and more
    than `closed`; closing it is proposed, never done. ``false-jump``: two consecutive shots of a string are of two
    different design lines of the kind, farther apart than `step`; without design, a leg of more than
    `times` the usual one. ``zig-zag``: two neighbours of a string at which it turns back and forth, and would not if
    they were exchanged. ``self-crossing``: legs of one string that cross, that aside. ``single-shot``: the only shot of
    a line, with the line it may belong to. All are proposals; nothing is applied.
    """

    name = "string-faults"
    needs = ("shots.kind", "shots.role")
    wants = ("line_matches", "codes")
    adds = ("flags",)

    closed: Length = Field(Length.parse("0.10 ft"), description="Gap up to which an outline counts as closed")
    share: float = Field(0.05, gt=0, lt=0.5, description="Largest gap of an outline, as a share of its length")
    step: Length = Field(Length.parse("5 ft"), description="Shorter legs are no jumps")
    times: float = Field(3.0, gt=1, description="Without design: leg over the usual leg from which it is a jump")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """String by string."""
        layers = counted(layers)
        shots, unit = layers["shots"], layers.frame.unit
        of_line = _lines(shots, layers["line_matches"]).to_numpy(object) if "line_matches" in layers else None
        places, parts = places_of(shots), []
        for string in strings_in(layers, least=4):
            length = legs(places, string.rows)
            gap = float(legs(places, string.rows[[0, -1]])[0])
            if self.closed.to(unit) < gap < self.share * length.sum():
                parts.append(self._unclosed(shots, string, gap))
            if (jumps := self._jumps(shots, string, length, of_line, unit)) is not None:
                parts.append(jumps)
        parts += [*order_flags(layers, step=self.name), *alone_flags(layers, step=self.name)]
        return {"flags": all_flags(parts)}

    def _unclosed(self, shots: pd.DataFrame, string: String, gap: float) -> pd.DataFrame:
        rows = string.rows[[0, -1]]
        return flagged(
            shots, rows, flag="unclosed", reject=False, step=self.name, subject=string.name, count=len(string.rows),
            number=gap, unit="job",
        )  # fmt: skip

    def _jumps(
        self, shots: pd.DataFrame, string: String, length: np.ndarray, of_line: np.ndarray | None, unit: LengthUnit
    ) -> pd.DataFrame | None:
        far = length > self.step.to(unit)
        if not far.any():
            return None
        lines = np.full(len(string.rows), None) if of_line is None else of_line[string.rows]
        known = pd.notna(lines)
        if known.any():
            before, behind = lines[:-1], lines[1:]
            jump = far & known[:-1] & known[1:] & (before != behind)
            at = np.flatnonzero(jump)
            told: dict[str, Any] = {"variant": "design", "place": [*before[at]] * 2, "other": [*behind[at]] * 2}
        else:
            jump = far & (length > self.times * np.median(length)) & (len(length) >= 5)
            jump[jump] = [not _others_between(shots, string, leg) for leg in np.flatnonzero(jump).tolist()]
            told = {"variant": "usual", "limit": float(np.median(length))}
        places = np.flatnonzero(jump)
        if not len(places):
            return None
        rows = np.concatenate([string.rows[places], string.rows[places + 1]])
        return flagged(
            shots, rows, flag="false-jump", reject=False, step=self.name, subject=string.name,
            number=np.tile(length[places], 2), unit="job", **told,
        )  # fmt: skip


def _others_between(shots: pd.DataFrame, string: String, leg: int) -> bool:
    """Whether shots of the same line ID under another code fill a leg: a question of codes, no jump."""
    first, second = (shots.iloc[string.rows[at]] for at in (leg, leg + 1))
    same = (shots["line_id"].str.strip() == string.line_id) & (shots["code"].str.strip() != string.code)
    for order in ("sequence", "time"):
        if shots[order].isna().all() or first[order] is pd.NA or second[order] is pd.NA:
            continue
        low, high = sorted([first[order], second[order]])
        if bool((same & (shots[order] > low) & (shots[order] < high)).any()):
            return True
    return False


def _lines(shots: pd.DataFrame, matches: pd.DataFrame) -> pd.Series:
    """Design line of each shot, null where none is chosen."""
    chosen = matches[matches["chosen"]].drop_duplicates("shot_key")
    place = rows_of(shots["shot_key"], chosen["shot_key"])
    return taken(chosen["design"], place)
