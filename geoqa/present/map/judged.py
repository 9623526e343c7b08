"""Findings, packed: what was required, designed, measured, and how sure the verdict is."""

from typing import Any

import numpy as np

from geoqa.model import words
from geoqa.model.finding import VERDICTS, finding_id
from geoqa.model.signs import SIGNS
from geoqa.present.map.linework import Canvas
from geoqa.present.map.pack import PackedTable
from geoqa.present.map.places import column, verdict_codes
from geoqa.present.map.rounding import QUANTITIES, whole, whole_quantities, whole_stations

AS_SHOT = "\x01"
"""Stands for what the shot of a finding says itself: its name in a label, its kind, its line."""
AS_SUBJECT = "\x02"
"""Stands for the subject in a label."""

_GUESSES = ("offset", "elevation")


def in_page_order(findings: Any, shots: Any) -> tuple[Any, np.ndarray]:
    """Sort findings by check, offsets first, then as their shots lie in the file.

    Returns
    -------
    (DataFrame, ndarray of int64)
        The findings, and for each the row of its shot, or -1.
    """
    import pandas as pd

    rows = pd.Series(np.arange(len(shots)), index=shots["shot_key"].to_numpy(object))
    shot = findings["shot"].map(rows).fillna(-1).to_numpy(np.int64)
    check, _ = pd.factorize(findings["check"], sort=True)
    order = np.lexsort((shot, check, (findings["check"] != "offset").to_numpy()))
    return findings.iloc[order].reset_index(drop=True), shot[order]


def twins(shot: np.ndarray) -> np.ndarray:
    """For each finding the last one before it about the same shot, or -1.

    Examples
    --------
    >>> twins(np.array([0, 1, -1, 0, 1, 1]))
    array([-1, -1, -1,  0,  1,  4])
    """
    order = np.argsort(shot, kind="stable")
    before = np.full(len(shot), -1, dtype=np.int64)
    if len(shot) > 1:
        same = (shot[order][1:] == shot[order][:-1]) & (shot[order][1:] >= 0)
        before[order[1:][same]] = order[:-1][same]
    return before


def worst_first(findings: Any) -> np.ndarray:
    """Rows of the reported findings that are not IN, worst first."""
    rank = findings["verdict"].map({verdict: sign.order for verdict, sign in SIGNS.items()}).to_numpy(int)
    excess = findings["excess"].to_numpy(float)
    order = np.lexsort((findings["finding"].to_numpy(str), np.where(np.isnan(excess), np.inf, -excess), rank))
    listed = findings["run"].isna().to_numpy() & (findings["verdict"] != "IN").to_numpy()
    return order[listed[order]]


def add_findings(canvas: Canvas, findings: Any, shots: Any, unit: str) -> Any:
    """Add every finding, and the list of those that are not IN.

    Returns
    -------
    DataFrame
        The findings in the order they are packed.
    """
    findings, shot = in_page_order(findings, shots)
    table = canvas.packer.table("findings", len(findings))
    table.numbers("shot", np.where(shot < 0, np.nan, shot), delta=True)
    table.numbers("verdict", verdict_codes(findings["verdict"]))
    for name in ("check", "against", "why", "cause", "remedy", "item"):
        table.texts(name, column(findings, name))
    for name, said in (("kind", "kind"), ("subject", "line_id")):
        _add_said(table, name, column(findings, name), column(shots, said), shot)
    _add_ids(table, findings)
    _add_labels(table, findings, shots, shot)
    numbers = _whole_numbers(findings, unit)
    _add_place(canvas, table, findings, shots, shot)
    _add_along(canvas, table, findings, shot, numbers["deviation"])
    _add_numbers(canvas, table, findings, numbers)
    _add_limits(table, findings, unit)
    order = worst_first(findings)
    listed = canvas.packer.table("listed", len(order))
    listed.numbers("finding", order)
    return findings


def _add_said(table: PackedTable, name: str, values: Any, said: Any, shot: np.ndarray) -> None:
    """Add a text that the shot mostly says itself."""
    own = said.to_numpy(object)[shot] if len(said) else np.full(len(shot), None)
    values = values.to_numpy(object)
    table.texts(name, np.where((shot >= 0) & (own == values), AS_SHOT, values))


def _add_ids(table: PackedTable, findings: Any) -> None:
    """A name that follows from check, rule set, subject and shot is made again on the page; others are written."""
    import pandas as pd

    names = findings["finding"].tolist()
    parts = [findings[name].tolist() for name in ("check", "against", "subject", "shot")]
    follows = [
        isinstance(shot, str) and finding_id(check, against, subject, (shot,)) == name
        for name, check, against, subject, shot in zip(names, *parts, strict=True)
    ]
    table.texts("id", findings["finding"].where(~np.array(follows, dtype=bool), AS_SHOT))
    rows = pd.Series(np.arange(len(findings)), index=findings["finding"].to_numpy(object))
    table.numbers("run", findings["run"].map(rows).to_numpy(float))


def _add_labels(table: PackedTable, findings: Any, shots: Any, shot: np.ndarray) -> None:
    """A label mostly repeats the shot's name and the subject; what is left over repeats too."""
    names = shots["shot"].fillna("").to_numpy(object)
    named = np.where(shot >= 0, names[shot] if len(names) else "", "")
    subjects = findings["subject"].fillna("").to_numpy(object)
    labels = findings["label"].to_numpy(object)
    pattern = [
        None if not isinstance(label, str) else _replaced(_replaced(label, subject, AS_SUBJECT), name, AS_SHOT)
        for label, name, subject in zip(labels, named, subjects, strict=True)
    ]
    table.texts("label", pattern)


def _replaced(label: str, part: str, mark: str) -> str:
    return label.replace(part, mark, 1) if len(part) > 1 else label


def _add_place(canvas: Canvas, table: PackedTable, findings: Any, shots: Any, shot: np.ndarray) -> None:
    """Where it is; nothing is written for what equals the shot's place."""
    held = shot >= 0
    east, north = canvas.whole(findings["easting"], findings["northing"])
    place = {"easting": east, "northing": north, "elevation": whole(findings["elevation"], canvas.digits)}
    shot_east, shot_north = canvas.whole(shots["easting"], shots["northing"])
    shot_place = {"easting": shot_east, "northing": shot_north, "elevation": whole(shots["elevation"], canvas.digits)}
    at_shot = held.copy()
    for name, values in place.items():
        at_shot[held] &= _equal(values[held], shot_place[name][shot[held]])
    table.numbers("at_shot", at_shot)
    for name, values in place.items():
        table.numbers(name, np.where(at_shot, np.nan, values))


def _add_along(canvas: Canvas, table: PackedTable, findings: Any, shot: np.ndarray, deviation: np.ndarray) -> None:
    """Where it is along the design; nothing is written for what the finding before says, or the deviation itself."""
    before = twins(shot)
    station, station_end = (whole_stations(findings[name]) for name in ("station", "station_end"))
    offset = whole(findings["offset"], canvas.digits)
    length = station_end - station
    same = before >= 0
    for values in (station, length, offset):
        same[same] = _equal(values[same], values[before[same]])
    deviates = ~same & (offset == deviation) & (findings["quantity"] == "length").to_numpy()
    table.numbers("as_before", same)
    table.numbers("station", np.where(same, np.nan, station), delta=True)
    table.numbers("length", np.where(same, np.nan, length))
    table.numbers("offset_as", deviates)
    table.numbers("offset", np.where(same | deviates, np.nan, offset))


def _equal(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    return (left == right) | (np.isnan(left) & np.isnan(right))


def _quantity_codes(findings: Any) -> np.ndarray:
    return findings["quantity"].map({name: code for code, name in enumerate(QUANTITIES)}).fillna(0).to_numpy(int)


def _whole_numbers(findings: Any, unit: str) -> dict[str, np.ndarray]:
    """Design, measured, deviation and uncertainty, as whole last digits of their quantity."""
    codes = _quantity_codes(findings)
    names = ("design", "measured", "deviation", "u_common", "u_random", "u")
    return {name: whole_quantities(findings[name], codes, unit) for name in names}


def _add_numbers(canvas: Canvas, table: PackedTable, findings: Any, ints: dict[str, np.ndarray]) -> None:
    """Add what was judged; nothing is written for what follows from other columns."""
    codes = _quantity_codes(findings)
    table.chosen("quantity", codes, list(QUANTITIES))
    known = {
        "offset": whole(findings["offset"], canvas.digits),
        "elevation": whole(findings["elevation"], canvas.digits),
    }
    length = codes == QUANTITIES.index("length")
    guess = np.zeros(len(findings), dtype=int)
    for code, name in enumerate(_GUESSES, start=1):
        guess[(guess == 0) & length & (ints["measured"] == known[name])] = code
    table.numbers("measured_as", guess)
    table.numbers("measured", np.where(guess > 0, np.nan, ints["measured"]))
    # a design value is measured minus deviation but for the last digit: only that digit is written
    rest = ints["design"] - np.nan_to_num(ints["measured"]) + np.nan_to_num(ints["deviation"])
    table.numbers("design", rest)
    for name in ("deviation", "u_common", "u_random", "u"):
        table.numbers(name, ints[name])
    p = findings["p_conform"].to_numpy(float)
    inner = np.clip(np.rint(p * 1000), 1, 999)
    table.numbers("p_conform", np.where(p < 0.001, 0, np.where(p > 0.999, 1000, inner)))


def _add_limits(table: PackedTable, findings: Any, unit: str) -> None:
    """Limits, rule and source together: one text each for the few different sets."""
    import pandas as pd

    names = ["check", "quantity", "lower", "upper", "rule", "reference", "edition", "verified"]
    groups = findings.groupby(names, dropna=False, sort=False, observed=True)
    table.numbers("limit", groups.ngroup().to_numpy(float))
    first = findings.loc[~findings.duplicated(names), names]
    codes = _quantity_codes(first)
    bounds = {name: whole_quantities(first[name], codes, unit) for name in ("lower", "upper")}
    rows = [
        {
            "allowed": words.limits(row.lower, row.upper, row.check, row.quantity, unit),
            "rule": words.rule(_text(row.rule)),
            "reference": _text(row.reference),
            "edition": _text(row.edition),
            "verified": None if pd.isna(row.verified) else bool(row.verified),
            "lower": _finite(low),
            "upper": _finite(high),
        }
        for row, low, high in zip(first.itertuples(index=False), bounds["lower"], bounds["upper"], strict=True)
    ]
    table.facts("limits", rows)


def _finite(value: float) -> int | None:
    return int(value) if np.isfinite(value) else None


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def add_evidence(canvas: Canvas, evidence: Any, findings: Any, shots: Any) -> None:
    """Add what stands behind findings that have no main shot of their own."""
    import pandas as pd

    lone = findings["shot"].isna().to_numpy()
    rows = pd.Series(np.flatnonzero(lone), index=findings["finding"].to_numpy(object)[lone])
    evidence = evidence[evidence["finding"].isin(rows.index)].reset_index(drop=True)
    places = pd.Series(np.arange(len(shots)), index=shots["shot_key"].to_numpy(object))
    shot = evidence["key"].map(places).where(evidence["layer"] == "shots").to_numpy(float)
    table = canvas.packer.table("evidence", len(evidence))
    table.numbers("finding", evidence["finding"].map(rows).to_numpy(float))
    table.numbers("shot", shot)
    table.texts("role", evidence["role"])
    table.texts("layer", evidence["layer"])
    table.texts("key", evidence["key"].where(np.isnan(shot), None))


def add_owned(canvas: Canvas, name: str, rows: Any, findings: Any, owner: str) -> None:
    """Add runs or gaps: whose finding they are, and which kind."""
    import pandas as pd

    ids = pd.Series(np.arange(len(findings)), index=findings["finding"].to_numpy(object))
    table = canvas.packer.table(name, len(rows))
    table.numbers("finding", rows[owner].map(ids).to_numpy(float))
    table.texts("kind", rows["kind"])
    table.texts("line", rows["line"])


def verdict_counts(verdicts: Any) -> dict[str, int]:
    """Count rows by verdict."""
    codes = verdict_codes(verdicts)
    return {verdict: int((codes == place).sum()) for place, verdict in enumerate(VERDICTS)}
