"""Text, tables and chapters of the report as HTML: what comes from a file is shown, never obeyed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape


class Html(str):
    """Text that is HTML already."""

    __slots__ = ()


def safe(text: object) -> Html:
    """Text for HTML, without characters that turn or hide others; HTML stays what it is.

    Examples
    --------
    >>> safe("a < b"), safe(Html("<b>a</b>")), safe(None)
    ('a &lt; b', '<b>a</b>', '')
    """
    if isinstance(text, Html):
        return text
    if text is None:
        return Html("")
    return Html(escape("".join(mark if mark.isprintable() else "\N{REPLACEMENT CHARACTER}" for mark in str(text))))


def joined(*parts: object, by: str = "") -> Html:
    """Parts one after the other; what is empty is left out.

    Examples
    --------
    >>> joined("1 < 2", "", Html("<i>so</i>"), by="; ")
    '1 &lt; 2; <i>so</i>'
    """
    return Html(by.join(text for part in parts if (text := safe(part))))


def tag(name: str, *parts: object, kind: str = "") -> Html:
    """An element around parts; none where they are empty.

    Examples
    --------
    >>> tag("p", "a & b", kind="small"), tag("p", "")
    ('<p class="small">a &amp; b</p>', '')
    """
    inner = joined(*parts)
    return Html(f"<{name}{_class(kind)}>{inner}</{name}>") if inner else Html("")


def bullets(lines: Iterable[object], kind: str = "") -> Html:
    """A list of lines; none where there is no line."""
    return tag("ul", *(tag("li", line) for line in lines), kind=kind)


@dataclass(frozen=True)
class Column:
    """Head of a column, and the class of its cells: `n` is a number, `w` wide, `k` kept in one line."""

    head: str
    kind: str = ""


@dataclass(frozen=True)
class Row:
    """Cells of one row, in the order of the columns.

    Attributes
    ----------
    cells : sequence
        Text or HTML.
    key : str
        What the row is about, for who reads the page back.
    kind : str
        Class of the row.
    """

    cells: Sequence[object]
    key: str = ""
    kind: str = ""


def table(name: str, columns: Sequence[Column], rows: Iterable[Row], *, caption: object = "") -> Html:
    """A table whose head is repeated on every page, and whose rows are never cut by one.

    Parameters
    ----------
    name : str
        Name for who reads the page back.
    columns : sequence of Column
    rows : iterable of Row
    caption : str or Html
        Stands above it, on the same page as its first row.
    """
    head = "".join(f'<th scope="col"{_class(each.kind)}>{safe(each.head)}</th>' for each in columns)
    body = "\n".join(_row(row, columns) for row in rows)
    said = f"<caption>{safe(caption)}</caption>" if caption else ""
    return Html(
        f'<div class="wide" tabindex="0"><table data-table="{escape(name)}">{said}<thead><tr>{head}</tr></thead>\n'
        f"<tbody>\n{body}\n</tbody></table></div>"
    )


def _row(row: Row, columns: Sequence[Column]) -> str:
    cells = "".join(
        f"<td{_class(column.kind)}>{safe(cell)}</td>" for column, cell in zip(columns, row.cells, strict=True)
    )
    key = f' data-row="{safe(row.key)}"' if row.key else ""
    return f"<tr{key}{_class(row.kind)}>{cells}</tr>"


def _class(kind: str) -> str:
    return f' class="{kind}"' if kind else ""


@dataclass(frozen=True, kw_only=True)
class Chapter:
    """A chapter: what it is called, where a link finds it, and its parts in order.

    Attributes
    ----------
    title, anchor : str
    parts : sequence
        Text or HTML; a chapter without any is left out.
    fresh : bool
        It begins on a page of its own.
    """

    title: str
    anchor: str
    parts: Sequence[object] = field(default_factory=tuple)
    fresh: bool = False

    def html(self, number: int) -> Html:
        """The whole chapter under its number."""
        body = joined(*self.parts, by="\n")
        kind = _class("fresh" if self.fresh else "")
        head = f'<h2><span class="no">{number}</span> {safe(self.title)}</h2>'
        return Html(f'<section id="{escape(self.anchor)}"{kind}>\n{head}\n{body}\n</section>')
