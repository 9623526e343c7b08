"""Approved changes of the design as files of their own, dated, which the job reads over the design before."""

import csv
import io
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from geoqa.errors import JobError
from geoqa.job.decided import Change, Opinion, Register, by_item, change_path, put_whole, settled
from geoqa.job.document.load import LoadedJob, validated
from geoqa.job.inputs.intake import take_in
from geoqa.review.listed import Listed

if TYPE_CHECKING:
    import pandas as pd

AXES = ("easting", "northing", "elevation")


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
        A change names what is no design point, or a point that another item has changed. Nothing was written.
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
    texts = _texts(loaded, wanted, kept) if wanted else {}
    made, written = [], []
    for item, opinion in wanted.items():
        place = change_path(loaded.path, item)
        points = [each.point for each in opinion.change]
        change = Change(item=item, seen=opinion.seen, file=place.name, dated=opinion.when[:10], points=points)
        if not place.is_file() or place.read_text(encoding="utf-8") != texts[item] or change not in register.changes:
            put_whole(place, texts[item])
            written.append(change)
        made.append(change)
    changes = tuple(sorted([*kept, *made], key=lambda each: int(each.item)))
    return register.model_copy(update={"changes": changes}), tuple(written), lacking


def _texts(loaded: LoadedJob, wanted: Mapping[str, Opinion], kept: list[Change]) -> dict[str, str]:
    """Text of each file: the points of the design before with the approved coordinates in place of theirs."""
    points = _points(loaded)
    taken = {name: each.item for each in kept for name in each.points}
    texts = {}
    for item, opinion in wanted.items():
        rows = []
        for change in opinion.change:
            if change.point not in points.index:
                raise JobError(
                    f"The field change of item {item} names '{change.point}', which is no point of the design. A line "
                    "is changed by a drawing: add a [[design]] with its file, field_change and dated to the job."
                )
            if (other := taken.setdefault(change.point, item)) != item:
                raise JobError(
                    f"'{change.point}' is changed by item {other} already, and item {item} would change it again; take "
                    f"one of the two back: geoqa decide {loaded.name} --take-back {other}"
                )
            rows.append(_row(points.loc[change.point].to_dict(), change.point, change.model_dump()))
        texts[item] = _csv(rows)
    return texts


def _points(loaded: LoadedJob) -> "pd.DataFrame":
    """Points of the design as the job file alone has it, without changes that decisions led to."""
    table = tomllib.loads(loaded.text)
    own = replace(loaded, job=validated(table, name=loaded.name, text=loaded.text, folder=loaded.folder))
    layers = take_in(own).layers
    if "design_points" not in layers:
        raise JobError(
            f"{loaded.name} has no design point whose coordinates a decision could change. A line is changed by a "
            "drawing: add a [[design]] with its file, field_change and dated to the job."
        )
    found: pd.DataFrame = layers["design_points"].drop_duplicates("point").set_index("point")
    return found


def _row(design: Mapping[Any, Any], name: str, change: Mapping[str, Any]) -> list[str]:
    numbers = [change[axis] if change[axis] is not None else _number(design[axis]) for axis in AXES]
    return [name, str(design["kind"]), *numbers]


def _number(value: float) -> str:
    return "" if value != value else f"{value:.6f}".rstrip("0").rstrip(".")


def _csv(rows: list[list[str]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([["point", "kind", *AXES], *rows])
    return text.getvalue()
