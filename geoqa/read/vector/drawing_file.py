"""A drawing file opened, or refused in one sentence."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from geoqa.errors import SourceError

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document


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
        why = (str(error) or type(error).__name__).replace(str(path), path.name).rstrip(".")
        raise SourceError(f"'{path.name}' is no sound DXF drawing: {why}. Save it again, or audit it first.") from None
