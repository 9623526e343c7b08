"""As-built lines as a whole beside their design lines: shares, distances, and what all shots of a line share."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.linework import LINE_SHARE
from geoqa.kernels.linework.comparison import area_between, frechet, hausdorff, inside_length, past_ends
from geoqa.model import words
from geoqa.model.reasons import OF_THE_DESIGN, WHY
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, with_limits
from geoqa.steps.judging.remedies import NOTHING_AGAIN
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.linework.beside_design import FARTHER, Beside, beside_design
from geoqa.steps.linework.line_means import line_means, numbers_of_lines, session_means, shift_facts
from geoqa.steps.linework.observed import NEEDS, WANTS
from geoqa.steps.shots.flags import noted

_GUARDED = 1.6448536269514722
"""The decision rule calls a number beyond a limit by so many u."""
_WIDTHS = 8
_MOST_LEFT_OUT = 0.2
_HELD = ("open-blunder", "survey-doubt", "identical-to-design", *OF_THE_DESIGN)


class LineComparison(Step):
    """Compare each as-built line with the design line that its shots lie along.

    The share is that of its length within the band of the horizontal tolerance, with flat caps; it is judged where the
    job states `line_share`. Hausdorff and Fréchet distance are taken between the stretches beside each other, cut to
    short pieces. Where the mean of a line's offsets, or elevations, is proven not to be 0 (all lines and both axes
    counted together), reaches `telling` of its limit, and no run says it already, it is told once, with whether the
    rest is chance. What all lines of a session share is told once for the session, unless its check shots tell it.
    """

    name = "line-comparison"
    needs = ("asbuilt_lines", "line_matches", "design_lines", "design_elements", "limits", *NEEDS)
    wants = (
        *WANTS,
        "older_designs",
        "apart_shots",
        "loose_sessions",
        "loose_shots",
        "runs",
        "run_members",
        "crew_precision",
        "asbuilt_elements",
        "asbuilt_members",
    )
    gives = ("line_comparison", "session_means")
    adds = ("findings", "evidence", "notes")

    telling: float = Field(0.5, gt=0, description="Share of its limit from which what a whole line shares is told")
    fewest: int = Field(6, ge=3, description="Fewest shots of a line, or of a session, of which it is told")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Line by line; the means of all lines at once."""
        stretches = list(beside_design(layers))
        lines = layers["design_lines"]
        kinds = dict(zip(lines["line"], lines["kind"].map(str), strict=True))
        bands = {kind: _band(layers["limits"], kind) for kind in {kinds[pair.design] for pair in stretches}}
        rows = [self._compared(pair, kinds[pair.design], bands[kinds[pair.design]]) for pair in stretches]
        table = pd.DataFrame([row for row, _ in rows])
        if not len(table):
            return {name: empty(name) for name in (*self.gives, *self.adds)}
        numbers = numbers_of_lines(layers, stretches)
        means = line_means(stretches, numbers)
        table = pd.concat([table, means.drop(columns=["line", "design"])], axis=1)
        sessions = session_means(layers, numbers)
        facts = shift_facts(layers, table, sessions, telling=self.telling, fewest=self.fewest)
        findings, evidence = self._judged(layers, stretches, table, [pair for _, pair in rows])
        return {
            "line_comparison": conform("line_comparison", table),
            "session_means": conform("session_means", sessions),
            "findings": findings,
            "evidence": evidence,
            "notes": noted(self.name, facts),
        }

    def _compared(self, pair: Beside, kind: str, band: tuple[float, float]) -> tuple[dict[str, Any], tuple[str, ...]]:
        legs = np.hypot(*np.diff(pair.built, axis=0).T)
        beyond = float(past_ends(pair.built, pair.reference).sum())
        beside = max(float(legs.sum()) - beyond, 0.0)
        left, right = band
        row: dict[str, Any] = {
            "line": pair.line, "design": pair.design, "kind": kind, "shots": len(pair.rows),
            "length": float(legs.sum()), "beyond": beyond, "station": pair.station, "station_end": pair.station_end,
            "left": left, "right": right,
            "covered": (pair.station_end - pair.station) / pair.length if pair.length > 0 else np.nan,
            "hausdorff": hausdorff(pair.built, pair.stretch), "frechet": frechet(pair.built, pair.stretch),
            "area": area_between(pair.built, pair.stretch),
        }  # fmt: skip
        wide = _rounded_up(FARTHER * pair.u)
        known = np.isfinite(left + right) and beside > 0
        for name, more, past in (("share", 0.0, None), ("share_low", -1.0, 0.0), ("share_high", 1.0, 1.0)):
            if known:
                own = inside_length(pair.built, pair.reference, left + more * wide, right + more * wide)
                inside = (own if past is None else np.where(pair.corner, past * legs, own)).sum()
            # the last digit of a length must not make a whole line a part of one
            row[name] = (1.0 if inside >= beside * (1 - 1e-9) else float(inside) / beside) if known else np.nan
        why = set(pair.rows["why"].tolist())
        return row, tuple(name for name in _HELD if WHY[name] in why)

    def _judged(
        self, layers: Layers, stretches: list[Beside], table: pd.DataFrame, held: list[tuple[str, ...]]
    ) -> tuple[pd.DataFrame, pd.DataFrame]:
        limits, lines = layers["limits"], layers["asbuilt_lines"]
        place = rows_of(table["line"], lines["line"])
        left_out = lines["left_out"].to_numpy(float)[place]
        whole = lines.groupby(["code", "line_id"])["shots"].transform("sum").to_numpy(float)[place]
        few = left_out > _MOST_LEFT_OUT * (left_out + whole)
        no_band = table["share"].isna().to_numpy(bool)
        own = np.select([no_band, few], [LINE_SHARE.why("no-band"), LINE_SHARE.why("shots-left-out")], 0)
        why = [
            int(code) if code or not names else LINE_SHARE.why(names[0]) for code, names in zip(own, held, strict=True)
        ]
        far = [pair.rows.iloc[int(np.nanargmax(np.abs(pair.rows["offset"].to_numpy(float))))] for pair in stretches]
        design = layers["design_lines"]
        rows = pd.DataFrame(
            {
                "number": np.arange(len(table)), "kind": table["kind"], "subject": table["design"],
                "source": taken(design["source"], rows_of(table["design"], design["line"])),
                "shot": taken([], np.full(len(table), -1)), "why": why,
                "label": [f"line {pair.line}, {words.many(len(pair.rows), 'shot')}" for pair in stretches],
                "station": table["station"], "station_end": table["station_end"],
                "easting": [float(one["easting"]) for one in far], "northing": [float(one["northing"]) for one in far],
                "measured": table["share"], "design": 0.0, "deviation": table["share"],
                "low": table["share_low"], "high": table["share_high"],
            }
        )  # fmt: skip
        rows = asked(with_limits(rows, limits, check=LINE_SHARE))
        if not len(rows):
            return empty("findings"), empty("evidence")
        limit = limits["lower"].to_numpy(float)[rows["limit"].to_numpy()]
        share = rows["deviation"].to_numpy(float)
        # the side that the verdict asks for: too little as measured is held against the share with all shots farther in
        apart = np.where(share < limit, rows["high"] - share, share - rows["low"])
        rows["u_random"], rows["u_common"] = np.zeros(len(rows)), np.maximum(apart, 0.0) / _GUARDED
        keys = [stretches[number].rows["shot"].tolist() for number in rows["number"]]
        findings = findings_of(
            rows.drop(columns=["number", "low", "high"]), check=LINE_SHARE, limits=limits, unit=layers.frame.unit.name,
            keys=keys, again=NOTHING_AGAIN,
        )  # fmt: skip
        names = np.repeat(findings["finding"].to_numpy(object), [len(each) for each in keys])
        flat = [key for each in keys for key in each]
        return findings, evidence_of(list(names), flat, role="member", layer="shots")


def _band(limits: pd.DataFrame, kind: str) -> tuple[float, float]:
    """How far the narrowest horizontal tolerance of a kind reaches to the left and right; NaN for none."""
    mine = limits[(limits["check"] == "offset") & (limits["kind"] == kind)]
    if not len(mine):
        return np.nan, np.nan
    return float(-mine["lower"].max()), float(mine["upper"].min())


def _rounded_up(widths: np.ndarray) -> np.ndarray:
    """Widths, each as the next wider one of a few: a band is made for each that differs."""
    levels = np.linspace(widths.min(), widths.max(), _WIDTHS) if len(widths) else widths
    return np.asarray(levels[np.minimum(np.searchsorted(levels, widths), len(levels) - 1)])
