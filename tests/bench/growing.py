"""What a number of measured sizes says of larger ones: a straight line through them, and the arithmetic in words.

A line says nothing of what begins only beyond the largest size: a page made of it tells what was run and what is paper.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

HOUR = 3600.0


@dataclass(frozen=True, kw_only=True)
class Line:
    """A quantity over sizes, as `fixed + each * size`.

    Attributes
    ----------
    fixed, each : float
    off : float
        Largest share by which a measured value is off the line.
    exponent : float
        Power of the size by which it grew between the two largest: below 1 where something is fixed.
    """

    fixed: float
    each: float
    off: float
    exponent: float

    def at(self, size: float) -> float:
        """The line at a size."""
        return self.fixed + self.each * size


def line_of(sizes: Sequence[float], values: Sequence[float]) -> Line:
    """Line through measured values, each counted by its share of itself.

    Examples
    --------
    >>> made = line_of([1e4, 1e5], [12.0, 30.0])
    >>> round(made.fixed, 6), round(made.each * 1e5, 6), round(made.off, 6), round(made.at(1e6), 6)
    (10.0, 20.0, 0.0, 210.0)
    """
    size, value = np.asarray(sizes, float), np.asarray(values, float)
    matrix = np.column_stack([1 / value, size / value])
    (fixed, each), *_ = np.linalg.lstsq(matrix, np.ones(len(value)), rcond=None)
    off = np.abs((fixed + each * size) / value - 1).max()
    exponent = np.log(value[-1] / value[-2]) / np.log(size[-1] / size[-2])
    return Line(fixed=float(fixed), each=float(each), off=float(off), exponent=float(exponent))


PAPER, COUNTY = (10**7, 10**8, 10**9), 10**8
QUANTITIES = ("seconds", "asks", "disk", "disk_most")


def page(machine: str, rows: Sequence[Mapping[str, Any]], once: Sequence[Mapping[str, Any]] = ()) -> str:
    """Page of what was measured, the lines through it, and what they say of sizes nobody ran.

    Parameters
    ----------
    machine : str
        What the benchmark ran on.
    rows : sequence of mapping
        Sizes that the benchmark measures, as it measured them.
    once : sequence of mapping
        Larger ones that were measured once, with `date`, `commit`, `machine`, and `read` and `write`: processor seconds
        of reading and writing the same files.
    """
    lines = _lines(rows)
    measured = _table(
        ("shots", "parts", "findings", "processor time", "of the one that asks", "memory of the one that asks",
         "mapped files with it", "largest worker", "disk at the end", "disk at most"),
        [(*_size(row), f"{row['own']:,.0f} s", f"{row['asks'] / 1e6:,.0f} MB", f"{row['resident'] / 1e6:,.0f} MB",
          f"{row['worker'] / 1e6:,.0f} MB", f"{row['disk'] / 1e6:,.0f} MB", f"{row['disk_most'] / 1e6:,.0f} MB")
         for row in rows],
    )  # fmt: skip
    return f"""# One job in parts: how it grows

Made by `GEOQA_WRITE_DOCS=1 .venv/bin/pytest -q -m benchmark -s tests/benchmarks/test_parts_growth.py`, and not edited
by hand.

{machine}
`geoqa parts` on seasons of work, in two workers; each size in processes of its own. Memory is the most that was held
at once and nothing but memory can hold; columns that lie in files and are mapped come with it where there is room, and
are dropped again where there is not. Disk is all that lies in the folder, what it may go on from included; at most, the
columns of the whole lie there too, which are mapped and taken away at the end.

## Measured

{measured}

## Lines through it

Fixed and a shot, each size counted alike by its share:

{_told(lines)}
{_measured_once(lines, once, machine) if once else ""}
{_paper([*rows, *once], through="all sizes above" if once else "the sizes above")}"""


def _lines(rows: Sequence[Mapping[str, Any]]) -> dict[str, Line]:
    """Line of each quantity through sizes, the smallest first."""
    rows = sorted(rows, key=lambda row: row["shots"])
    return {name: line_of([row["shots"] for row in rows], [row[name] for row in rows]) for name in QUANTITIES}


def _size(row: Mapping[str, Any]) -> tuple[str, ...]:
    return f"{row['shots']:,}", f"{row['parts']}", f"{row['findings']:,}", f"{row['seconds']:,.0f} s"


def _told(lines: Mapping[str, Line]) -> str:
    seconds, *bytes_of = (lines[name] for name in QUANTITIES)
    names = ("memory of the one that asks", "disk at the end", "disk at most")
    return _table(
        ("quantity", "fixed", "a shot", "off the line at most", "exponent between the two largest"),
        [
            ("processor time", f"{seconds.fixed:.0f} s", f"{seconds.each * 1e6:.0f} µs", f"{seconds.off:.0%}",
             f"{seconds.exponent:.2f}"),
            *((name, f"{line.fixed / 1e6:.0f} MB", f"{line.each:.0f} bytes", f"{line.off:.0%}", f"{line.exponent:.2f}")
              for name, line in zip(names, bytes_of, strict=True)),
        ],
    )  # fmt: skip


def _measured_once(lines: Mapping[str, Line], once: Sequence[Mapping[str, Any]], machine: str) -> str:
    """Large sizes beside what the lines through the small ones say of them."""
    once = sorted(once, key=lambda row: row["shots"])
    said = {row["shots"]: {name: line.at(row["shots"]) for name, line in lines.items()} for row in once}
    table = _table(
        ("shots", "parts", "findings", "processor time", "the line said", "of the one that asks",
         "memory of the one that asks", "the line said", "mapped files with it", "largest worker", "disk at the end",
         "disk at most", "the line said"),
        [(*_size(row), f"{said[row['shots']]['seconds']:,.0f} s", f"{row['own']:,.0f} s",
          f"{row['asks'] / 1e9:.2f} GB", f"{said[row['shots']]['asks'] / 1e9:.2f} GB",
          f"{row['resident'] / 1e9:.2f} GB", f"{row['worker'] / 1e6:,.0f} MB", f"{row['disk'] / 1e9:.2f} GB",
          f"{row['disk_most'] / 1e9:.2f} GB", f"{said[row['shots']]['disk_most'] / 1e9:.2f} GB") for row in once],
    )  # fmt: skip
    same = _table(
        ("shots", "reading the same files", "writing the same tables", "both", "the whole, times as much",
         "a shot", "measured on", "with commit"),
        [(f"{row['shots']:,}", f"{row['read']:,.0f} s", f"{row['write']:,.0f} s",
          f"{row['read'] + row['write']:,.0f} s", f"{row['seconds'] / (row['read'] + row['write']):.1f}",
          f"{row['seconds'] / row['shots'] * 1e6:.0f} µs", row["date"], row["commit"]) for row in once],
    )  # fmt: skip
    others = "".join(f"\n{row['shots']:,} shots: {row['machine']}" for row in once if row["machine"] != machine)
    return f"""
## Measured once

Not measured again by any run of the benchmarks: each size once, on the day and with the commit that stand with it, by
`tests/benchmarks/test_parts_growth.py once`. Other work ran on the machine: there is no elapsed time, and processor
time is up to 1.7 times what it is alone. What the line said is that of the table above, which knows none of these
sizes.
{others}
{table}

Against reading the same files with the same readers, and writing the same tables as GeoParquet, with nothing judged
between; in processor seconds, where parts are many of every so-manyth and scaled by their shots:

{same}
"""


def _paper(rows: Sequence[Mapping[str, Any]], *, through: str) -> str:
    lines, largest = _lines(rows), max(row["shots"] for row in rows)
    seconds, memory, disk, most = (lines[name] for name in QUANTITIES)
    sizes = [size for size in PAPER if size > 1.1 * largest]
    beyond = _table(
        ("shots", "processor time", "hours of one core", "memory of the one that asks", "disk at the end",
         "disk at most"),
        [
            (f"{size:,}",
             f"{seconds.fixed:.0f} s + {seconds.each * 1e6:.0f} µs × {size:,} = {seconds.at(size):,.0f} s",
             f"{seconds.at(size) / HOUR:,.1f}",
             f"{memory.fixed / 1e9:.2f} GB + {memory.each:.0f} bytes × {size:,} = {memory.at(size) / 1e9:,.1f} GB",
             f"{disk.at(size) / 1e9:,.0f} GB", f"{most.at(size) / 1e9:,.0f} GB")
            for size in sizes
        ],
    )  # fmt: skip
    hours, bytes_there, asks = seconds.at(COUNTY) / HOUR, most.at(COUNTY), memory.at(COUNTY)
    return f"""## Paper

**Nothing in this table was run.** It is lines through {through}, {sizes[0] / largest:.0f} and more times beyond
the largest ({largest:,}); what begins only beyond that, they do not know. Workers take what a part takes, whatever the
job is.

{beyond}

{COUNTY:,} shots would take {hours:,.0f} hours of one core and {bytes_there / 1e9:,.0f} GB of disk. They were not
run: the process that asks would take {asks / 1e9:,.0f} GB of memory, and a machine that has less is told so before
anything is judged.
"""


def _table(names: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    return "\n".join(f"| {' | '.join(map(str, row))} |" for row in (names, ["---"] * len(names), *rows))
