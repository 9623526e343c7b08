"""Text of files, made safe for a terminal."""


def plain(text: object) -> str:
    r"""Text of a file, without anything a terminal would obey.

    Examples
    --------
    >>> plain("a\x1b[31mb")
    'a�[31mb'
    """
    return "".join(mark if mark.isprintable() else "\N{REPLACEMENT CHARACTER}" for mark in str(text))
