"""Rows that equal the design at the resolution they were recorded in, more often than chance explains."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.sentences import reason_of
from geoqa.contract.survey import IDENTICAL
from geoqa.kernels.design.equal_by_chance import expected_equal, poisson_limit, poisson_tail
from geoqa.model import words
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.findings import evidence_of, findings_of
from geoqa.steps.judging.text_columns import numbers_of, rows_of
from geoqa.steps.shots.flags import all_flags, flagged
from geoqa.steps.shots.listings import counted

FLAG = "identical-to-design"
_AXES = ("easting", "northing", "elevation")


@dataclass(frozen=True, eq=False)
class _Recorded:
    """Coordinates of shots in steps of their last recorded digit."""

    values: np.ndarray
    decimals: np.ndarray

    @property
    def comparable(self) -> np.ndarray:
        return self.decimals >= 0


class IdenticalToDesign(Step):
    """Count rows equal to a design vertex or design point in every comparable component.

    Honest work scatters: how many rows would equal the design by chance follows from the recorded
    resolution and the uncertainty. Only a count beyond that is reported, with both numbers; its rows
    are not judged, because they may not be measurements. Whether they were copied is not
    for a program to say. A component is comparable where the text as read is the very number in the
    job's frame, so that its digits are those of the record; rows of a file that was converted are not compared.
    For a row without an uncertainty in plan nobody can say what chance does: it is neither counted nor expected.
    """

    name = "identical-to-design"
    needs = ("shots", "shots.u_h_random", "shots.u_v_random", "shots.u_h_common", "shots.u_v_common")
    wants = ("design_elements", "design_points")
    adds = ("flags", "findings", "evidence")

    tail: float = Field(1e-3, gt=0, lt=0.1, description="A count is reported when chance alone reaches it less often")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Compare, count, and weigh the count against chance."""
        layers = counted(layers)
        shots, recorded = layers["shots"], _recorded(layers["shots"])
        u = _uncertainty(shots)
        known = np.isfinite(u[:, 0])
        rows = np.flatnonzero(_equal(recorded, _vertices(layers)) & known)
        expected = _expected(recorded, u, known)
        if poisson_tail(len(rows), expected) >= self.tail:
            return {"flags": empty("flags"), "findings": empty("findings"), "evidence": empty("evidence")}
        fact = Fact(name=FLAG, number=float(len(rows)), limit=expected, unit="count")
        odds = reason_of(fact, layers.frame.unit.name)
        flags = flagged(
            shots, rows, flag=FLAG, reject=True, step=self.name, number=fact.number, limit=fact.limit, unit=fact.unit
        )
        keys = sorted(shots["shot_key"].iloc[rows])
        first = shots.iloc[[int(rows_of(keys[:1], shots["shot_key"])[0])]]
        limit = poisson_limit(expected, tail=self.tail)
        row = first[["kind", "easting", "northing", "elevation"]].reset_index(drop=True)
        row = row.assign(
            subject="-",
            source="design",
            shot=None,
            label=f"{words.many(len(rows), 'row')} identical to design",
            limit=-1,
            lower=-np.inf,
            upper=float(limit),
            rule="guarded",
            reference=f"chance at the recorded resolution, beyond which fewer than {self.tail:g} of honest jobs fall",
            design=expected,
            measured=float(len(rows)),
            deviation=float(len(rows)),
            u_common=0.0,
            u_random=0.0,
            why=0,
            remedy=f"{odds} at the recorded resolution; please supply the raw log of these shots",
        )
        findings = findings_of(
            row, check=IDENTICAL, limits=layers["limits"] if "limits" in layers else empty("limits"),
            unit=layers.frame.unit.name, keys=[keys],
        )  # fmt: skip
        name = findings["finding"].iloc[0]
        evidence = evidence_of([name] * len(keys), keys, role="identical", layer="shots")
        return {"flags": all_flags([flags]), "findings": findings, "evidence": evidence}


def _recorded(shots: pd.DataFrame) -> _Recorded:
    """Decimals of each source and component, and coordinates in steps of the last one.

    A spreadsheet drops zeros at the end, so the resolution is that of the longest number of the file.
    """
    values, decimals = np.full((len(shots), 3), np.nan), np.full((len(shots), 3), -1)
    source, _ = pd.factorize(shots["source"])
    for column, axis in enumerate(_AXES):
        text = shots[f"raw_{axis}"].str.strip().str.replace(",", ".", regex=False)
        number = numbers_of(text)
        here = shots[axis].to_numpy(float)
        same = np.isfinite(here) & (np.abs(number - here) <= 1e-9 * np.maximum(np.abs(here), 1.0))
        point = text.str.find(".").fillna(-1).to_numpy(int)
        digits = np.where(point >= 0, text.str.len().fillna(0).to_numpy(int) - point - 1, 0)
        longest = np.zeros(source.max() + 1 if len(source) else 0, dtype=int)
        np.maximum.at(longest, source[same], digits[same])
        decimals[same, column] = np.minimum(longest[source[same]], 9)
        values[same, column] = number[same]
    decimals[(decimals[:, :2] < 0).any(axis=1)] = -1  # without both plan components nothing is compared
    return _Recorded(values, decimals)


def _vertices(layers: Layers) -> np.ndarray:
    """Every place the design gives coordinates to; elevation NaN where it gives none."""
    parts = [np.zeros((0, 3))]
    if "design_elements" in layers:
        elements = layers["design_elements"]
        parts += [elements[[f"{end}_{axis}" for axis in _AXES]].to_numpy(float) for end in ("start", "end")]
    if "design_points" in layers:
        parts.append(layers["design_points"][list(_AXES)].to_numpy(float))
    return pd.DataFrame(np.concatenate(parts)).drop_duplicates().to_numpy()


def _equal(recorded: _Recorded, vertices: np.ndarray) -> np.ndarray:
    """Rows whose comparable components are all those of one place of the design."""
    found = np.zeros(len(recorded.values), dtype=bool)
    for decimals in pd.DataFrame(recorded.decimals[recorded.comparable[:, 0]]).drop_duplicates().to_numpy():
        rows = np.flatnonzero((recorded.decimals == decimals).all(axis=1))
        has_elevation = np.isfinite(vertices[:, 2])
        for places, count in ((vertices[has_elevation], 3), (vertices[~has_elevation], 2)):
            compared = [axis for axis in range(count) if decimals[axis] >= 0]
            scale = 10.0 ** decimals[compared]
            written = np.rint(recorded.values[rows][:, compared] * scale)
            designed = np.rint(places[:, compared] * scale)
            found[rows] |= _among(written, designed)
    return found


def _among(rows: np.ndarray, designed: np.ndarray) -> np.ndarray:
    """Which rows are whole rows of `designed`."""
    found = np.zeros(len(rows), dtype=bool)
    if not len(designed):
        return found
    # most rows differ in the first component already
    near = np.flatnonzero(np.isin(rows[:, 0], designed[:, 0]))
    rows = rows[near]
    designed = designed[np.isin(designed[:, 0], rows[:, 0])]
    _, number = np.unique(np.concatenate([designed, rows]), axis=0, return_inverse=True)
    number = number.ravel()
    found[near] = np.isin(number[len(designed) :], number[: len(designed)])
    return found


def _uncertainty(shots: pd.DataFrame) -> np.ndarray:
    """1 sigma of each component, (n, 3)."""
    u = {
        axis: np.asarray(np.hypot(shots[f"u_{axis}_random"], shots[f"u_{axis}_common"]), dtype=float)
        for axis in ("h", "v")
    }
    return np.column_stack([u["h"], u["h"], u["v"]])


def _expected(recorded: _Recorded, u: np.ndarray, measured: np.ndarray) -> float:
    """Rows that chance lets equal the design, of those whose plan uncertainty is known.

    An elevation without one counts as agreeing for sure, which makes the number larger, never smaller.
    """
    step = np.where(recorded.comparable & measured[:, None], 10.0 ** -recorded.decimals.astype(float), np.nan)
    return expected_equal(step, u)
