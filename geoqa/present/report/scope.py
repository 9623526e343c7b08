"""What was surveyed, with which files, on which days, and how it was measured and compared."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.tables.register import in_words
from geoqa.model.tables.shot_flags import once
from geoqa.present.report.markup import Column, Html, Row, bullets, joined, table, tag
from geoqa.present.report.numbers import every_number
from geoqa.present.report.origin import MEASURED, REPORTED, mark

if TYPE_CHECKING:
    import pandas as pd


def scope(results: Results) -> Iterator[Html]:
    """Give what was shot, and the files that were read."""
    shots = results.shots
    summary = results.summary
    lead = f"{words.many(len(once(shots)), 'shot')} in {words.many(shots['source'].nunique(), 'file')}"
    days = _days(shots)
    lead += f", {days}" if days else ""
    parts = [lead + "."]
    if summary.get("shots_rejected"):
        one = summary["shots_rejected"] == 1
        parts.append(
            f"{summary['shots_rejected']} of them {'is' if one else 'are'} not used, with the reason beside each."
        )
    if summary.get("rows_left_out"):
        one = summary["rows_left_out"] == 1
        parts.append(
            f"{words.many(summary['rows_left_out'], 'row')} could not be read and {'is' if one else 'are'} no shot."
        )
    yield tag("p", " ".join(parts))
    if "kind" in shots:
        yield _kinds(results)
    if "sources" in results.layers and len(results.layers["sources"]):
        yield _sources(results.layers["sources"])


def _days(shots: "pd.DataFrame") -> str:
    times = shots["time"].dropna()
    if not len(times):
        return ""
    first, last = times.min().date().isoformat(), times.max().date().isoformat()
    return f"taken on {first} (UTC)" if first == last else f"taken from {first} to {last} (UTC)"


def _kinds(results: Results) -> Html:
    shots = results.shots
    known = shots.assign(kind=shots["kind"].fillna("unknown code"))
    lengths = _lengths(results)
    rows = []
    for kind, mine in known.groupby("kind", sort=True):
        made = lengths.get(kind)
        rows.append(
            Row(
                (
                    kind,
                    joined(len(mine), mark(MEASURED)),
                    str(int(mine["use"].sum())) if "use" in mine else words.MISSING,
                    words.number(made, 0) if made is not None else words.MISSING,
                ),
                key=str(kind),
            )
        )
    unit = results.layers.frame.unit.name
    heads = (
        Column("Kind", "w"),
        Column("Shots", "n"),
        Column("Used", "n"),
        Column(f"Length of lines shot ({unit})", "n"),
    )
    return table("shots", heads, rows, caption="What was shot")


def _lengths(results: Results) -> dict[str, float]:
    if "asbuilt_lines" not in results.layers or not len(results.layers["asbuilt_lines"]):
        return {}
    lines = results.layers["asbuilt_lines"]
    return {str(kind): float(total) for kind, total in lines.groupby("kind")["length"].sum().items()}


_ROLES = {
    "shots": "shots",
    "control": "published control",
    "design": "design",
    "codes": "code list",
    "baseline": "centre line",
    "profile": "profile of the centre line",
    "structures": "structures: sizes, materials, readings",
}


def _sources(sources: "pd.DataFrame") -> Html:
    rows = []
    for row in sources.astype(object).where(sources.notna(), "").to_dict("records"):
        known = in_words(row.get("sheet", ""), row.get("revision", ""), row.get("dated", ""))
        rows.append(
            Row(
                (
                    _ROLES.get(row["role"], str(row["role"]).replace("_", " ")),
                    row["path"],
                    row.get("unit", ""),
                    known,
                    Html(f"<code>{str(row['sha256'])[:12]}</code>") if str(row["sha256"]).isalnum() else "",
                ),
                key=str(row["source"]),
            )
        )
    heads = (
        Column("Read as"),
        Column("File", "w"),
        Column("Unit", "k"),
        Column("Sheet, revision, date"),
        Column("SHA-256", "k"),
    )
    return table("sources", heads, rows, caption="Files that were read (the first twelve digits of each hash)")


def method(results: Results) -> Iterator[Html]:
    """Give how it was measured, by what the log says, and how it was compared."""
    yield tag("h3", "In the field, as the log has it")
    yield bullets(_field(results.shots))
    if "session" in results.shots and results.shots["session"].notna().any():
        yield _sessions(results.shots)
    yield tag("h3", "Compared, and decided")
    rules = every_number(results)["rule"].dropna().unique()
    yield bullets(
        [
            "Deviation is measured minus design: positive to the right of a line’s direction, and high.",
            *(f"Decision rule: {words.rule(str(rule))}." for rule in sorted(rules)),
            "Where shots next to each other agree, their mean is judged in the place of each of them.",
            "A shot under an open survey blunder feeds no verdict; nothing is corrected, and no row is deleted.",
        ]
    )


def _field(shots: "pd.DataFrame") -> Iterator[Html]:
    def reported(text: str) -> Html:
        return joined(text, mark(REPORTED))

    if "solution" in shots and shots["solution"].notna().any():
        counts = shots["solution"].value_counts()
        yield reported("Solution: " + ", ".join(f"{name} ({count})" for name, count in counts.items()) + ".")
    else:
        yield Html("Solution: the log says nothing of it.")
    for name, head, digits, after in (
        ("epochs", "Epochs of a shot", 0, ""),
        ("satellites", "Satellites", 0, ""),
        ("pdop", "PDOP", 1, ""),
        ("correction_age", "Age of corrections", 1, " s"),
    ):
        if name not in shots:
            continue
        held = shots[name].dropna().astype("float64")
        if len(held):
            low, middle, high = (words.number(float(each), digits) for each in (held.min(), held.median(), held.max()))
            yield reported(f"{head}: {low} to {high}{after}, half of all above {middle}.")
    if "tilt" in shots and shots["tilt"].notna().any():
        tilt = shots["tilt"].dropna()
        leaning = int((tilt >= 3.0).sum())
        said = f"Rod: tilt recorded for {words.many(len(tilt), 'shot')}, {leaning} of them at 3° or more from plumb"
        yield reported(f"{said}; the largest {words.number(float(tilt.max()), 1)}°.")
    else:
        yield Html("Rod: the log says nothing of its tilt.")


def _sessions(shots: "pd.DataFrame") -> Html:
    rows = []
    for session, mine in shots[shots["session"].notna()].groupby("session", sort=True):
        times = mine["time"].dropna()
        first, last = ("", "") if not len(times) else (f"{times.min():%Y-%m-%d %H:%M}", f"{times.max():%Y-%m-%d %H:%M}")
        starts = mine["initialization"].nunique() if "initialization" in mine else 0
        checks = int((mine["role"] == "check").sum()) if "role" in mine else 0
        rows.append(Row((session, len(mine), first, last, starts or words.MISSING, checks), key=str(session)))
    heads = (
        Column("Session", "k"),
        Column("Shots", "n"),
        Column("First (UTC)", "k"),
        Column("Last (UTC)", "k"),
        Column("Initializations", "n"),
        Column("Check shots", "n"),
    )
    return table("sessions", heads, rows, caption="Sessions")


def checks(results: Results) -> Iterator[Html]:
    """Give what each check of this run compares, and what it cannot show."""
    rows = []
    told = {name: check_named(str(name)) for name in every_number(results)["check"].unique()}
    for name, check in sorted(told.items(), key=lambda pair: (pair[1].order, pair[0])):
        rows.append(Row((check.title, check.compared, check.cannot_show), key=str(name)))
    heads = (Column("Check"), Column("What is compared with what", "w"), Column("What it cannot show", "w"))
    yield table("checks", heads, rows)
