"""What a picture's coordinates mean: the same questions as for any file, and one refusal more.

Pictures are warped by the library that reads them, which would take any shift between datums it
knows, or none, without a word. So it is only ever asked for a change of projection or unit.
"""

from dataclasses import dataclass

from geoqa.errors import FrameError
from geoqa.frames.moving.declared import settle
from geoqa.frames.systems.definitions import plan_text, systems
from geoqa.frames.systems.projection import same_datum, same_projection
from geoqa.model.frame import Frame
from geoqa.model.source import Evidence, Source


@dataclass(frozen=True, kw_only=True)
class PictureFrame:
    """Coordinate system of a picture.

    Attributes
    ----------
    wkt : str
        Of its horizontal system; the job's own text where the two are the same.
    evidence : tuple of Evidence
    """

    wkt: str
    evidence: tuple[Evidence, ...]


def picture_frame(
    frame: Frame, *, stated: str | None, declared: str | None, accept: bool = False, what: str
) -> PictureFrame:
    """Settle the coordinate system of a picture.

    Parameters
    ----------
    frame : Frame
        The job's.
    stated : str or None
        What the file says.
    declared : str or None
        What the job says, code or WKT.
    accept : bool
        The job's word stands where the file contradicts it.
    what : str
        Which file, for messages.

    Raises
    ------
    FrameError
        Nobody says; the two contradict each other; it cannot be read; or it stands on another
        datum than the job.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> found = picture_frame(resolve("EPSG:6547"), stated="EPSG:6343", declared=None, what="ortho.tif")
    >>> found.wkt.startswith('PROJCRS["NAD83(2011) / UTM zone 14N"')
    True
    """
    if stated is None and declared is None:
        raise FrameError(
            f"{what}: states no coordinate system; say in [background] which one its coordinates are in, "
            f'for example frame = "{frame.horizontal if ":" in frame.horizontal else "EPSG:6547"}".'
        )
    settled = settle(
        Source(layers={}, crs=plan_text(stated)),
        frame=frame,
        what=what,
        declared=plan_text(declared),
        vertical=frame.unit,  # a picture has no elevations whose unit could be in doubt
        accept=accept,
    )
    plan = systems(settled.system)[0]
    if not same_datum(settled.system, frame):
        raise FrameError(
            f"{what}: it lies in {plan.name}, on another datum than the job ({frame.horizontal_name}); pictures are "
            "not moved between datums here, it would lie off by up to metres. Warp it to the job's system where the "
            "shift is known; or, if its label is wrong, name its true system beside it with frame and accept = true."
        )
    same = same_projection(settled.system, frame)
    evidence = list(settled.evidence)
    if settled.unit != frame.unit:
        evidence.append(
            Evidence(
                what="unit of the picture",
                answer=f"{settled.unit.full_name}, the job's is the {frame.unit.full_name}",
                because=f"axis factor of {plan.name}; its place is scaled to the job's unit",
            )
        )
    elif not same:
        evidence.append(
            Evidence(what="projection of the picture", answer=plan.name, because="warped to the job's grid, same datum")
        )
    alike = same and settled.unit == frame.unit
    return PictureFrame(wkt=frame.horizontal_wkt if alike else plan.to_wkt("WKT2_2019"), evidence=tuple(evidence))
