"""What is printed on a terminal or into a file whose encoding does not have our marks."""

import codecs
import sys
import warnings

PLAIN = {
    "▲": "^",
    "◆": "*",
    "●": "o",
    "×": "x",
    "→": "->",
    "–": "-",
    "…": "...",
    "±": "+/-",
    "°": " deg",
    "≤": "<=",
    "≥": ">=",
    "·": "-",
}
"""Signs that carry meaning, in characters that every encoding has; anything else becomes a question mark."""

_HANDLER = "geoqa.plain"


def simplified(error: UnicodeError) -> tuple[str, int]:
    """Stand in for characters that an encoding lacks; a handler in the sense of `codecs.register_error`.

    Examples
    --------
    >>> codecs.register_error("example", simplified)
    >>> "▲ 0.1 ft – Straße".encode("ascii", "example")
    b'^ 0.1 ft - Stra?e'
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(PLAIN.get(mark, "?") for mark in error.object[error.start : error.end]), error.end


def _plainly(message: Warning | str, *_: object, **__: object) -> None:
    """A warning of a library as a note: where in whose source it arose says nothing to a surveyor."""
    sys.stderr.write(f"geoqa: note: {' '.join(str(message).split())}\n")


def forgive() -> None:
    """Print what an encoding lacks in plain characters: a redirected output is no reason to fail.

    Warnings are printed without the place in the source they come from.
    """
    warnings.showwarning = _plainly
    codecs.register_error(_HANDLER, simplified)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_HANDLER)
