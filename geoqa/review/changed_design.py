"""Approved changes of the design as files of their own, dated, which the job reads over the design before."""

import csv
import io
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from geoqa.errors import JobError
from geoqa.job.decided import (
    Change,
    ChangedLine,
    ChangedPoint,
    Opinion,
    Register,
    by_item,
    change_path,
    put_whole,
    settled,
)
from geoqa.job.document.load import LoadedJob, validated
from geoqa.job.inputs.intake import take_in
from geoqa.model.tables.layer import Layers
from geoqa.review.changed_line import Moved, changed_line
from geoqa.review.listed import Listed

if TYPE_CHECKING:
    import pandas as pd

AXES = ("easting", "northing", "elevation")
COLUMNS = ("line", "start_station", "sequence", "point", "kind", *AXES)


def put_changes(
    loaded: LoadedJob, register: Register, there: Listed
) -> tuple[Register, tuple[Change, ...], tuple[str, ...]]:
    """Write the changed design of every settled field change, and withdraw that of items reviewers now disagree on.

    Returns
    -------
    (Register, tuple of Change, tuple of str)
        The register with the changes that hold; those that were written now; items whose change says no coordinates.

    Raises
    ------
    JobError
        A change names what is no point or line of the design, or what another item has changed. Nothing was written.
    """
    current = {item: mine for (item, seen), mine in by_item(register.opinions).items() if there.holds(item, seen)}
    wanted = {
        item: max(mine, key=lambda each: each.when)
        for item, mine in current.items()
        if settled(mine) and mine[0].decision == "field-change"
    }
    lacking = tuple(item for item, each in wanted.items() if not each.change)
    wanted = {item: each for item, each in wanted.items() if each.change}
    # a change holds on although its item is judged anew by it, whatever is decided on that
    kept = [each for each in register.changes if each.item not in wanted and not there.holds(each.item, each.seen)]
    texts = _texts(loaded, wanted, kept, register.changes) if wanted else {}
    made, written = [], []
    for item, opinion in wanted.items():
        place = change_path(loaded.path, item)
        change = Change(
            item=item, seen=opinion.seen, file=place.name, dated=opinion.when[:10],
            points=[each.point for each in opinion.change if isinstance(each, ChangedPoint)],
            lines=list(dict.fromkeys(each.line for each in opinion.change if isinstance(each, ChangedLine))),
        )  # fmt: skip
        if not place.is_file() or place.read_text(encoding="utf-8") != texts[item] or change not in register.changes:
            put_whole(place, texts[item])
            written.append(change)
        made.append(change)
    changes = tuple(sorted([*kept, *made], key=lambda each: int(each.item)))
    return register.model_copy(update={"changes": changes}), tuple(written), lacking


def _twice(loaded: LoadedJob, name: str, other: str, item: str, *, known: set[str]) -> str:
    """Why two items may not change one thing, and what to do: each change is a design of its own."""
    said = (
        f"'{name}' is changed by item {other} already, and item {item} would change it again. Nothing was applied: "
        "which of the two holds where both are drawn is not for a program to say. "
    )
    back = [each for each in (other, item) if each in known]
    if back:
        take = f"geoqa decide {loaded.name} --take-back {back[0]}"
        return said + f"Take the one of item {back[0]} back ({take}), or leave the other."
    return said + f"Say all that changes on '{name}' on one of the two items, and decide otherwise on the other."


def _texts(
    loaded: LoadedJob, wanted: Mapping[str, Opinion], kept: list[Change], before: Sequence[Change]
) -> dict[str, str]:
    """Text of each file: the design before with the approved coordinates, or the moved reach, in place of its own."""
    design = _design_before(loaded)
    taken = {name: each.item for each in kept for name in (*each.points, *each.lines)}
    texts = {}
    for item, opinion in wanted.items():
        for name in dict.fromkeys(
            each.point if isinstance(each, ChangedPoint) else each.line for each in opinion.change
        ):
            if (other := taken.setdefault(name, item)) != item:
                raise JobError(_twice(loaded, name, other, item, known={each.item for each in before}))
        texts[item] = _csv([*_point_rows(design, item, opinion), *_line_rows(design, item, opinion)])
    return texts


def _design_before(loaded: LoadedJob) -> Layers:
    """The design as the job file alone has it, without changes that decisions led to."""
    table = tomllib.loads(loaded.text)
    own = replace(loaded, job=validated(table, name=loaded.name, text=loaded.text, folder=loaded.folder))
    return take_in(own).layers


def _named(design: Layers, layer: str, column: str) -> "pd.DataFrame":
    import pandas as pd

    if layer not in design:
        return pd.DataFrame()
    found: pd.DataFrame = design[layer].drop_duplicates(column).set_index(column)
    return found


def _point_rows(design: Layers, item: str, opinion: Opinion) -> Iterator[list[str]]:
    points = _named(design, "design_points", "point")
    for change in opinion.change:
        if not isinstance(change, ChangedPoint):
            continue
        if change.point not in points.index:
            raise JobError(
                f"The field change of item {item} names '{change.point}', which is no point of the design. What is "
                "neither a point nor a reach of a line is changed by a drawing: add a [[design]] with its file, "
                "field_change and dated to the job."
            )
        before, now = points.loc[change.point].to_dict(), change.model_dump()
        numbers = [now[axis] if now[axis] is not None else _number(before[axis]) for axis in AXES]
        yield ["", "", "", change.point, str(before["kind"]), *numbers]


def _line_rows(design: Layers, item: str, opinion: Opinion) -> Iterator[list[str]]:
    lines, reaches = _named(design, "design_lines", "line"), dict[str, list[Moved]]()
    for change in opinion.change:
        if isinstance(change, ChangedLine):
            numbers = {name: float(value) for name, value in change.model_dump(exclude={"line"}).items() if value}
            reaches.setdefault(change.line, []).append(Moved(**numbers))
    for name, moved in reaches.items():
        if name not in lines.index:
            raise JobError(f"The field change of item {item} names '{name}', which is no line of the design.")
        elements = design["design_elements"]
        mine = elements[elements["line"] == name]
        start = _number(float(mine["start_station"].min()))
        for nth, place in enumerate(changed_line(mine, name, moved, design.frame.unit.name)):
            yield [name, start, str(nth), "", str(lines.loc[name, "kind"]), *(_number(float(each)) for each in place)]


def _number(value: float) -> str:
    return "" if value != value else f"{value:.6f}".rstrip("0").rstrip(".")


def _csv(rows: list[list[str]]) -> str:
    """Rows under their heads; a column that nothing stands in is left out."""
    held = [nth for nth, name in enumerate(COLUMNS) if name in AXES or any(row[nth] for row in rows)]
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([row[nth] for nth in held] for row in (COLUMNS, *rows))
    return text.getvalue()
