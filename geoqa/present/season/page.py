"""The season as one page, ``season.html``: what all jobs of a batch say together, offline, on screen and on paper."""

from collections.abc import Iterator
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from geoqa.model import words
from geoqa.model.season import FEWEST_JOBS, FEWEST_OF_RECEIVER, LEVEL, Season
from geoqa.model.signs import SIGNS
from geoqa.present.report.markup import Chapter, Column, Html, Row, bullets, joined, safe, table, tag
from geoqa.present.season.plots import mark_plot

if TYPE_CHECKING:
    import pandas as pd

PLOTS = 12
"""Moves that are drawn; the table `mark_values` has all."""
SESSIONS = 15
"""Sessions that the page lists, the worst first; the table `achieved` has all."""
_AXIS = {"easting": "easting", "northing": "northing", "elevation": "elevation"}
_WAY = {"easting": ("east", "west"), "northing": ("north", "south"), "elevation": ("high", "low")}
_MOVED = {"easting": ("east", "west"), "northing": ("north", "south"), "elevation": ("up", "down")}


def page(season: Season) -> str:
    """Write the whole page; the same text for the same season."""
    css = (files("geoqa.present.report") / "static" / "report.css").read_text(encoding="utf-8")
    chapters = [each for each in _chapters(season) if each.parts]
    body = [_opening(season), *(each.html(number) for number, each in enumerate(chapters, 1))]
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>Season – {escape(words.many(len(season.jobs), 'job'))}</title>\n<style>\n{css}</style>\n</head>\n"
        "<body>\n<main>\n" + "\n".join(str(part) for part in body if part) + "\n</main>\n</body>\n</html>\n"
    )


def headline(season: Season) -> str:
    """What the season says first, the work before the survey."""
    numbers = int(season.shares["numbers"].sum()) if len(season.shares) else 0
    said = []
    if numbers:
        totals = {sign: int(season.shares[sign].sum()) for sign in SIGNS}
        said.append(
            f"Of {words.many(numbers, 'number')} of the work {_share(totals['IN'], numbers)} are proven within "
            f"tolerance, {_share(totals['OUT'], numbers)} proven out; {_share(totals['UNDECIDED'], numbers)} cannot be "
            f"decided, {_share(totals['NO_DATA'], numbers)} are not judged."
        )
    else:
        said.append("No number of the work was judged.")
    moved = list(dict.fromkeys(season.marks["mark"][season.marks["state"] == "moved"]))
    off = list(dict.fromkeys(season.receivers["receiver"][season.receivers["state"] == "off"]))
    if moved:
        said.append(f"{words.many(len(moved), 'mark')} moved: {_few(moved)}.")
    if off:
        said.append(f"{words.many(len(off), 'receiver')} measured otherwise than the others: {_few(off)}.")
    if not moved and not off:
        said.append("No mark is proven to have moved, and no receiver to measure otherwise than the others.")
    return " ".join(said)


def _few(names: list[str]) -> str:
    more = f" and {len(names) - 6} more" if len(names) > 6 else ""
    return ", ".join(names[:6]) + more


def _share(count: int, of: int) -> str:
    """A share that is never rounded to none or all.

    Examples
    --------
    >>> _share(1, 1000), _share(999, 1000), _share(0, 5), _share(5, 5), _share(1, 4)
    ('under 1 %', 'over 99 %', '0 %', '100 %', '25 %')
    """
    if 0 < count < 0.01 * of:
        return "under 1 %"
    if 0.99 * of < count < of:
        return "over 99 %"
    return f"{100.0 * count / of:.0f} %"


def _opening(season: Season) -> Html:
    refused = int((season.jobs["state"] == "refused").sum())
    dates = sorted(each for each in season.jobs["date"] if each)
    span = dates[0] if dates and dates[0] == dates[-1] else f"{dates[0]} to {dates[-1]}" if dates else ""
    state = f"{words.many(len(season.jobs) - refused, 'job')} judged"
    state += f", {refused} refused" if refused else ""
    return tag(
        "header",
        tag("p", "What many jobs say together", kind="over"),
        tag("h1", "Season"),
        tag("p", " · ".join(part for part in (state, span) if part), kind="under"),
        tag("p", words.PRELIMINARY, kind="banner"),
        tag("p", headline(season), kind="headline"),
        tag("p", f"Lengths in {season.unit}; residuals are measured minus published.", kind="quiet"),
        tag("p", words.CERTIFICATION, kind="quiet"),
    )


def _chapters(season: Season) -> Iterator[Chapter]:
    for title, anchor, made in (
        ("The work, by owner and kind", "work", _work),
        ("Jobs that were refused", "refused", _refused),
        ("Marks that moved", "marks", _marks),
        ("Receivers against each other", "receivers", _receivers),
        ("Achieved on control", "achieved", _achieved),
        ("Causes that jobs name", "causes", _causes),
        ("Every job", "jobs", _jobs),
        ("What this page claims, and what not", "claims", _claims),
    ):
        yield Chapter(title=title, anchor=anchor, parts=tuple(made(season)))


def _work(season: Season) -> Iterator[Html]:
    if not len(season.shares):
        yield tag("p", "No number of the work was judged: these jobs hold control alone, or no limits.")
        return
    heads = (Column("Owner", "w"), Column("Kind"), Column("Numbers", "n"), Column("Proven out", "n"),
             Column("Undecided", "n"), Column("Not judged", "n"), Column("Proven within", "n"))  # fmt: skip
    rows = []
    for row in season.shares.to_dict("records"):
        shares = [
            f"{row[sign]} ({_share(row[sign], row['numbers'])})" for sign in ("OUT", "UNDECIDED", "NO_DATA", "IN")
        ]
        cells = (row["owner"] or words.MISSING, row["kind"] or words.MISSING, row["numbers"], *shares)
        rows.append(Row(cells, key=f"{row['owner']} {row['kind']}", kind="bad" if row["OUT"] else ""))
    yield table("shares", heads, rows)
    yield tag("p", "As each job reports them: shots of a run that agree are one number. The owner is [job] client.",
              kind="quiet")  # fmt: skip


def _refused(season: Season) -> Iterator[Html]:
    mine = season.jobs[season.jobs["state"] == "refused"]
    if len(mine):
        yield tag("p", "Nothing of these is in any number of this page.")
        rows = [Row((row["job"], row["trouble"]), key=row["job"], kind="lacks") for row in mine.to_dict("records")]
        yield table("refused", (Column("Job", "k"), Column("Why", "w")), rows)


def _marks(season: Season) -> Iterator[Html]:
    marks = season.marks
    asked = marks[marks["state"] != "few"]
    moved = marks[marks["state"] == "moved"].sort_values(["p", "mark", "axis"])
    if not len(marks):
        yield tag("p", "No check shot on a control mark was read.")
        return
    count = asked["mark"].nunique()
    few = marks["mark"].nunique() - count
    said = f"{words.many(count, 'mark')} could be asked: seen in {2 * FEWEST_JOBS} jobs or more, beside other marks."
    said += f" {words.many(few, 'mark')} {'was' if few == 1 else 'were'} seen too seldom to say." if few else ""
    said += f" {words.many(season.alone, 'session')} with one mark alone could not help." if season.alone else ""
    yield tag("p", said)
    if not len(moved):
        yield tag("p", _nothing(asked))
    else:
        yield bullets(_moved_words(row, season.unit) for row in moved.to_dict("records"))
        yield table(
            "moved", _heads("Mark"), [_tested(row, row["mark"], season.unit) for row in moved.to_dict("records")]
        )
        for row in moved.head(PLOTS).to_dict("records"):
            values = season.mark_values
            mine = values[(values["mark"] == row["mark"]) & (values["axis"] == row["axis"])]
            yield tag("figure", Html(mark_plot(mine, row, season.unit)))
        yield tag("p", "Dots: the mark against the other marks of the same session, from before it moved; bars: 95 %; "
                       "line: the moves as found.", kind="quiet")  # fmt: skip
    several = sorted(set(marks["mark"][marks["published"] > 1]))
    if several:
        yield tag("p", f"Published at more than one place in these jobs: {_few(several)}. Their movement is told "
                       "from the first of these places on.", kind="quiet")  # fmt: skip


def _nothing(asked: "pd.DataFrame") -> str:
    if not len(asked) or not asked["p"].notna().any():
        return "No mark was seen often enough to say whether it moved."
    nearest = asked[asked["p"].notna()].sort_values("p", kind="stable").iloc[0]
    return (
        f"None is proven to have moved. The nearest is {nearest['mark']} in {nearest['axis']}: chance alone does as "
        f"much in {_chance(nearest['p'])} of such batches."
    )


def _moved_words(row: dict[Any, Any], unit: str) -> str:
    way = _MOVED[row["axis"]][row["size"] < 0]
    when = f"between {_day(row['after'])} and {_day(row['before'])}"
    return (
        f"{row['mark']} moved {words.number(abs(row['size']), 3)} {unit} {way} (± {_half(row)} at 95 %), most likely "
        f"{when}. Its published value no longer holds: measure it anew from other marks before it is held again."
    )


def _day(time: Any) -> str:
    return str(time.date().isoformat()) if time == time and time is not None else "the first job"


def _half(row: dict[Any, Any]) -> str:
    return words.number((row["high"] - row["low"]) / 2, 3)


def _heads(first: str) -> tuple[Column, ...]:
    return (Column(first, "k"), Column("Along"), Column("Jobs", "n"), Column("Size", "n"), Column("95 %", "n"),
            Column("Size over u", "n"), Column("Chance, all asked", "n"))  # fmt: skip


def _tested(row: dict[Any, Any], name: str, unit: str) -> Row:
    band = f"{words.number(row['low'], 3, signed=True)} to {words.number(row['high'], 3, signed=True)}"
    cells = (name, _AXIS[row["axis"]], row["jobs"], f"{words.number(row['size'], 3, signed=True)} {unit}", band,
             words.number(row["t"], 1, signed=True), _chance(row["p"]))  # fmt: skip
    return Row(cells, key=f"{name} {row['axis']}", kind="bad" if row["state"] in ("moved", "off") else "")


def _chance(p: float) -> str:
    """A chance in words.

    Examples
    --------
    >>> _chance(1e-9), _chance(0.03), _chance(1.0)
    ('under 0.1 %', '3.0 %', 'nearly all')
    """
    return "under 0.1 %" if p < 0.001 else "nearly all" if p >= 0.995 else f"{100 * p:.1f} %"


def _receivers(season: Season) -> Iterator[Html]:
    rows = season.receivers
    if not len(rows):
        yield tag("p", 'No job states which receiver measured: receiver = "…" under its [[shots]].')
        return
    off = rows[rows["state"] == "off"]
    alone = sorted(set(rows["receiver"][rows["state"] == "alone"]))
    if len(off):
        yield bullets(_off_words(row, rows, season.unit) for row in off.to_dict("records"))
    elif (rows["state"] == "agrees").any():
        yield tag("p", "None is proven to measure otherwise than the others.")
    tested = rows[rows["size"].notna()].sort_values(["p", "receiver", "axis"])
    if len(tested):
        shown = [_tested(row, row["receiver"], season.unit) for row in tested.to_dict("records")]
        yield table("receivers", _heads("Receiver"), shown)
    if alone:
        yield tag("p", f"Cannot be compared: {_few(alone)}. It takes {FEWEST_OF_RECEIVER} jobs of a receiver beside as "
                       "many of others on the same marks, or as many sites of each.", kind="quiet")  # fmt: skip
    if season.without_receiver:
        yield tag("p", f"{words.many(season.without_receiver, 'file')} of shots without a receiver stated.",
                  kind="quiet")  # fmt: skip


def _off_words(row: dict[Any, Any], rows: "pd.DataFrame", unit: str) -> str:
    way = _WAY[row["axis"]][row["size"] < 0]
    said = f"{row['receiver']} measures {words.number(abs(row['size']), 3)} {unit} {way} (± {_half(row)} at 95 %)"
    said += " against the other" if row["others"] == 1 else " against the others"
    plan = rows[(rows["receiver"] == row["receiver"]) & (rows["axis"] != "elevation") & (rows["state"] == "off")]
    if row["axis"] == "elevation" and not len(plan):
        longer = "longer" if row["size"] > 0 else "shorter"
        said += f", and not in plan: as it does with a rod that is {longer} than is entered for it. Measure its rod"
    else:
        said += ": look at how it is set up"
    if row["others"] == 1:
        said += ". Of two, the one farther from the published values is named"
    return f"{said}."


def _achieved(season: Season) -> Iterator[Html]:
    rows = season.achieved
    if not len(rows):
        yield tag("p", "No check shot on a control mark was read.")
        return
    yield tag(
        "p",
        "Root mean square of measured minus published, 1 sigma: in plan per axis, and in elevation. The band holds "
        "95 % even if all shots of a session share one error. What is proven of marks that moved is taken off; errors "
        "of the published values are in it.",
    )
    clocks = ", ".join(season.clocks)
    for by, title in (("all", "All"), ("receiver", "By receiver"), ("crew", "By crew"),
                      ("hours", f"By time of day ({clocks})"), ("session", "Sessions, the largest first")):  # fmt: skip
        mine = rows[rows["by"] == by]
        if not len(mine):
            continue
        if by == "session":
            mine = mine.sort_values(["u_v", "name"], ascending=[False, True], na_position="last").head(SESSIONS)
        yield table(f"achieved-{by}", _ACHIEVED, [_achieved_row(row) for row in mine.to_dict("records")], caption=title)
    if (more := int((rows["by"] == "session").sum()) - SESSIONS) > 0:
        yield tag("p", f"And {words.many(more, 'session')} more in achieved.csv.", kind="quiet")
    yield tag("p", "A band is left out where fewer than three sessions stand behind it. Differences between rows of "
                   "these tables are not tested; those of receivers are, above.", kind="quiet")  # fmt: skip


_ACHIEVED = (Column("Of", "w"), Column("Jobs", "n"), Column("Sessions", "n"), Column("Shots", "n"),
             Column("u in plan", "n"), Column("95 %", "n"), Column("u in elevation", "n"), Column("95 %", "n"),
             Column("Mean elevation", "n"))  # fmt: skip


def _achieved_row(row: dict[Any, Any]) -> Row:
    def band(axis: str) -> str:
        low, high = row[f"u_{axis}_low"], row[f"u_{axis}_high"]
        return f"{words.number(low, 3)} to {words.number(high, 3)}" if low == low else words.MISSING

    cells = (row["name"], row["jobs"], row["sessions"], row["shots"], words.number(row["u_h"], 3), band("h"),
             words.number(row["u_v"], 3), band("v"), words.number(row["mean_elevation"], 3, signed=True))  # fmt: skip
    return Row(cells, key=row["name"])


def _causes(season: Season) -> Iterator[Html]:
    if not len(season.causes):
        yield tag("p", "No job names a cause.")
        return
    heads = (Column("Cause", "w"), Column("Jobs", "n"), Column("Shots", "n"), Column("Receivers"), Column("Where", "w"))
    rows = [
        Row(
            (row["title"], row["jobs"], row["shots"], row["receivers"] or words.MISSING, row["where"]), key=row["cause"]
        )
        for row in season.causes.to_dict("records")
    ]
    yield table("causes", heads, rows)
    yield tag("p", "Shots under a cause that a job names are in no other number of this page, but for marks.",
              kind="quiet")  # fmt: skip


def _jobs(season: Season) -> Iterator[Html]:
    heads = (Column("Job", "k"), Column("Name", "w"), Column("Date", "k"), Column("Shots", "n"), Column("Out", "n"),
             Column("Undecided", "n"), Column("Not judged", "n"), Column("Within", "n"))  # fmt: skip
    rows = [
        Row((row["job"], row["name"], row["date"], row["shots"], *(row[sign] for sign in
             ("OUT", "UNDECIDED", "NO_DATA", "IN"))), key=row["job"], kind="bad" if row["OUT"] else "")
        for row in season.jobs[season.jobs["state"] != "refused"].to_dict("records")
    ]  # fmt: skip
    if rows:
        yield table("jobs", heads, rows)
    if season.others:
        yield tag("p", f"No jobs, for they have no table [job]: {_few(list(season.others))}.", kind="quiet")


def _claims(season: Season) -> Iterator[Html]:
    share = f"{100 * LEVEL:.0f} %"
    lines: list[object] = [
        f"That a mark moved is claimed in at most {share} of batches in which none did, all marks, dates and axes "
        f"counted together; that a receiver is off, in at most {share} of those in which none is. Both rates hold for "
        "errors that are normal and independent from session to session.",
        "What is not claimed is not shown to be absent: a small move, or one that one job alone saw, is not found.",
        "A mark that sinks slowly reads as one move in the middle of its time.",
        "A move is told against the other marks of the same sessions: if most of them moved together, it shows the "
        "other way round.",
        "Marks of one name are one mark where their frame is the same and their published places lie within a foot.",
    ]
    if season.frames > 1:
        lines.append(f"These jobs stand in {season.frames} frames; marks of two are not compared.")
    if season.without_time:
        lines.append(f"{words.many(season.without_time, 'check shot')} without a time, in jobs without a date, "
                     "could not be put in order: they are in no answer on marks.")  # fmt: skip
    if not season.crews:
        lines.append("Crews are told apart only when asked for: geoqa batch --crews.")
    yield bullets(lines, kind="notes")
    yield joined(tag("p", safe("Tables beside this page hold every number of it."), kind="quiet"))
