"""A file is what its name says, and opens nothing else.

The format libraries choose how to read by content. A text inside a file called ``.shp``, or a picture of small scale
beside a large one, may so be a recipe that opens other files or a network. Such are refused before a library sees them.
"""

import re
from pathlib import Path

from geoqa.errors import SourceError

SHAPEFILE = b"\x00\x00\x27\x0a"
"""First bytes of a shapefile and of its index: file code 9994 (ESRI Shapefile Technical Description, 1998)."""
TIFF = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
"""First bytes of a TIFF and a BigTIFF (TIFF 6.0, section 2)."""
OFFLINE = {"PROJ_NETWORK": "OFF", "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none", "GDAL_HTTP_MAX_RETRY": "0"}
"""Settings under which the raster library reaches no network, whatever a file tells it to open."""

_POINTERS = (b"://", b"/vsi", b"overview_file", b"<vrt")
_LARGEST_NOTE = 16_000_000


def refuse_other_content(path: Path) -> None:
    """Refuse a shapefile that is none by its content, or without its index.

    Raises
    ------
    SourceError
    """
    if path.suffix.lower() != ".shp":
        return
    for suffix in (".shp", ".shx"):
        parts = _beside(path, suffix)
        if not parts and path.is_file():
            raise SourceError(
                f"'{path.name}' cannot be opened as a vector file: '{path.stem}{suffix}' is not beside it. "
                "Copy the files of a shapefile together: .shp, .shx, .dbf and .prj."
            )
        for part in parts:
            if not part.stat().st_size:
                raise SourceError(f"'{part.name}' is empty; export it again.")
            if _first(part, 4) != SHAPEFILE:
                raise SourceError(
                    f"'{part.name}' is no shapefile, whatever its name says: it does not begin as one. Export it "
                    "again, or name the file as what it is."
                )


def refuse_pointers(path: Path) -> None:
    """Refuse a raster beside which a file names other files to open.

    Raises
    ------
    SourceError
    """
    chain = re.compile(
        rf"{re.escape(path.stem)}({re.escape(path.suffix)})?(\.ovr|\.msk)*(\.ovr|\.msk|\.aux\.xml)", re.IGNORECASE
    )
    for part in sorted(each for each in path.parent.iterdir() if chain.fullmatch(each.name) and each.is_file()):
        if part.suffix.lower() in (".ovr", ".msk"):
            if _first(part, 4) not in TIFF:
                raise SourceError(
                    f"'{part.name}', beside '{path.name}', is no picture of smaller scale and no mask: it does not "
                    "begin as a TIFF. Move it away, or make it again."
                )
        elif any(each in _first(part, _LARGEST_NOTE).lower() for each in _POINTERS):
            raise SourceError(
                f"'{part.name}', beside '{path.name}', names another file or an address to be opened. Nothing is read "
                "that the job does not name; move it away, or name that file in the job."
            )


def _beside(path: Path, ending: str) -> list[Path]:
    """Files of the same stem with an ending, however its letters are written."""
    wanted = f"{path.stem}{ending}".lower()
    return sorted(each for each in path.parent.iterdir() if each.name.lower() == wanted and each.is_file())


def _first(path: Path, size: int) -> bytes:
    with path.open("rb") as file:
        return file.read(size)
