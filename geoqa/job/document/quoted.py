"""Text as a job file writes it."""

import json


def quoted(text: str) -> str:
    r"""A string of TOML; the escapes are those of JSON.

    Examples
    --------
    >>> quoted('a"b\\c')
    '"a\\"b\\\\c"'
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
