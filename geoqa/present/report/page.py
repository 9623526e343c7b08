"""The report as an output: one file, ``report.html``, that prints on letter paper with heads and page numbers."""

import tempfile
from collections.abc import Iterator, Mapping
from html import escape
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import ClassVar

from pydantic import Field, field_validator
from pydantic_core import PydanticCustomError

from geoqa.contract.items import headline
from geoqa.model import words
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.reported import TEXTS, shots_by_sign
from geoqa.present.report.behind import behind
from geoqa.present.report.budget import budget
from geoqa.present.report.closing import limits, signature
from geoqa.present.report.control import accuracy, control, shifts
from geoqa.present.report.edits import edits
from geoqa.present.report.items import items, verdict_of
from geoqa.present.report.kinds import kinds
from geoqa.present.report.markup import Chapter, Column, Html, Row, safe, table, tag
from geoqa.present.report.metadata import metadata
from geoqa.present.report.printed_pages import pages_of
from geoqa.present.report.printing import browser, nobody, printed
from geoqa.present.report.red_line import red_line
from geoqa.present.report.scope import checks, method, scope

FILE, PAPER = "report.html", "report.pdf"
FROM_A_BROWSER = "For paper or a PDF print this page from a browser: letter, portrait, its own margins."


class ReportPage(Output):
    """Write the whole record of a run for people: items, method, control, results, red lines and limits.

    Examples
    --------
    >>> ReportPage().name
    'report'
    """

    name: ClassVar[str] = "report"
    effort: ClassVar[int] = 3
    files: ClassVar[Mapping[str, str]] = {
        FILE: "report for screen and paper: print it from a browser, letter size",
        PAPER: "the same report as it prints on letter paper",
    }
    format: ClassVar[Format | None] = Format(
        title="report in one file, for screen and paper",
        keeps="headline, items, method, metadata, control, accuracy, uncertainty, results by kind, plots, red lines",
        loses="single numbers within tolerance, and where things lie: the map and the tables have them",
    )

    pdf: bool = Field(False, description="Print it to report.pdf too, with a browser found on this machine")

    @field_validator("pdf")
    @classmethod
    def _can_be_printed(cls, pdf: bool) -> bool:
        """Refuse before a run what could only fail after it."""
        if pdf and browser() is None:
            raise PydanticCustomError("browser", "{why}", {"why": nobody()})
        return pdf

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``report.html`` into `folder`, and ``report.pdf`` where it is asked for.

        Parameters
        ----------
        results : Results
        folder : path
            An existing folder.

        Returns
        -------
        tuple of str
            Names of the files written.
        """
        Path(folder, FILE).write_text(page(results), encoding="utf-8", newline="\n")
        if not self.pdf:
            return (FILE,)
        Path(folder, PAPER).write_bytes(on_paper(results))
        return (FILE, PAPER)


def on_paper(results: Results) -> bytes:
    """Print the report, and once more with the pages that its contents name."""
    with tempfile.TemporaryDirectory(prefix="geoqa-report-") as place:
        file = Path(place, FILE)
        file.write_text(page(results), encoding="utf-8", newline="\n")
        paper = printed(file, results.title.date)
        if pages := pages_of(paper):
            file.write_text(page(results, pages=pages), encoding="utf-8", newline="\n")
            paper = printed(file, results.title.date)
    return paper


def page(results: Results, *, pages: Mapping[str, int] = MappingProxyType({})) -> str:
    """Write the whole report; the same text for the same results.

    Parameters
    ----------
    results : Results
    pages : mapping of str to int
        On which page of paper each chapter begins, by its anchor, where that is known.

    Returns
    -------
    str
    """
    css = (files("geoqa.present.report") / "static" / "report.css").read_text(encoding="utf-8")
    title = " – ".join(part for part in (results.title.name, results.title.date) if part)
    chapters = [each for each in _chapters(results) if each.parts]
    body = [
        _opening(results),
        _contents(chapters, pages),
        *(each.html(number) for number, each in enumerate(chapters, 1)),
    ]
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{safe(title)} – report</title>\n<style>\n{css}{_running(results)}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(str(part) for part in body if part)
        + "\n</main>\n</body>\n</html>\n"
    )


def _chapters(results: Results) -> Iterator[Chapter]:
    for title, anchor, made, fresh in (
        ("Items", "items", items, False),
        ("Scope", "scope", scope, False),
        ("Method", "method", method, False),
        ("Frame and metadata", "metadata", metadata, False),
        ("Control", "control", control, False),
        ("Shifts of sessions", "shifts", shifts, False),
        ("Accuracy", "accuracy", accuracy, False),
        ("Uncertainty of one shot", "uncertainty", budget, False),
        ("Results by kind", "kinds", kinds, True),
        ("Red lines", "red-lines", red_line, True),
        ("Changes since earlier runs", "edits", edits, False),
        ("Limits and cautions", "limits", limits, False),
        ("For the licensee", "signature", signature, False),
        ("Behind the items", "behind", behind, True),
        ("Appendix: the checks of this run", "checks", checks, True),
    ):
        yield Chapter(title=title, anchor=anchor, parts=tuple(made(results)), fresh=fresh)


def _opening(results: Results) -> Html:
    title, frame = results.title, results.layers.frame
    under = " · ".join(part for part in (title.client, title.revision, title.date) if part)
    if title.preliminary:
        state = tag("p", words.PRELIMINARY, kind="banner")
    else:
        state = tag("p", f"Reviewed by {title.reviewed_by} on {title.reviewed_on}")
    between = results.summary.get("grid_ground", "")
    return tag(
        "header",
        tag("p", "Report of an as-built check", kind="over"),
        tag("h1", title.name),
        tag("p", under, kind="under"),
        state,
        tag("p", headline(results.layers) or "No number was judged.", kind="headline"),
        _counted(results),
        tag("p", frame.describe(), Html("<br>") if between else "", between, kind="quiet"),
        tag("p", words.CERTIFICATION, kind="quiet"),
        tag("p", FROM_A_BROWSER, kind="quiet screen"),
    )


def _counted(results: Results) -> Html:
    found, shots = results.reported["verdict"].value_counts(), shots_by_sign(results.layers)
    rows = [
        Row(
            (
                verdict_of(sign) if sign in SIGNS else "+",
                text,
                str(found.get(sign, 0)) if sign in SIGNS else "",
                str(shots[sign]),
            ),
            key=sign,
        )
        for sign, text in TEXTS.items()
        if sign in SIGNS or shots.get(sign)
    ]
    heads = (Column("", "k"), Column("", "w"), Column("Findings", "n"), Column("Shots, by the worst of theirs", "n"))
    return table("counts", heads, rows)


def _contents(chapters: list[Chapter], pages: Mapping[str, int]) -> Html:
    lines = "".join(
        f'<li><a href="#{escape(each.anchor)}"><span class="no">{number}</span> {safe(each.title)}'
        f"{tag('span', pages.get(each.anchor, ''), kind='page')}</a></li>"
        for number, each in enumerate(chapters, 1)
    )
    return Html(f'<nav aria-label="Contents"><h2>Contents</h2><ol>{lines}</ol></nav>')


def _running(results: Results) -> str:
    """The line at the head and foot of each printed page: job, state, and the number of the page."""
    title = results.title
    job = " · ".join(part for part in (title.name, title.date) if part)
    state = words.PRELIMINARY if title.preliminary else f"Reviewed by {title.reviewed_by} on {title.reviewed_on}"
    return (
        f"@page {{ @top-left {{ content: {_css_text(job)}; }} @top-right {{ content: {_css_text(state)}; }} "
        f"@bottom-left {{ content: {_css_text('A computation, not a certification')}; }} }}\n"
    )


def _css_text(text: str) -> str:
    r"""Text for a style sheet, every mark but letters and digits by its number.

    Examples
    --------
    >>> _css_text("a </b>")
    '"a\\000020\\00003C\\00002Fb\\00003E"'
    """
    kept = (each if each.isascii() and each.isalnum() else f"\\{ord(each):06X}" for each in text[:90])
    return '"' + "".join(kept) + '"'
