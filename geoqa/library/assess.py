"""A whole job from memory: one call, the same model, plan, record and verdicts as from a job file."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

from geoqa.errors import JobError
from geoqa.frames.systems.resolve import resolve
from geoqa.job.document.load import LoadedJob, in_memory
from geoqa.job.execute import Progress, silent
from geoqa.job.inputs.intake import Intake, take_in
from geoqa.job.inputs.named_files import job_files
from geoqa.job.run import judge
from geoqa.library.arguments import code_list, entries, refuse_other_frame, refuse_repeated_index
from geoqa.library.assessed import Assessed, assessed
from geoqa.library.systems import definition
from geoqa.library.validated import plain, validated
from geoqa.library.watching import Watch, watched
from geoqa.model.step import Step
from geoqa.model.words import many

if TYPE_CHECKING:
    from pathlib import Path

    import geopandas as gpd
    import pandas as pd

    from geoqa.library.accepted import System

    Table: TypeAlias = pd.DataFrame | gpd.GeoDataFrame | str | Path


def assess(
    shots: Table | Mapping[str, Table],
    design: Table | Sequence[Table] | Mapping[str, Table] | None = None,
    *,
    frame: str | System | Mapping[str, Any],
    vertical: str | None = None,
    control: Table | None = None,
    codes: Mapping[str, str] | str | Table | None = None,
    tolerances: Mapping[str, Mapping[str, Any]] | None = None,
    uncertainty: Mapping[str, Mapping[str, Any]] | None = None,
    tilt: Mapping[str, Any] | None = None,
    rule: str = "guarded",
    steps: Sequence[str | Mapping[str, Any] | Step] = (),
    columns: Mapping[str, str] | None = None,
    elements: pd.DataFrame | None = None,
    screening: Table | None = None,
    check_policy: Table | None = None,
    declared: Mapping[str, Mapping[str, Any]] | None = None,
    name: str = "Assessment",
    revision: str = "",
    date: datetime.date | None = None,
    progress: Watch = silent,
) -> Assessed:
    """Judge shots against design and control, all given as tables.

    It is a job file in one call: the same checks of what is given, the same steps, the same verdicts to the last bit.
    No table is changed, and no row is lost: what cannot be judged is NO_DATA.

    Parameters
    ----------
    shots : GeoDataFrame, DataFrame, or mapping of name to those
        Collected points, one a row. Places come from a geometry of points (2D or 3D), or from columns. What else a
        log knows – code, time, session, solution, reported precision – is found by the words of its column.
    design : GeoDataFrame, sequence or mapping of those, optional
        Lines and points, with a ``kind`` and a ``name`` each. A MultiLineString becomes lines ``name-1``, ``name-2``.
    frame : str, CRS or mapping
        Projected coordinate system of the job, such as ``"EPSG:6547"`` or ``shots.crs``, or the keys of ``[frame]``. A
        GeoDataFrame in another one is refused unless `declared` names its frame.
    vertical : str, optional
        Vertical system.
    control : GeoDataFrame or DataFrame, optional
        Marks: ``mark``, place, and what is known of them.
    codes : mapping of code to kind, str or DataFrame, optional
        Which kind each code stands for; or the name of the column of `shots` that holds the kinds themselves, which
        is ``kind`` if nothing is given. Shots of the kind ``control`` are check shots. A DataFrame is a code list.
    tolerances, uncertainty, tilt : mapping, optional
        Keys as in a job file; lengths are texts with their unit, such as ``"0.15 ft"``.
    rule : str
        guarded, simple, or ``guard R``.
    steps : sequence, optional
        Names, tables with options (``{"use": "runs", "off": True}``), or steps.
    columns : mapping, optional
        Column of ours to the name it has in `shots`, where words do not tell.
    elements : DataFrame, optional
        Design elements with true arcs; the lines are then drawing only.
    screening, check_policy : DataFrame, optional
        Rules; without them, those of common practice.
    declared : mapping of argument to mapping, optional
        What a job file would say of an input: ``{"shots": {"frame": "EPSG:6548", "time_zone": "America/Chicago"}}``.
    name, revision, date : optional
        Title block.
    progress : callable or "bar"
        Called with a stage in words, how many of it are done, and how many there are; or a bar where a person
        watches, on a terminal or in a notebook.

    Returns
    -------
    Assessed

    Raises
    ------
    JobError
        With one line for every argument that cannot stand.
    SourceError, FrameError
        A table is not what it should be, or does not fit the frame.

    Examples
    --------
    >>> import geopandas, geoqa, shapely
    >>> walk = geopandas.GeoDataFrame(
    ...     {"kind": ["walk-front"], "name": ["W-1"]},
    ...     geometry=[shapely.LineString([(2228000, 444000, 1457.0), (2228100, 444000, 1458.0)])],
    ...     crs="EPSG:6547",
    ... )
    >>> shots = geopandas.GeoDataFrame(
    ...     {"shot": ["1", "2"], "code": ["WKF", "WKF"]},
    ...     geometry=[shapely.Point(2228020, 444000.02, 1457.21), shapely.Point(2228070, 443999.5, 1457.69)],
    ...     crs="EPSG:6547",
    ... )
    >>> results = geoqa.assess(
    ...     shots,
    ...     walk,
    ...     frame="EPSG:6547",
    ...     codes={"WKF": "walk-front"},
    ...     tolerances={"walk-front": {"horizontal": "0.15 ft", "vertical": "0.06 ft", "reference": "C-101"}},
    ...     uncertainty={
    ...         "default": {"horizontal_random": "0.02 ft", "vertical_random": "0.02 ft", "reference": "repeats"}
    ...     },
    ... )
    >>> results.work[["shot", "check", "deviation", "verdict"]].round(3).values.tolist()[0]
    ['shots/2', 'offset', 0.5, 'OUT']
    """
    if hasattr(frame, "to_wkt"):
        frame = definition(frame)
    given = {"shots": shots, "control": control, "screening": screening, "check_policy": check_policy, "design": design}
    said = {role: dict(keys) for role, keys in (declared or {}).items()}
    made = entries(given, declared=said)
    held = {each["file"]: each["held"] for each in made.get("shots", ()) if "held" in each}
    drawn = made["design"][0].get("held", {}) if "design" in made else {}
    _refuse_misfits(made, held, drawn, frame=frame, vertical=vertical, said=said)
    listed, column = code_list(codes, held, drawn, said.get("design", {}).get("kind_field", "kind"))
    made |= entries({"codes": listed}, declared={"codes": said["codes"]} if "codes" in said else {})
    own = dict(columns or {}) | ({"code": column} if column else {})
    for each in made.get("shots", ()):
        if own:
            each["columns"] = dict(each.get("columns") or {}) | own
    if elements is not None:
        if not drawn:
            raise JobError("elements: belong to a design that is given as tables, and there is none.")
        made["design"][0]["elements"] = elements
    job = {
        "job": {"name": name, "revision": revision, "date": date},
        "frame": _frame(frame, vertical),
        **made,
        "tolerance": plain(tolerances),
        "uncertainty": plain(uncertainty),
        "tilt": None if tilt is None else dict(tilt),
        "decision": {"rule": rule},
        "steps": [dict(each) if isinstance(each, Mapping) else each for each in steps],
    }
    loaded = in_memory(validated(job))
    with watched(progress) as shown:
        return _judged(loaded, own, held, shown)


def _refuse_misfits(
    made: Mapping[str, Any],
    shots: Mapping[str, Any],
    design: Mapping[str, Any],
    *,
    frame: Any,
    vertical: Any,
    said: Mapping[str, Any],
) -> None:
    for each, table in shots.items():
        refuse_repeated_index(each, table)
    code = frame.get("horizontal") if isinstance(frame, Mapping) else frame
    if not isinstance(code, str) or not code.strip():
        raise JobError('frame: must be the code of a projected coordinate system, such as "EPSG:6547".')
    above = frame.get("vertical") if vertical is None and isinstance(frame, Mapping) else vertical
    if above is None or isinstance(above, str):
        resolve(code, above, what=("frame", "vertical"))
    held = [("shots", name, table) for name, table in shots.items()]
    held += [("design", name, table) for name, table in design.items()]
    if "held" in made.get("control", {}):
        held.append(("control", "control", made["control"]["held"]))
    for role, each, table in held:
        refuse_other_frame(role, each, table, code, declared="frame" in said.get(role, {}))


def _refuse_codeless(intake: Intake, columns: Mapping[str, str]) -> None:
    """Where no shot has a code, a column was not found: nothing could be judged, and all of it would be noise."""
    shots = intake.layers["shots"]
    if shots["code"].isna().all():
        raise JobError(
            f"codes: none of {many(len(shots), 'shot')} has a code"
            + (f" in column '{columns['code']}'" if "code" in columns else "")
            + '; say which column holds it with columns={"code": "…"}, or which holds the kind with codes="…".'
        )


def _refuse_timeless(intake: Intake, columns: Mapping[str, str], shots: Mapping[str, Any]) -> None:
    """Where a column is named as times and none was taken: without a zone all would be left out without a word."""
    column = columns.get("time")
    given = sum(int(table[column].notna().sum()) for table in shots.values() if column in table.columns)
    if given and intake.layers["shots"]["time"].isna().all():
        raise JobError(
            f"columns: none of the {given} times in column '{column}' says its zone, so none can be taken; say it with "
            'declared={"shots": {"time_zone": "America/Chicago"}}, give times with a zone, or leave the column out.'
        )


def _frame(frame: str | Mapping[str, Any], vertical: str | None) -> dict[str, Any]:
    keys = dict(frame) if isinstance(frame, Mapping) else {"horizontal": frame}
    return keys if vertical is None else keys | {"vertical": vertical}


def _judged(loaded: LoadedJob, columns: Mapping[str, str], shots: Mapping[str, Any], progress: Progress) -> Assessed:
    intake = take_in(loaded, progress=progress)
    _refuse_codeless(intake, columns)
    _refuse_timeless(intake, columns, shots)
    results = judge(loaded, intake, progress=progress)
    index = _index(shots, len(results.layers["shots"]))
    return assessed(results, loaded, originals=job_files(loaded).paths, index=index)


def _index(shots: Mapping[str, Any], rows: int) -> Any:
    """The caller's index; None where some shots came from files, which have none."""
    import pandas as pd

    if sum(len(table) for table in shots.values()) != rows:
        return None
    if len(shots) == 1:
        return next(iter(shots.values())).index
    return pd.concat({name: pd.Series(0, index=table.index) for name, table in shots.items()}).index
