"""A drawing file opened, or refused in one sentence."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from geoqa.errors import SourceError
from geoqa.model.source import Trouble
from geoqa.model.words import many

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

_LIBRARY = "ezdxf"


class Damage(logging.Handler):
    """What the library says of a drawing while it reads it, kept for one sentence of ours."""

    def __init__(self) -> None:
        super().__init__(level=logging.WARNING)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep one remark."""
        self.said.append(re.split(r"[,;\n]", record.getMessage().strip())[0][:60].rstrip(". "))

    def troubles(self) -> tuple[Trouble, ...]:
        """The remarks in one line; none where nothing was said."""
        if not self.said:
            return ()
        more = f", and {many(len(self.said) - 1, 'more remark')}" if len(self.said) > 1 else ""
        reason = (
            f"was found on reading it{more}: it is damaged, and what could be read is taken; audit it and save it again"
        )
        return (Trouble(line=0, column="drawing", text=self.said[0], reason=reason, kept=True),)


@contextmanager
def damage_heard(path: Path) -> Iterator[Damage]:
    """Hear what the library says of a damaged drawing, which otherwise goes past us to the terminal.

    Raises
    ------
    SourceError
        The library finds an entity that it cannot work with.
    """
    from ezdxf import DXFError

    log, damage = logging.getLogger(_LIBRARY), Damage()
    passed_on, log.propagate = log.propagate, False
    log.addHandler(damage)
    try:
        yield damage
    except DXFError as error:
        raise _unsound(path, error) from None
    finally:
        log.removeHandler(damage)
        log.propagate = passed_on


def opened_drawing(path: Path) -> Document:
    """Open a drawing.

    Raises
    ------
    SourceError
        It is empty, no DXF, or cut off.
    """
    import ezdxf

    with path.open("rb") as file:
        start = file.read(6)
    if not start:
        raise SourceError(f"'{path.name}' is empty; export it again.")
    if start[:4] == b"AC10":
        raise SourceError(f"'{path.name}' is a drawing in its program's own format; save it as DXF.")
    try:
        return ezdxf.readfile(path)
    except Exception as error:  # whatever the parser stumbles over, it is the file
        raise _unsound(path, error) from None


def _unsound(path: Path, error: Exception) -> SourceError:
    why = (str(error) or type(error).__name__).replace(str(path), path.name).rstrip(".")
    return SourceError(f"'{path.name}' is no sound DXF drawing: {why}. Save it again, or audit it first.")
