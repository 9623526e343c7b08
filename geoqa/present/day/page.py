"""The day as an output: one file, ``day.html``, one column, no script, readable on a phone and on paper."""

from collections.abc import Hashable, Iterator, Mapping
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.contract.file_sentences import not_read
from geoqa.contract.notes import OF_THE_DAY
from geoqa.contract.sentences import note_lines
from geoqa.model import words
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.point_file import COLUMNS, Place, point_file
from geoqa.model.results import Results
from geoqa.model.tables.layer import Layers
from geoqa.model.vocabulary import NOTHING, NOW, URGENCY

if TYPE_CHECKING:
    import pandas as pd

FILE, PLACES = "day.html", "day_list.csv"


class DayPage(Output):
    """Write the list of what to do before leaving: one HTML file that works offline.

    Examples
    --------
    >>> DayPage().name
    'day'
    """

    name: ClassVar[str] = "day"
    files: ClassVar[Mapping[str, str]] = {
        FILE: "what to do before leaving, for a phone",
        PLACES: f"the same places for a collector: {COLUMNS} without a header",
    }
    format: ClassVar[Format | None] = Format(
        title="page of the day in one file",
        keeps="what to re-shoot before leaving, checks and control of the day",
        loses="single shots without a remark",
    )
    steps: ClassVar[tuple[str, ...]] = ("day-items",)

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``day.html`` into `folder`, and beside it ``day_list.csv``, the places it sends one to.

        Parameters
        ----------
        results : Results
            With a layer `day_items`.
        folder : path
            An existing folder.

        Returns
        -------
        tuple of str
            Names of the files written.
        """
        with open(Path(folder) / FILE, "w", encoding="utf-8", newline="\n") as file:
            file.write(page(results))
        places = list(_places(results.layers["day_items"], results.layers["shots"]))
        digits = words.decimals("length", results.layers.frame.unit.name)
        Path(folder, PLACES).write_text(point_file(places, digits=digits), encoding="ascii", newline="\n")
        return (FILE, PLACES)


def _places(items: "pd.DataFrame", shots: "pd.DataFrame") -> Iterator[Place]:
    """Each shot that an item names, once, under the item that is most urgent; of an item without one, its own place."""
    alone = shots[~shots["shot"].duplicated(keep=False)].set_index("shot")[["easting", "northing"]]
    at, told = alone.to_dict("index"), set[str]()
    for row in items.to_dict("records"):
        listed, _, more = str(row["names"] or "").partition(" and ")
        names = [name for name in listed.split(", ") if name in at]
        for name in names:
            if name not in told:
                says = f"{row['item']} {name}" + (f" +{more}" if more and name == names[-1] else "")
                yield Place(easting=at[name]["easting"], northing=at[name]["northing"], says=says)
        told.update(names)
        if not names:
            says = f"{row['item']} {row['names'] or row['where'] or row['title']}"
            yield Place(easting=row["easting"], northing=row["northing"], says=says)


def page(results: Results) -> str:
    """The whole page as text."""
    items, beside = results.layers["day_items"], _beside_baseline(results.layers["shots"])
    title = " – ".join(part for part in (results.title.name, results.title.date) if part)
    css = (files("geoqa") / "present" / "day" / "day.css").read_text(encoding="utf-8")
    body = [
        f"<h1>{_safe(title)}</h1>",
        f'<p class="frame">{_safe(results.layers.frame.describe())}</p>',
        _lead(items, results.summary["shots"], not_read(results.layers)),
        *(_part(items[items["urgency"] == urgency], urgency, beside) for urgency in URGENCY),
        _control(results.layers),
        _notes(_of_the_day(results)),
        f'<p class="foot">{_safe(words.PRELIMINARY)}. {_safe(words.CERTIFICATION)}{_buried(results.layers)}</p>',
    ]
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{_safe(title)}</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
        + "\n".join(part for part in body if part)
        + "\n</body>\n</html>\n"
    )


def _lead(items: "pd.DataFrame", shots: int, unread: str) -> str:
    urgent = int((items["urgency"] == NOW).sum())
    looked = f"{words.many(shots, 'shot was', 'shots were')} looked at."
    looked += f" {_safe(unread)}." if unread else ""
    if urgent:
        things = "1 thing" if urgent == 1 else f"{urgent} things"
        return f'<p class="lead now">{things} to do before you leave. {looked}</p>'
    said = (
        NOTHING
        if not len(items) and not unread
        else "Nothing that must be re-shot was found; see below what to look at."
    )
    return f'<p class="lead">{_safe(said)} {looked}</p>'


def _beside_baseline(shots: "pd.DataFrame") -> Mapping[str, str]:
    """Key of a shot to its station and offset in words; empty in a job without a baseline."""
    if "baseline_place" not in shots:
        return {}
    there = shots[shots["baseline_place"].notna()]
    return dict(zip(there["shot_key"], there["baseline_place"], strict=True))


def _part(items: "pd.DataFrame", urgency: int, beside: Mapping[str, str]) -> str:
    if not len(items):
        return ""
    rows = "\n".join(_item(row, beside) for row in items.to_dict("records"))
    return f"<h2>{_safe(URGENCY[urgency])}</h2>\n<ol>\n{rows}\n</ol>"


def _item(row: Mapping[Hashable, Any], beside: Mapping[str, str]) -> str:
    where = f" – {_safe(row['where'])}" if row["where"] else ""
    count = f"{row['shots']} shots: " if row["shots"] > 1 else ""
    names = f'<p class="names">{count}{_safe(row["names"])}</p>' if row["names"] else ""
    place, station = "", beside.get(row["shot_key"], "")
    if row["easting"] == row["easting"]:
        place = f"<br>First at E {words.number(row['easting'], 1)}, N {words.number(row['northing'], 1)}"
    if station:
        names += f'<p class="names">{"First at b" if row["shots"] > 1 else "B"}aseline {_safe(station)}</p>'
    label = _safe(f"{row['item']} done")
    return (
        f'<li class="item"><input class="box" type="checkbox" aria-label="{label}"><div>'
        f'<div class="title">{row["item"]}. {_safe(row["title"])}{where}</div>'
        f'<p class="do">{_safe(_sentence(row["do"]))}</p>{names}'
        f"<details><summary>Why</summary><div>{_safe(_sentence(row['why']))}{place}</div></details></div></li>"
    )


def _control(layers: Layers) -> str:
    if "control_sessions" not in layers or not len(layers["control_sessions"]):
        return ""
    unit = layers.frame.unit.name
    head = "".join(f"<th>{each}</th>" for each in ("Session", "Shots", "Marks", "E", "N", "Elev.", "Worst of 20"))
    rows = []
    for row in layers["control_sessions"].to_dict("records"):
        numbers = [words.number(row[f"mean_{axis}"], 3, signed=True) for axis in ("easting", "northing", "elevation")]
        worst = f"{words.number(row['h_95'], 2)} / {words.number(row['v_95'], 2)}"
        cells = [
            row["session"] if row["session"] == row["session"] else "–",
            row["shots"],
            row["marks"],
            *numbers,
            worst,
        ]
        rows.append("<tr>" + "".join(f"<td>{_safe(str(each))}</td>" for each in cells) + "</tr>")
    last = layers["control_sessions"].iloc[-1]
    said = f"In plan: {last['horizontal_says']}. In elevation: {last['vertical_says']}."
    said += f" Left out of these numbers: {last['without']}." if last["without"] else ""
    return (
        f'<h2>Checks on control</h2>\n<div class="scroll" tabindex="0"><table><thead><tr>{head}</tr></thead>'
        f'<tbody>{"".join(rows)}</tbody></table></div>\n<p class="small">{_safe(said)} '
        "Mean of measured minus published, "
        f"{_safe(unit)}; worst of 20: 95 % of such errors stay within, plan / elevation. No statement of accuracy.</p>"
    )


def _of_the_day(results: Results) -> tuple[str, ...]:
    """Notes on what could not be checked; what else a whole job notes is no matter of this page."""
    layers = results.layers
    if "notes" not in layers or not len(layers["notes"]):
        return results.notes
    mine = set(note_lines(layers["notes"], layers.frame.unit.name, only=OF_THE_DAY))
    return tuple(note for note in results.notes if note in mine)


def _notes(notes: tuple[str, ...]) -> str:
    if not notes:
        return ""
    shown = "".join(f"<li>{_safe(note)}</li>" for note in notes[:20])
    more = f"<li>and {len(notes) - 20} more in record.json</li>" if len(notes) > 20 else ""
    return f"<h2>What could not be checked</h2>\n<ul>{shown}{more}</ul>"


def _buried(layers: Layers) -> str:
    shots = layers["shots"]
    buried = "kind" in shots and bool(shots["kind"].isin(words.BURIED_KINDS).any())
    return f" {_safe(words.BURIED)}" if buried else ""


def _sentence(text: str) -> str:
    r"""Text as a sentence: a capital, and a full stop.

    Examples
    --------
    >>> _sentence("shoot it again")
    'Shoot it again.'
    >>> _sentence("was it staked?")
    'Was it staked?'
    """
    text = text.strip()
    if not text:
        return ""
    first, end = f"{text[:1].upper()}{text[1:]}".rstrip("."), "" if text.endswith("?") else "."
    return f"{first}{end}"


def _safe(text: object) -> str:
    """Text for HTML, without characters that turn or hide others."""
    shown = "".join(mark if mark.isprintable() else "\N{REPLACEMENT CHARACTER}" for mark in str(text))
    return escape(shown)
