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


LONGEST = 160
"""Characters of a line that is read first."""
_ASKS = "What to do: "
MOST_ASKED = 100
"""Characters of what is to be done, so that what it is about has room beside it."""
_ENDS = ((". ", "? "), ("; ",), (": ", ", "), (" ",))
"""Where a long line may end: behind a sentence at best, between words at worst."""


def in_short(note: str) -> str:
    """A note whose first line keeps to its length: what does not fit stands behind it, and nothing is lost.

    Parameters
    ----------
    note : str or NoteLine

    Returns
    -------
    str or NoteLine
        As it is where its first line is short enough.

    Examples
    --------
    >>> in_short("Design and shots lie apart: 766 of 809 shots have none within reach; " + "far " * 30).short
    'Design and shots lie apart: 766 of 809 shots have none within reach.'
    >>> in_short("Two marks disagree. " + "far " * 40 + ". What to do: shoot a third mark. More.").short
    'Two marks disagree. What to do: shoot a third mark.'
    """
    short = short_of(note)
    if len(short) <= LONGEST:
        return note
    ask = short.partition(_ASKS)[2].partition(". ")[0].rstrip(".")
    asked = f" {_ASKS}{ask}." if ask else ""
    if len(asked) > MOST_ASKED:
        ask = asked = ""
    first = _cut(short.partition(_ASKS)[0] if ask else short, LONGEST - len(asked))
    # what is to be done is worth a line of its own only where what it is about fits beside it
    line = f"{first}{asked}" if first else _cut(short, LONGEST)
    behind = more_of(note)
    whole = str(note)
    return NoteLine(whole, short=line, more=behind if short in behind else f"{short} {behind}".strip())


def _cut(text: str, most: int) -> str:
    """The longest beginning that ends well and is no longer than asked; empty where none does."""
    for ends in _ENDS:
        at = max(text.rfind(end, 0, most - 1) for end in ends)
        if at > 0:
            return (
                text[: at + 1].rstrip() if ends is _ENDS[0] else f"{text[:at]}{'.' if ends is not _ENDS[-1] else ' …'}"
            )
    return ""
