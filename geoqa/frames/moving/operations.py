"""Choosing how to get from one coordinate system to another, or refusing with the reason.

Left to itself the engine answers every question: without the grid files it returns coordinates
unmoved, or takes a detour that moves them by feet, and says nothing. Here an operation is taken
only if it is a known one, its accuracy is known, and nothing better is known to be missing.
"""

import warnings
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError
from geoqa.frames.systems import engine
from geoqa.frames.systems.geographic import Bounds

if TYPE_CHECKING:
    import pyproj
    from pyproj.transformer import TransformerGroup


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One way from one coordinate system to another, and how good it is known to be.

    Attributes
    ----------
    source, target : str
        Names of the two systems.
    description : str
        Names of the steps.
    accuracy : float
        Stated accuracy of the operation, metres; 0 for a mere change of projection or unit.
    definition : str
        The steps with their parameters, for the record.
    best : bool
        False where a better operation is known and was not available.
    transformer : pyproj.Transformer
    """

    source: str
    target: str
    description: str
    accuracy: float
    definition: str
    best: bool
    transformer: "pyproj.Transformer" = field(repr=False, compare=False)

    @property
    def moves_with_time(self) -> bool:
        """True where the answer depends on the epoch of the coordinates."""
        return "t_epoch=" in self.definition

    def apply(
        self, first: ArrayLike, second: ArrayLike, *, what: str, strict: bool = True, epoch: float | None = None
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Move positions, easting or longitude first; a missing one stays missing.

        Raises
        ------
        FrameError
            With `strict`, a position where the operation is not defined; or the operation moves
            with time and no epoch is given.
        """
        if self.moves_with_time and epoch is None:
            raise FrameError(
                f"{what}: from {self.source} to {self.target} coordinates move with time; "
                "give the epoch (decimal year) of the coordinates."
            )
        return engine.move(
            self.transformer, first, second, what=what, strict=strict, epoch=epoch if self.moves_with_time else None
        )


def pick(
    source: str,
    target: str,
    *,
    what: str,
    area: Bounds | None = None,
    accuracy_limit: float | None = None,
    accept_second_best: bool = False,
) -> Operation:
    """Choose the operation between two coordinate systems.

    Parameters
    ----------
    source, target : str
        Codes or WKT.
    what : str
        Whose coordinates these are, for messages.
    area : (west, south, east, north), optional
        Where the coordinates are, degrees.
    accuracy_limit : float, optional
        Worst accuracy taken, metres.
    accept_second_best : bool
        Take the best operation that is there although a better one is known.

    Returns
    -------
    Operation

    Raises
    ------
    FrameError
        No known operation; a better one lacks its grids; accuracy unknown or beyond the limit;
        or only a detour by way of WGS 84.

    Examples
    --------
    >>> pick("EPSG:6499", "EPSG:6498", what="example").accuracy
    0.0
    >>> pick("EPSG:4267", "EPSG:6318", what="example", area=(-84.5, 42.5, -84.4, 42.6))  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    geoqa.errors.FrameError: example: from NAD27 to NAD83(2011) no known operation can be used; missing are the grids...
    """
    start, end = engine.crs(source), engine.crs(target)
    way = f"{what}: from {start.name} to {end.name}"
    group = _group(start, end, area)
    usable = [each for each in group.transformers if _known(each) and not _detour(each, start, end)]
    if not usable:
        reason = _missing(group.unavailable_operations)
        if group.transformers and not reason:
            reason = "; what is left goes by way of WGS 84 or has no stated accuracy"
        raise FrameError(
            f"{way} no known operation can be used{reason}. Convert the coordinates where the grids are, and "
            "declare the result, or get the file in the job's frame."
        )
    near = [each for each in usable if accuracy_limit is None or each.accuracy <= accuracy_limit]
    chosen = near[0] if near else usable[0]
    best = bool(group.best_available) and chosen is group.transformers[0]
    if not best and not accept_second_best:
        raise FrameError(
            f"{way} only '{chosen.description}' ({chosen.accuracy:g} m) is there, and a better operation is known"
            f"{_missing(group.unavailable_operations)}. Convert the coordinates where the grids are, "
            "or say that the lesser operation is accepted: accept_operation = true in its table of the job."
        )
    if not near:
        raise FrameError(
            f"{way} the best operation is good to {chosen.accuracy:g} m, and the job allows {accuracy_limit:g} m. "
            f'If that is enough, state accuracy = "{chosen.accuracy:g} m" in its table of the job.'
        )
    return Operation(
        source=start.name,
        target=end.name,
        description=chosen.description,
        accuracy=float(chosen.accuracy),
        definition=chosen.definition,
        best=best,
        transformer=chosen,
    )


def _group(start: "pyproj.CRS", end: "pyproj.CRS", area: Bounds | None) -> "TransformerGroup":
    pyproj = engine.library()
    place = None if area is None else pyproj.aoi.AreaOfInterest(*area)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library only warns of what is refused here
        return pyproj.transformer.TransformerGroup(
            start, end, always_xy=True, area_of_interest=place, allow_ballpark=False
        )


def _known(transformer: "pyproj.Transformer") -> bool:
    accuracy = transformer.accuracy
    return accuracy is not None and accuracy >= 0 and "allpark" not in transformer.description


def _detour(transformer: "pyproj.Transformer", start: "pyproj.CRS", end: "pyproj.CRS") -> bool:
    """By way of WGS 84 although neither end is WGS 84."""
    if any("WGS84" in _flat(_datum(each)) for each in (start, end)):
        return False
    return "WGS84" in _flat(transformer.description)


def _datum(crs: "pyproj.CRS") -> str:
    plan = crs.sub_crs_list[0] if crs.is_compound else crs
    base = plan.geodetic_crs
    if base is None:
        return ""
    datum = "" if base.datum is None else base.datum.name.replace("World Geodetic System 1984", "WGS 84")
    return f"{base.name} {datum}"


def _flat(text: str) -> str:
    return text.replace(" ", "").replace("_", "").upper()


def _missing(operations: "Iterable[pyproj.transformer.CoordinateOperation]") -> str:
    """Name the grid files of the best operation that lacks them."""
    for each in operations:
        grids = sorted({grid.short_name for grid in each.grids if not grid.available})
        if grids:
            good = f" ({each.accuracy:g} m)" if each.accuracy is not None and each.accuracy >= 0 else ""
            return f"; missing are the grids of '{each.name}'{good}: {', '.join(grids)}"
    return ""
