"""All limits and precisions of a job as two tables; no step keeps a limit of its own."""

import math
from typing import TYPE_CHECKING, Any

from geoqa.job.file import Job, Sides, Tolerance
from geoqa.model.columns import conform, empty
from geoqa.model.quantity import LengthUnit

if TYPE_CHECKING:
    import pandas as pd

CONTROL = "control"
"""The kind under which a job writes the limits of its control checks."""


def limits_table(job: Job, unit: LengthUnit) -> "pd.DataFrame":
    """Make the `limits` layer from `[tolerance.*]`, in the frame's unit.

    A kind's `horizontal` is both the limit of the offset from a line and the radius round a point;
    which of them is used depends on what its shots are matched to.
    """
    import pandas as pd

    rows = [row for kind, tolerance in sorted(job.tolerance.items()) for row in _rows(kind, tolerance, job, unit)]
    return conform("limits", pd.DataFrame(rows, columns=_COLUMNS))


_COLUMNS = ["ruleset", "kind", "check", "quantity", "lower", "upper", "rule", "reference", "edition", "verified"]


def _rows(kind: str, tolerance: Tolerance, job: Job, unit: LengthUnit) -> list[tuple[Any, ...]]:
    pairs: list[tuple[str, float, float]] = []
    prefix = "control-" if kind == CONTROL else ""
    if tolerance.horizontal is not None:
        lower, upper = _both(tolerance.horizontal, unit)
        radius = min(-lower, upper)
        if kind != CONTROL:
            pairs.append(("offset", lower, upper))
        pairs.append((prefix + "position", -math.inf, radius))
    if tolerance.vertical is not None:
        pairs.append((prefix + "elevation", *_both(tolerance.vertical, unit)))
    if tolerance.spacing is not None:
        pairs.append(("coverage", -math.inf, tolerance.spacing.to(unit)))
    rule = job.decision.rule
    return [
        ("job", kind, check, "length", lower, upper, rule, tolerance.reference, tolerance.edition, tolerance.verified)
        for check, lower, upper in pairs
    ]


def _both(sides: Sides, unit: LengthUnit) -> tuple[float, float]:
    lower = -sides.lower.to(unit) if sides.lower is not None else -math.inf
    upper = sides.upper.to(unit) if sides.upper is not None else math.inf
    return lower + 0.0, upper


def precision_table(job: Job, unit: LengthUnit) -> "pd.DataFrame":
    """Make the `precision` layer from `[uncertainty.*]`; `default` stands for every kind not named."""
    import pandas as pd

    rows = []
    for kind, known in sorted(job.uncertainty.items()):
        values = (known.horizontal_random, known.vertical_random, known.horizontal_common, known.vertical_common)
        rows.append(
            (
                "*" if kind == "default" else kind,
                *(math.nan if value is None else value.to(unit) for value in values),
                known.reference,
            )
        )
    columns = ["kind", "h_random", "v_random", "h_common", "v_common", "reference"]
    return conform("precision", pd.DataFrame(rows, columns=columns))


def tilt_table(job: Job) -> "pd.DataFrame":
    """Make the `tilt_declared` layer from `[tilt]`: one row, or none."""
    import pandas as pd

    known = job.tilt
    if known is None:
        return empty("tilt_declared")
    row = {"heading": known.heading_deg, "angle": known.angle_deg, "up_to": known.up_to_deg}
    return conform("tilt_declared", pd.DataFrame([row | {"reference": known.reference}]))
