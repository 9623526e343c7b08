"""What is stated of every shot's uncertainty before anything in the data is asked: parts, lean, and who states them."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from geoqa.model.tables.layer import Layers
from geoqa.steps.precision.budget import GENERAL, LOGGED
from geoqa.steps.precision.lean_budget import of_lean
from geoqa.steps.precision.uncertainty import confidence_factor, declared_of, one_sigma, origin_of

PLUMB_BELOW = 3.0
"""Degrees; a shot that leans less is held with the bubble."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Stated:
    """One plane, h or v; arrays of shape (n,).

    Attributes
    ----------
    random : float64
        This shot alone, as the shots bear it: rescaled by repeats, with the lean.
    own : float64
        The same without the lean.
    scaled : float
        What the part that a log reports was multiplied by, by repeats.
    common : float64
        Shared by a session.
    origin, origin_common : int
        Code of the budget: who states them.
    leans : bool
    """

    random: np.ndarray
    own: np.ndarray
    scaled: float
    common: np.ndarray
    origin: np.ndarray
    origin_common: np.ndarray
    leans: np.ndarray

    @property
    def declared(self) -> np.ndarray:
        """A person states the random part."""
        return self.origin <= GENERAL

    @property
    def split(self) -> np.ndarray:
        """Both parts are halves of one number, for nobody says how they divide."""
        return ~self.declared & (self.origin_common > GENERAL)

    @property
    def whole(self) -> np.ndarray:
        """Both halves together, as stated, without the lean."""
        return np.hypot(self.own / np.where(self.origin == LOGGED, self.scaled, 1.0), self.common)

    def read_with(self, factor: np.ndarray) -> "Stated":
        """The log's own numbers multiplied by a factor, (n,); what is declared stays."""
        by = np.where(self.origin == LOGGED, factor, 1.0)
        own = self.own * by
        lean = np.sqrt(np.maximum(self.random**2 - self.own**2, 0.0))
        common = self.common * np.where(self.origin_common == LOGGED, factor, 1.0)
        return replace(self, own=own, random=np.hypot(own, lean), common=common)


def stated_parts(layers: Layers) -> dict[str, Stated]:
    """What is stated in plan (h) and elevation (v).

    Parameters
    ----------
    layers : Layers
        After the step `uncertainty`.
    """
    shots, precision = layers["shots"], layers["precision"]
    lean = of_lean(shots, layers, plumb_below=PLUMB_BELOW)
    scales = dict(zip(layers["reported_scale"]["axis"], layers["reported_scale"]["applied"], strict=True))
    made = {}
    for plane, added in (("h", lean.horizontal), ("v", lean.vertical)):
        sigma = one_sigma(shots, layers["sources"], plane)
        logged = np.isfinite(sigma) & (sigma > 0)
        origin, origin_common = (
            origin_of(*declared_of(shots, precision, f"u_{plane}_{part}"), logged) for part in ("random", "common")
        )
        random, common = (shots[f"u_{plane}_{part}"].to_numpy(float) for part in ("random", "common"))
        own = np.sqrt(np.maximum(random**2 - added**2, 0.0))
        made[plane] = Stated(
            random=random, own=own, scaled=float(scales.get(plane, 1.0)), common=common, origin=origin,
            origin_common=origin_common, leans=added > 0,
        )  # fmt: skip
    return made


def otherwise_read(stated: Stated, shots: pd.DataFrame, sources: pd.DataFrame, plane: str) -> Stated:
    """The same where a log that does not say what its numbers mean had meant 95 %."""
    return stated.read_with(1.0 / confidence_factor(shots, sources, plane))
