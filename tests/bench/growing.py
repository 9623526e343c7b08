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


PAPER = (10**7, 10**8, 10**9)


def page(machine: str, rows: Sequence[Mapping[str, Any]]) -> str:
    """Page of what was measured, the lines through it, and what they say of sizes nobody ran."""
    shots = [row["shots"] for row in rows]
    seconds, memory, disk = (line_of(shots, [row[name] for row in rows]) for name in ("seconds", "asks", "disk"))
    largest = f"{shots[-1]:,}"
    measured = _table(
        ("shots", "parts", "findings", "processor time", "of the one that asks", "memory of the one that asks",
         "mapped files with it", "largest worker", "disk"),
        [(f"{row['shots']:,}", row["parts"], f"{row['findings']:,}", f"{row['seconds']:.0f} s",
          f"{row['own']:.0f} s", f"{row['asks'] / 1e6:.0f} MB", f"{row['resident'] / 1e6:.0f} MB",
          f"{row['worker'] / 1e6:.0f} MB", f"{row['disk'] / 1e6:.0f} MB") for row in rows],
    )  # fmt: skip
    lines = _table(
        ("quantity", "fixed", "a shot", "off the line at most", "exponent between the two largest"),
        [
            ("processor time", f"{seconds.fixed:.0f} s", f"{seconds.each * 1e6:.0f} µs", f"{seconds.off:.0%}",
             f"{seconds.exponent:.2f}"),
            ("memory of the one that asks", f"{memory.fixed / 1e6:.0f} MB", f"{memory.each:.0f} bytes",
             f"{memory.off:.0%}", f"{memory.exponent:.2f}"),
            ("disk", f"{disk.fixed / 1e6:.0f} MB", f"{disk.each:.0f} bytes", f"{disk.off:.0%}",
             f"{disk.exponent:.2f}"),
        ],
    )  # fmt: skip
    beyond = _table(
        ("shots", "processor time", "hours of one core", "memory of the one that asks", "disk"),
        [
            (f"{size:,}",
             f"{seconds.fixed:.0f} s + {seconds.each * 1e6:.0f} µs × {size:,} = {seconds.at(size):,.0f} s",
             f"{seconds.at(size) / HOUR:,.1f}",
             f"{memory.fixed / 1e9:.2f} GB + {memory.each:.0f} bytes × {size:,} = {memory.at(size) / 1e9:,.1f} GB",
             f"{disk.at(size) / 1e9:,.0f} GB")
            for size in PAPER
        ],
    )  # fmt: skip
    return f"""# One job in parts: how it grows

Made by `GEOQA_WRITE_DOCS=1 .venv/bin/pytest -q -m benchmark -s tests/benchmarks/test_parts_growth.py`, and not edited
by hand.

{machine}
`geoqa parts` on seasons of work, in two workers; each size in processes of its own. Memory is the most that was held
at once and nothing but memory can hold; columns that lie in files and are mapped come with it where there is room, and
are dropped again where there is not. Disk is all that lies in the folder at the end, what it may go on from included.

## Measured

{measured}

## Lines through it

Fixed and a shot, each size counted alike by its share:

{lines}

## Paper

**Nothing in this table was run.** It is the lines above, {PAPER[0] // shots[-1]:,} and more times beyond the largest
size ({largest}); what begins only beyond that, they do not know. Workers take what a part takes, whatever the job is.

{beyond}
"""


def _table(names: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    return "\n".join(f"| {' | '.join(map(str, row))} |" for row in (names, ["---"] * len(names), *rows))
