"""Lists for people: what was found, worst first, and where to go back with the rod."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named, reason_texts
from geoqa.contract.odds_sentences import odds_of
from geoqa.model import words
from geoqa.model.point_file import Place
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.direction import ways
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.register import compared_with, register
from geoqa.write.rows import Row, in_order, measured_alone
from geoqa.write.sheets.gap_points import gap_points
from geoqa.write.verdicts import in_words

if TYPE_CHECKING:
    import pandas as pd

FIELD_CAUTION = "Traffic, open trench, confined space: do not enter a structure or an unprotected trench to re-measure."

SHOTS_FILE = (
    *("point", "easting", "northing", "elevation", "code", "line_id", "sequence", "note", "photo", "time_utc"),
    *("session", "initialization", "solution", "satellites", "epochs", "pdop", "hdop", "vdop", "correction_age_s"),
    *("reported_h", "reported_v", "rod_height", "tilt_deg", "tilt_azimuth_deg"),
)
"""Header of a file of shots: a return list filled in by the crew reads as one."""


def findings_list(results: Results) -> pd.DataFrame:
    """Reported findings, worst first, with words beside the numbers.

    Returns
    -------
    DataFrame
        Numbers are the findings' own, not rounded. `done_by` and `done_on` are left empty for people.
    """
    import pandas as pd

    unit = results.layers.frame.unit.name
    reported = in_order("findings", _with_direction(results))
    names = dict(zip(results.shots["shot_key"], results.shots["shot"], strict=True))
    rows = in_rows(reported.drop(columns="geometry", errors="ignore"))
    table = pd.DataFrame(
        {
            "number": range(1, len(reported) + 1),
            "finding": reported["finding"],
            "item": reported.get("item"),
            "verdict": reported["verdict"],
            "said": [SIGNS[row["verdict"]].text for row in rows],
            "check": reported["check"],
            "kind": reported["kind"],
            "subject": reported["subject"],
            "label": reported["label"],
            "point": reported["shot"].map(names),
            "station_text": [words.station(row["station"]) for row in rows],
            "station": reported["station"],
            "offset": reported["offset"],
            **{name: reported[name] for name in reported.columns if name.startswith("baseline_")},
            **measured_alone(reported, "deviation", "lower", "upper", "u"),
            "unit": [words.unit_of(row["quantity"], unit) for row in rows],
            "toward": reported["toward"],
            "in_words": [_in_words(row, unit) for row in rows],
            "why": [reason_texts().get(row["why"], row["why"]) for row in rows],
            **{name: reported[name] for name in ("cause", "remedy")},
            "odds": odds_of(results.layers, reported["finding"]),
            **{name: reported[name] for name in ("reference", "edition", "verified")},
            **_register(results, reported),
            **{name: reported[name] for name in ("easting", "northing", "elevation")},
            "done_by": None,
            "done_on": None,
        }
    )
    texts = [name for name in table.columns if pd.api.types.is_object_dtype(table[name].dtype)]
    return table.astype(dict.fromkeys(texts, "str")).reset_index(drop=True)


def _register(results: Results, reported: pd.DataFrame) -> dict[str, list[str | None]]:
    """Sheet, revision and date of the design, a column where the job says any."""
    if "sources" not in results.layers or not register(results.layers["sources"]):
        return {}
    return {"design": compared_with(reported["against"], results.layers["sources"])}


def _with_direction(results: Results) -> pd.DataFrame:
    """What is reported, with the way each deviation points."""
    reported = results.reported
    told = ways(results.layers, reported)
    return reported.assign(toward=told.mask(told == ""))


def return_list(results: Results) -> pd.DataFrame:
    """Places that another measurement would decide, in the columns of a file of shots.

    One row a place, and along a reach that nobody shot as many as its spacing asks for; a note says what is open there
    and what to do, the first one the caution as well. Easting and northing are the place to go to, not a result; what
    the crew will measure is left empty, the elevation too, so that no old number can pass for a new one.

    Returns
    -------
    DataFrame
    """
    import pandas as pd

    unit = results.layers.frame.unit.name
    open_ones = open_places(results)
    shots = results.shots.drop(columns="geometry", errors="ignore").set_index("shot_key").to_dict("index")
    places: dict[str, dict[str, Any]] = {}
    for row in in_rows(open_ones.assign(odds=odds_of(results.layers, open_ones["finding"]))):
        shot = shots.get(row["shot"], {}) if isinstance(row["shot"], str) else {}
        key = row["shot"] if shot else row["finding"]
        place = places.setdefault(key, _place(row, shot))
        remedy = f": {row['remedy']}" if isinstance(row["remedy"], str) else ""
        odds = f" ({row['odds']})" if isinstance(row["odds"], str) else ""
        if not place["note"] and isinstance(row.get("baseline_place"), str):
            place["note"].append(row["baseline_place"])
        place["note"].append(f"{in_words(row, unit)}{odds}{remedy}")
    gaps = gap_points(results)
    rows = [row for key, place in places.items() for row in _rows(place, gaps.get(key, ()))]
    if rows:
        rows[0]["note"] = f"{rows[0]['note']} {FIELD_CAUTION}"
    table = pd.DataFrame(rows, columns=list(SHOTS_FILE))
    numbers = dict.fromkeys(("easting", "northing", "elevation"), "float64")
    return table.astype({name: numbers.get(name, "Int64" if name == "sequence" else "str") for name in SHOTS_FILE})


def _rows(place: dict[str, Any], points: Sequence[Place]) -> list[dict[str, Any]]:
    """The place as one row, or as one for each point along its reach, of which the first says it all."""
    whole = {**place, "note": f"{'; '.join(place['note'])}."}
    if not points:
        return [whole]
    first = points[0].says.removeprefix("gap ")
    return [
        {
            **whole,
            "point": point.says.removeprefix("gap "),
            "easting": point.easting,
            "northing": point.northing,
            "note": whole["note"] if nth == 1 else f"the same reach as {first}, point {nth} of {len(points)}",
        }
        for nth, point in enumerate(points, 1)
    ]


def open_places(results: Results) -> pd.DataFrame:
    """Findings that another measurement would decide, worst first; what is settled at the desk is none of them."""
    import numpy as np
    import pandas as pd

    reported = pd.DataFrame(in_order("findings", _with_direction(results)).drop(columns="geometry", errors="ignore"))
    undone = reported["remedy"].notna() | reported["verdict"].isin(("UNDECIDED", "NO_DATA"))
    at_desk = [_at_desk(*pair) for pair in zip(reported["check"], reported["why"], strict=True)]
    undone &= ~np.array(at_desk, dtype=bool)
    return reported[undone & (reported["verdict"] != "IN")]


def _at_desk(check: str, why: str) -> bool:
    """Another shot would change nothing: the answer is found in the office."""
    declared = check_named(check)
    return declared.at_desk or declared.reason(why).at_desk


def _place(finding: Row, shot: Row) -> dict[str, Any]:
    names = (shot.get("shot"), finding["label"], finding["finding"])
    place = {name: (shot or finding).get(name) for name in ("easting", "northing")}
    line = shot.get("line_id") if shot else (None if finding["subject"] == "-" else finding["subject"])
    return {
        "point": next(name for name in names if isinstance(name, str)),
        **place,
        **{name: shot.get(name) for name in ("code", "sequence")},
        "line_id": line,
        "note": [],
    }


def _in_words(finding: Row, unit: str) -> str:
    what = check_named(finding["check"]), finding["quantity"], unit
    if finding["quantity"] == "count":  # its label says how many; a count is no deviation
        return str(finding["label"])
    way = finding["toward"] if isinstance(finding["toward"], str) else ""
    number = words.judged(finding, what[0], unit, toward=way)
    if any(bound is None or bound != bound for bound in (finding["lower"], finding["upper"])):
        return f"{number}; no limit is given"
    return f"{number}; allowed: {words.limits(finding['lower'], finding['upper'], *what, bare=True)}"
