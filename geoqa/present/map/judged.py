"""Findings, packed: what was required, designed, measured, and how sure the verdict is."""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.contract.chapters import OPEN, in_chapters
from geoqa.contract.checks import check_named
from geoqa.contract.items import MAY_BE_CHANCE, also_there
from geoqa.contract.rule_set_words import rule_set_words
from geoqa.contract.shown_by import checks_in_words
from geoqa.contract.spoken import head_of, number_of
from geoqa.contract.what_next import sure, what_next
from geoqa.model import words
from geoqa.model.signs import SIGNS
from geoqa.model.tables import order
from geoqa.model.tables.finding import VERDICTS, finding_ids
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.several_sets import ruleset_of
from geoqa.present.map.labels import AS_SHOT, patterns
from geoqa.present.map.linework import Canvas
from geoqa.present.map.pack import PackedTable
from geoqa.present.map.places import column, rows_of, verdict_codes
from geoqa.present.map.rounding import QUANTITIES, whole, whole_or_none, whole_quantities, whole_stations

if TYPE_CHECKING:
    import pandas as pd


_GUESSES = ("offset", "elevation")
SPELT = 2000
"""Entries of the list that are written out in sentences."""


def in_page_order(findings: "pd.DataFrame", shots: "pd.DataFrame") -> "tuple[pd.DataFrame, np.ndarray]":
    """Sort findings by check, offsets first, then as their shots lie in the file.

    Returns
    -------
    (DataFrame, ndarray of int64)
        The findings, and for each the row of its shot, or -1.
    """
    import pandas as pd

    shot = rows_of(findings["shot"], shots["shot_key"])
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


def worst_first(findings: "pd.DataFrame") -> np.ndarray:
    """Rows of the reported findings that are not IN, worst first."""
    listed = np.flatnonzero(findings["run"].isna().to_numpy() & (findings["verdict"] != "IN").to_numpy())
    findings = findings.iloc[listed]
    rank = findings["verdict"].map({verdict: sign.order for verdict, sign in SIGNS.items()})
    return listed[order.worst_first(findings["excess"], findings["finding"], rank)]


def add_findings(canvas: Canvas, findings: "pd.DataFrame", shots: "pd.DataFrame", unit: str) -> "pd.DataFrame":
    """Add findings.

    Returns
    -------
    DataFrame
        The findings in the order they are packed.
    """
    findings, shot = in_page_order(findings, shots)
    table = canvas.packer.table("findings", len(findings))
    table.numbers("shot", np.where(shot < 0, np.nan, shot), delta=True)
    table.numbers("verdict", verdict_codes(findings["verdict"]))
    for name in ("check", "against", "why", "cause", "remedy", "odds", "item", "toward", "levelled"):
        table.texts(name, column(findings, name))
    for name, said in (("kind", "kind"), ("subject", "line_id")):
        _add_said(table, name, column(findings, name), column(shots, said), shot)
    if "baseline_place" in findings.columns:
        _add_said(table, "baseline", findings["baseline_place"], column(shots, "baseline_place"), shot)
    _add_ids(table, findings)
    _add_labels(table, findings, shots, shot)
    numbers = _whole_numbers(findings, unit)
    _add_place(canvas, table, findings, shots, shot)
    _add_along(canvas, table, findings, shot, numbers["deviation"])
    _add_numbers(canvas, table, findings, numbers)
    _add_limits(table, findings, unit)
    sets = rule_set_words(findings, unit)
    for name in ("ruleset", "sets_differ"):
        table.texts(name, sets[name].where(sets[name] != "", None))
    return findings


def add_listed(
    canvas: Canvas, findings: "pd.DataFrame", unit: str, chances: "dict[str, float]", loose: "frozenset[str] | set[str]"
) -> list[dict[str, str]]:
    """Add the list: what is not IN, chapter by chapter, with checks that a named cause explains below that cause.

    Parameters
    ----------
    canvas : Canvas
    findings : DataFrame
        As they are packed.
    unit : str
        Of the job.
    chances : dict
        How likely it is of a finding that the work is so, by its name.
    loose : set of str
        Items that do not stand when all numbers are looked at together.

    Returns
    -------
    list of dict
        Of every chapter that has findings: its head, and what one is called by its verdict.
    """
    import pandas as pd

    chapters = in_chapters(findings.iloc[worst_first(findings)])
    rows = pd.concat([part for _, part in chapters]) if chapters else findings.iloc[:0]
    rows = rows.assign(ruleset=rule_set_words(findings, unit)["ruleset"].reindex(rows["finding"]).to_numpy())
    above = rows["below"].where(rows["below"].notna(), _leads(rows))
    table = canvas.packer.table("listed", len(rows))
    table.numbers("finding", rows.index.to_numpy(float))
    table.numbers("chapter", np.repeat(np.arange(len(chapters)), [len(part) for _, part in chapters]))
    table.numbers("below", _places(above, findings["finding"]))
    # a job of many findings spells out those that stand for themselves; the page words the others when they are opened
    alone = above.isna() & (rows["verdict"] == "OUT") if len(rows) > SPELT else above.notna() | above.isna()
    spelt = alone & (alone.cumsum() <= SPELT)
    said = pd.DataFrame({"head": None, "number": None}, index=rows.index, dtype="str")
    mine = in_rows(rows[spelt])
    said.loc[spelt, "head"] = [_without_place(head_of(row, unit), row.get("baseline_place")) for row in mine]
    said.loc[spelt, "number"] = [number_of(row, unit, toward=_text(row["toward"])) or None for row in mine]
    for name in said.columns:
        table.texts(name, said[name])
    table.texts("shows", _shown_below(rows, above, unit))
    weighed = rows["finding"].map(chances)
    chance = (rows["verdict"] == "OUT") & column(rows, "item").isin(loose)
    table.texts("sure", weighed.map(sure, na_action="ignore"))
    table.texts("chance", pd.Series(MAY_BE_CHANCE, index=rows.index, dtype="str").where(chance))
    table.texts("next", _next_steps(rows, weighed, spelt, chance, unit))
    return [{"head": chapter.head, "OUT": chapter.out, **OPEN} for chapter, _ in chapters]


def _next_steps(
    rows: "pd.DataFrame", weighed: "pd.Series", spelt: "pd.Series", loose: "pd.Series", unit: str
) -> "pd.Series":
    """Next step of what is out and has no remedy of its own; the page puts the line together as `next_line` does."""
    import pandas as pd

    steps = pd.Series(None, index=rows.index, dtype="str")
    asked = spelt & (rows["verdict"] == "OUT") & rows["remedy"].isna()
    mine = in_rows(rows.loc[asked])
    chances = [None if pd.isna(chance) else float(chance) for chance in weighed[asked]]
    steps[asked] = [
        what_next(row, chance, unit, loose=bool(each)) or None
        for row, chance, each in zip(mine, chances, loose[asked], strict=True)
    ]
    return steps


def _leads(rows: "pd.DataFrame") -> "pd.Series":
    """Id of the finding that speaks for the item of each that is out; null for that one, and without items."""
    if "item" not in rows:
        return rows["below"]
    out = rows["item"].where(rows["verdict"] == "OUT")
    lead = rows["finding"].groupby(out).transform("first")
    return lead.where(out.notna() & (lead != rows["finding"])).astype("str")


def _shown_below(rows: "pd.DataFrame", above: "pd.Series", unit: str) -> list[str | None]:
    """What stands below each row in a line: the checks that a cause explains, or what else its item holds."""
    texts: dict[str, str] = {}
    subject = dict(zip(rows["finding"], rows["subject"], strict=True))
    for lead, mine in rows.groupby(above):
        causes = mine["below"].notna()
        texts[str(lead)] = checks_in_words(mine, unit, subject[lead]) if causes.any() else also_there(mine, "", unit)
    return [texts.get(name) for name in rows["finding"]]


def _without_place(head: str, place: object) -> str:
    """The place on the baseline is written once, with the finding."""
    return head.replace(place, AS_SHOT, 1) if isinstance(place, str) and place else head


def _add_said(table: PackedTable, name: str, values: "pd.Series", shot_texts: "pd.Series", shot: np.ndarray) -> None:
    """Add a text that the shot mostly says itself."""
    own = shot_texts.astype("str").array.take(shot, allow_fill=True)
    values = values.astype("str").reset_index(drop=True)
    table.texts(name, values.where(~np.asarray(own == values.array, dtype=bool), AS_SHOT))


def _add_ids(table: PackedTable, findings: "pd.DataFrame") -> None:
    """A name that follows from check, rule set, subject and shot is made again on the page; others are written."""
    follows = finding_ids(*(findings[name] for name in ("check", "against", "subject", "shot")))
    same = np.asarray(follows.array == findings["finding"].array, dtype=bool)
    table.texts("id", findings["finding"].where(~same, AS_SHOT))
    table.numbers("run", _places(findings["run"], findings["finding"]))


def _places(keys: "pd.Series", among: "pd.Series") -> np.ndarray:
    """Row of each key, NaN where there is none; only the keys that are there are looked for."""
    made, there = np.full(len(keys), np.nan), np.flatnonzero(keys.notna())
    if len(there):
        found = rows_of(keys.iloc[there], among)
        made[there] = np.where(found < 0, np.nan, found)
    return made


def _add_labels(table: PackedTable, findings: "pd.DataFrame", shots: "pd.DataFrame", shot: np.ndarray) -> None:
    """A label mostly repeats the shot's name and the subject; what is left over repeats too."""
    import pandas as pd

    names = pd.Series(shots["shot"].astype("str").array.take(shot, allow_fill=True))
    table.texts("label", patterns(findings["label"], names, findings["subject"]))


def _add_place(
    canvas: Canvas, table: PackedTable, findings: "pd.DataFrame", shots: "pd.DataFrame", shot: np.ndarray
) -> None:
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


def _add_along(
    canvas: Canvas, table: PackedTable, findings: "pd.DataFrame", shot: np.ndarray, deviation: np.ndarray
) -> None:
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


def _quantity_codes(findings: "pd.DataFrame") -> np.ndarray:
    return findings["quantity"].map({name: code for code, name in enumerate(QUANTITIES)}).fillna(0).to_numpy(int)


def _whole_numbers(findings: "pd.DataFrame", unit: str) -> dict[str, np.ndarray]:
    """Design, measured, deviation and uncertainty, as whole last digits of their quantity."""
    codes = _quantity_codes(findings)
    names = ("design", "measured", "deviation", "u_common", "u_random", "u")
    return {name: whole_quantities(findings[name], codes, unit) for name in names}


def _add_numbers(canvas: Canvas, table: PackedTable, findings: "pd.DataFrame", ints: dict[str, np.ndarray]) -> None:
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


def _add_limits(table: PackedTable, findings: "pd.DataFrame", unit: str) -> None:
    """Limits, rule and source together: one text each for the few different sets."""
    import pandas as pd

    names = ["check", "quantity", "lower", "upper", "rule", "reference", "edition", "verified"]
    findings = findings.assign(verified=_compared(findings))
    groups = findings.groupby(names, dropna=False, sort=False, observed=True)
    table.numbers("limit", groups.ngroup().to_numpy(float))
    first = findings.loc[~findings.duplicated(names), names]
    codes = _quantity_codes(first)
    bounds = {name: whole_quantities(first[name], codes, unit) for name in ("lower", "upper")}
    rows = [
        {
            "allowed": words.limits(
                row["lower"], row["upper"], check_named(row["check"]), row["quantity"], unit, bare=True
            ),
            "rule": words.rule(_text(row["rule"])),
            "reference": _text(row["reference"]),
            "edition": _text(row["edition"]),
            "verified": None if pd.isna(row["verified"]) else bool(row["verified"]),
            "lower": whole_or_none(low),
            "upper": whole_or_none(high),
        }
        for row, low, high in zip(in_rows(first), bounds["lower"], bounds["upper"], strict=True)
    ]
    table.facts("limits", rows)


def _compared(findings: "pd.DataFrame") -> "pd.Series":
    """Whether limits were compared with their source; missing where the job's own table states them, and says nothing.

    That table is what the contract says, as the job gives it: only a set of rules that comes from elsewhere can be
    "not yet compared".
    """
    own = ruleset_of(findings).eq("job")
    silent = (own & ~findings["verified"].fillna(False).astype(bool)).to_numpy(bool)
    compared: pd.Series = findings["verified"].astype("boolean").mask(silent)
    return compared


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def add_evidence(canvas: Canvas, evidence: "pd.DataFrame", findings: "pd.DataFrame", shots: "pd.DataFrame") -> None:
    """Add what stands behind findings that have no main shot of their own."""
    lone = np.flatnonzero(findings["shot"].isna())
    finding = rows_of(evidence["finding"], findings["finding"].iloc[lone])
    mine = np.flatnonzero(finding >= 0)
    evidence = evidence.iloc[mine].reset_index(drop=True)
    shot = rows_of(evidence["key"], shots["shot_key"]).astype(float)
    shot[(shot < 0) | (evidence["layer"] != "shots").to_numpy()] = np.nan
    table = canvas.packer.table("evidence", len(evidence))
    table.numbers("finding", lone[finding[mine]])
    table.numbers("shot", shot)
    table.texts("role", evidence["role"])
    table.texts("layer", evidence["layer"])
    table.texts("key", evidence["key"].where(np.isnan(shot), None))


def add_owned(canvas: Canvas, name: str, rows: "pd.DataFrame", findings: "pd.DataFrame", owner: str) -> None:
    """Add runs or gaps: whose finding they are, and which kind."""
    table = canvas.packer.table(name, len(rows))
    table.numbers("finding", _places(rows[owner], findings["finding"]))
    table.texts("kind", rows["kind"])
    table.texts("line", rows["line"])


def verdict_counts(verdicts: "pd.Series") -> dict[str, int]:
    """Count rows by verdict."""
    codes = verdict_codes(verdicts)
    return {verdict: int((codes == place).sum()) for place, verdict in enumerate(VERDICTS)}
