"""How uncertain each shot is: two parts, common and random, horizontally and vertically."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.steps.text import rows_of, taken

_RADIUS_95 = 2.4477468306808166  # 95 % radius of a circular normal scatter, sqrt(-2 ln 0.05), over 1 sigma per axis
_BOTH_SIDES_95 = 1.959963984540054
_PER_AXIS = {"1 sigma": np.sqrt(2.0), "95 %": _RADIUS_95}
_VERTICAL = {"1 sigma": 1.0, "95 %": _BOTH_SIDES_95}


class Uncertainty(Step):
    """Give every shot its standard uncertainties.

    Each of the four numbers is looked for by itself: declared for the kind, declared for all kinds,
    reported by the log, and last the typical value of the options.

    A reported horizontal precision is taken as radial: one sigma means the root of the sum of both
    axes' variances, 95 % the radius that holds 95 %. It is brought to one sigma per axis by the
    confidence its source declares; an undeclared one is taken as one sigma, the larger reading. What a
    log reports is then split into equal variances for the common and the random part, because a log
    does not tell them apart; so are the typical values, taken per axis. The growth with distance
    from the base (1 ppm) is left out where the distance is not known.

    Typical values after NGS User Guidelines for Single Base Real Time GNSS Positioning v2.1, p. 42
    (seen in a copy): 1 cm horizontal and 2 cm vertical, one sigma, plus 1 ppm.
    """

    name = "uncertainty"
    needs = ("shots.kind", "precision", "sources")
    extends = ("shots.u_h_random", "shots.u_v_random", "shots.u_h_common", "shots.u_v_common")

    typical_horizontal: Length = Field(
        Length.parse("1 cm"), description="1 sigma per axis where nothing is declared or reported"
    )
    typical_vertical: Length = Field(
        Length.parse("2 cm"), description="1 sigma in elevation where nothing is declared or reported"
    )

    def run(self, layers: Any) -> dict[str, Any]:
        """Fill each number from the best that is known."""
        shots, precision, unit = layers["shots"], layers["precision"], layers.frame.unit
        source = rows_of(shots["source"], layers["sources"]["source"])
        confidence = taken(layers["sources"]["confidence"], source)
        half = {
            "h": _split(shots["reported_h"], confidence, _PER_AXIS, self.typical_horizontal.to(unit)),
            "v": _split(shots["reported_v"], confidence, _VERTICAL, self.typical_vertical.to(unit)),
        }
        of_kind = rows_of(shots["kind"], precision["kind"])
        of_all = rows_of(["*"], precision["kind"])[0]
        made = {}
        for column in (extended.partition(".")[2] for extended in self.extends):
            _, axis, part = column.split("_")
            declared = precision[f"{axis}_{part}"].to_numpy(float)
            own = np.where(of_kind >= 0, declared[of_kind], np.nan) if len(declared) else np.full(len(shots), np.nan)
            general = declared[of_all] if of_all >= 0 else np.nan
            found = np.where(np.isnan(own), general, own)
            made[column] = np.where(np.isnan(found), half[axis], found)
        return {"shots": pd.DataFrame(made, index=shots.index)}


def one_sigma(shots: pd.DataFrame, sources: pd.DataFrame, axis: str) -> np.ndarray:
    """What the log reports, brought to one sigma (per axis in plan) by the confidence its source declares."""
    confidence = taken(sources["confidence"], rows_of(shots["source"], sources["source"]))
    factors = _PER_AXIS if axis == "h" else _VERTICAL
    return shots[f"reported_{axis}"].to_numpy(float) / confidence.map(factors).fillna(factors["1 sigma"]).to_numpy(
        float
    )


def _split(reported: pd.Series, confidence: pd.Series, factors: dict[str, float], typical: float) -> np.ndarray:
    """One sigma of either part."""
    factor = confidence.map(factors).fillna(factors["1 sigma"]).to_numpy(float)
    sigma = reported.to_numpy(float) / factor
    return np.where(np.isfinite(sigma) & (sigma > 0), sigma, typical) / np.sqrt(2.0)
