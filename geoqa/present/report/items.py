"""The items: what is out with place, number and what is next, then what is open, one row an item."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from geoqa.contract.chapters import Chapter, in_chapters, tally
from geoqa.contract.checks import check_named, reason_texts
from geoqa.contract.decisions import DECISIONS
from geoqa.contract.items import MAY_BE_CHANCE, also_there, by_chance
from geoqa.contract.odds_sentences import odds_of
from geoqa.contract.shown_by import cause_of_checks, checks_in_words
from geoqa.contract.spoken import allowed_of, found_of, grade, head_of
from geoqa.contract.what_next import next_lines
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.direction import ways
from geoqa.model.tables.in_rows import in_rows
from geoqa.present.report.markup import Column, Html, Row, joined, safe, table, tag
from geoqa.present.report.numbers import reported_numbers
from geoqa.present.report.origin import DESIGN, MEASURED, mark

if TYPE_CHECKING:
    import pandas as pd

MOST = 150
"""Items of one list that are written out; the workbook holds all of them."""
_OUT = (Column("Item", "k"), Column("What and where", "w"), Column("Found, and allowed"), Column("How sure, what next"))
_OPEN = (
    Column("Item", "k"),
    Column("What and where, worst first", "w"),
    Column("Numbers", "n"),
    Column("Why, what next"),
)


def items(results: Results) -> Iterator[Html]:
    """Give the lists of items in three parts: the work, what was not measured, the survey."""
    reported = reported_numbers(results)
    loud = reported[reported["verdict"] != "IN"]
    if not len(loud):
        yield tag("p", "Every number that was judged lies within its tolerance: there is no item.")
        return
    loud = loud.assign(below=cause_of_checks(results.layers, loud))
    for chapter, mine in in_chapters(loud):
        yield tag("h3", chapter.head, Html(f'<span class="quiet"> – {safe(tally(mine, chapter))}</span>'))
        out = _leads(mine[(mine["verdict"] == "OUT") & mine["below"].isna()])
        if len(out):
            yield _out_table(results, chapter, mine, out)
        rest = mine[mine["verdict"] != "OUT"]
        if "item" in rest:
            rest = rest[~rest["item"].isin(out["item"].dropna())]
        if len(rest):
            yield _open_table(results, chapter, rest)
    if "items" in results.layers and (results.layers["items"]["state"] != "open").any():
        closed = results.layers["items"]
        yield _closed(closed[closed["state"] != "open"])


def verdict_of(verdict: str, subject: str = "work") -> Html:
    """A verdict as sign and word, never by colour alone.

    Examples
    --------
    >>> verdict_of("OUT"), verdict_of("OUT", "survey")
    ('<b class="sign OUT">▲ out</b>', '<b class="sign OUT">▲ to clear</b>')
    """
    sign = SIGNS[verdict]
    word = _OUT_IS.get(subject, sign.short) if verdict == "OUT" else sign.short
    return Html(f'<b class="sign {verdict}">{sign.mark} {word}</b>')


_OUT_IS = {"evidence": "no evidence", "survey": "to clear"}
"""What it is called to be out, where no work is."""


def origin_of(finding: "dict[Any, Any]") -> str:
    """Where the number of a finding comes from: rows that repeat the design are no measurement."""
    return DESIGN if finding["why"] == "identical-to-design" or finding["check"] == "identical" else MEASURED


def _told(results: Results, rows: "pd.DataFrame") -> "pd.DataFrame":
    """Rows that are written out, with where each deviation points and the odds that it is the work."""
    odds = odds_of(results.layers, rows["finding"])
    after = next_lines(results.layers, rows, results.layers.frame.unit.name)
    return rows.assign(toward=ways(results.layers, rows), odds=odds, next=after)


def _decided(results: Results) -> dict[str, Html]:
    """What a reviewer decided on each item, as its first cell says it."""
    if "items" not in results.layers or "decision" not in results.layers["items"]:
        return {}
    rows = results.layers["items"]
    rows = rows[rows["decision"].notna()]
    return {
        row["item"]: tag(
            "p", f"{DECISIONS.get(row['decision'], row['decision'])} ", tag("span", row["decided_on"]), kind="quiet"
        )
        for row in in_rows(rows)
    }


def _leads(rows: "pd.DataFrame") -> "pd.DataFrame":
    return rows[~(rows["item"].notna() & rows["item"].duplicated())] if "item" in rows else rows


def _out_table(results: Results, chapter: Chapter, mine: "pd.DataFrame", out: "pd.DataFrame") -> Html:
    unit, chance = results.layers.frame.unit.name, by_chance(results.layers)
    below, decided = mine[mine["below"].notna()], _decided(results)
    of_item = {}
    if "item" in mine:
        beside = mine.loc[mine["below"].isna() & mine["item"].isin(out["item"])]
        of_item = dict(list(beside.groupby("item")))
    rows = []
    for row in in_rows(_told(results, out.head(MOST))):
        number = row.get("item")
        others = also_there(of_item[number], row["finding"], unit) if number in of_item else ""
        checks = checks_in_words(below[below["below"] == row["finding"]], unit, row["subject"]) if len(below) else ""
        first = joined(number, Html("<br>"), verdict_of(row["verdict"], chapter.subject), decided.get(str(number), ""))
        last = _next(row, MAY_BE_CHANCE if number in chance else "", checks)
        rows.append(Row((first, _what(row, unit, others), _found(row, unit), last), key=row["finding"]))
    return joined(table(f"items-{chapter.subject}", _OUT, rows), _cut(len(out)))


def _what(row: "dict[Any, Any]", unit: str, others: str) -> Html:
    label = row["label"] if isinstance(row["label"], str) and row["label"] != row["subject"] else ""
    named = row["subject"] if row["subject"] not in ("-", "") and row["check"] != "diagnosis" else ""
    small = "; ".join(part for part in (named if named not in label else "", label, others) if part)
    return joined(tag("b", head_of(row, unit)), tag("p", small, kind="quiet"), _place(row, unit))


def _place(row: "dict[Any, Any]", unit: str) -> Html:
    east, north = row["easting"], row["northing"]
    if east != east or north != north:
        return Html("")
    digits = words.decimals("length", unit) - 1
    return tag("p", f"E {words.number(east, digits)}, N {words.number(north, digits)}", kind="quiet")


def _found(row: "dict[Any, Any]", unit: str) -> Html:
    said = found_of(row, unit, toward=row["toward"])
    allowed = allowed_of(row, unit) if said else ""
    number = joined(tag("b", said), mark(origin_of(row))) if said else safe(check_named(row["check"]).title)
    cause = row["cause"] if isinstance(row["cause"], str) else ""
    source = row["reference"] if isinstance(row["reference"], str) else ""
    told = joined(allowed, source, by=" – ")
    return joined(number, tag("p", told), tag("p", grade(row, unit)), tag("p", cause, kind="quiet"))


def _next(row: "dict[Any, Any]", loose: str, checks: str) -> Html:
    odds, after = (row[name] if isinstance(row[name], str) else "" for name in ("odds", "next"))
    quiet = (tag("p", each, kind="quiet") for each in (loose, checks))
    return joined(tag("p", odds), *quiet, tag("p", _capital(after)))


def _open_table(results: Results, chapter: Chapter, rest: "pd.DataFrame") -> Html:
    unit = results.layers.frame.unit.name
    key = "item" if "item" in rest and rest["item"].notna().any() else "finding"
    count, decided = rest[key].value_counts(), _decided(results)
    leads = rest[~rest[key].duplicated()]
    rows = []
    for row in in_rows(_told(results, leads.head(MOST))):
        why = check_named(row["check"]).reason(row["why"]).text if isinstance(row["why"], str) else ""
        after = row["next"] if isinstance(row["next"], str) else ""
        found = found_of(row, unit, toward=row["toward"])
        said = joined(found, mark(origin_of(row))) if found else safe(check_named(row["check"]).title.lower())
        said = joined(said, allowed_of(row, unit) if found else "", by="; ")
        number = row[key] if key == "item" else ""
        first = joined(number, Html("<br>"), verdict_of(row["verdict"], chapter.subject), decided.get(str(number), ""))
        what = joined(tag("b", head_of(row, unit)), ": ", said)
        last = joined(tag("p", why), tag("p", _capital(after)))
        rows.append(Row((first, what, str(count.get(row[key], 1)), last), key=row["finding"]))
    return joined(table(f"open-{chapter.subject}", _OPEN, rows), _cut(len(leads)))


def _closed(closed: "pd.DataFrame") -> Html:
    texts = reason_texts()
    rows = [
        Row((row["item"], f"{row['kind'] or ''} {row['subject']}".strip(), row["state"], texts.get(row["why"], "")))
        for row in in_rows(closed.head(MOST))
    ]
    columns = (Column("Item", "k"), Column("What", "w"), Column("State", "k"), Column("What was said of it", "w"))
    return joined(tag("h3", "Items of earlier rounds that are open no more"), table("items-closed", columns, rows))


def _cut(count: int) -> Html:
    if count <= MOST:
        return Html("")
    return tag("p", f"The first {MOST} of {count}; findings.csv holds every number.", kind="quiet")


def _capital(text: str) -> str:
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}" if text else ""
