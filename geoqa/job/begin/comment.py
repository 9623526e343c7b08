"""Text that may stand in a comment of a job file: one line, nothing that is not printed, and not endless."""

LONGEST = 400


def one_line(item: object) -> str:
    r"""Evidence on one line of a comment; what comments may not hold is left out.

    Examples
    --------
    >>> one_line("two\nlines")
    'two lines'
    """
    words = printable(str(item))
    return words if len(words) <= LONGEST else words[: LONGEST - 1] + "…"


def printable(text: str) -> str:
    """Text without line ends and signs that are not printed, its words one blank apart."""
    return " ".join("".join(mark if mark.isprintable() else " " for mark in text).split())
