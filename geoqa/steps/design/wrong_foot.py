"""A design file read in the one foot and written in the other: its verdicts wait, and one finding names the unit."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.design_sentences import fits_in, wrong_foot_remedy
from geoqa.contract.survey import OTHER_FOOT
from geoqa.contract.work import ELEVATION, OFFSET, POSITION
from geoqa.model.tables.columns import conform
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.layer import Layers
from geoqa.model.words import listed, many
from geoqa.steps.causes.older_lines import nearer_limit
from geoqa.steps.causes.other_foot import OtherFoot, other_foot, units_read
from geoqa.steps.design.deviations import at_points
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, with_limits
from geoqa.steps.judging.text_columns import rows_of, taken

NAMES = 6
"""Lines and points that are named."""
_READ = ["source", "subject", "shot", "easting", "northing", "deviation", "azimuth", "limit", "u_common", "u_random"]


def wrong_feet(layers: Layers, offsets: pd.DataFrame) -> list[OtherFoot]:
    """Design files that fit all shots in the other foot, as `other_foot`.

    Parameters
    ----------
    layers : Layers
    offsets : DataFrame
        From lines: numbers that can be judged, with `azimuth` and the nearer `limit`.
    """
    read = units_read(layers)
    if not read:
        return []
    parts = [offsets[_READ].assign(radial=False)]
    if "point_matches" in layers and "design_points" in layers:
        rows = at_points(layers, POSITION.name)
        rows = rows[(rows["why"] == 0) & rows[["deviation", "u_common", "u_random"]].notna().all(axis=1)]
        rows = asked(with_limits(rows.reset_index(drop=True), layers["limits"], check=POSITION))
        rows = nearer_limit(rows, layers["limits"])
        chosen = layers["point_matches"]
        chosen = chosen[chosen["chosen"]].drop_duplicates("shot_key")
        azimuth = np.append(chosen["azimuth"].to_numpy(float), np.nan)[rows_of(rows["shot"], chosen["shot_key"])]
        parts.append(rows.assign(azimuth=azimuth)[_READ].assign(radial=True))
    return other_foot(pd.concat(parts, ignore_index=True), read, layers.frame.unit)


def held_in_foot(layers: Layers, found: OtherFoot) -> pd.DataFrame:
    """Rows of `older_designs`: all lines and points of the file, for every check.

    An elevation is compared at a station that is off too: what that is worth is the uncertainty of its shift.
    """
    base = {"source": found.file, "reason": "other-foot", "u": 0.0}
    plan = {"shift_easting": found.moved[0], "shift_northing": found.moved[1]}
    lines = layers["design_lines"]
    steepest = _steepest(layers["design_elements"])
    made: list[dict[str, Any]] = []
    for line in lines.loc[lines["source"] == found.file, "line"].tolist():
        u = float(np.hypot(*found.moved)) * steepest.get(line, 0.0)
        made += [base | {"line": line, "check": OFFSET.name} | plan]
        made += [base | {"line": line, "check": ELEVATION.name, "shift": 0.0, "u": u}]
    if "design_points" in layers:
        points = layers["design_points"]
        for point in points.loc[points["source"] == found.file, "point"].tolist():
            made += [base | {"line": point, "check": POSITION.name} | plan]
            made += [base | {"line": point, "check": ELEVATION.name, "shift": 0.0}]
    return conform("older_designs", pd.DataFrame(made))


def _steepest(elements: pd.DataFrame) -> dict[str, float]:
    """Steepest grade of each line, without a sign."""
    ends = (elements[f"end_{axis}"].to_numpy(float) - elements[f"start_{axis}"].to_numpy(float)
            for axis in ("easting", "northing", "elevation"))  # fmt: skip
    east, north, up = ends
    run = np.hypot(east, north)
    grade = np.abs(np.divide(up, run, out=np.zeros(len(run)), where=run > 0))
    steepest = pd.Series(np.nan_to_num(grade)).groupby(elements["line"].to_numpy()).max()
    return {str(line): float(most) for line, most in steepest.items()}


def fact_of_foot(layers: Layers, found: OtherFoot) -> dict[str, Any]:
    """The matter in numbers."""
    names = list(found.lines)
    more = f" and {many(len(names) - NAMES, 'more')}" if len(names) > NAMES else ""
    sources = layers["sources"]
    path = dict(zip(sources["source"], sources["path"], strict=True)).get(found.file) or found.file
    same = sources.loc[(sources["path"] == path) & (sources["role"] != "design"), "role"].dropna().unique()
    checked = bool((layers["shots"]["role"] == "check").any())
    return {
        "note": "other-foot", "variant": "checked" if checked else "no check", "subject": str(path),
        "number": found.as_read, "second": found.as_other, "unit": "job", "count": found.shots,
        "place": (", ".join(names[:NAMES]) if more else listed(names)) + more,
        "written": found.read, "other": found.other,
        "session": listed([f"[{role}]" for role in sorted(same)]) if len(same) else None,
    }  # fmt: skip


def finding_of_foot(layers: Layers, fact: dict[str, Any], rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The one matter that the numbers against the file make, and their shots."""
    keys, first, count = sorted(set(rows["shot"])), rows.iloc[0], float(len(rows))
    seen = Fact(**{name: value for name, value in fact.items() if name != "note" and value is not None})
    unit = layers.frame.unit.name
    row = {
        "kind": "design", "subject": fact["subject"], "source": first["source"],
        "label": f"Design file {fact['subject']} fits in {fact['other']}, not in {fact['written']}, "
        f"{many(int(count), 'number')} against it",
        "easting": first["easting"], "northing": first["northing"], "elevation": first["elevation"],
        "design": 0.0, "measured": count, "deviation": count, "u_common": 0.0, "u_random": 0.0,
        "lower": -np.inf, "upper": 0.0, "rule": "guarded", "limit": -1, "why": 0,
        "reference": "no number may be held against a design in another unit",
        "cause": fits_in(seen, unit), "remedy": wrong_foot_remedy(seen),
    }  # fmt: skip
    made = pd.DataFrame([row]).assign(shot=taken([], np.full(1, -1)))
    findings = findings_of(made, check=OTHER_FOOT, limits=layers["limits"], unit=unit, keys=[keys])
    return findings, evidence_of([findings["finding"].iloc[0]] * len(keys), keys, role="shot", layer="shots")
