"""What a crew should do before it leaves: flags, causes and missing checks as a short list, worst first."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.causes import cause_named
from geoqa.contract.control_sentences import marks_say
from geoqa.contract.file_sentences import rows_left_out, rows_not_read
from geoqa.contract.sentences import reasons_of
from geoqa.contract.words import flag_named
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.fact import Fact, facts_of
from geoqa.model.tables.layer import Layers
from geoqa.model.vocabulary import LOOK, NOW
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.strings import strings_in

_UNSAID = frozenset({"none", "no-control", "runner-up"})
FAR_FROM_ZERO = 100.0
"""Job units: where the ground is farther from 0 than this, an elevation of exactly 0 was not measured."""
_UNREAD = -3
"""Before every cause."""
_COVERED = -2
"""What is about to be covered comes before all that can be shot tomorrow."""
NAMED = 12
"""Shot names that are written out; the count is always complete."""


class DayItems(Step):
    """Draw everything that was noticed together into one list of things to do, worst first.

    Shots with the same flag on the same line are one item. What is about to be covered comes first, then what the
    diagnosis names and only the field can cure, then what only a re-shoot cures, then what the crew can still remember
    tonight or the office can settle, then what is good to know.
    """

    name = "day-items"
    needs = ("shots", "flags", "notes")
    wants = ("causes", "cause_shots", "session_checks", "line_matches", "design_lines")
    gives = ("day_items",)

    usual: float = Field(2.5, gt=1, description="Length of a leg over the usual one from which a line has a hole")
    hole: Length = Field(Length.parse("30 ft"), description="Shorter legs are no holes")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Causes, sessions, flags, holes; then the order."""
        items = [
            *_not_read(layers),
            *_causes(layers),
            *_control(layers),
            *_no_elevation(layers["shots"]),
            *_flags(layers),
        ]
        if "line_matches" in layers and len(layers["line_matches"]):
            items += self._holes(layers)
        table = pd.DataFrame(items, columns=_COLUMNS)
        order = np.lexsort((table["title"], -table["shots"].to_numpy(np.int64), table["first"], table["urgency"]))
        table = table.iloc[order].reset_index(drop=True).drop(columns="first")
        table.insert(0, "item", np.arange(1, len(table) + 1))
        return {"day_items": conform("day_items", table)}

    def _holes(self, layers: Layers) -> list[dict[str, Any]]:
        """Reaches of lines that were begun, in which no shot lies."""
        matches, unit = layers["line_matches"], layers.frame.unit
        chosen = matches[matches["chosen"]]
        items = []
        kinds = {}
        if "design_lines" in layers:
            kinds = dict(zip(layers["design_lines"]["line"], layers["design_lines"]["kind"], strict=True))
        for line, members in chosen.groupby("design", sort=True):
            if len(members) < 5:
                continue
            covered = kinds.get(line) in words.COVERED_KINDS
            members = members.sort_values("station")
            leg = np.diff(members["station"].to_numpy(float))
            usual_leg = float(np.median(leg))
            far = np.flatnonzero((leg > self.usual * usual_leg) & (leg > self.hole.to(unit)))
            shots = layers["shots"]
            for at in far.tolist():
                ends = members["shot_key"].iloc[[at, at + 1]]
                rows = rows_of(ends, shots["shot_key"])
                around = " and ".join(shots["shot"].fillna("-").iloc[rows])
                size, step = (
                    words.quantity(each, "length", unit.name, digits=0) for each in (float(leg[at]), usual_leg)
                )
                items.append(
                    _item(
                        NOW if covered else LOOK, f"Nothing shot over {size}", shots, rows,
                        where=f"design line {line}", count=0, first=_COVERED if covered else 1,
                        why=f"no shot between {around}, usually one every {step}",
                        do="shoot it before it is covered, or note that it is not built",
                    )
                )  # fmt: skip
        return items


_COLUMNS = ["urgency", "title", "where", "shots", "names", "why", "do", "easting", "northing", "shot_key", "first"]


def _item(
    urgency: int, title: str, shots: pd.DataFrame, rows: np.ndarray, *, where: str, why: str, do: str,
    count: int | None = None, first: int = 1,
) -> dict[str, Any]:  # fmt: skip
    names = shots["shot"].fillna(shots["shot_key"]).iloc[rows].tolist()
    place = shots[["easting", "northing"]].iloc[rows].to_numpy(float)
    placed = np.flatnonzero(np.isfinite(place).all(axis=1))
    at = int(placed[0]) if len(placed) else None
    return {
        "urgency": urgency,
        "title": title,
        "where": where,
        "shots": len(rows) if count is None else count,
        "names": ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else ""),
        "why": why,
        "do": do,
        "easting": np.nan if at is None else float(place[at, 0]),
        "northing": np.nan if at is None else float(place[at, 1]),
        "shot_key": None if at is None else str(shots["shot_key"].iloc[rows[at]]),
        "first": first,
    }


def _not_read(layers: Layers) -> list[dict[str, Any]]:
    """Rows of the files that are no shots here: nothing else on the list can speak of them."""
    return [
        _item(
            NOW, rows_not_read(fact), layers["shots"], np.zeros(0, np.int64), where="", count=fact.count, first=_UNREAD,
            why=rows_left_out(fact, layers.frame.unit.name),
            do="look at these lines in the file; mend them in a copy and run this again, or shoot them again",
        )
        for fact in facts_of(layers["notes"], "note")
        if fact.name == "rows-left-out"
    ]  # fmt: skip


def _causes(layers: Layers) -> list[dict[str, Any]]:
    if "causes" not in layers:
        return []
    shots, causes = layers["shots"], layers["causes"]
    spoiled = layers.get("cause_shots")
    answer = causes[(causes["explanation"] == 1) & ~causes["status"].isin(_UNSAID)]
    found = []
    for row in answer.to_dict("records"):
        rows = np.zeros(0, np.int64)
        if spoiled is not None and len(spoiled):
            mine = (spoiled["cause"] == row["cause"]) & (spoiled["subject"].fillna("") == (row["subject"] or ""))
            rows = np.sort(rows_of(spoiled.loc[mine, "shot_key"], shots["shot_key"]))
            rows = rows[rows >= 0]
        subject = "" if row["subject"] != row["subject"] else str(row["subject"] or "")
        whole = len(rows) > 0.9 * len(shots) and not subject.startswith("session ")
        title = cause_named(row["cause"] if row["status"] in ("named", "group") else row["status"]).title
        cause = cause_named(row["cause"])
        first = 0 if cause.now or whole else 1
        in_office = row["status"] == "named" and not (cause.now or whole)  # a name to correct, a line to change
        where = "all shots" if whole else subject
        found.append(
            _item(LOOK if in_office else NOW, title, shots, rows[: 1 if whole else len(rows)], where=where,
                  count=int(row["shots"]), why=str(row["words"]), do=str(row["remedy"]), first=first - 1)
        )  # fmt: skip
    return found


def _control(layers: Layers) -> list[dict[str, Any]]:
    """What the marks say of each other, where no cause was named for it; and checks that are due."""
    named = set()
    if "causes" in layers:
        causes = layers["causes"]
        named = set(causes.loc[(causes["explanation"] == 1) & ~causes["status"].isin(_UNSAID), "status"])
    found = []
    shots, none = layers["shots"], np.zeros(0, np.int64)
    if not named:
        by_plane: dict[str, list[Fact]] = {}
        for fact in facts_of(layers["notes"], "note"):
            if fact.name == "control-marks":
                by_plane.setdefault(fact.place, []).append(fact)
        for plane, facts in by_plane.items():
            found.append(
                _item(NOW, f"Control does not agree {plane}", shots, none, where="control",
                      why=marks_say(facts, layers.frame.unit.name),
                      do="shoot the mark again, and a third one; hold neither until then")
            )  # fmt: skip
    if "session_checks" in layers:
        rows = layers["session_checks"]
        rows = rows[rows["met"].eq(False).fillna(False) & (rows["shots"] == 0)]
        for row in rows.to_dict("records"):
            do = "shoot one more mark" if row["rule"] == "marks" else "shoot a check on a known mark"
            found.append(
                _item(LOOK, "Check on control is due", shots, none, where=f"session {row['session']}",
                      why=row["reason"], do=do)
            )  # fmt: skip
    return found


def _no_elevation(shots: pd.DataFrame) -> list[dict[str, Any]]:
    """Shots without an elevation, and those at exactly 0 where the ground is far from it."""
    level = shots["elevation"].to_numpy(float)
    ground = np.nanmedian(level) if np.isfinite(level).any() else np.nan
    placed = shots["easting"].notna().to_numpy()
    none = np.isnan(level) & placed
    zero = (level == 0.0) & (abs(ground) > FAR_FROM_ZERO) & placed
    rows = np.flatnonzero(none | zero)
    if not len(rows) or none.sum() > 0.5 * len(shots):  # a file without elevations is another matter
        return []
    told = flag_named("null-elevation")
    parts = []
    if none.any():
        parts.append(f"{words.many(int(none.sum()), 'shot has', 'shots have')} no elevation")
    if zero.any():
        have = words.many(int(zero.sum()), "shot has", "shots have")
        parts.append(f"{have} exactly 0 where the ground is at {ground:,.0f}")
    return [_item(told.urgency, told.heading, shots, rows, where="", why=", ".join(parts), do=told.do)]


def _flags(layers: Layers) -> list[dict[str, Any]]:
    shots, flags = layers["shots"], layers["flags"]
    # a shot that is not used anyway need not be called stray as well
    unused = set(flags.loc[flags["reject"], "shot_key"])
    told = flags["flag"].isin(["open-blunder", "null-elevation", "zero-elevation"])
    flags = flags[~told & ~((flags["flag"] == "spike") & flags["shot_key"].isin(unused))]
    for less, more in _SAID_BY.items():
        said = flags.loc[flags["flag"] == more, "shot_key"]
        flags = flags[~((flags["flag"] == less) & flags["shot_key"].isin(said))]
    if not len(flags):
        return []
    row = rows_of(flags["shot_key"], shots["shot_key"])
    line = np.full(len(shots), "", dtype=object)
    for string in strings_in(layers, again=True):
        line[string.rows] = string.name
    whole = flags["flag"].isin(["no-closing-check", "no-opening-check", "no-check-after-pause", "no-check-between"])
    session = "session " + shots["session"].fillna(shots["source"]).to_numpy(object)
    where = np.where(whole, session[row], line[row])
    where = np.where(flags["flag"].isin(_PLACES), "", where)
    found = []
    told_of = flags.assign(row=row, where=where, reason=reasons_of(flags, layers.frame.unit.name))
    for (flag, place), members in told_of.groupby(["flag", "where"], sort=True):
        rows = np.unique(members["row"].to_numpy())
        told, reasons = flag_named(str(flag)), members.sort_values("row")["reason"].drop_duplicates()
        why = reasons.iloc[0] + (f" (and {len(reasons) - 1} like it)" if len(reasons) > 1 else "")
        urgency = NOW if members["reject"].any() and told.urgency == LOOK and flag in _SCREENS else told.urgency
        found.append(_item(urgency, told.heading, shots, rows, where=str(place), why=str(why), do=told.do))
    return found


_PLACES = frozenset({"weak-sky"})
"""Flags that belong to a place, whatever line runs through it."""
_SAID_BY = {"tilt-untested": "tilt"}
"""A flag -> one that asks the same of a shot more strongly: of a shot with both, only that is told."""
_SCREENS = frozenset({"satellites", "epochs", "correction_age", "reported_h", "reported_v"})
"""Screening flags that are to be re-shot where the rules reject them."""
