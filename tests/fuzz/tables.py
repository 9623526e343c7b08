"""Damage to tables: to how they are written, to one cell or row, to their headings, to the whole."""

import re
from collections.abc import Callable
from random import Random

from fuzz.damage import Damaged, Table, bytes_damaged, quoted, written
from fuzz.seeds import Seed

MARKS = {"tab": "\t"}
ODD_CELLS = (
    *("NaN", "inf", "1e400", "2.23E+06", "#####", "#REF!", "-", "N/A", "null", "1458.25 ft", "1 458.25", "1,458.25"),
    *(
        "−1458.25",
        "١٤٥٨",
        "1458,25",
        "14582500",
        "3-Feb",
        "2026-02-04",
        "12:30",
        "1458.2.5",
        "O.25",
        "--5",
        "+",
        "0x1F",
    ),
    *(
        "=1+1",
        "1458.25\x00",
        "\u00a01458.25\u00a0",
        "½",
        "é",
        "名",
        "\u202e5",
        "",
        " ",
        "x" * 3000,
        "9" * 400,
        "1e-320",
    ),
    *("TRUE", "-9999", "0", "10+00", "1:0", "5 %", "1e5"),
)
"""Texts that stand in cells where something went wrong."""


def style(draw: Random, seed: Seed) -> Damaged:
    """Written in another way, saying the same."""
    table = Table.of(seed.rows)
    own = MARKS.get(seed.suffix, ",")
    how = draw.choice(
        (
            "line ends of two characters",
            "line ends of one return",
            "byte order mark",
            "UTF-16",
            "blank lines within",
            "blank lines at the end",
            "empty rows",
            "every cell quoted",
            "blanks about cells",
            "headings in capitals",
            "columns in another order",
            "a column nobody knows",
            "semicolons",
            "tabs",
            "bars",
            "no last line end",
            "decimal commas",
            "header again",
            "empty columns",
            "a comment",
        )
    )
    mark, encode = own, "utf-8"
    if how == "columns in another order":
        order = draw.sample(range(len(table.head)), len(table.head))
        table.head = [table.head[at] for at in order]
        table.rows = [[row[at] for at in order] for row in table.rows]
    elif how == "a column nobody knows":
        at = draw.randrange(len(table.head) + 1)
        table.head.insert(at, "weather")
        for row in table.rows:
            row.insert(at, "fair")
    elif how == "headings in capitals":
        table.head = [each.upper() for each in table.head]
    elif how in ("semicolons", "tabs", "bars", "decimal commas"):
        mark = {"semicolons": ";", "tabs": "\t", "bars": "|", "decimal commas": ";"}[how]
        if how == "decimal commas":
            table.rows = [[_comma(each) for each in row] for row in table.rows]
    text = table.text(mark)
    lines = text.splitlines()
    if how == "every cell quoted":
        text = "".join(
            mark.join('"' + each.replace('"', '""') + '"' for each in row) + "\n" for row in (table.head, *table.rows)
        )
    elif how == "blanks about cells":
        text = "".join(mark.join(f" {quoted(each, mark)} " for each in row) + "\n" for row in (table.head, *table.rows))
    elif how == "blank lines within":
        lines.insert(draw.randrange(1, len(lines)), "")
        text = "\n".join(lines) + "\n"
    elif how == "blank lines at the end":
        text += "\n\n  \n"
    elif how == "empty rows":
        lines.insert(draw.randrange(1, len(lines)), mark * (len(table.head) - 1))
        text = "\n".join(lines) + "\n"
    elif how == "header again":
        lines.insert(draw.randrange(2, len(lines)), lines[0])
        text = "\n".join(lines) + "\n"
    elif how == "empty columns":
        text = "".join(each + mark * 2 + "\n" for each in lines)
    elif how == "a comment":
        text = "# exported for the office\n" + text
    elif how == "no last line end":
        text = text[:-1]
    ends = {"line ends of two characters": "\r\n", "line ends of one return": "\r"}.get(how, "\n")
    encode = {"byte order mark": "utf-8-sig", "UTF-16": "utf-16"}.get(how, "utf-8")
    data = text.replace("\n", ends).encode(encode)
    return Damaged(how=how, write=written(seed.suffix, {seed.suffix: data}), text=text)


def _comma(cell: str) -> str:
    """A decimal number with a comma; no station, time or slope."""
    return re.sub(r"^(-?\d+)\.(\d+)( in| ft| %)?$", r"\1,\2\3", cell)


def cell(draw: Random, seed: Seed) -> Damaged:
    """Another text in one cell."""
    table = Table.of(seed.rows)
    row, column = draw.randrange(len(table.rows)), draw.randrange(len(table.head))
    old = table.rows[row][column]
    how = draw.choice(
        ("odd text", "odd text", "odd text", "digit changed", "letter in a number", "cell of another row", "cell cut")
    )
    if how == "odd text":
        new = draw.choice(ODD_CELLS)
        how = f"odd text {new[:12]!a}"
    elif how == "cell of another row":
        new = draw.choice(table.rows)[column]
    elif how == "cell cut":
        new = old[: draw.randrange(len(old) + 1)]
    else:
        at = draw.randrange(len(old) + 1)
        new = (
            old[:at] + (draw.choice("0123456789") if how == "digit changed" else draw.choice("OlSxé½")) + old[at + 1 :]
        )
    table.rows[row][column] = new
    mark = MARKS.get(seed.suffix, ",")
    text = table.text(mark)
    data = text.encode()
    return Damaged(
        how=how,
        write=written(seed.suffix, {seed.suffix: data}),
        text=text,
        row=row,
        columns=frozenset({table.head[column]}),
    )


def row(draw: Random, seed: Seed) -> Damaged:
    """One row that is no row of its table any more."""
    table = Table.of(seed.rows)
    mark = MARKS.get(seed.suffix, ",")
    lines = table.text(mark).splitlines()
    at = draw.randrange(1, len(lines))
    line = lines[at]
    places = [nth for nth, each in enumerate(line) if each == mark]
    how = draw.choice(
        (
            "row cut short",
            "delimiter twice",
            "delimiter gone",
            "quote opened",
            "decimal commas in one row",
            "other delimiter in one row",
            "row of bytes",
            "line end in the middle",
            "two rows in one line",
            "note with delimiters",
            "a sentence between",
            "row begins later",
        )
    )
    if how == "row cut short":
        lines[at] = line[: draw.randrange(1, len(line))]
    elif how == "delimiter twice":
        place = draw.choice(places)
        lines[at] = line[:place] + mark + line[place:]
    elif how == "delimiter gone":
        place = draw.choice(places)
        lines[at] = line[:place] + line[place + 1 :]
    elif how == "quote opened":
        place = draw.choice([-1, *places]) + 1
        lines[at] = line[:place] + '"' + line[place:]
    elif how == "decimal commas in one row":
        lines[at] = mark.join(_comma(each) for each in table.rows[at - 1])
    elif how == "other delimiter in one row":
        lines[at] = line.replace(mark, ";")
    elif how == "row of bytes":
        lines[at] = "".join(chr(draw.randrange(32, 0x250)) for _ in range(len(line)))
    elif how == "line end in the middle":
        place = draw.randrange(1, len(line))
        lines[at] = line[:place] + "\n" + line[place:]
    elif how == "two rows in one line":
        other = lines.pop(at + 1) if at + 1 < len(lines) else line
        lines[at] = line + other
    elif how == "note with delimiters":
        lines[at] = line + mark + "wet" + mark + " cold"
    elif how == "a sentence between":
        lines.insert(at, "Battery changed here" + draw.choice(("", ", and the rod too", ".")))
    else:
        lines[at] = mark + line
    text = "\n".join(lines) + "\n"
    both = {"two rows in one line"}
    return Damaged(
        how=how,
        write=written(seed.suffix, {seed.suffix: text.encode()}),
        text=text,
        row=None if how in both else at - 1,
        columns=_touched(how, seed, at),
        other=how in both,
    )


def _touched(how: str, seed: Seed, at: int) -> frozenset[str] | None:
    """Columns whose own text the damage of a row changes: that of the last one, where it is cut within it."""
    last = seed.rows[0][-1]
    return frozenset({last}) if how in ("row cut short", "line end in the middle", "quote opened") else frozenset()


def headings(draw: Random, seed: Seed) -> Damaged:
    """Headings that say something else, or nothing."""
    table = Table.of(seed.rows)
    at = draw.randrange(len(table.head))
    other = False
    how = draw.choice(
        (
            "heading misspelt",
            "heading empty",
            "heading twice",
            "heading of another column",
            "headings in another language",
            "two headings changed about",
            "no header",
            "a column left out",
            "unit in a heading",
            "units below the header",
            "header cut",
            "lines above the header",
            "header with a stray quote",
        )
    )
    mark = MARKS.get(seed.suffix, ",")
    if how == "heading misspelt":
        name = table.head[at]
        place = draw.randrange(len(name))
        table.head[at] = name[:place] + draw.choice("qxz") + name[place + 1 :]
    elif how == "heading empty":
        table.head[at] = ""
    elif how == "heading twice":
        table.head[at] = table.head[draw.randrange(len(table.head))]
    elif how in ("heading of another column", "two headings changed about"):
        to = draw.randrange(len(table.head))
        if how == "two headings changed about":
            table.head[at], table.head[to] = table.head[to], table.head[at]
            other = True
        else:
            table.head[at] = draw.choice(("elevation", "northing", "easting", "code", "kind", "u_v", "station"))
            other = True
    elif how == "headings in another language":
        table.head = ["Punkt", "Rechtswert", "Hochwert", "Höhe", *("Wort" + str(n) for n in range(9))][
            : len(table.head)
        ]
        other = True
    elif how == "a column left out":
        table.head.pop(at)
        for each in table.rows:
            each.pop(at)
    elif how == "unit in a heading":
        table.head[at] += draw.choice((" (ft)", " (ftUS)", " (m)", " [m]", "_mm", " (?)", " (furlong)"))
        other = True
    text = table.text(mark)
    lines = text.splitlines()
    if how == "no header":
        lines = lines[1:]
    elif how == "units below the header":
        lines.insert(1, mark.join(draw.choice(("", "ft", "m", "[ft]", "name")) for _ in table.head))
        other = True
    elif how == "header cut":
        lines[0] = lines[0][: draw.randrange(len(lines[0]))]
        other = True
    elif how == "lines above the header":
        lines[:0] = draw.choice((["Job: street", ""], ["Exported", "by the office", "2026-03-14"], ["", ""]))
    elif how == "header with a stray quote":
        lines[0] = '"' + lines[0]
    text = "\n".join(lines) + "\n"
    return Damaged(how=how, write=written(seed.suffix, {seed.suffix: text.encode()}), text=text, other=other)


def whole(draw: Random, seed: Seed) -> Damaged:
    """Another file: rows gone, twice, in another order; nothing; something else."""
    table = Table.of(seed.rows)
    mark = MARKS.get(seed.suffix, ",")
    count = len(table.rows)
    at, kept, other, fewer = draw.randrange(count), None, False, False
    how = draw.choice(
        (
            "a row gone",
            "rows gone at the end",
            "a row twice",
            "two rows changed about",
            "empty",
            "header alone",
            "a web page",
            "only blanks",
            "another table",
            "two files in one",
            "a picture",
            "a long line",
            "numbers alone",
            "cut in the middle",
        )
    )
    order = list(range(count))
    if how == "a row gone":
        order.pop(at)
        kept, other, fewer = order, True, True
    elif how == "rows gone at the end":
        kept, other, fewer = order[: at + 1], True, True
    elif how == "a row twice":
        kept, other = [*order[: at + 1], at, *order[at + 1 :]], True
    elif how == "two rows changed about":
        to = draw.randrange(count)
        order[at], order[to] = order[to], order[at]
        kept, other = order, True
    elif how == "header alone":
        table.rows = []
    if kept is not None:
        table.rows = [table.rows[each] for each in kept]
    text = table.text(mark)
    data: bytes | None = None
    if how == "empty":
        text = ""
    elif how == "a web page":
        text = "<!DOCTYPE html>\n<html><body>Sign in to download, please</body></html>\n"
    elif how == "only blanks":
        text = " \n\t\n\n"
    elif how == "another table":
        text, other = "date,hours,who\n2026-03-14,8,A\n2026-03-15,7.5,B\n", True
    elif how == "two files in one":
        turned = Table([*reversed(table.head)], [[*reversed(each)] for each in table.rows])
        text, other = text + turned.text(mark), True
    elif how == "a picture":
        data = b"\x89PNG\r\n\x1a\n" + draw.randbytes(200)
    elif how == "a long line":
        text, other = text + "x" * 2_000_000 + "\n", True
    elif how == "numbers alone":
        text, other = "".join(f"{n},{n * 3.5},{n * 7.25}\n" for n in range(9)), True
    elif how == "cut in the middle":
        text, other, fewer = text[: draw.randrange(1, len(text))], True, True
    data = text.encode() if data is None else data
    return Damaged(
        how=how,
        write=written(seed.suffix, {seed.suffix: data}),
        text=text,
        rows=kept if seed.one_to_one else None,
        other=other,
        fewer=fewer,
    )


def raw(draw: Random, seed: Seed) -> Damaged:
    """Bytes lost, changed or put in anywhere."""
    how, data = bytes_damaged(draw, Table.of(seed.rows).text(MARKS.get(seed.suffix, ",")).encode())
    return Damaged(
        how=how,
        write=written(seed.suffix, {seed.suffix: data}),
        text=data.decode("cp1252", errors="replace"),
        other=True,
        columns=None,
    )


SORTS: tuple[Callable[[Random, Seed], Damaged], ...] = (style, cell, cell, row, row, headings, whole, raw, raw)
