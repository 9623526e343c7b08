"""A note as it is read: one sentence for the page, and the part on the method for who asks."""

from typing import Any


class NoteLine(str):
    """Text of a note, whole; `short` is what a page shows first, `more` the rest.

    It is the whole text wherever text is written, so that no table loses anything.

    Parameters
    ----------
    whole : str
    short : str
        One sentence or two, some 200 characters at most.
    more : str
        What stands behind it; shown on demand.

    Examples
    --------
    >>> note = NoteLine("CP-3 moved; 4 shots. Do not hold it.", short="CP-3 moved.", more="4 shots.")
    >>> note.startswith("CP-3 moved; 4"), short_of(note), more_of(note), more_of("plain text")
    (True, 'CP-3 moved.', '4 shots.', '')
    """

    short: str
    more: str

    def __new__(cls, whole: str, *, short: str, more: str) -> "NoteLine":
        """Make the text of `whole`."""
        made = super().__new__(cls, whole)
        made.short, made.more = short, more
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        """For pickle: all three."""
        return _again, (str(self), self.short, self.more)


def _again(whole: str, short: str, more: str) -> NoteLine:
    return NoteLine(whole, short=short, more=more)


def short_of(note: str) -> str:
    """What a page shows first of a note."""
    return note.short if isinstance(note, NoteLine) else note


def more_of(note: str) -> str:
    """What stands behind it; empty where the note is one sentence."""
    return note.more if isinstance(note, NoteLine) else ""
