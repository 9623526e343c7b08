"""What a call names, as the tables of a job: the same keys, checked by the same model."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.errors import FrameError, JobError
from geoqa.frames.systems.projection import same_projection
from geoqa.frames.systems.resolve import resolve
from geoqa.model.check import CONTROL
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd

ROLES = ("shots", "control", "codes", "screening", "check_policy", "design")
"""Arguments that are tables; what is declared of each stands under its name."""
LISTED = ("shots", "design")
_OWN = ("file", "use", "reader", "held", "elements")
"""Keys that are filled in from what is given."""


def entries(given: Mapping[str, Any], *, declared: Mapping[str, Any]) -> dict[str, Any]:
    """The tables of a job that name its inputs.

    Parameters
    ----------
    given : mapping of role to table, path, or mapping of name to those
    declared : mapping of role to keys
        What the job says of each input: frame, unit, time_zone and so on.

    Raises
    ------
    JobError
        An input is neither a table nor a path, or is declared and not given.
    """
    strangers = [role for role in declared if given.get(role) is None]
    if strangers:
        known = ", ".join(role for role in ROLES if given.get(role) is not None)
        raise JobError(f"declared: '{strangers[0]}' is not among the inputs; they are {known}.")
    for role, keys in declared.items():
        if own := sorted(set(keys) & set(_OWN)):
            raise JobError(f"declared: '{own[0]}' of {role} is said by the table itself; leave it out.")
    made: dict[str, Any] = {}
    for role in ROLES:
        keys = dict(declared.get(role) or {})
        tables = [entry | keys for entry in _entries(role, given.get(role))]
        if tables:
            made[role] = tables if role in LISTED else tables[0]
    return made


def _entries(role: str, given: Any) -> Iterator[dict[str, Any]]:
    if given is None:
        return
    if role == "design" and not isinstance(given, str | Path):
        yield {"file": role, "use": f"table.{role}", "held": _design(given)}
        return
    several = given if isinstance(given, Mapping) and role == "shots" else {role: given}
    for name, table in several.items():
        yield _entry(role, str(name), table)


def _entry(role: str, name: str, table: Any) -> dict[str, Any]:
    if isinstance(table, str | Path):
        return {"file": str(table)}
    _refuse_no_table(name, table)
    if not re.fullmatch(r"[\w-]+", name):
        raise JobError(f"{role}: the name {name!r} stands in keys of shots; use letters, digits, - and _ only.")
    return {"file": name, "use": f"table.{role}", "held": table}


def _design(given: Any) -> dict[str, Any]:
    """Layers of the design: one table, several, or each with a name."""
    if isinstance(given, Mapping):
        layers = {str(name): table for name, table in given.items()}
    elif is_table(given):
        layers = {"design": given}
    elif isinstance(given, Sequence):
        layers = {f"design {at}": table for at, table in enumerate(given, start=1)}
    else:
        layers = {"design": given}
    for name, table in layers.items():
        _refuse_no_table(name, table)
        if "geometry" not in {str(each) for each in table.dtypes}:
            raise JobError(f"{name}: is a table without a geometry; give a GeoDataFrame of lines and points.")
    return layers


def _refuse_no_table(name: str, table: Any) -> None:
    if not is_table(table):
        raise JobError(
            f"{name}: must be a GeoDataFrame, a DataFrame or the path of a file, and is a {type(table).__name__}."
        )
    if not table.columns.is_unique:
        twice = table.columns[table.columns.duplicated()][0]
        raise JobError(f"{name}: has two columns '{twice}'; rename one of them.")
    if len(table) == 0:
        raise JobError(f"{name}: has no rows.")


def subscripted(name: str, keys: Sequence[str | int]) -> str:
    """An address inside an argument, as code writes it.

    Examples
    --------
    >>> subscripted("tolerances", ["rim", "vertical"])
    'tolerances["rim"]["vertical"]'
    """
    return name + "".join(f"[{key!r}]" if isinstance(key, int) else f'["{key}"]' for key in keys)


def is_table(given: Any) -> bool:
    """Whether something is a table of pandas or geopandas, without importing either."""
    return hasattr(given, "columns") and hasattr(given, "dtypes")


def refuse_repeated_index(name: str, table: pd.DataFrame) -> None:
    """Refuse shots whose index cannot tell one row from another: results are given back on it.

    Raises
    ------
    JobError
    """
    if not table.index.is_unique:
        twice = table.index[table.index.duplicated()]
        raise JobError(
            f"{name}: its index holds {str(twice[0])!r} more than once "
            f"({many(len(twice), 'such row')}), and results come back "
            "on that index; make it unique first, for example with reset_index(drop=True)."
        )


def refuse_other_frame(role: str, name: str, table: Any, frame: str, *, declared: bool) -> None:
    """Refuse a table of points or lines that states no system, or another than the job's, where nobody declares one.

    Raises
    ------
    FrameError
    """
    if declared or "geometry" not in {str(each) for each in table.dtypes}:
        return
    said = f'or say what it is in: declared={{"{role}": {{"frame": "…"}}}}'
    if table.crs is None:
        raise FrameError(
            f"{name}: its GeoDataFrame has no coordinate reference system, so nobody says what its numbers are in; "
            f'set it, for example with set_crs("{frame}"), {said}.'
        )
    if not table.crs.is_projected and not table.crs.is_compound:
        raise FrameError(
            f"{name}: is in {table.crs.name}, in degrees; nothing is measured in degrees. Project it to the job's "
            "frame with an operation that you name, and give it the result."
        )
    theirs = resolve(table.crs.to_wkt())
    ours = resolve(frame)
    if not same_projection(theirs, ours) or theirs.unit != ours.unit:
        raise FrameError(
            f"{name}: is in {theirs.horizontal_name} ({theirs.unit.full_name}), the job in {ours.horizontal_name} "
            f'({ours.unit.full_name}). If it is meant to be moved, say so: declared={{"{role}": {{"frame": '
            f'"{_code(table.crs)}"}}}}; else give it in the job\'s frame.'
        )


def _code(crs: Any) -> str:
    code = crs.to_json_dict().get("id")
    return f"{code['authority']}:{code['code']}" if code else "…"


def code_list(codes: Any, shots: Mapping[str, Any], design: Mapping[str, Any], kind_field: str) -> tuple[Any, str]:
    """The code list of a call, and the column of shots that holds the codes where the call says it.

    Parameters
    ----------
    codes : mapping of code to kind, name of a column, table, path or None
        A column holds the kinds themselves; None is the column ``kind``.
    shots, design : mapping of name to table
    kind_field : str
        Attribute of the design that holds the kind: a kind that is drawn as lines is one of lines.

    Raises
    ------
    JobError
        The column is not there.
    """
    import pandas as pd

    column = ""
    if codes is None or isinstance(codes, str):
        column = codes or "kind"
        if lacking := [name for name, table in shots.items() if column not in getattr(table, "columns", ())]:
            raise JobError(
                f"codes: {lacking[0]} has no column '{column}'; give code = kind pairs, such as "
                'codes={"WKF": "walk-front"}, or the name of the column of shots that holds the kinds.'
            )
        kinds = sorted({str(kind).strip() for table in shots.values() for kind in table[column].dropna()} - {""})
        codes = {kind: kind for kind in kinds}
    if not isinstance(codes, Mapping):
        return codes, column
    if not codes:
        raise JobError('codes: names no code; give code = kind pairs, such as codes={"WKF": "walk-front"}.')
    lines = _kinds_of_lines(design, kind_field)
    pairs = [(str(code).strip(), str(kind).strip()) for code, kind in codes.items()]
    rows = [
        (code, kind, "line" if kind in lines else "point", "check" if kind == CONTROL else "feature")
        for code, kind in pairs
    ]
    return pd.DataFrame(rows, columns=["code", "kind", "geometry", "role"]), column


def _kinds_of_lines(design: Mapping[str, Any], kind_field: str) -> set[str]:
    found: set[str] = set()
    for table in design.values():
        if kind_field in table.columns:
            drawn = table.geometry.geom_type.isin(["LineString", "MultiLineString"]).to_numpy(dtype=bool)
            found |= {str(kind).strip() for kind in table.loc[drawn, kind_field].dropna()}
    return found
