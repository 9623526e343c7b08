"""Coordinates of marks that lost their decimal point: digits without a point, a power of ten beside all others."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import SourceError
from geoqa.frames.files.reading import FileAsRead

_AXES = ("easting", "northing", "elevation")
_FEWEST = 2
_PLAN, _HIGHEST = 10_000.0, 30_000.0
"""Smaller plan coordinates may be local ones; no ground is higher, in any unit of length."""
_ALIKE = 0.02
_HIGH_ALIKE = 0.5


def refuse_lost_points(files: Sequence[FileAsRead]) -> None:
    """Refuse marks of which a coordinate lies a power of ten beside those of all other marks.

    Parameters
    ----------
    files : sequence of FileAsRead
        All files of a job, as they were read; shots speak where there are too few other marks.

    Raises
    ------
    SourceError
        With the file, the mark, what stands there and what it may be.

    Examples
    --------
    >>> import pandas as pd
    >>> from geoqa.model.source import Source
    >>> marks = pd.DataFrame({"mark": ["M1", "M2", "M3"], "easting": [2228000.0, 2228100.5, 2228200.0]})
    >>> marks["northing"], marks["elevation"] = [445968253.0, 446100.0, 446200.0], 1460.0
    >>> try:
    ...     refuse_lost_points([FileAsRead(role="control", name="marks.csv", source=Source(layers={"control": marks}))])
    ... except SourceError as error:
    ...     print(str(error).split(". ")[0])
    marks.csv: mark M1 has the northing 445968253, and the others lie near 446150
    """
    for file in files:
        table = file.source.layers.get("control")
        if file.role != "control" or table is None or not len(table):
            continue
        for axis in _AXES:
            if axis not in table:
                continue
            values = table[axis].to_numpy(float)
            for row in np.flatnonzero(np.isfinite(values) & (values == np.round(values))).tolist():
                others = np.delete(values, row)
                others = others[np.isfinite(others)]
                if len(others) < _FEWEST:
                    others = np.append(others, _of_shots(files, axis))
                meant = _meant(abs(float(values[row])), np.abs(others), axis)
                if meant is not None:
                    near = float(np.median(others))
                    raise SourceError(
                        f"{file.name}: mark {table['mark'].iloc[row]} has the {axis} {values[row]:.0f}, and the others "
                        f"lie near {near:.0f}. Was its decimal point lost ({np.sign(values[row]) * meant:.10g})? "
                        "Correct the file."
                    )


def _of_shots(files: Sequence[FileAsRead], axis: str) -> NDArray[np.float64]:
    tables = [file.source.layers["shots"] for file in files if "shots" in file.source.layers]
    values = [table[axis].to_numpy(float) for table in tables if axis in table]
    every = np.concatenate([np.zeros(0), *values])
    return np.asarray(every[np.isfinite(every)])


def _meant(value: float, others: NDArray[np.float64], axis: str) -> float | None:
    """The number with a decimal point where it lies among the others; None where it does so without, or never."""
    if len(others) < _FEWEST:
        return None
    near = float(np.median(others))
    plan = axis != "elevation"
    if value < 8 * near or (near < _PLAN if plan else value < _HIGHEST or near < 1):
        return None
    alike = _ALIKE if plan else _HIGH_ALIKE
    if np.median(np.abs(others - near)) > alike * near:
        return None
    power = round(float(np.log10(value / near)))
    meant = value / 10.0**power
    return meant if power >= 1 and abs(meant / near - 1) <= alike else None
