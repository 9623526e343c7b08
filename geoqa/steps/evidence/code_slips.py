"""Codes that the geometry contradicts: proposed, never applied."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.design.station import nearest
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.text_columns import codes_of, rows_of
from geoqa.steps.shots.flags import all_flags, as_columns, flagged
from geoqa.steps.shots.listings import counted
from geoqa.steps.shots.strings import legs, places_of

MAJORITY = 0.6
"""Share of a string that must carry one code before the others are called slips."""
FEWEST = 5
SEVERAL = 3
"""Shots of one string that lie on one other kind, before lines closer than `far` speak: one may be badly built."""
BETTER = 3.0
"""Times nearer the other line, in plan and elevation together, than the line of its own kind."""


class CodeSlips(Step):
    """Flag shots whose code fits neither their line ID nor the design, and propose the code that does.

    Three kinds of evidence. By design: the shot lies on a line of another kind, within `close` in plan and
    elevation, and farther than `far` from every line of its own. By lines close together, as the top and the flow line
    of a curb: several shots of a string miss their own kind by `apart` and more in plan and in elevation, and all lie
    on one other kind. By string: most shots of its line ID carry another code, and the shot lies on their line.
    A proposal is never applied; the shot is not judged until its code is settled, because its deviation would be that
    of another feature.
    """

    name = "code-slips"
    needs = ("shots.kind", "shots.role", "codes")
    wants = ("design_elements", "design_lines")
    adds = ("flags",)

    close: Length = Field(Length.parse("0.40 ft"), description="Farthest from the line it truly is of")
    far: Length = Field(Length.parse("1.0 ft"), description="Nearest to a line of its own kind")
    apart: Length = Field(
        Length.parse("0.20 ft"),
        description="Least that several shots on a line nearer than that miss their own by, in plan and in elevation",
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Design first; the string speaks for shots that the design says nothing about."""
        layers = counted(layers)
        shots, codes, unit = layers["shots"], layers["codes"], layers.frame.unit
        told = self._by_string(shots, codes, unit)
        if "design_elements" in layers and len(layers["design_elements"]):
            told |= self._by_design(layers, shots, codes, unit)
        rows = sorted(told)
        return {
            "flags": all_flags(
                [
                    flagged(
                        shots,
                        rows,
                        flag="code-slip",
                        reject=True,
                        step=self.name,
                        **as_columns([told[row] for row in rows]),
                    )
                ]
            )
        }

    def _by_design(
        self, layers: Layers, shots: pd.DataFrame, codes: pd.DataFrame, unit: LengthUnit
    ) -> dict[int, dict[str, Any]]:
        design = alignments(layers)
        kinds = sorted(set(design.kinds) & set(codes.loc[codes["role"] == "feature", "kind"]))
        group = rows_of(shots["kind"], kinds)
        rows = np.flatnonzero((group >= 0) & (shots["role"] == "feature") & shots["easting"].notna())
        if not len(rows):
            return {}
        number_of, reach = rows_of(kinds, design.groups), 4 * self.far.to(unit)

        def measured(at: np.ndarray, of: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            found = nearest(
                shots[["easting", "northing"]].to_numpy(float)[at], design.elements, reach=reach,
                index=design.index(reach, by_kind=True), point_group=number_of[of],
            )  # fmt: skip
            level = shots["elevation"].to_numpy(float)[at]
            return np.where(found.element >= 0, found.distance, np.inf), level - found.elevation

        own, missed = measured(rows, group[rows])
        far, apart = own > self.far.to(unit), self.apart.to(unit)
        # most shots are near a line of their own kind; only the others are held against every kind
        asked = far | ((own >= apart) & (np.abs(missed) >= apart))
        rows, own, missed, far = rows[asked], own[asked], missed[asked], far[asked]
        if not len(rows):
            return {}
        pairs = [measured(rows, np.full(len(rows), number)) for number in range(len(kinds))]
        away, rise = np.array([pair[0] for pair in pairs]), np.array([pair[1] for pair in pairs])
        near = np.where(away <= self.close.to(unit), away, np.inf)
        near[(np.abs(rise) > self.close.to(unit))] = np.inf
        together = _alike(shots.iloc[rows], group[rows], own, missed, near, rise)
        best = np.where(far, near.argmin(axis=0), together.argmax(axis=0))
        best_near, best_rise, together = (each[best, np.arange(len(rows))] for each in (near, rise, together))
        slips = np.flatnonzero(np.isfinite(best_near) & (best != group[rows]) & (far | (together > 0)))
        return {
            int(rows[each]): _beside_other(shots.iloc[rows[each]], codes, kinds[best[each]], best_near[each],
                                           best_rise[each], own[each])
            | ({} if far[each] else {"variant": "beside", "third": missed[each], "count": int(together[each])})
            for each in slips
        }  # fmt: skip

    def _by_string(self, shots: pd.DataFrame, codes: pd.DataFrame, unit: LengthUnit) -> dict[int, dict[str, Any]]:
        lines = set(codes.loc[codes["geometry"] == "line", "code"])
        usable = shots["line_id"].notna() & shots["code"].str.strip().isin(lines) & shots["easting"].notna()
        rows = np.flatnonzero(usable)
        if not len(rows):
            return {}
        group, names = codes_of(shots["source"].iloc[rows], shots["line_id"].iloc[rows].str.strip())
        code, codes_there = pd.factorize(shots["code"].str.strip())
        by_line = np.split(rows[np.argsort(group, kind="stable")], np.cumsum(np.bincount(group))[:-1])
        told = {}
        for (_, line_id), members in zip(names, by_line, strict=True):
            if (code[members] == code[members[0]]).all():
                continue
            counts = pd.Series(codes_there[code[members]]).value_counts()
            if counts.iloc[0] < max(FEWEST, MAJORITY * len(members)):
                continue
            usual = str(counts.index[0])
            for row in members[(shots["code"].iloc[members].str.strip() != usual).to_numpy()].tolist():
                kept = members[(shots["code"].iloc[members].str.strip() == usual).to_numpy()]
                off = _off_line(shots, row, kept)
                if off <= self.close.to(unit):
                    told[row] = {
                        "variant": "string", "count": int(counts.iloc[0]), "total": len(members), "subject": line_id,
                        "written": shots["code"].iloc[row], "proposal": usual, "number": off, "unit": "job",
                    }  # fmt: skip
        return told


def _off_line(shots: pd.DataFrame, row: int, kept: np.ndarray) -> float:
    """Distance of a shot from the chain of the others, in the order of their sequence or time."""
    import shapely

    ordered = kept[np.argsort(shots["sequence"].iloc[kept].fillna(0).to_numpy(np.int64), kind="stable")]
    if shots["sequence"].iloc[kept].isna().any():
        ordered = kept[np.argsort(shots["time"].iloc[kept].astype("int64").to_numpy(), kind="stable")]
    if len(ordered) < 2 or not legs(places_of(shots), ordered).any():
        return np.inf
    place = shots[["easting", "northing"]].to_numpy(float)
    origin = place[row]
    return float(shapely.LineString(place[ordered] - origin).distance(shapely.Point(0.0, 0.0)))


def _alike(
    shots: pd.DataFrame, kind: np.ndarray, own: np.ndarray, missed: np.ndarray, near: np.ndarray, rise: np.ndarray
) -> np.ndarray:
    """How many shots of its string lie much nearer a kind than their own, (kind, shot); 0 where too few or it does not.

    Two kinds may share a line over a stretch, as the gutter and a driveway do: each is counted by itself.
    """
    better = (near < own) & (np.abs(rise) < np.abs(missed)) & (BETTER * np.hypot(near, rise) <= np.hypot(own, missed))
    better[kind, np.arange(len(kind))] = False
    line_id = shots["line_id"].fillna("").str.strip()
    string, _ = codes_of(shots["source"], line_id, shots["code"].str.strip())
    counts: np.ndarray = np.array([np.bincount(string[of], minlength=len(string))[string] for of in better])
    return np.where(better & (counts >= SEVERAL), counts, 0)


def _beside_other(
    shot: pd.Series, codes: pd.DataFrame, kind: str, near: float, rise: float, own: float
) -> dict[str, Any]:
    """A shot on the line of another kind than its code says, and far from those of its own."""
    return {
        "variant": "design", "written": shot["code"], "proposal": str(codes.loc[codes["kind"] == kind, "code"].iloc[0]),
        "number": near, "unit": "job", "second": rise, "limit": own if np.isfinite(own) else np.nan,
        "subject": shot["kind"], "other": kind,
    }  # fmt: skip
