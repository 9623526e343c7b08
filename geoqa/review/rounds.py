"""From round to round: what was closed, reopened, is new, still open, untouched, or was not measured again."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.contract.spoken import where
from geoqa.errors import OutputError
from geoqa.model import words
from geoqa.review.again import NOTHING, Again, again, neighbours_not_shot, new_shots, targets
from geoqa.review.delivered import Delivered, delivered
from geoqa.review.edited import edited
from geoqa.review.matched import matched

if TYPE_CHECKING:
    from collections.abc import Mapping

STATES = {
    "new": "new",
    "reopened": "reopened",
    "open": "still open",
    "partly": "judged again in part",
    "not-judged": "not judged again",
    "closed": "closed",
}
"""States of an item after the last round, what needs a reader most first."""
EARLIER = "in an earlier round: "
"""Before the reason of what was closed then, and is still."""
OPEN = ("new", "reopened", "open", "partly", "not-judged")


@dataclass(frozen=True, kw_only=True)
class Thread:
    """One item through the rounds.

    Attributes
    ----------
    item : str
        Its number in the last round in which it was listed.
    first : str
        Its number in the first, where that is another one.
    state : str
        One of `STATES`.
    chapter, check, kind, subject : str
        Of the finding that spoke for it last.
    told : str
        That finding in words, and `before` the one of the round before.
    why : str
        What the state rests on.
    untouched : bool
        What is judged, and the rows it was judged from, are the same by their hashes.
    by : str
        How it was known again: by its number or by its place; empty of one that was not there before.
    decision : str
        What was decided on it, in the last round in which it was listed.
    neighbours : tuple of str
        Places beside closed work that were not shot again.
    history : tuple of str
        One word a round: its verdict, "closed", "not judged", or "" before it was there.
    place : tuple of float
        Easting and northing; empty where it has none.
    beside : tuple of (float, float)
        Places of the neighbours.
    """

    item: str
    first: str = ""
    state: str
    chapter: str = ""
    check: str = ""
    kind: str = ""
    subject: str = ""
    told: str = ""
    before: str = ""
    why: str = ""
    untouched: bool = False
    by: str = ""
    decision: str = ""
    neighbours: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    place: tuple[float, ...] = ()
    beside: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """Shots of the last round.

    Attributes
    ----------
    places : ndarray, (n, 2)
        Easting and northing; NaN where a shot has none.
    fresh : ndarray of bool
        Which of them the round before does not hold.
    """

    places: np.ndarray
    fresh: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Compared:
    """The difference between the last two rounds, with the history of each item.

    Attributes
    ----------
    rounds : tuple of str
        Names of the folders, oldest first.
    unit : str
    threads : tuple of Thread
        What needs a reader most first, then by number.
    numbers, same : int
        Numbers that both rounds judge, and how many of them are the same to the print with the same limits.
    new_shots, shots : int
        Shots of the last round that the one before does not hold, and all of them.
    files : tuple of str
        What is to be said of the files of the last round, a sentence each; one that was sent before comes first.
    register_kept : bool
        The last round went on from the register of the one before, so that numbers mean the same items.
    edits : tuple of str
        What of the job, its settings and the versions is another than in the round before, with the reason it states.
    ground : Ground or None
        For a drawing.
    """

    rounds: tuple[str, ...]
    unit: str
    threads: tuple[Thread, ...]
    numbers: int
    same: int
    new_shots: int
    shots: int
    files: tuple[str, ...]
    register_kept: bool
    edits: tuple[str, ...] = ()
    ground: Ground | None = field(default=None, repr=False, compare=False)

    def of(self, state: str) -> tuple[Thread, ...]:
        """Items in a state."""
        return tuple(each for each in self.threads if each.state == state)


@dataclass
class _Traced:
    """A thread while rounds are read, and the round and number it was listed under last."""

    thread: Thread
    at: Delivered
    number: str
    history: list[str] = field(default_factory=list)


def compare(folders: Sequence[str | Path]) -> Compared:
    """Compare the output folders of two or more rounds.

    Parameters
    ----------
    folders : sequence of path
        Oldest first; at least two.

    Returns
    -------
    Compared

    Raises
    ------
    OutputError
        A folder is none of a run, or the rounds are in different systems or units.
    """
    rounds = [replace(delivered(each), name=name) for each, name in zip(folders, _names(folders), strict=True)]
    for each in rounds[1:]:
        if each.frame != rounds[0].frame:
            raise OutputError(
                f"{rounds[0].name} is in {rounds[0].frame}, {each.name} in {each.frame}: numbers of two systems are "
                "not compared. Run both jobs in one [frame]."
            )
    traced = [_begun(rounds[0], number, row, 0) for number, row in rounds[0].open_items().items()]
    for nth, (before, now) in enumerate(pairwise(rounds), start=1):
        traced = _next(traced, before, now, nth)
    before, now = rounds[-2:]
    numbers, same = _same_numbers(before, now)
    order = list(STATES)
    threads = [replace(each.thread, history=tuple(each.history)) for each in traced]
    threads.sort(key=lambda each: (order.index(each.state), each.untouched, int(each.item)))
    return Compared(
        rounds=tuple(each.name for each in rounds),
        unit=now.unit,
        threads=tuple(threads),
        numbers=numbers,
        same=same,
        new_shots=len(new_shots(now, before)),
        shots=len(now.shots),
        files=tuple(_files(rounds)),
        register_kept=before.run in now.runs if before.run else False,
        edits=tuple(edited(before, now)),
        ground=_ground(now, before),
    )


def _ground(now: Delivered, before: Delivered) -> Ground:
    known = set(before.measured)
    places = now.shots[["easting", "northing"]].astype(float).to_numpy()
    return Ground(places=places, fresh=np.array([each not in known for each in now.measured], dtype=bool))


def _names(folders: Sequence[str | Path]) -> list[str]:
    """Names of folders; with the folder above where two are called the same, and counted where that does not help."""
    paths = [Path(each).resolve() for each in folders]
    names = [path.name for path in paths]
    if len(set(names)) < len(names):
        names = [f"{path.parent.name}/{path.name}" for path in paths]
    if len(set(names)) < len(names):
        names = [f"{name} ({nth})" for nth, name in enumerate(names, start=1)]
    return names


def _begun(at: Delivered, number: str, row: "Mapping[str, Any]", nth: int, *, state: str = "new") -> _Traced:
    thread = Thread(item=number, state=state, decision=_decision(at, number), **_facts(row))
    return _Traced(thread, at, number, [""] * nth + [str(row.get("verdict", ""))])


def _facts(row: "Mapping[str, Any]") -> dict[str, Any]:
    facts: dict[str, Any] = {name: str(row.get(name, "")) for name in ("chapter", "check", "kind", "subject")}
    told = str(row.get("told") or f"{row.get('check')} of {row.get('subject')}")
    return facts | {"told": told, "place": _where(row.get("easting"), row.get("northing"))}


def _where(easting: Any, northing: Any) -> tuple[float, ...]:
    """A place of a record that anybody may have written; empty where it is none."""
    try:
        place = float(easting), float(northing)
    except (TypeError, ValueError):
        return ()
    return place if np.isfinite(place).all() else ()


def _decision(at: Delivered, number: str) -> str:
    found = at.findings.loc[at.findings["item"] == number, "decision"].dropna()
    return str(found.iloc[0]) if len(found) else ""


def _next(traced: list[_Traced], before: Delivered, now: Delivered, nth: int) -> list[_Traced]:
    """Threads after one more round."""
    ways = matched([(each.at, each.number) for each in traced], now)
    taken = set()
    for at, each in enumerate(traced):
        number, by = ways.get(at, ("", ""))
        taken.add(number)
        _go_on(each, number, by, before, now)
    kept = bool(before.run) and before.run in now.runs
    fresh = [
        _begun(now, number, row, nth, state=_new_state(before, number, row, kept=kept))
        for number, row in now.open_items().items()
        if number not in taken
    ]
    return [*traced, *fresh]


def _new_state(before: Delivered, number: str, row: "Mapping[str, Any]", *, kept: bool) -> str:
    """State of an item that no thread leads to."""
    if kept and before.items.get(number, {}).get("state") == "gone":
        return "reopened"
    table = before.findings
    known = (table["subject"] == row.get("subject")) & table["verdict"].isin(["IN", "UNDECIDED"])
    # a round that holds a part of the work has not lost the evidence of the rest
    return "not-judged" if row.get("chapter") == "evidence" and known.any() else "new"


def _go_on(each: _Traced, number: str, by: str, before: Delivered, now: Delivered) -> None:
    old, thread = each.at.items[each.number], each.thread
    was_closed = thread.state == "closed"
    if number:
        row = now.items[number]
        untouched = not was_closed and each.at is before and _untouched(old, row)
        each.thread = replace(
            thread, item=number, first=thread.first or (thread.item if thread.item != number else ""),
            state="reopened" if was_closed else "open", before=thread.told, by=by, untouched=untouched, neighbours=(),
            beside=(), why="it was closed before" if was_closed else _how_open(old, row, untouched),
            decision=_decision(now, number) or thread.decision,
            **_facts(row),
        )  # fmt: skip
        each.at, each.number = now, number
        each.history.append(str(row.get("verdict", "")))
        return
    state, why, rows = _not_listed(each, now)
    beside = tuple(_place(row, now.unit) for row in rows)
    if was_closed and state != "open":  # what is not measured anew stays closed
        each.history.append("closed")
        each.thread = replace(thread, why=f"{EARLIER}{thread.why.removeprefix(EARLIER)}")
        return
    each.thread = replace(
        thread, state="reopened" if was_closed else state, why=why, before=thread.told, untouched=False, by="",
        neighbours=beside, beside=tuple((float(row["easting"]), float(row["northing"])) for row in rows),
    )  # fmt: skip
    each.history.append({"not-judged": "not judged", "open": "UNDECIDED"}.get(state, state))


def _untouched(old: "Mapping[str, Any]", row: "Mapping[str, Any]") -> bool:
    # what no shot is behind has no rows to hash; a record of an older geoqa has no hash at all
    return all(name in old and old[name] == row.get(name) for name in ("seen", "rows"))


def _how_open(old: "Mapping[str, Any]", row: "Mapping[str, Any]", untouched: bool) -> str:
    if untouched:
        return "untouched: the same numbers from the same rows, by their hashes"
    if "rows" not in old or "rows" not in row:
        return "whether it was touched is not proven: one of the records holds no hash of its rows"
    if old["rows"] == row["rows"]:
        return "the same shots, judged otherwise: limits, settings or control have changed"
    if old.get("seen") == row.get("seen"):
        return "other shots, the same numbers"
    return "measured again"


def _not_listed(each: _Traced, now: Delivered) -> tuple[str, str, tuple[dict[Any, Any], ...]]:
    """What an item is that is no longer listed: closed only where it was judged again, and is within."""
    old = each.at.items[each.number]
    if old.get("verdict") != "OUT":
        return (*_question(each, now), ())
    if old.get("chapter") == "survey":
        return "closed", "the survey of this round shows it no more", ()
    at = targets(each.at, each.number)
    if not len(at):
        return "not-judged", "its numbers are not in the tables of the round before", ()
    found = again(at, now, each.at)
    state, why = _judged(found)
    beside = neighbours_not_shot(at, each.at, now) if state == "closed" and found.shot else []
    return state, why, tuple(beside)


def _judged(found: Again) -> tuple[str, str]:
    within, missing = found.count("IN"), found.count("NO_DATA", NOTHING)
    of = f"{within} of {words.many(found.places, 'place')}"
    if missing == found.places:
        return "not-judged", f"{_unjudged(found)}: what was found stands"
    if found.count("OUT"):
        return "open", f"{found.count('OUT')} of {words.many(found.places, 'place')} still out"
    if found.count("UNDECIDED"):
        return "open", f"{of} within; the rest cannot be decided now" if within else "cannot be decided now"
    if missing:
        return "partly", f"{of} judged again and within; the rest was not"
    if not found.shot:
        return "closed", "within, by no new shot: limits, settings or control have changed"
    shot = "each" if found.shot == found.places else f"{found.shot} of {found.places}"
    return "closed", f"within at {words.many(found.places, 'place')}, {shot} with a new shot"


def _unjudged(found: Again) -> str:
    if found.count("UNDECIDED"):
        return "nothing of it was decided in this round"
    if found.count("NO_DATA"):
        return "it was measured in this round and could not be judged"
    return "nothing of it was measured in this round"


def _question(each: _Traced, now: Delivered) -> tuple[str, str]:
    """What was undecided or not judged is closed where this round decides every place of it."""
    table = each.at.findings
    found = again(table[table["item"] == each.number], now, each.at)
    decided, of = found.count("IN", "OUT"), words.many(found.places, "place")
    if not decided:
        return "not-judged", _unjudged(found)
    if decided < found.places:
        return "partly", f"{decided} of {of} decided in this round"
    return "closed", f"decided at {of}: {found.count('IN')} within, {found.count('OUT')} out"


def _place(row: dict[Any, Any], unit: str) -> str:
    return ", ".join(part for part in (str(row["kind"]), where(row, unit) or str(row["subject"])) if part)


def _same_numbers(before: Delivered, now: Delivered) -> tuple[int, int]:
    key, names = ["check", "against", "subject", "label"], ["verdict", "deviation", "lower", "upper"]
    one, other = (each.findings[[*key, *names]].drop_duplicates(key) for each in (before, now))
    both = one.merge(other, on=key)
    same = both["verdict_x"] == both["verdict_y"]
    for name in names[1:]:
        then, after = both[f"{name}_x"], both[f"{name}_y"]
        same &= (then == after) | (then.isna() & after.isna())
    return len(both), int(same.sum())


def _files(rounds: Sequence[Delivered]) -> list[str]:
    """An old file that was sent again under another name, then what is new, changed, or left out."""
    now, earlier = rounds[-1].record.inputs, rounds[:-1]
    told, named = [], set()
    for name, digest in now.items():
        for each in reversed(earlier):
            same = [other for other, theirs in each.record.inputs.items() if theirs == digest]
            if same and name not in same:
                told.append(f"{name} is {same[0]} of {each.name} again, byte for byte: it holds nothing new.")
                named.add(name)
                break
    before = earlier[-1].record.inputs
    kept = [name for name in now if before.get(name) == now[name]]
    for text, names in (
        ("new", [name for name in now if name not in before and name not in named]),
        ("changed under the same name", [name for name in now if name in before and before[name] != now[name]]),
        ("not read any more", [name for name in before if name not in now]),
    ):
        told += [f"{name}: {text}." for name in names]
    return [*told, f"{words.many(len(kept), 'file')} as before, byte for byte."] if kept else told
