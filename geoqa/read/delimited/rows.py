"""Rows of a delimited text: which lines are rows, and the fields in them."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.source import Trouble
from geoqa.model.words import many
from geoqa.read.delimited.layout import SAMPLE, cut, is_number
from geoqa.read.delimited.text import LONGEST_LINE

if TYPE_CHECKING:
    import pyarrow as pa

LONGEST_FIELD = 100
"""Lines a quoted field may run over before its quote mark is taken for a stray one."""

_TAB, _FEED, _BLANK, _QUOTE = 9, 10, 32, 34


@dataclass(frozen=True, kw_only=True)
class Rows:
    """Fields of all rows of one width, and what was not one.

    Attributes
    ----------
    header : tuple of str
        First row, if asked for.
    table : pyarrow.Table
        Text columns ``"0"``, ``"1"`` … in file order.
    lines : (n,) int64
        1-based line each row starts on.
    blank : int
        Rows of delimiters only.
    troubles : tuple of Trouble
    longer : int
        Rows whose last field, a text, holds delimiters.
    """

    header: tuple[str, ...]
    table: pa.Table
    lines: np.ndarray
    blank: int
    troubles: tuple[Trouble, ...]
    longer: int = 0


@dataclass
class _Odd:
    """Rows that were looked at one by one."""

    fields: list[list[str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    longer: int = 0


def refuse_long_line(name: str, line: int, size: int) -> None:
    """Refuse a line, numbered from 0, of more bytes than any table has.

    Raises
    ------
    SourceError
    """
    if size > LONGEST_LINE:
        raise SourceError(
            f"'{name}', line {line + 1}: a line of {size:,} bytes; no table has lines over {LONGEST_LINE:,}. "
            "Is it a delimited text with line ends?"
        )


class Lines:
    """Lines of a decoded text, by number from 0, with what is on them counted."""

    def __init__(self, data: bytes, delimiter: str, *, name: str) -> None:
        self.raw = data
        self.delimiter = delimiter
        self.name = name
        if delimiter == " ":
            data = re.sub(rb"(?m)^[ \t]+|[ \t]+$", b"", data)
            data = re.sub(rb"[ \t]+", b"\t", data)
        self.mark = "\t" if delimiter == " " else delimiter
        self.plain = data
        codes = np.frombuffer(data, dtype=np.uint8)
        self.ends = np.flatnonzero(codes == _FEED)
        self.starts = np.concatenate([[0], self.ends[:-1] + 1])
        longest = int(np.argmax(self.ends - self.starts))
        refuse_long_line(name, longest, int(self.ends[longest] - self.starts[longest]))
        self.marks = self._count(codes == ord(self.mark))
        self.quotes = self._count(codes == _QUOTE) if b'"' in data else np.zeros(len(self.ends), dtype=np.int64)
        self.inked = np.logical_or.reduceat((codes > _BLANK) & (codes != ord(self.mark)), self.starts)
        self.padded = self._any_padding(codes)
        self._raw_starts = self.starts if data is self.raw else None

    def __len__(self) -> int:
        return len(self.ends)

    def _count(self, mask: np.ndarray) -> np.ndarray:
        places = np.flatnonzero(mask)
        return np.searchsorted(places, self.ends) - np.searchsorted(places, self.starts)

    def _any_padding(self, codes: np.ndarray) -> bool:
        """Whether a blank stands beside a delimiter or a line end, so that fields need trimming."""
        if not self.plain.isascii():
            return True
        blanks = np.flatnonzero((codes == _BLANK) | ((codes == _TAB) & (self.mark != "\t")))
        edges = (_FEED, ord(self.mark))
        return bool(np.isin(codes[blanks - 1], edges).any() or np.isin(codes[blanks + 1], edges).any())

    def text(self, line: int) -> str:
        """One line as it was written, without its end."""
        if self._raw_starts is None:
            ends = np.flatnonzero(np.frombuffer(self.raw, dtype=np.uint8) == _FEED)
            self._raw_starts = np.concatenate([[0], ends[:-1] + 1])
        start = int(self._raw_starts[line])
        return self.raw[start : self.raw.index(b"\n", start)].decode("utf-8")


def split_rows(lines: Lines, *, header: bool, skip: int = 0, open_end: bool = False) -> Rows:
    """Split a text into rows of one width.

    The width is that of the header, else the commonest. A row with fewer fields may have been cut in the middle of a
    number, and one with more may hold a delimiter too many before its numbers: both are reported and not read. Only
    where rows as a rule end in more empty fields than the header names are these dropped, and only without a header
    may the last field be a text that holds delimiters, where all before it are as they should be.

    Parameters
    ----------
    lines : Lines
    header : bool
        Whether the first row names the columns.
    skip : int
        Lines to leave out at the top.
    open_end : bool
        Whether the last column may be a text of any length.
    """
    inked = lines.inked.copy()
    inked[:skip] = False
    if not inked.any():
        raise SourceError(f"'{lines.name}' has no row after its first {skip} lines; lower the number after skip.")
    names: tuple[str, ...] = ()
    if header:
        first = int(np.flatnonzero(inked)[0])
        fields, used = _row(lines, first, 0)
        names = tuple(fields or cut(lines.text(first), lines.delimiter))
        inked[first : first + used] = False
        width = len(names)
    else:
        counts = Counter((lines.marks[inked & (lines.quotes == 0)] + 1).tolist())
        if not counts:
            counts = Counter(len(cut(lines.text(each), lines.delimiter)) for each in np.flatnonzero(inked)[:200])
        width = max(counts, key=lambda each: (counts[each], each))
    regular = inked & (lines.marks == width - 1) & (lines.quotes == 0)
    ends = _OpenEnd(lines, inked, width) if lines.delimiter == " " or (open_end and not header) else None
    odd = _odd_rows(lines, inked & ~regular, regular, width, _usual(lines, inked, width), ends)
    blank = int(np.count_nonzero(~lines.inked[skip:] & (lines.marks[skip:] > 0)))
    table, numbers = _joined(lines, regular, odd, width)
    table, numbers, repeats = _without_repeats(table, numbers, names)
    troubles = sorted([*odd.troubles, *repeats], key=lambda each: each.line)
    return Rows(header=names, table=table, lines=numbers, blank=blank, troubles=tuple(troubles), longer=odd.longer)


def _usual(lines: Lines, inked: np.ndarray, width: int) -> int:
    """Fields that most rows have, where those are more than the table is wide; else the width."""
    counts = Counter((lines.marks[inked & (lines.quotes == 0)] + 1).tolist())
    fields, rows = max(counts.items(), key=lambda each: each[1], default=(width, 0))
    return fields if fields > width and rows > 1 and 2 * rows > inked.sum() else width


def _odd_rows(
    lines: Lines, wanted: np.ndarray, regular: np.ndarray, width: int, widest: int, ends: _OpenEnd | None
) -> _Odd:
    odd, free = _Odd(), 0
    for line in np.flatnonzero(wanted).tolist():
        if line < free:
            continue
        fields, used = _row(lines, line, width)
        free = line + used
        if fields is None:
            odd.troubles.append(
                Trouble(line=line + 1, column="row", text=lines.text(line)[:200], reason="opens a quote, never closed")
            )
            continue
        regular[line:free] = False
        if len(fields) == widest and not any(fields[width:]):
            del fields[width:]
        if len(fields) > width:
            whole = ends and ends.in_last_field(lines.text(line))
            odd.longer += bool(whole) and lines.delimiter != " "
            fields = whole or fields
        if len(fields) == width:
            odd.fields.append(fields)
            odd.lines.append(line + 1)
        else:
            reason = f"has {many(len(fields), 'field')} where the table has {width}"
            odd.troubles.append(Trouble(line=line + 1, column="row", text=lines.text(line)[:200], reason=reason))
    return odd


class _OpenEnd:
    """Rows whose last field, a text, holds the delimiter without quotes.

    Only where all fields between a name and that text are numbers: else a field may be missing. A delimiter too many
    before them would push a number into the text, so a text that begins with figures is none.
    """

    def __init__(self, lines: Lines, rows: np.ndarray, width: int) -> None:
        whole = [cut(lines.text(each), lines.delimiter) for each in np.flatnonzero(rows)[:SAMPLE].tolist()]
        sample = [row[: width - 1] for row in whole]
        self.width = width
        self.delimiter = lines.delimiter
        usual = [
            2 * sum(_is_number(row[at]) for row in sample if len(row) > at) > len(sample) for at in range(width - 1)
        ]
        self.numeric = [at for at in range(1, width - 1) if usual[at]]
        last = [row[width - 1] for row in whole if len(row) >= width and row[width - 1]]
        text = lines.delimiter == " " or 2 * sum(map(_begins_as_number, last)) < len(last)
        self.fits = width > 3 and len(self.numeric) == width - 2 and text

    def in_last_field(self, text: str) -> list[str] | None:
        """Fields of a line, the last one to its end; None where the others are not what they should be."""
        if '"' in text or not self.fits:
            return None
        blanks = self.delimiter == " "
        first = [each.strip() for each in text.split(None if blanks else self.delimiter, self.width - 1)]
        if not all(_is_number(first[at]) for at in self.numeric):
            return None
        last = first[-1]
        if blanks:
            return None if _is_number(last.split()[0]) else first
        begins = last.partition(self.delimiter)[0].strip()
        if not begins or _begins_as_number(begins):
            return None
        return [*first[:-1], last.rstrip(self.delimiter + " ")]


def _begins_as_number(text: str) -> bool:
    return text[0].isdigit() or text[0] in "+-."


def _is_number(text: str) -> bool:
    return is_number(text, ".") or is_number(text, ",")


def _row(lines: Lines, line: int, width: int) -> tuple[list[str] | None, int]:
    """Fields of the row that starts on a line, and how many lines it takes; None for a stray quote."""
    text = lines.text(line)
    if lines.quotes[line] == 0 or lines.delimiter == " ":
        return cut(text, lines.delimiter), 1
    taken = []

    def feed() -> Iterator[str]:
        for number in range(line, min(line + LONGEST_FIELD, len(lines))):
            taken.append(number)
            yield lines.text(number) + "\n"
        taken.append(-1)

    try:
        fields = next(csv.reader(feed(), delimiter=lines.delimiter, skipinitialspace=True))
    except csv.Error:
        return None, 1
    swallowed = taken[1:]
    if swallowed and (swallowed[-1] == -1 or any(lines.marks[each] >= max(width - 1, 1) for each in swallowed)):
        return None, 1
    return [each.strip() for each in fields], len(taken)


def _joined(lines: Lines, regular: np.ndarray, odd: _Odd, width: int) -> tuple[pa.Table, np.ndarray]:
    import pyarrow as pa

    whole = _parsed(lines, regular, width)
    numbers = np.flatnonzero(regular).astype(np.int64) + 1
    if not odd.fields:
        return whole, numbers
    text = pa.large_string()
    columns = {str(each): pa.array(values, text) for each, values in enumerate(zip(*odd.fields, strict=True))}
    numbers = np.concatenate([numbers, np.array(odd.lines, dtype=np.int64)])
    order = np.argsort(numbers, kind="stable")
    return pa.concat_tables([whole, pa.table(columns)]).take(pa.array(order)), numbers[order]


def _parsed(lines: Lines, regular: np.ndarray, width: int) -> pa.Table:
    import pyarrow as pa
    import pyarrow.csv as arrow_csv

    names = [str(each) for each in range(width)]
    text = pa.large_string()
    if not regular.any():
        return pa.table({each: pa.array([], text) for each in names})
    edges = np.flatnonzero(np.diff(np.concatenate([[False], regular, [False]]).astype(np.int8)))
    view = memoryview(lines.plain)
    spans = [view[lines.starts[a] : lines.ends[b - 1] + 1] for a, b in edges.reshape(-1, 2).tolist()]
    table = arrow_csv.read_csv(
        pa.py_buffer(spans[0] if len(spans) == 1 else b"".join(spans)),
        read_options=arrow_csv.ReadOptions(column_names=names, block_size=8 * LONGEST_LINE),
        parse_options=arrow_csv.ParseOptions(delimiter=lines.mark, quote_char=False, double_quote=False),
        convert_options=arrow_csv.ConvertOptions(column_types=dict.fromkeys(names, text), strings_can_be_null=False),
    )
    return _trimmed(table, lines)


def _trimmed(table: pa.Table, lines: Lines) -> pa.Table:
    import pyarrow as pa
    import pyarrow.compute as pc

    if not lines.padded:
        return table
    return pa.table({name: pc.utf8_trim_whitespace(table[name]) for name in table.column_names})


def _without_repeats(
    table: pa.Table, numbers: np.ndarray, names: tuple[str, ...]
) -> tuple[pa.Table, np.ndarray, list[Trouble]]:
    import pyarrow as pa
    import pyarrow.compute as pc

    if not names:
        return table, numbers, []
    same = pc.equal(table["0"], names[0])
    if not pc.any(same).as_py():
        return table, numbers, []
    for position, name in enumerate(names[1:], start=1):
        same = pc.and_(same, pc.equal(table[str(position)], name))
    again = np.asarray(same)
    text = " ".join(names)[:200]
    troubles = [
        Trouble(line=int(each), column="row", text=text, reason="repeats the header; skipped", header=True)
        for each in numbers[again]
    ]
    return table.filter(pa.array(~again)), numbers[~again], troubles
