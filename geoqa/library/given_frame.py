"""The frame of tables that are given together, and whether each of them is in it."""

from collections.abc import Mapping
from typing import Any

from geoqa.errors import FrameError
from geoqa.frames.systems.projection import same_projection
from geoqa.frames.systems.resolve import resolve
from geoqa.library.accepted import System
from geoqa.library.systems import definition, projected
from geoqa.model.frame import Frame


def frame_of(frame: str | System | Frame | None, vertical: str | None, tables: Mapping[str, Any]) -> Frame:
    """The frame that a call names, else that of the first table that states a system.

    Raises
    ------
    FrameError
        No frame is given or found, it cannot be used, or its elevations have another unit than its plan.

    Examples
    --------
    >>> frame_of("EPSG:6547", "EPSG:8228", {}).unit.name
    'ft'
    """
    if isinstance(frame, Frame):
        if vertical is not None:
            raise FrameError("vertical: the frame that is given has its own; leave it out.")
        return frame
    if frame is None:
        stated = {name: table for name, table in tables.items() if getattr(table, "crs", None) is not None}
        if not stated:
            raise FrameError('frame: no table states a coordinate system; name it, for example frame="EPSG:6547".')
        name = next(iter(stated))
        frame = projected(stated[name], what=name)
    if hasattr(frame, "to_wkt"):
        frame = definition(frame)
    if not isinstance(frame, str) or not frame.strip():
        raise FrameError('frame: must be the code of a projected coordinate system, such as "EPSG:6547".')
    if vertical is not None and not isinstance(vertical, str):
        raise FrameError('vertical: must be the code of a vertical system, such as "EPSG:8228".')
    found = resolve(frame, vertical, what=("frame", "vertical"))
    if found.vertical_unit is not None and found.vertical_unit != found.unit:
        raise FrameError(
            f"vertical: {found.vertical_name} is in {found.vertical_unit.full_name}, and the plan in "
            f"{found.unit.full_name}; layers have one unit. Give the elevations in that of the plan, and a vertical "
            "system in it."
        )
    return found


def refuse_other_system(name: str, table: Any, frame: Frame) -> None:
    """Refuse a table with a geometry that is not in the frame; nothing is moved silently.

    Raises
    ------
    FrameError
    """
    theirs = resolve(projected(table, what=name), what=(name, name))
    if not same_projection(theirs, frame) or theirs.unit != frame.unit:
        raise FrameError(
            f"{name} are in {theirs.horizontal_name} ({theirs.unit.full_name}), the layers in "
            f"{frame.horizontal_name} ({frame.unit.full_name}); bring them there with geoqa.convert first"
        )
    if theirs.vertical and frame.vertical and theirs.vertical_wkt != frame.vertical_wkt:
        raise FrameError(
            f"{name} have elevations in {theirs.vertical_name}, the layers in {frame.vertical_name}; bring them there "
            "first, so that a difference is one of height"
        )
