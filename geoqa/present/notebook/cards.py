"""What a marker of a map says when it is clicked: every judged number about it. All text from files is escaped."""

from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

from geoqa.contract.checks import check_named, reason_texts
from geoqa.model import words
from geoqa.model.signs import SIGNS

COLUMNS = ("shot", "check", "quantity", "deviation", "lower", "upper", "u", "verdict", "why")
"""Of findings, that a card and who sorts them asks for."""
_HEADS = ("Check", "Deviation", "Allowed", "Uncertainty (1 sigma)", "Verdict")


def card(title: str, findings: Iterable[Mapping[Any, Any]], unit: str) -> str:
    """Write the findings about one place as HTML.

    Parameters
    ----------
    title : str
        Plain text.
    findings : iterable of mapping
        Rows of findings.
    unit : str
        Of the job.

    Returns
    -------
    str

    Examples
    --------
    >>> card("shot <7>", [], "ft")
    '<b>shot &lt;7&gt;</b><br>No check asks about it.'
    """
    rows = "".join(_row(finding, unit) for finding in findings)
    if not rows:
        return f"<b>{escape(title)}</b><br>No check asks about it."
    head = "".join(f"<th style='text-align:left;padding-right:8px'>{name}</th>" for name in _HEADS)
    return f"<b>{escape(title)}</b><table><tr>{head}</tr>{rows}</table>"


def _row(finding: Mapping[Any, Any], unit: str) -> str:
    check, kind, sign = check_named(finding["check"]), finding["quantity"], SIGNS[finding["verdict"]]
    why = reason_texts().get(finding["why"], "")
    cells = (
        check.title,
        words.judged(finding, check, unit),
        words.limits(finding["lower"], finding["upper"], check, kind, unit, bare=True),
        words.quantity(finding["u"], kind, unit, bare=True),
        f"{sign.mark} {sign.text}" + (f": {why}" if why else ""),
    )
    return "<tr>" + "".join(f"<td style='padding-right:8px'>{escape(cell)}</td>" for cell in cells) + "</tr>"
