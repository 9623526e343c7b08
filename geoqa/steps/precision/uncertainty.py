"""How uncertain each shot is: two parts, common and random, horizontally and vertically."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.precision import of_file
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.precision.budget import (
    ASSUMED,
    GENERAL,
    LEAN,
    LOGGED,
    OF_FILE,
    OWN,
    STATED,
    TYPICAL,
    Part,
    budget_table,
)
from geoqa.steps.precision.lean_budget import UNTESTED, of_lean
from geoqa.steps.precision.of_marks import of_marks
from geoqa.steps.precision.reported_scale import Scale, scale_table, scales_of
from geoqa.steps.shots.flags import all_flags, flagged
from geoqa.steps.shots.listings import listings_of

_RADIUS_95 = 2.4477468306808166  # 95 % radius of a circular normal scatter, sqrt(-2 ln 0.05), over 1 sigma per axis
_BOTH_SIDES_95 = 1.959963984540054
_PER_AXIS = {"1 sigma": np.sqrt(2.0), "95 %": _RADIUS_95}
_VERTICAL = {"1 sigma": 1.0, "95 %": _BOTH_SIDES_95}


class Uncertainty(Step):
    """Give every shot its standard uncertainties.

    Each of the four numbers is looked for by itself: declared for the file, for the kind, for all kinds,
    reported by the log, and last the typical value of the options.

    A reported horizontal precision is taken as radial: one sigma means the root of the sum of both
    axes' variances, 95 % the radius that holds 95 %. It is brought to one sigma per axis by the
    confidence its source declares; an undeclared one is taken as one sigma, the larger reading. What a
    log reports is then split into equal variances for the common and the random part, because a log
    does not tell them apart; so are the typical values, taken per axis.

    The random half of a reported precision is held against check shots on marks that are independent of each other.
    Where their 95 % band proves it too small, it is taken as many times larger as they say; never smaller, and not by
    more than precisions are told too well. A session that is off as a whole does not enter, for its check shots move
    alike; the common half stays as reported, for a person to declare.

    A shot that leans more than `plumb_below` adds to its random part what the table [tilt] of the job says, or
    what is assumed without one; in plan the worse of both axes, because a lean may point anywhere. Beyond the
    tilt that was tested nothing is claimed: the shot is flagged and not judged. A mark's own uncertainty
    joins in the control checks, and in the budget of check shots.

    Typical values after NGS User Guidelines for Single Base Real Time GNSS Positioning v2.1, p. 42
    (seen in a copy): 1 cm horizontal and 2 cm vertical, one sigma, plus 1 ppm of the distance to the base, which is
    left out where `baseline` is not given.
    """

    name = "uncertainty"
    needs = ("shots.kind", "precision", "sources")
    wants = ("control",)
    gives = ("budget", "reported_scale")
    adds = ("flags",)
    extends = ("shots.u_h_random", "shots.u_v_random", "shots.u_h_common", "shots.u_v_common")

    typical_horizontal: Length = Field(
        Length.parse("1 cm"), description="1 sigma per axis where nothing is declared or reported"
    )
    typical_vertical: Length = Field(
        Length.parse("2 cm"), description="1 sigma in elevation where nothing is declared or reported"
    )
    baseline: Length | None = Field(None, description="Distance to the base; 1 ppm of it joins the typical values")
    rescale: bool = Field(
        True, description="Take a reported precision larger where repeats on marks prove it too small"
    )
    plumb_below: float = Field(3.0, ge=0, lt=20, description="Degrees; a shot that leans less is held with the bubble")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Fill each number from the best that is known, and say where it comes from."""
        shots, precision = layers["shots"], layers["precision"]
        found_lean = of_lean(shots, layers, plumb_below=self.plumb_below)
        lean = {"h": found_lean.horizontal, "v": found_lean.vertical}
        halves = {axis: self._half(shots, layers, axis) for axis in ("h", "v")}
        scales = self._scales(shots, layers, halves)
        columns, parts = {}, []
        for column in (extended.partition(".")[2] for extended in self.extends):
            _, axis, part = column.split("_")
            half, logged = halves[axis]
            if part == "random":
                half = np.where(logged, half * (scales[axis].applied if axis in scales else 1.0), half)
            own, general = declared_of(shots, precision, column)
            found = np.where(np.isnan(own), general, own)
            source = origin_of(own, general, logged)
            source = np.where(np.isfinite(of_its_file(shots, precision, column)), OF_FILE, source)
            found = np.where(np.isnan(found), half, found)
            parts.append(Part(axis, part, found, source))
            columns[column] = np.hypot(found, lean[axis]) if part == "random" else found
        claimed = np.where(found_lean.beyond, np.nan, 1.0)
        parts += [Part(axis, "tilt", lean[axis] * claimed, np.full(len(shots), LEAN)) for axis in ("h", "v")]
        marks = of_marks(layers)
        parts += [Part(axis, "mark", marks.u[axis], np.where(marks.assumed[axis], ASSUMED, STATED)) for axis in "hv"]
        told = {axis: each.sentence() for axis, each in scales.items()}
        budget = budget_table(shots, parts, precision, found_lean.reference, layers["sources"], told)
        rows = np.flatnonzero(found_lean.beyond)
        flags = flagged(
            shots, rows, flag=UNTESTED, reject=True, step=self.name, number=shots["tilt"].iloc[rows],
            limit=found_lean.up_to, unit="deg",
        )  # fmt: skip
        return {
            "shots": pd.DataFrame(columns, index=shots.index),
            "budget": budget,
            "reported_scale": scale_table(scales),
            "flags": all_flags([flags]),
        }

    def _scales(
        self, shots: pd.DataFrame, layers: Layers, halves: dict[str, tuple[np.ndarray, np.ndarray]]
    ) -> dict[str, Scale]:
        if not self.rescale or "control" not in layers or "role" not in shots.columns:
            return {}
        again = listings_of(layers).again
        told = {axis: np.where(logged & ~again, half, np.nan) for axis, (half, logged) in halves.items()}
        return scales_of(shots, layers["control"], told)

    def _half(self, shots: pd.DataFrame, layers: Layers, axis: str) -> tuple[np.ndarray, np.ndarray]:
        """One sigma of either part as the log reports it, else the typical one; and whether the log does."""
        unit = layers.frame.unit
        typical = (self.typical_horizontal if axis == "h" else self.typical_vertical).to(unit)
        typical += 1e-6 * (self.baseline.to(unit) if self.baseline else 0.0)
        sigma = one_sigma(shots, layers["sources"], axis)
        logged = np.isfinite(sigma) & (sigma > 0)
        return np.where(logged, sigma, typical) / np.sqrt(2.0), logged


def declared_of(shots: pd.DataFrame, precision: pd.DataFrame, column: str) -> tuple[np.ndarray, np.ndarray]:
    """What is declared of one part for the file or kind of each shot, and for all kinds; NaN where nothing is.

    Parameters
    ----------
    shots, precision : DataFrame
    column : {"u_h_random", "u_v_random", "u_h_common", "u_v_common"}
    """
    of_kind = rows_of(shots["kind"], precision["kind"])
    of_all = int(rows_of(["*"], precision["kind"])[0])
    declared = np.append(precision[column.removeprefix("u_")].to_numpy(float), np.nan)
    of_files = of_its_file(shots, precision, column)
    own = np.where(np.isnan(of_files), declared[of_kind], of_files)
    return own, np.full(len(shots), declared[of_all])


def of_its_file(shots: pd.DataFrame, precision: pd.DataFrame, column: str) -> np.ndarray:
    """What is declared of one part for the file of each shot; NaN where nothing is."""
    if not precision["kind"].astype("str").str.startswith(of_file("")).any():
        return np.full(len(shots), np.nan)
    declared = np.append(precision[column.removeprefix("u_")].to_numpy(float), np.nan)
    return declared[rows_of(of_file("") + shots["source"].astype("str"), precision["kind"])]


def origin_of(own: np.ndarray, general: np.ndarray, logged: np.ndarray) -> np.ndarray:
    """Where each number comes from: a code of the budget."""
    return np.select([~np.isnan(own), ~np.isnan(general), logged], [OWN, GENERAL, LOGGED], TYPICAL)


def one_sigma(shots: pd.DataFrame, sources: pd.DataFrame, axis: str) -> np.ndarray:
    """What the log reports, brought to one sigma (per axis in plan) by the confidence its source declares."""
    factors = _PER_AXIS if axis == "h" else _VERTICAL
    plain = factors["1 sigma"]
    of_source = np.append(sources["confidence"].map(factors).fillna(plain).to_numpy(float), plain)
    return shots[f"reported_{axis}"].to_numpy(float) / of_source[rows_of(shots["source"], sources["source"])]


def confidence_factor(shots: pd.DataFrame, sources: pd.DataFrame, axis: str) -> np.ndarray:
    """How many times smaller what the log reports is if it means 95 %; 1 where the source states its confidence."""
    factors = _PER_AXIS if axis == "h" else _VERTICAL
    by = np.where(sources["confidence"].isna(), factors["95 %"] / factors["1 sigma"], 1.0)
    return np.append(by, factors["95 %"] / factors["1 sigma"])[rows_of(shots["source"], sources["source"])]
