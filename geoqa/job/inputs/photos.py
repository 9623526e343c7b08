"""The photos that shots name: which are there, and small copies where the job asks for them."""

import os
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from geoqa import plugins
from geoqa.errors import GeoqaError, JobError
from geoqa.job.document.load import LoadedJob
from geoqa.job.inputs.sources import sha256
from geoqa.model.photos import Photos, names_of

if TYPE_CHECKING:
    import pandas as pd

SIDE = 160
"""Pixels of the longer side of a small copy."""


def take_photos(loaded: LoadedJob, shots: "pd.DataFrame") -> Photos | None:
    """Look for the photos of some shots; None where the job names no folder of them.

    Raises
    ------
    JobError
        The folder is not there, or a link to it would tell where on this computer it lies.
    """
    table = loaded.job.photos
    if table is None:
        return None
    folder = loaded.resolve(table.folder)
    if not folder.is_dir():
        raise JobError(f'[photos] folder = "{table.folder}": there is no such folder beside {loaded.name}.')
    named = [name for text in shots["photo"].dropna().astype("str").unique() for name in names_of(text)]
    there = {path.name: path for path in folder.iterdir() if path.is_file()}
    small = {name: _small(there[name]) if table.thumbnails else b"" for name in sorted(set(named)) if name in there}
    said = table.folder.replace("\\", "/").rstrip("/")
    hashes = {f"{said}/{name}": sha256(there[name]) for name in small}
    return Photos(folder=_address(loaded, folder, table.folder), small=small, hashes=hashes)


def _address(loaded: LoadedJob, folder: Path, said: str) -> str:
    if not loaded.job.outputs.personal and not folder.is_relative_to(loaded.folder):
        raise JobError(
            f'[photos] folder = "{said}": lies outside the folder of {loaded.name}, and a link to it would tell the '
            "names of folders of this computer. Put the photos beside the job, or write personal = true in [outputs]."
        )
    try:
        way = os.path.relpath(folder, loaded.resolve(loaded.job.outputs.folder))
    except ValueError:
        raise JobError(
            f'[photos] folder = "{said}": is on another drive than the outputs; no link leads there.'
        ) from None
    return "".join(f"{quote(part)}/" for part in Path(way).parts)


def _small(path: Path) -> bytes:
    """A small copy; none of what is no picture that can be read: its link is enough."""
    reader = f"photo{path.suffix.lower()}"
    if reader not in plugins.declared("readers"):
        return b""
    try:
        made: bytes = plugins.load("readers", reader)().small(path, side=SIDE)
    except GeoqaError:
        return b""
    return made
