"""All limits and precisions of a job as two tables; no step keeps a limit of its own."""

import math
from typing import TYPE_CHECKING

from geoqa.contract.checks import every_check, tolerance_keys
from geoqa.job.document.file import Job
from geoqa.job.document.tolerance import Sides, Tolerance, ruled, size
from geoqa.model.check import CONTROL, Check
from geoqa.model.quantity import Length, LengthUnit, Slope
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.precision import of_file

if TYPE_CHECKING:
    import pandas as pd


def limits_table(job: Job, unit: LengthUnit) -> "pd.DataFrame":
    """Make the `limits` layer from `[tolerance.*]`, in the frame's unit.

    Which limits a table gives is said by the checks that read its keys. A kind's `horizontal` is both the limit of
    the offset from a line and the radius round a point; which of them is used depends on what its shots are matched to.
    """
    import pandas as pd

    rows = []
    for kind, tolerance in sorted(job.tolerance.items()):
        stated = dict.fromkeys(tolerance_keys(), tolerance.reference)
        sets = [("job", tolerance, stated, tolerance.edition, tolerance.verified)]
        sets += [(rules.name, limits, references, rules.edition, rules.verified)
                 for rules, limits, references in ruled(kind, tolerance, job.own_rules)]  # fmt: skip
        for name, limits, references, edition, verified in sets:
            for check in every_check().values():
                if check.tolerance is not None and _reads(check, kind, limits):
                    bounds = _bounds(check, limits, unit)
                    rows.append((name, kind, check.name, check.quantity, *bounds, job.decision.rule,
                                 references[check.tolerance.name], edition, verified))  # fmt: skip
    return conform("limits", pd.DataFrame(rows, columns=_COLUMNS))


_COLUMNS = ["ruleset", "kind", "check", "quantity", "lower", "upper", "rule", "reference", "edition", "verified"]


def _reads(check: Check, kind: str, tolerance: Tolerance) -> bool:
    """Whether a check is judged under this kind, and the kind's table gives it a limit."""
    if check.tolerance is None or (kind != check.of_kind if check.of_kind else kind == CONTROL):
        return False
    return tolerance.limit(check.tolerance.name) is not None


def _bounds(check: Check, tolerance: Tolerance, unit: LengthUnit) -> tuple[float, float]:
    """Lower and upper limit on the deviation."""
    key = check.tolerance
    limit = tolerance.limit(key.name) if key is not None else None
    sides = limit if isinstance(limit, Sides) else Sides(limit, limit)
    lower, upper = (math.inf if side is None else size(side, unit) for side in (sides.lower, sides.upper))
    if check.bound == "radius":
        return -math.inf, min(lower, upper)
    if check.bound == "most":
        return -math.inf, upper
    if check.bound == "least":
        return lower, math.inf
    if check.bound == "range":
        return (-math.inf if sides.lower is None else lower), upper
    return 0.0 - lower, upper


def precision_table(job: Job, unit: LengthUnit) -> "pd.DataFrame":
    """Make the `precision` layer from `[uncertainty.*]`, `default` for every kind not named, and what files declare."""
    import pandas as pd

    rows = []
    of_files = {of_file(each.source): each.uncertainty for each in job.shots if each.uncertainty is not None}
    for kind, known in sorted((job.uncertainty | of_files).items()):
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


def reading_rules_table(job: Job) -> "pd.DataFrame":
    """Make the `reading_rules` layer from `[[readings]]`: of which check each file is, and how good."""
    import pandas as pd

    rows = [(each.source, each.reference, each.what, _plain_size(each.u)) for each in job.readings]
    return conform("reading_rules", pd.DataFrame(rows, columns=["source", "reference", "what", "u"]))


def _plain_size(amount: Length | Slope) -> float:
    return float(amount.metres) if isinstance(amount, Length) else float(amount)


def level_rules_table(job: Job, unit: LengthUnit) -> "pd.DataFrame":
    """Make the `level_rules` layer from `[[levels]]`: what each run may miss, and how well it was levelled."""
    import pandas as pd

    rows = []
    for run in job.levels:
        closure = math.nan if run.closure is None else run.closure.to(unit)
        sigma = closure / _BOTH_SIDES_95 if run.sigma is None else run.sigma.to(unit)
        setup = math.nan if run.setup_length is None else run.setup_length.to(unit)
        per = _PER[run.per] / unit.metres_float
        rows.append((run.source, run.reference, closure, sigma, per, setup))
    columns = ["source", "reference", "closure", "sigma", "per", "setup_length"]
    return conform("level_rules", pd.DataFrame(rows, columns=columns))


_BOTH_SIDES_95 = 1.959963984540054
_PER = {"mile": 1609.344, "km": 1000.0}
"""Metres: the international mile."""
