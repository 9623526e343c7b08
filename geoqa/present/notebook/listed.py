"""The work, worst first, as a table in a notebook. All text in it is escaped: it comes from files."""

from collections.abc import Mapping
from html import escape
from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.signs import SIGNS

if TYPE_CHECKING:
    import pandas as pd

LISTED = 10
_LEFT, _RIGHT = "text-align:left;padding:1px 8px", "text-align:right;padding:1px 8px;white-space:nowrap"


def listed(work: "pd.DataFrame", unit: str) -> str:
    """Write the first rows of findings as HTML.

    Parameters
    ----------
    work : DataFrame
        Findings, worst first.
    unit : str
        Of the job.

    Returns
    -------
    str
    """
    if not len(work):
        return "<p>No check asked about the work.</p>"
    head = "".join(f"<th style='{_LEFT}'>{name}</th>" for name in ("Check", "Where", "Deviation", "Allowed", "Verdict"))
    rows = "".join(_row(finding, unit) for finding in work.head(LISTED).to_dict("records"))
    count = "" if len(work) <= LISTED else f", the first {LISTED} of {len(work)}"
    return f"<p><b>The work, worst first{count}</b> (lengths in {escape(unit)})</p><table><tr>{head}</tr>{rows}</table>"


def _row(finding: Mapping[Any, Any], unit: str) -> str:
    check, kind = check_named(finding["check"]), finding["quantity"]
    number, allowed = words.MISSING, words.MISSING  # what is counted stands in its label, and is no deviation
    if kind != "count":
        number = words.judged(finding, check, unit, bare=True)
        allowed = words.limits(finding["lower"], finding["upper"], check, kind, unit, bare=True)
    cells = ((_LEFT, check.title), (_LEFT, place(finding, unit)), (_RIGHT, number), (_RIGHT, allowed))
    sign = SIGNS[finding["verdict"]]
    made = "".join(f"<td style='{style}'>{escape(text)}</td>" for style, text in cells)
    mark = f"<span style='color:{sign.colour}'>{sign.mark}</span>"
    return f"<tr>{made}<td style='{_LEFT}'>{mark} {escape(sign.text)}</td></tr>"


def place(finding: Mapping[Any, Any], unit: str) -> str:
    """Say what a finding is about and where that is: along its line, else on the grid; and beside the baseline.

    Examples
    --------
    >>> found = {"kind": "rim", "label": "shot 7", "subject": "MH-2", "station": float("nan"), "easting": 2228000.5,
    ...          "northing": 444000.25}
    >>> place(found, "ft")
    'rim, MH-2, shot 7, E 2228000.500 N 444000.250'
    >>> place(found | {"label": "0+10.00 to 0+20.00", "station": 10.0}, "ft")
    'rim, MH-2, 0+10.00 to 0+20.00'
    >>> place(found | {"kind": "ramp", "subject": "CR-1, run", "label": "CR-1, run", "station": 10.0}, "ft")
    'ramp, CR-1, run, 0+10.00'
    >>> place(found | {"baseline_place": "12+50.25, 18.21 ft left"}, "ft")
    'rim, MH-2, shot 7, E 2228000.500 N 444000.250, baseline 12+50.25, 18.21 ft left'
    """
    label = finding["label"] if isinstance(finding["label"], str) else ""
    parts = [text for name in ("kind", "subject") if isinstance(text := finding[name], str) and text not in ("", "-")]
    parts = [text for text in parts if not label.startswith(text)]
    along = words.station(finding["station"])
    if along == words.MISSING:
        digits = words.decimals("length", unit)
        east, north = words.number(finding["easting"], digits), words.number(finding["northing"], digits)
        where = "" if words.MISSING in (east, north) else f"E {east} N {north}"
    else:
        where = "" if along in label else along
    beside = finding.get("baseline_place")
    on_baseline = f"baseline {beside}" if isinstance(beside, str) else ""
    return ", ".join(part for part in (*parts, label, where, on_baseline) if part)
