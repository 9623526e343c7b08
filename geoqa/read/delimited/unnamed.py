"""Places without a header: columns that the numbers tell, and an order that only other files or the job can settle."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar, Self

from pydantic import Field, PrivateAttr

from geoqa.errors import OrderError
from geoqa.model.source import Evidence, Peek
from geoqa.read.delimited.delimited import PEEKED, DelimitedReader, TextTable
from geoqa.read.delimited.headings import Headings
from geoqa.read.delimited.order import SHOTS, Around, order_of, stated


class PlacesText(DelimitedReader):
    """Places, one a row, whose columns are told by their numbers where no header names them."""

    around: ClassVar[Around] = SHOTS

    near: tuple[float, float] | None = Field(
        None,
        description="easting, northing of the site in the file's unit: decides the order of columns without a header",
    )

    _because: str = PrivateAttr("stated in the job")

    @property
    def columns_because(self) -> str:
        """Why the columns are those of `columns`: the job's word, or evidence that settled their order."""
        return self._because

    def in_order(self, columns: tuple[str, ...], because: str) -> Self:
        """The same reader, with the columns of a file without a header settled by what lies beside the file."""
        settled = self.model_copy(update={"columns": columns})
        settled._because = because
        return settled

    def peek(self, path: Path) -> Peek:
        """Look at the header and the first rows; an order that only other files can settle is told, not refused."""
        try:
            return super().peek(path)
        except OrderError as error:
            return self._unsettled(path, error)

    def _unsettled(self, path: Path, error: OrderError) -> Peek:
        table = self.table(path, at_most=PEEKED)
        either = " or ".join(stated(order) for order in error.orders)
        because = "no header, and numbers alone cannot tell; control, design or the frame's area of use may"
        return Peek(
            columns=table.columns,
            holds=tuple(each for each in self.sought if each in error.orders[0]),
            rows=tuple(zip(*(each.head(5).tolist() for each in table.text), strict=True)),
            evidence=(*table.evidence, Evidence(what="order of columns", answer=either, because=because)),
        )

    def without_header(self, table: TextTable) -> Headings:
        """Tell the columns by their numbers, as far as numbers can tell."""
        place, evidence = order_of(table, near=self.near, around=self.around)
        return Headings(place=place, unit={}, evidence=evidence)
