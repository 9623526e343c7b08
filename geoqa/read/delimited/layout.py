"""How a delimited text is laid out: delimiter, decimal mark and header, told from its first lines."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from geoqa.errors import LinesAboveError, SourceError
from geoqa.model.source import Evidence

DELIMITERS = {"\t": "tab", ";": "semicolon", "|": "bar", ",": "comma", " ": "space"}
"""In the order that decides between equals."""

SAMPLE = 200
"""Lines looked at."""

_NUMBER = {
    ".": re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"),
    ",": re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?"),
}
LOOKED_AT = 300
"""Fields of a line that are looked at; no table of shots is wider, and a wider one is told by these."""
_SEVERAL = re.compile(r"[+-]?[\d.]+(\s+[+-]?[\d.]+)+")
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+")
_QUOTED = re.compile(r'"((?:[^"]|"")*)"|(\S+)')


@dataclass(frozen=True, kw_only=True)
class Layout:
    """How to cut a text into fields and read its numbers."""

    delimiter: str
    decimal: str
    header: bool
    evidence: tuple[Evidence, ...] = ()


def cut(line: str, delimiter: str) -> list[str]:
    """Cut one line into fields, quotes obeyed, blanks round each field dropped.

    Examples
    --------
    >>> cut('007, 12.5,"a, b",6" pipe', ",")
    ['007', '12.5', 'a, b', '6" pipe']
    """
    if delimiter == " ":
        found = (match.groups() for match in _QUOTED.finditer(line))
        return [bare if quoted is None else quoted.replace('""', '"') for quoted, bare in found]
    if '"' not in line:
        return [each.strip() for each in line.split(delimiter)]
    return [each.strip() for each in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])]


def layout_of(
    lines: Sequence[str],
    *,
    name: str,
    is_column: Callable[[str], bool],
    delimiter: str | None = None,
    decimal: str | None = None,
    header: bool | None = None,
    cut_because: str = "stated in the job",
) -> Layout:
    """Tell the layout of a text from its first lines; what is stated is not questioned.

    Parameters
    ----------
    lines : sequence of str
        Lines with something on them.
    name : str
        File name, for messages.
    is_column : callable
        Whether a text is a column name that the reader knows.
    delimiter, decimal, header : optional
        Stated by the job.
    cut_because : str
        Why delimiter and decimal mark are known, where they are given: a sheet has cells.

    Raises
    ------
    SourceError
        One column only, or numbers whose comma can be read in two ways.
    """
    evidence = []
    if delimiter is None:
        delimiter, found = _delimiter(lines, name, is_column)
        evidence.append(found)
    else:
        evidence.append(Evidence(what="delimiter", answer=DELIMITERS[delimiter], because=cut_because))
    rows = [cut(line, delimiter)[:LOOKED_AT] for line in lines]
    if decimal is None:
        decimal, found = _decimal(rows, delimiter, name)
        evidence.append(found)
    else:
        evidence.append(Evidence(what="decimal mark", answer=decimal, because=cut_because))
    if decimal == delimiter:
        raise SourceError(f"'{name}': delimiter and decimal mark cannot both be '{decimal}'; state another delimiter.")
    if header is None:
        _refuse_lines_above(rows, is_column, name)
        header, found = _header(rows, decimal, is_column)
        evidence.append(found)
    else:
        evidence.append(Evidence(what="header", answer="yes" if header else "no", because="stated in the job"))
    return Layout(delimiter=delimiter, decimal=decimal, header=header, evidence=tuple(evidence))


def is_number(text: str, decimal: str) -> bool:
    """Whether a text is a plain number with that decimal mark."""
    return _NUMBER[decimal].fullmatch(text) is not None


def numeric_columns(rows: Sequence[Sequence[str]], decimal: str) -> list[int]:
    """Positions of the columns whose filled values are numbers, one stray in ten allowed."""
    width = _modal(rows)
    body = [row for row in rows if len(row) == width]
    found = []
    for position in range(width):
        filled = [row[position] for row in body if row[position]]
        hits = sum(is_number(each, decimal) for each in filled)
        if filled and hits >= 0.9 * len(filled):
            found.append(position)
    return found


def _modal(rows: Sequence[Sequence[str]]) -> int:
    counts = Counter(len(row) for row in rows)
    return max(counts, key=lambda width: (counts[width], width)) if counts else 0


@dataclass(frozen=True)
class _Cut:
    """What one delimiter makes of the first lines."""

    delimiter: str
    lines: int
    same: int
    width: int
    known: int
    numeric: int
    torn: bool

    @property
    def convinces(self) -> bool:
        """Nearly all rows are of one width, and what is in them reads as a header over its columns or as numbers."""
        return self.same >= 0.9 * self.lines and not self.torn and (self.known >= 2 or self.numeric >= 2)

    @property
    def score(self) -> tuple[float, float, int]:
        fields = 1 + self.numeric + 2 * self.known
        return (0.0 if self.torn else self.same / self.lines * fields, self.numeric / self.width, self.width)


def _delimiter(lines: Sequence[str], name: str, is_column: Callable[[str], bool]) -> tuple[str, Evidence]:
    """The mark whose fields agree best in number, with the header and in type.

    A blank also stands inside words, so it is asked last: only where no other mark convinces.
    """
    ways = [way for mark in DELIMITERS if (way := _looked_at(lines, mark, is_column)) is not None]
    if not ways:
        raise SourceError(
            f"'{name}' has one column only; no comma, semicolon, tab, bar or space cuts its lines. "
            "Is it a delimited table? If so, state what cuts it, e.g. delimiter = ';'."
        )
    sure = [way for way in ways if way.delimiter != " " and way.convinces]
    best = max(sure or ways, key=lambda way: way.score)
    because = f"{best.same} of the first {best.lines} lines have {best.width} fields"
    if best.known:
        because += f", the first names {best.known} known columns"
    return best.delimiter, Evidence(what="delimiter", answer=DELIMITERS[best.delimiter], because=because)


def _looked_at(lines: Sequence[str], delimiter: str, is_column: Callable[[str], bool]) -> _Cut | None:
    rows = [cut(line, delimiter) for line in lines]
    width = _modal(rows)
    if width < 2:
        return None
    rows = [row[:LOOKED_AT] for row in rows]
    known = sum(map(is_column, rows[0])) if abs(len(rows[0]) - min(width, LOOKED_AT)) <= 1 else 0
    body = rows[1:] or rows
    marks = "." if delimiter == "," else ".,"
    numeric = max(len(numeric_columns(body, mark)) for mark in marks)
    same = sum(len(row) == min(width, LOOKED_AT) for row in rows)
    return _Cut(delimiter, len(rows), same, width, known if known >= 2 else 0, numeric, _torn(body, delimiter))


def _torn(rows: Sequence[Sequence[str]], delimiter: str) -> bool:
    """Whether fields as a rule hold several numbers with blanks between: then the mark stands inside the numbers."""
    fields = [each for row in rows for each in row if each]
    several = sum(_SEVERAL.fullmatch(each) is not None for each in fields)
    return delimiter != " " and 4 * several >= len(fields) > 0


def _decimal(rows: Sequence[Sequence[str]], delimiter: str, name: str) -> tuple[str, Evidence]:
    if delimiter == ",":
        return ".", Evidence(what="decimal mark", answer=".", because="the comma is the delimiter")
    fields = [each for row in rows for each in row]
    commas = [each for each in fields if "," in each and is_number(each, ",")]
    points = [each for each in fields if "." in each and is_number(each, ".")]
    if not commas:
        because = f"e.g. {points[0]}" if points else "no decimal mark seen"
        return ".", Evidence(what="decimal mark", answer=".", because=because)
    if len(points) > 3 * len(commas):
        because = f"{len(points)} numbers with a point, {len(commas)} with a comma, e.g. {commas[0]}"
        return ".", Evidence(what="decimal mark", answer=".", because=because)
    if points and len(commas) <= 3 * len(points):
        raise SourceError(
            f"'{name}' has numbers with a comma ({commas[0]}) and with a point ({points[0]}); "
            'state decimal = "," or decimal = "." .'
        )
    if all(_THOUSANDS.fullmatch(each) for each in commas):
        raise SourceError(
            f"'{name}': {commas[0]} can be read as {commas[0].replace(',', '.')} or as {commas[0].replace(',', '')}, "
            'and no number in the first lines tells which; state decimal = "," or decimal = "." .'
        )
    sure = next(each for each in commas if not _THOUSANDS.fullmatch(each))
    return ",", Evidence(what="decimal mark", answer=",", because=f"e.g. {sure}")


def _refuse_lines_above(rows: Sequence[Sequence[str]], is_column: Callable[[str], bool], name: str) -> None:
    """Refuse a table whose header is not its first row; the lines above would be taken for it."""
    if sum(map(is_column, rows[0])) >= 2:
        return
    for above, row in enumerate(rows[1:20], start=1):
        if sum(map(is_column, row)) >= 3:
            words = ", ".join(row)[:80]
            raise LinesAboveError(
                f"'{name}' has lines above its header '{words}'; state skip = their number, blank ones counted.", above
            )


def _header(rows: Sequence[Sequence[str]], decimal: str, is_column: Callable[[str], bool]) -> tuple[bool, Evidence]:
    numeric = [each for each in numeric_columns(rows[1:], decimal) if each < len(rows[0])]
    if any(is_number(rows[0][each], decimal) for each in numeric):
        because = "the first row has numbers where the others do"
        return False, Evidence(what="header", answer="no", because=because)
    names = [each for each in rows[0] if is_column(each)]
    if len(names) >= 2:
        because = f"the first row names {len(names)} known columns"
        return True, Evidence(what="header", answer="yes", because=because)
    if numeric:
        because = "the first row has words where the others have numbers"
        return True, Evidence(what="header", answer="yes", because=because)
    return False, Evidence(what="header", answer="no", because="no known column name in the first row")
