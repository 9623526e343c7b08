"""Where a value comes from: measured by us, reported by others, or copied from the design."""

from geoqa.present.report.markup import Column as C
from geoqa.present.report.markup import Html, Row, table

MEASURED, REPORTED, DESIGN = "M", "R", "D"
_WORDS = {
    MEASURED: ("measured by us", "shots of this survey, and numbers computed from them"),
    REPORTED: (
        "reported by others",
        "published marks, sizes and materials from a list, what a log or a file says of itself",
    ),
    DESIGN: ("from design", "copied from the drawings; not measured"),
}


def mark(origin: str) -> Html:
    """The letter that stands behind a value.

    Examples
    --------
    >>> mark(DESIGN)
    '<sup class="of" title="from design">D</sup>'
    """
    return Html(f'<sup class="of" title="{_WORDS[origin][0]}">{origin}</sup>')


def key() -> Html:
    """What the letters mean."""
    columns = (C("Mark", "k"), C("Value is", "k"), C("Which means", "w"))
    return table("origins", columns, [Row((mark(each), *said), key=each) for each, said in _WORDS.items()])
