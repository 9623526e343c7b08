"""Columns that a file without a header leaves open, settled by what lies beside it: other files, and the frame."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import AreaError, GeoqaError, OrderError
from geoqa.frames.files.place import in_frame
from geoqa.frames.files.places import positions
from geoqa.frames.files.reading import FileAsRead, as_stated
from geoqa.model.frame import Frame

if TYPE_CHECKING:
    from geoqa.model.source import Source

NEARER = 10.0
"""How many times nearer one order must lie to the other files than the other to be taken."""
FARTHEST = 50_000.0
"""Units of the file from the other files; beyond it, they are of another site or another system."""

_SUREST = ("control", "design", "shots")
"""Whose places are believed first."""


@dataclass(frozen=True)
class Unsettled:
    """A file whose reader found two orders: what the job says of it, the two, and how it is read in one of them.

    `file.source` is not looked at; `read` takes an order and why it holds.
    """

    file: FileAsRead
    error: OrderError
    read: "Callable[[tuple[str, ...], str], Source]"


def settled(
    unsettled: Sequence[Unsettled],
    others: Sequence[FileAsRead],
    frame: Frame | None,
    open_too: Sequence[str] = (),
) -> list[FileAsRead]:
    """Read files without a header in the order in which they lie beside the others, or inside the frame's area of use.

    Parameters
    ----------
    unsettled : sequence of Unsettled
    others : sequence of FileAsRead
        Every file of the job that could be read: control and design come before other shots.
    frame : Frame or None
        The job's, if it is known; without one, numbers are compared as they stand.
    open_too : sequence of str
        Names of further files whose own order is open, and which tell nothing therefore.

    Returns
    -------
    list of FileAsRead
        In the order of `unsettled`.

    Raises
    ------
    OrderError
        Nothing decides; with both readings, the line to add, and what was looked at.
    """
    known = list(_neighbours(others, frame))
    open_too = [*(each.file.name for each in unsettled), *open_too]
    return [_settled(each, known, frame, open_too) for each in unsettled]


def _settled(
    each: Unsettled, known: "list[tuple[str, np.ndarray]]", frame: Frame | None, open_too: Sequence[str] = ()
) -> FileAsRead:
    read = {order: replace(each.file, source=each.read(order, "")) for order in each.error.orders}
    places = {order: _places(file, frame) for order, file in read.items()}
    order, because = _nearest(places, known) or _inside(places, frame) or (None, "")
    if order is None:
        names = [name for name, _ in known]
        names += [f"{name} (its own order is open too)" for name in dict.fromkeys(open_too) if name != each.file.name]
        looked = f"\nLooked at: {', '.join(names) or 'no other file'}; none decides."
        raise OrderError(str(each.error) + looked, each.error.orders)
    return replace(each.file, source=each.read(order, because))


def _neighbours(others: Sequence[FileAsRead], frame: Frame | None) -> "Iterator[tuple[str, np.ndarray]]":
    """Where the other files lie: control, then design, then shots."""
    placed = [each for each in others if each.role in _SUREST]
    for file in sorted(placed, key=lambda each: _SUREST.index(each.role)):
        with suppress(GeoqaError):
            places = _places(file, frame)
            if places is not None and len(places):
                yield file.name, places


def _places(file: FileAsRead, frame: Frame | None) -> "np.ndarray | None":
    """Eastings and northings in the job's frame, else as they stand; None where the file cannot lie there."""
    tables = file.source.layers
    if frame is not None:
        try:
            tables = in_frame(as_stated(file), frame).layers
        except AreaError:
            return None
    places = positions(tables)[:, :2]
    return places[np.isfinite(places).all(axis=1)]


def _nearest(
    places: "dict[tuple[str, ...], np.ndarray | None]", known: "list[tuple[str, np.ndarray]]"
) -> tuple[tuple[str, ...], str] | None:
    """The order that lies many times nearer to another file than the other order does."""
    for name, others in known:
        away = {
            order: float(np.hypot(*(others - np.median(mine, axis=0)).T).min()) if mine is not None else np.inf
            for order, mine in places.items()
        }
        (near, distance), (_, other) = sorted(away.items(), key=lambda item: item[1])
        if distance < FARTHEST and other > NEARER * distance:
            far = f"{other:,.0f}" if np.isfinite(other) else "outside the frame's area of use"
            return near, f"no header; {distance:,.0f} from {name}, the other way round {far}"
    return None


def _inside(
    places: "dict[tuple[str, ...], np.ndarray | None]", frame: Frame | None
) -> tuple[tuple[str, ...], str] | None:
    """The order that lies inside the area of use of the job's frame, where the other one does not."""
    inside = [order for order, mine in places.items() if mine is not None]
    if frame is None or len(inside) != 1:
        return None
    return inside[0], f"no header; the other way round, it lies outside the area of use of {frame.horizontal_name}"
