"""Photos that shots name: where they lie beside the outputs, and small copies that say nothing of their place."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

from geoqa.model.source import Reader


@dataclass(frozen=True, kw_only=True)
class Photos:
    """Photos of a job that are there.

    Attributes
    ----------
    folder : str
        Their folder as an address relative to the output folder, ending in a slash.
    small : mapping of str to bytes
        Name of the file -> a small JPEG of it; empty where the job asks for none, or it cannot be made.
    hashes : mapping of str to str
        File as the job names its folder -> hash of its bytes.
    """

    folder: str
    small: Mapping[str, bytes]
    hashes: Mapping[str, str] = field(default_factory=dict)


class PhotoReader(Reader):
    """Base of every reader of photos: beside `peek` and `read`, it makes small ones."""

    role: ClassVar[str] = "photo"

    def small(self, path: Path, *, side: int) -> bytes:
        """Make a small JPEG of a photo, as it is to be looked at, of its pixels alone.

        Parameters
        ----------
        path : path
        side : int
            Longest side in pixels.

        Raises
        ------
        SourceError
            The file is no picture.
        """
        raise NotImplementedError


def names_of(text: str) -> list[str]:
    """Names of photos as a shot bears them: one or several, with semicolons between them.

    Examples
    --------
    >>> names_of("a.jpg; b.jpg;")
    ['a.jpg', 'b.jpg']
    """
    return [name for each in text.split(";") if (name := each.strip())]
