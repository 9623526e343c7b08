"""Untrusted text inside a drawing: no control sequence survives, and no line is longer than the format allows."""

from geoqa.write.text import one_line

LONGEST = 250
"""Characters of one text: programs read 255 bytes and more, but older ones no more than that."""


def cad_text(text: str) -> str:
    r"""Make text show as it is written.

    ``%%c`` and ``\U+2205`` would become a sign and ``^J`` a line end.

    Examples
    --------
    >>> cad_text("dia %%c12 ^J \\U+0041")
    'dia % %c12 ^ J \\ U+0041'
    """
    line = one_line(text).replace("^", "^ ").replace("^  ", "^ ")
    while "%%" in line:
        line = line.replace("%%", "% %")
    for code in ("U+", "M+", "u+", "m+"):
        line = line.replace(f"\\{code}", f"\\ {code}")
    return line if len(line) <= LONGEST else line[: LONGEST - 1] + "…"


def note_text(lines: list[str]) -> str:
    r"""Make lines one paragraph text, with everything that would be a format code taken as text.

    Examples
    --------
    >>> note_text(["a {b}", "c"])
    'a \\{b\\}\\Pc'
    """
    return r"\P".join(cad_text(line).replace("\\", r"\\").replace("{", r"\{").replace("}", r"\}") for line in lines)
