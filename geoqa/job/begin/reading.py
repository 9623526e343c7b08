"""The files of a folder read whole, each with the options that the others settle for it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import GeoqaError, OrderError
from geoqa.frames.files.places import positions
from geoqa.frames.files.reading import ROLES, FileAsRead
from geoqa.frames.systems.resolve import resolve
from geoqa.job.begin.attributes import attributes_of
from geoqa.job.begin.comment import one_line
from geoqa.job.begin.design_tables import design_by_content
from geoqa.job.begin.listing import Found, LeftOut, Listing
from geoqa.job.begin.marks import control_by_content, either_order, names_of_open
from geoqa.job.document.quoted import quoted
from geoqa.job.inputs.column_order import Unsettled, settled
from geoqa.model.source import Source
from geoqa.model.words import many

if TYPE_CHECKING:
    pass

_PHOTOS = "not opened; cards and sheets name them beside their shots"
SMALLEST_PLACE = 1_000.0
"""A plan coordinate of a grid is larger. Common practice, no source."""


@dataclass(frozen=True)
class Folder:
    """A folder, read: its listing, and what each file that lies somewhere or lists codes says."""

    listing: Listing
    sources: Mapping[str, Source]

    def files(self, frame: str | None) -> list[FileAsRead]:
        """As the frames are asked of them; where a person gives the frame, the control is in it."""
        read = []
        for file in self.listing.found:
            source = self.sources.get(file.shown)
            if source is None:
                continue
            declared = frame if file.role == "control" and source.crs is None else None
            read.append(
                FileAsRead(role=file.role, name=file.shown, source=source, key=file.path.stem, declared=declared)
            )
        return read


def _without_photos(left: list[LeftOut], sources: Mapping[str, Source]) -> list[LeftOut]:
    """Pictures that shots name are photos of them, and no ground under the map: told together, not offered as that."""
    named: set[str] = set()
    for source in sources.values():
        if "shots" in source.layers:
            for text in source.layers["shots"]["photo"].dropna().astype("str").unique():
                parts = re.split(r"[;,|]", text.replace("\\", "/"))
                named |= {part.rpartition("/")[2].strip().casefold() for part in parts if part.strip()}
    photos = [
        out for out in left if out.settles[:1] == ("[background]",) and out.shown.rpartition("/")[2].casefold() in named
    ]
    if not photos:
        return left
    told = LeftOut(many(len(photos), "picture"), f"photos that the shots name, such as {photos[0].shown}: {_PHOTOS}")
    return [*(out for out in left if out not in photos), told]


def read_folder(listing: Listing, frame: str | None = None) -> Folder:
    """Read every file that is taken for something; what one leaves open, the others settle, or the frame."""
    found, left = list(listing.found), list(listing.left)
    sources: dict[str, Source] = {}
    open_orders: dict[int, OrderError] = {}
    for at, file in enumerate(found):
        if file.role in ("baseline", "profile"):  # they lie nowhere by themselves; whether they hold together is told
            read = _read(file)
            found[at] = replace(file, trouble=read) if isinstance(read, str) else file
        if file.role not in (*ROLES, "codes"):
            continue
        try:
            read = _read(file)
        except OrderError as error:
            open_orders[at] = error
            continue
        if isinstance(read, str):
            found[at] = replace(file, trouble=read)
            continue
        found[at], sources[file.shown] = read
    _with_order(found, open_orders, sources, frame)
    found, left = _without_offsets(found, left, sources)
    found = design_by_content(found, sources)
    found = control_by_content(found, sources, names_of_open(found, open_orders, sources))
    for file in found:
        if file.role == "control" and file.shown in sources and "control" not in sources[file.shown].layers:
            sources[file.shown] = file.reader().read(file.path, source=file.path.stem)
    left = _without_photos(left, sources)
    kept = {file.shown for file in found}
    return Folder(
        replace(listing, found=tuple(found), left=tuple(left)),
        {shown: source for shown, source in sources.items() if shown in kept},
    )


def _read(file: Found) -> tuple[Found, Source] | str:
    """The file with the options it needs, and what it says; or what keeps it from being read, in one line."""
    try:
        return file, file.reader().read(file.path, source=file.path.stem)
    except OrderError:
        raise
    except GeoqaError as error:
        trouble = one_line(error)
    except Exception as error:  # whatever a format library raises over a strange file, it is the file
        trouble = one_line(error) or type(error).__name__
    if file.role == "design":
        with_options = _with_surfaces(file) or attributes_of(file)
        if with_options is not None:
            return with_options
    return trouble


def _with_surfaces(file: Found) -> tuple[Found, Source] | None:
    """A file of which only its surfaces can be design: with the one it has, or asked which; None of other files."""
    reader = file.reader()
    if not file.peek.layers or "surfaces" not in type(reader).model_fields:
        return None
    names = list(file.peek.layers)
    try:
        source = reader.model_copy(update={"surfaces": tuple(names[:1])}).read(file.path, source=file.path.stem)
    except GeoqaError:
        return None
    if len(names) == 1:
        because = "the only surface of the file, and nothing else in it is design"
        return replace(file, options={**file.options, "surfaces": (names, because)}), source
    because = f'which is the design? {", ".join(quoted(name) for name in names)}; as ["NAME"]'
    return replace(file, asks={**file.asks, "surfaces": because}), source


def _without_offsets(
    found: list[Found], left: list[LeftOut], sources: dict[str, Source]
) -> tuple[list[Found], list[LeftOut]]:
    """Tables with columns north and east that hold no places: offsets of an antenna, readings, residuals."""
    kept = []
    for file in found:
        source = sources.get(file.shown)
        places = np.empty((0, 3)) if source is None or file.role != "shots" else positions(source.layers)
        middle = (
            np.nanmedian(np.abs(places[:, :2]), axis=0)
            if np.isfinite(places[:, :2]).any(axis=0).all() and len(places)
            else None
        )
        if middle is None or middle.max() >= SMALLEST_PLACE:
            kept.append(file)
            continue
        del sources[file.shown]
        why = f"its eastings and northings are about {middle[0]:g} and {middle[1]:g}: offsets or readings, not places"
        left.append(LeftOut(file.shown, why, ("[[shots]]", f"file = {quoted(file.shown)}")))
    return kept, left


def _with_order(
    found: list[Found], open_orders: dict[int, OrderError], sources: dict[str, Source], frame: str | None
) -> None:
    """Files without a header in the order that the other files settle; of one that nothing settles it is asked."""
    others = [
        FileAsRead(role=file.role, name=file.shown, source=sources[file.shown])
        for file in found
        if file.shown in sources and file.role in ROLES
    ]
    for at, error in open_orders.items():
        file = found[at]
        told: dict[str, tuple[object, str]] = {}

        def in_order(
            order: tuple[str, ...], because: str, file: Found = file, told: dict[str, tuple[object, str]] = told
        ) -> Source:
            if because:
                told["columns"] = order, because
            source: Source = file.reader().in_order(order, because).read(file.path, source=file.path.stem)  # type: ignore[attr-defined]
            return source

        nothing = FileAsRead(role=file.role, name=file.shown, source=Source(layers={}))
        try:
            [read] = settled([Unsettled(nothing, error, in_order)], others, None if frame is None else resolve(frame))
        except GeoqaError:
            found[at] = replace(file, asks=either_order(error.orders))
        else:
            found[at] = replace(file, options={**file.options, **told})
            sources[file.shown] = read.source
