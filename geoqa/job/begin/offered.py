"""What else a file of design holds: surfaces, and points that may be control marks; lines of the job, all comments."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from geoqa import plugins
from geoqa.errors import GeoqaError
from geoqa.job.begin.comment import one_line
from geoqa.job.begin.listing import Found
from geoqa.job.begin.marks import named
from geoqa.job.document.quoted import quoted
from geoqa.model.source import Source
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd

NAMED = 12
"""Points of a file that are named; the count of the rest is told."""


def offered(file: Found, sources: Mapping[str, Source], *, control: str) -> list[str]:
    """Lines for the surfaces and the points of a design file that its table does not read.

    Parameters
    ----------
    file : Found
    sources : mapping of str to Source
        Every file of the folder that was read.
    control : str
        The file that is drafted as control; empty without one.
    """
    return [*_surfaces(file), *_points(file, sources, control)]


def _surfaces(file: Found) -> Iterator[str]:
    if "surfaces" not in type(file.reader()).model_fields or {"surfaces"} & {*file.options, *file.asks}:
        return
    if names := file.peek.layers:
        listed = ", ".join(quoted(one_line(name)) for name in names)
        yield (
            f"# surfaces = [{listed}]   # {many(len(names), 'surface')} of the file, not read; a kind is compared with "
            'one where its [tolerance.KIND] has surface = "…"'
        )


def _points(file: Found, sources: Mapping[str, Source], control: str) -> Iterator[str]:
    """The points of a file of elements as a list of marks, with how many of them the shots name."""
    name = f"control.{file.path.suffix.lower().removeprefix('.')}"
    if not any(row[:1] == ("CgPoint",) for row in file.peek.rows) or name not in plugins.declared("readers"):
        return
    try:
        marks = plugins.load("readers", name)().read(file.path, source=file.path.stem).layers["control"]
    except GeoqaError as error:
        yield f"# its points are no control marks as they stand: {one_line(error)}"
        return
    names = [one_line(each) for each in marks["mark"]]
    more = f" and {len(names) - NAMED} more" * (len(names) > NAMED)
    said = named(set(names), _shots(sources))
    listed = f"{', '.join(names[:NAMED])}{more}"
    yield f"# {many(len(names), 'point')} (CgPoint): {listed}; the shots name {said or 'none'} of them."
    if control:
        yield f"# A job takes one [control], and {one_line(control)} is it; to have these instead:"
    else:
        yield "# If they are control marks:"
    yield from ("# [control]", f"# file = {quoted(file.shown)}")
    yield f"# only = [{quoted(names[0][:2])}]   # first letters of the names of the marks; all without this line"


def _shots(sources: Mapping[str, Source]) -> "list[pd.DataFrame]":
    return [source.layers["shots"] for source in sources.values() if "shots" in source.layers]
