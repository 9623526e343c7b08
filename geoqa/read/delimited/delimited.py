"""The engine under every delimited table: a file in, a table of text out, every odd row named.

Whole rows go through Arrow in one piece; only rows with quotes, or with another number of
fields than the table, are looked at one by one. Nothing is a number here: ``007`` stays ``007``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np
from pydantic import Field, field_validator

from geoqa.errors import LinesAboveError, SourceError
from geoqa.model.source import Evidence, Peek, Reader, Source, Trouble
from geoqa.model.words import many
from geoqa.read.delimited.asides import units_below, with_units, without_comments
from geoqa.read.delimited.headings import Headings, Sought, as_stated, by_words, in_job, is_known
from geoqa.read.delimited.layout import DELIMITERS, SAMPLE, Layout, cut, layout_of
from geoqa.read.delimited.rows import Lines, Rows, refuse_long_line, split_rows
from geoqa.read.delimited.text import Text, existing, read_text

if TYPE_CHECKING:
    import pandas as pd

PEEKED = 256_000


@dataclass(frozen=True, kw_only=True)
class TextTable:
    """A delimited file as text.

    Attributes
    ----------
    name : str
        File name, for messages.
    columns : tuple of str
        As the header writes them; ``"1"``, ``"2"`` … where there is none.
    header : bool
    text : tuple of Series
        One column of text each, blanks round a field dropped, "" for an empty one.
    lines : (n,) int64
        1-based line each row starts on.
    decimal : str
    facts : mapping of str to str
    evidence, troubles : tuple
    counted : str
        What `lines` counts, for messages: lines of a file, or rows of a table that is in none.
    """

    name: str
    columns: tuple[str, ...]
    header: bool
    text: tuple[pd.Series, ...]
    lines: np.ndarray
    decimal: str
    facts: Mapping[str, str]
    evidence: tuple[Evidence, ...]
    troubles: tuple[Trouble, ...]
    counted: str = "line"

    def __len__(self) -> int:
        return len(self.lines)


class DelimitedReader(Reader):
    """Options that every delimited file has; each is told from the file unless stated."""

    delimiter: str | None = Field(None, description='"," ";" "tab" "|" or "space" (any run of blanks)')
    encoding: str | None = Field(None, description="e.g. utf-8, cp1252")
    decimal: Literal[".", ","] | None = Field(None, description="decimal mark")
    header: bool | None = Field(None, description="whether the first row names the columns")
    skip: int = Field(0, ge=0, description="lines to leave out at the top")
    columns: tuple[str, ...] | dict[str, str | int] | None = Field(
        None,
        description='columns in file order, "" to leave one out; or a table of column = "its name in the header"',
    )
    bad_rows: int = Field(100, ge=0, description="rows that may fail before the file is refused")

    sought: ClassVar[Sought] = {}
    needed: ClassVar[tuple[str, ...]] = ()
    aids: ClassVar[tuple[str, ...]] = ()
    """Columns that only help to read another; nobody misses them."""
    open_texts: ClassVar[tuple[str, ...]] = ()
    """Columns of free text, which may hold delimiters where they come last in a file without a header."""

    @field_validator("delimiter")
    @classmethod
    def _one_mark(cls, value: str | None) -> str | None:
        words = {word: mark for mark, word in DELIMITERS.items()}
        value = words.get(value or "", value)
        if value is not None and value not in DELIMITERS:
            raise ValueError(f"{value!r} is no delimiter; use one of {', '.join(words)}")
        return value

    def table(self, path: Path, *, at_most: int | None = None) -> TextTable:
        """Read the file as text, with the options of this reader."""
        return _table(existing(path).name, self.text_of(path, at_most=at_most), self)

    @property
    def ends_in_text(self) -> bool:
        """Whether the last column can be free text: as the job states its columns, or as the reader tells them."""
        if isinstance(self.columns, tuple):
            return self.columns[-1:] != () and self.columns[-1] in self.open_texts
        return self.columns is None and bool(self.open_texts)

    def text_of(self, path: Path, *, at_most: int | None = None) -> Text:
        """The file as lines of text."""
        return read_text(path, encoding=self.encoding, at_most=at_most)

    def headings(self, table: TextTable) -> Headings:
        """Which column of the file is which of ours, and which of ours it has not.

        Raises
        ------
        SourceError
            A needed column is not there, or what the job states does not fit the file.
        """
        if self.columns is not None:
            heads = as_stated(
                table.columns,
                self.columns,
                self.sought,
                header=table.header,
                name=table.name,
                stating=self.stating,
                because=self.columns_because,
            )
        elif table.header:
            heads = by_words(table.columns, self.sought, name=table.name, stating=self.stating)
        else:
            heads = self.without_header(table)
        missing = [each for each in self.needed if each not in heads.place]
        if missing:
            raise SourceError(
                f"'{table.name}' has no column for {' and '.join(missing)}; "
                f"its columns are {', '.join(table.columns)}. State {self.stating(missing)}."
            )
        absent = ", ".join(each for each in self.sought if each not in (*heads.place, *self.aids))
        if absent:
            more = Evidence(what="not in the file", answer=absent, because="no such column")
            heads = replace(heads, evidence=(*heads.evidence, more))
        return heads

    def stating(self, names: Sequence[str]) -> str:
        """How it is said which columns are ours, for messages."""
        return in_job(names)

    @property
    def columns_because(self) -> str:
        """Why the columns are those of `columns`, for the evidence."""
        return "stated in the job"

    def without_header(self, table: TextTable) -> Headings:
        """Columns of a file that does not name them; refused unless a reader can tell."""
        row = ", ".join(each.iloc[0] for each in table.text) if len(table) else ""
        raise SourceError(
            f"'{table.name}' has no header that names its columns ({row[:120]}); its first row should name "
            f"{', '.join(self.sought)} (needed: {', '.join(self.needed)}), or state columns = [...] in file order."
        )

    def peek(self, path: Path) -> Peek:
        """Look at the header and the first rows, cheaply."""
        table = self.table(path, at_most=PEEKED)
        heads = self.headings(table)
        return Peek(
            columns=table.columns,
            holds=tuple(heads.place),
            places=tuple(heads.place.values()),
            rows=tuple(zip(*(each.head(5).tolist() for each in table.text), strict=True)),
            evidence=(*table.evidence, *heads.evidence),
        )

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        raise NotImplementedError


def _table(name: str, text: Text, options: DelimitedReader) -> TextTable:
    data, asides = without_comments(text.data, is_column=lambda word: is_known(word, options.sought))
    sample = [each for each in _first(name, data, options.skip) if each.strip(" \t,;|")]
    if not sample:
        raise SourceError(f"'{name}' has no row after its first {options.skip} lines; lower the number after skip.")
    units = sample.pop(1) if "easting" in options.sought and options.header is not False and units_below(sample) else ""
    try:
        layout = layout_of(
            sample,
            name=name,
            is_column=lambda word: is_known(word, options.sought),
            delimiter=options.delimiter,
            decimal=options.decimal,
            header=options.header,
            cut_because="a sheet's cells" if text.encoding == "workbook" else "stated in the job",
        )
    except LinesAboveError as error:
        skip = options.skip + _before(_first(name, data, options.skip), error.skip)
        raise LinesAboveError(f"{error} Here: skip = {skip}.", skip) from None
    lines = Lines(data, layout.delimiter, name=name)
    rows = split_rows(lines, header=layout.header, skip=options.skip, open_end=options.ends_in_text)
    width = rows.table.num_columns
    if width < 2:
        raise SourceError(
            f"'{name}' has one column only when cut by {DELIMITERS[layout.delimiter]}; "
            "state another, e.g. delimiter = ';'."
        )
    unique = not isinstance(options.columns, tuple)
    columns = _headings(name, rows.header, unique=unique) if layout.header else tuple(str(n + 1) for n in range(width))
    evidence = [*text.evidence, *asides, *layout.evidence]
    if units:
        rows, columns, found = _united(rows, columns, layout, units)
        evidence += found
    if rows.longer:
        answer = f"{many(rows.longer, 'row')} with a {DELIMITERS[layout.delimiter]} in it, taken whole"
        because = "no header; the last column is a text, and all fields before it are numbers"
        evidence.append(Evidence(what="last column", answer=answer, because=because))
    if rows.blank:
        evidence.append(Evidence(what="empty rows", answer=f"{rows.blank} left out", because="delimiters only"))
    facts = {
        "encoding": text.encoding,
        "delimiter": DELIMITERS[layout.delimiter],
        "decimal": layout.decimal,
        "header": "yes" if layout.header else "no",
        "rows": str(len(rows.lines)),
    }
    frame = rows.table.to_pandas()
    limit_troubles(name, rows.troubles, options.bad_rows if len(rows.lines) else 0)
    return TextTable(
        name=name,
        columns=columns,
        header=layout.header,
        text=tuple(frame[each] for each in frame.columns),
        lines=rows.lines,
        decimal=layout.decimal,
        facts=facts,
        evidence=tuple(evidence),
        troubles=rows.troubles,
    )


def _united(
    rows: Rows, columns: tuple[str, ...], layout: Layout, units: str
) -> tuple[Rows, tuple[str, ...], list[Evidence]]:
    """Rows without the line of units, which go to the headings; a line of another width stays a row."""
    fields = cut(units, layout.delimiter)
    if not layout.header or len(fields) != len(columns) or not len(rows.lines):
        return rows, columns, []
    line = int(rows.lines[0])
    if [rows.table[at][0].as_py() for at in range(len(columns))] != fields:
        return rows, columns, []
    found = Evidence(what="units", answer="stated below the header", because=f"line {line}: {units.strip()[:80]!r}")
    return replace(rows, table=rows.table.slice(1), lines=rows.lines[1:]), with_units(columns, fields), [found]


def limit_troubles(name: str, troubles: tuple[Trouble, ...], limit: int) -> None:
    """Refuse a file in which more rows fail than the job allows.

    Raises
    ------
    SourceError
        With the first five rows that failed.
    """
    failed = [each for each in troubles if not (each.header or each.kept)]
    count = len({each.line for each in failed})
    if count > limit:
        listed = "\n  ".join(str(each) for each in failed[:5])
        raise SourceError(
            f"'{name}': {count} {'row' if count == 1 else 'rows'} cannot be read whole, "
            f"{f'more than bad_rows = {limit}' if limit else 'and none may fail'}. "
            f"State skip, delimiter, decimal or columns if they were told wrongly. The first are\n  {listed}"
        )


def _first(name: str, data: bytes, skip: int) -> list[str]:
    found: list[str] = []
    start = 0
    while start < len(data) and len(found) < skip + SAMPLE:
        end = data.index(b"\n", start)
        refuse_long_line(name, len(found), end - start)
        found.append(data[start : min(end, start + 10_000)].decode("utf-8", errors="ignore"))
        start = end + 1
    return found[skip:]


def _before(lines: Sequence[str], inked: int) -> int:
    """Lines before the one that so many lines with something on them stand above."""
    return [at for at, each in enumerate(lines) if each.strip(" \t,;|")][inked]


def _headings(name: str, names: tuple[str, ...], *, unique: bool) -> tuple[str, ...]:
    seen: dict[str, int] = {}
    for position, each in enumerate(names, start=1):
        if unique and each and each.casefold() in seen:
            raise SourceError(
                f"'{name}': the header names '{each}' twice, columns {seen[each.casefold()]} and {position}; "
                "state columns = [...] in file order."
            )
        seen[each.casefold()] = position
    return tuple(each or f"column {position}" for position, each in enumerate(names, start=1))
