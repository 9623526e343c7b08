"""Readers of workbooks: each is the reader of the same role for text, given a sheet instead of a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import Field

from geoqa.errors import LinesAboveError, SourceError
from geoqa.read.codes import CodesText
from geoqa.read.control import ControlText
from geoqa.read.delimited.delimited import DelimitedReader
from geoqa.read.design_table import DesignText
from geoqa.read.levels import LevelsText
from geoqa.read.shots import ShotsText
from geoqa.read.slope_readings import ReadingsText
from geoqa.read.workbook.sheet import sheet_names, sheet_text

if TYPE_CHECKING:
    from geoqa.read.delimited.delimited import TextTable
    from geoqa.read.delimited.text import Text


class Book(DelimitedReader):
    """Options of a workbook, and which of its sheets is meant."""

    sheet: str | None = Field(
        None, description="name of the sheet; only needed where more than one reads as such a table"
    )

    def text_of(self, path: Path, *, at_most: int | None = None) -> Text:
        """The sheet as lines of text."""
        return sheet_text(path, self.sheet or "")

    def table(self, path: Path, *, at_most: int | None = None) -> TextTable:
        """Read the sheet as text, with the options of this reader."""
        chosen = self.sheet if self.sheet is not None else self._only_sheet(path)
        # whatever stands in cells, they are cut where the sheet cuts them, and numbers have a point
        set_so = {"sheet": chosen, "delimiter": "\t", "decimal": "."}
        return super(Book, self.model_copy(update=set_so)).table(path, at_most=at_most)

    def _only_sheet(self, path: Path) -> str:
        names = sheet_names(path)
        reads, why, above = [], [], []
        for name in names:
            try:
                self.headings(self.model_copy(update={"sheet": name}).table(path))
                reads.append(name)
            except SourceError as error:
                why.append(f"sheet {name}: {error}")
                if isinstance(error, LinesAboveError):
                    above.append((name, error.skip))
        if len(reads) == 1:
            return reads[0]
        if reads:
            raise SourceError(
                f"'{path.name}': sheets {', '.join(reads)} all read as {self.role}; state one, sheet = \"{reads[0]}\"."
            )
        listed = "".join(f"\n  {each}" for each in why)
        told = (
            f"'{path.name}' has no sheet that reads as {self.role}; name the sheet, and what its columns are: "
            f'sheet = "…", columns = {{ … = "…" }}.{listed}'
        )
        if len(above) == 1:
            raise LinesAboveError(told, above[0][1], above[0][0])
        raise SourceError(told)


class ShotsBook(ShotsText, Book):
    """Shots, one a row, from a sheet of a workbook."""


class ControlBook(ControlText, Book):
    """Control marks, one a row, from a sheet of a workbook."""


class CodesBook(CodesText, Book):
    """Codes, one a row, from a sheet of a workbook."""


class LevelsBook(LevelsText, Book):
    """Levelled elevations, a point a row, from a sheet of a workbook."""


class ReadingsBook(ReadingsText, Book):
    """Readings beside the shots, one a row, from a sheet of a workbook."""


class DesignBook(DesignText, Book):
    """Design lines and points, a vertex or point a row, from a sheet of a workbook."""
