"""What a reader hands over: tables in the file's own unit, and how it knows."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from pydantic import BaseModel, ConfigDict

from geoqa.model.design_word import DesignWord
from geoqa.model.format import Format
from geoqa.model.quantity import LengthUnit

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """One thing a reader found out by itself: what, the answer, and why it thinks so."""

    what: str
    answer: str
    because: str
    first: bool = False
    """Dear if wrong: a reader must know it before the numbers."""

    def __str__(self) -> str:
        return f"{self.what}: {self.answer} ({self.because})"


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """A row that could not be read whole; the rest went on."""

    line: int
    column: str
    text: str
    reason: str
    header: bool = False
    """The row only repeats the header."""
    kept: bool = False
    """The row stands with its number or without; what rests on it says why it is not judged."""
    asks: bool = False
    """A question that a whole file puts, and what is done until the job answers it; no row of it is named."""
    more: int = 0
    """Further rows with the same trouble, behind it, which are counted and not named."""

    @property
    def loses_row(self) -> bool:
        """Whether the whole row was left out; a header that is repeated is no loss."""
        return self.column == "row" and not self.header

    @property
    def what(self) -> str:
        """What was not read, without its line."""
        return f"{self.column}: {self.text[:60]!r} {self.reason}"

    def __str__(self) -> str:
        return f"line {self.line}, {self.what}" if self.line > 0 else self.what


@dataclass(frozen=True, kw_only=True)
class Source:
    """One file, read.

    Attributes
    ----------
    layers : mapping of table name to table
        Coordinates and lengths in the *file's* unit; geometry is not built yet.
    crs : str or None
        Coordinate system the file itself declares (a code or WKT).
    unit : LengthUnit or None
        Unit the file itself declares, apart from its coordinate system.
    unit_doubt : str
        Why what it declares of its unit is not certain: the job's word then stands over it, and where `unit` is
        None the job has to give one. Empty where nothing is in doubt.
    facts : mapping
        encoding, delimiter … as plain text.
    evidence, troubles : tuple
    """

    layers: Mapping[str, "pd.DataFrame"]
    crs: str | None = None
    unit: LengthUnit | None = None
    unit_doubt: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    evidence: tuple[Evidence, ...] = ()
    troubles: tuple[Trouble, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Peek:
    """Header and a few rows of a file: what `check` may know before any data is read.

    `columns` are the file's own words; `holds` are ours, where a reader tells which are there, and `places` the
    positions of those, where they are columns. `doubt` says why the file is hardly of the reader's role.
    """

    columns: tuple[str, ...]
    holds: tuple[str, ...] = ()
    places: tuple[int, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    layers: tuple[str, ...] = ()
    crs: str | None = None
    evidence: tuple[Evidence, ...] = ()
    doubt: str = ""


class Reader(BaseModel):
    """Base of every reader: a frozen record of its options, with `peek` and `read`.

    `role` is one of shots, control, codes, design, screening, check_policy, background. A reader is
    named ``role.suffix`` and is given an absolute path by the job; ``read`` returns tables in the file's own unit.
    One whose table is in memory says so, opens no path, and gives the hash of what it holds.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    role: ClassVar[str] = ""
    format: ClassVar[Format | None] = None
    """What its files keep and lose, for a person who chooses."""
    in_memory: ClassVar[bool] = False

    def fingerprint(self) -> str:
        """Hash of the table that is held in memory, where a file would have that of its bytes."""
        raise NotImplementedError

    def peek(self, path: Path) -> Peek:
        """Look at the header and a few rows, cheaply."""
        raise NotImplementedError

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file; `source` is the id its rows carry."""
        raise NotImplementedError

    def words(self, path: Path, *, kinds: Mapping[str, str], codes: Mapping[str, str]) -> tuple[DesignWord, ...]:
        """List what a design file calls its lines and points, with counts and a guessed kind each.

        Parameters
        ----------
        path : Path
        kinds : mapping of str to str
            Kinds to guess from, with the geometry of each ("line", "point", or ""); where empty, the usual ones.
        codes : mapping of str to str
            Field codes and their kinds.

        Returns
        -------
        tuple of DesignWord
            Empty for a reader of anything else.
        """
        return ()
