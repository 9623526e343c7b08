"""What a file format is for here, and what of the data it keeps and what it loses."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Format:
    """Declared beside a reader, a writer or a page, as its `format`.

    Attributes
    ----------
    title : str
        What the files are called.
    keeps, loses : str
        In words, for a person who chooses.
    """

    title: str
    keeps: str
    loses: str
