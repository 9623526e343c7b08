"""Faults of the field held against what was planted: which shots, what kind, what number, and what must not be said.

Reads tables only: the truth, the shots as they were handed over, and what the steps made of them.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from bench import faults_unsaid as unsaid
from bench.compared import FAR
from bench.said import Said
from geoqa.simulate.scenario import U_HORIZONTAL, U_VERTICAL

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.simulate.make import Simulated

NUMBER, WITHIN, PRINTED = 4.5, 2.0, 0.0015
"""Standard uncertainties within which every number must lie, and within which 95 % should; feet of rounding."""
_PAIR = float(np.sqrt(2.0))
"""Two shots: the uncertainty of their difference over that of one."""
_CHORD = float(np.sqrt(1.5))
"""A shot against the mean of its two neighbours."""

Number = tuple[float, float, float]
"""As told, as it truly is, standard uncertainty."""


def _first(pattern: str, text: str) -> float:
    found = re.search(pattern, text)
    return float(found[1]) if found else np.nan


def _told(said: Said, flag: str, pattern: str, true: Callable[[str], float], u: float) -> list[Number]:
    """One number for every planted shot that carries the flag."""
    reasons = said.reasons(flag)
    return [(_first(pattern, reasons[key]), true(key), u) for key in said.keys(flag) if key in reasons]


def _uncovered(said: Said) -> list[Number]:
    rows = said.layers["session_checks"].query("rule == 'closing' and session == 'C'")
    return [(float(count), float(len(said.keys("no-closing-check"))), 0.0) for count in rows["shots"]]


def _minutes(said: Said) -> list[Number]:
    when = said.simulated.tables["shots"].set_index("shot_key")["time"]
    made, reasons = [], said.reasons("same-place")
    for key in said.keys("same-place"):
        twin = re.search(r"a repeat of (\S+),", reasons.get(key, ""))
        if twin is None:
            continue
        # a twin at another place is no twin: its distance joins the minutes, and makes the number wrong
        true = (when[key] - when[twin[1]]).total_seconds() / 60.0 + 1000.0 * said.apart(key, twin[1])
        made.append((_first(r"([\d.]+) min later", reasons[key]), true, 0.025))
    return made


def _slip(said: Said) -> list[Number]:
    def aside(key: str) -> float:
        return abs(float(said.true(key)["offset_deviation"]))

    return _told(said, "code-slip", r"lies ([\d.]+) ft", aside, U_HORIZONTAL)


def _step(said: Said) -> list[Number]:
    keys = said.keys("swapped-pair")
    code = said.simulated.tables["shots"].set_index("shot_key")["code"]
    top, flow = (next(key for key in keys if code[key] == name) for name in ("CTB", "CFL"))
    rise = float(said.true(top)["elevation"] - said.true(flow)["elevation"])
    return _told(said, "swapped-pair", r"CTB minus CFL is (\S+) ft here", lambda _: rise, U_VERTICAL * _PAIR)


def _between(flag: str, pattern: str) -> Callable[[Said], list[Number]]:
    """Distance of the two shots that carry a flag."""

    def numbers(said: Said) -> list[Number]:
        one, two = said.keys(flag)
        return _told(said, flag, pattern, lambda _: said.apart(one, two), U_HORIZONTAL * _PAIR)

    return numbers


def _counted(said: Said) -> list[Number]:
    rows = said.layers["findings"].query("check == 'identical'")
    return [(float(count), float(len(said.keys("identical-to-design"))), 0.0) for count in rows["measured"]]


def _strayed(said: Said) -> list[Number]:
    sizes = {key: item["number"] for item in said.simulated.truth.items for key in item["shots"]}
    return _told(said, "spike", r"^([\d.]+) ft", lambda key: abs(sizes[key]), U_HORIZONTAL * _CHORD)


def _jumped(said: Said) -> list[Number]:
    shots = said.simulated.tables["shots"]
    made: list[Number] = []
    for text in (said.reasons("motion").get(key, "") for key in said.keys("motion")):
        names = re.search(r"between (\S+) and (\S+);", text)
        if names is None:
            continue
        one, two = (str(shots.loc[shots["shot"] == name, "shot_key"].iloc[0]) for name in names.groups())
        made.append((_first(r"([\d.]+) ft in", text), said.apart(one, two), U_HORIZONTAL * _PAIR))
        made.append((_first(r"in (\d+) s", text), 3.0, 0.0))
    return made


def _lean(said: Said) -> list[Number]:
    tilt = said.simulated.tables["shots"].set_index("shot_key")["tilt"]
    reasons = said.reasons("tilt-untested")
    return [(_first(r"leans (\d+)°", reasons.get(key, "")), float(tilt[key]), 0.0) for key in said.keys("tilt")]


def _none(said: Said) -> list[Number]:
    return []


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One planted fault, and how it must be told.

    Attributes
    ----------
    plant : str
    words : mapping of str to str
        Flag that must be on every planted shot: pattern that its reason must hold.
    numbers : callable
    unsaid : callable
        What was said that must not be.
    shows_too : frozenset of str
        Flags that rightly show beside.
    listed : str
        Flag under which the truth lists the shots, where it is not the one looked for.
    around : float
        Feet from a planted shot within which the flag is at its place: a place has no sharp edge.
    """

    plant: str
    words: Mapping[str, str]
    numbers: Callable[[Said], list[Number]] = _none
    unsaid: Callable[[Said], list[str]] = unsaid.nothing
    shows_too: frozenset[str] = field(default_factory=frozenset)
    listed: str = ""
    around: float = 0.0


FAULTS = (
    Fault(
        plant="T10", words={"no-closing-check": r"session C: no check on control after the last shot"},
        numbers=_uncovered, unsaid=unsaid.another_rule,
    ),
    Fault(
        plant="T11", words={"same-place": r"min later: not independent, not counted"},
        numbers=_minutes, unsaid=unsaid.counted_repeats,
    ),
    Fault(
        plant="T13", words={"tilt-untested": r"leans 38°.*nothing is claimed", "tilt": r"tilt 38 deg"},
        numbers=_lean, unsaid=unsaid.judged("tilt"), shows_too=frozenset({"spike"}), listed="tilt",
    ),
    Fault(
        plant="T15", words={"code-slip": r"did the crew mean WKB\? Not applied"},
        numbers=_slip, unsaid=unsaid.judged("code-slip"),
    ),
    Fault(
        plant="T16", words={"swapped-pair": r"CFL and CTB look exchanged with \d+\. Not applied"},
        numbers=_step, unsaid=unsaid.judged("swapped-pair"), shows_too=frozenset({"spike"}),
    ),
    Fault(
        plant="T17", words={"duplicate-name": r"name '1187' is used 2 times.*in day1 and day2"},
        numbers=_between("duplicate-name", r"over ([\d.]+) ft"), unsaid=unsaid.lost("duplicate-name"),
    ),
    Fault(
        plant="T18", words={"unclosed": r"outline RMO CR-3 outline of 7 shots.*close it.*Not applied"},
        numbers=_between("unclosed", r"ends ([\d.]+) ft"), unsaid=unsaid.lost("unclosed"),
    ),
    Fault(
        plant="T19", words={"false-jump": r"from CFL-L-1 to CFL-L-2 .*without design; split it here\? Not applied"},
        numbers=_between("false-jump", r"over ([\d.]+) ft"), unsaid=unsaid.across,
    ),
    Fault(
        plant="T20", words={"identical-to-design": r"7 rows equal the design; 0\.0\d+ are expected by chance"},
        numbers=_counted, unsaid=unsaid.accused,
    ),
    Fault(plant="S01", words={"spike": r"re-shoot it"}, numbers=_strayed),
    Fault(plant="S02", words={"motion": r"clock, name or place is wrong"}, numbers=_jumped),
    Fault(
        plant="S03",
        words={"row-twice": r"only that one is judged", "two-names": r"under two names", "re-shot": r"h later"},
        shows_too=frozenset({"no-closing-check"}),
    ),
    Fault(
        plant="S04", words={"weak-sky": r"satellites.*is usual in this job"},
        shows_too=frozenset({"spike", "satellites"}), around=FAR,
    ),
)  # fmt: skip
"""What is scored in memory."""

DECLARED = Fault(
    plant="T21", words={"null-elevation": r"elevation recorded as '0.000', taken as none"},
    unsaid=unsaid.low("null-elevation"), listed="null-elevation",
)  # fmt: skip
UNDECLARED = Fault(
    plant="T21", words={"zero-elevation": r"elevation is exactly 0, and the nearest other one 14\d\d\.\d+ ft from it"},
    unsaid=unsaid.low("null-elevation"), listed="null-elevation",
)  # fmt: skip
"""T21 is about files: with zero declared to mean none, and without. It is scored by writing and reading them."""
SCATTERED = ("T15", "T16", "T17", "T18", "T19", "S01")
"""Faults whose numbers are measured; those of the others are counts, minutes, or digits."""


def held_against(fault: Fault, said: Said) -> dict[str, Any]:
    """One planted fault beside what was said of it.

    Returns
    -------
    dict
        ``case``; ``planted`` and ``found``, pairs of shot and flag; ``beyond``, shots that carry the flag and
        should not; ``kind``, whether every reason reads as it must; ``numbers``, ``right`` (within 4.5 u) and
        ``within`` (2 u); ``strange``, other flags; ``said``, what must not be said and was; ``out`` and
        ``chance``, 0, as they are of a job without a fault.
    """
    planted = found = beyond = 0
    kind = True
    for flag, pattern in fault.words.items():
        wanted, reasons = set(said.keys(fault.listed or flag)), said.reasons(flag)
        allowed = wanted | _around(said, fault.around)
        planted, found = planted + len(wanted), found + len(wanted & set(reasons))
        beyond += len(set(reasons) - allowed)
        kind &= all(re.search(pattern, reasons[key]) for key in wanted & set(reasons))
    numbers = fault.numbers(said)
    off = [max(abs(told - true) - PRINTED, 0.0) for told, true, _ in numbers]
    scale = [max(u, 1e-9) for *_, u in numbers]
    strange = sorted(set(said.layers["flags"]["flag"]) - set(fault.words) - fault.shows_too)
    return {
        "case": fault.plant, "planted": planted, "found": found, "beyond": beyond, "kind": kind,
        "numbers": len(numbers), "right": sum(each <= NUMBER * u for each, u in zip(off, scale, strict=True)),
        "within": sum(each <= WITHIN * u for each, u in zip(off, scale, strict=True)),
        "strange": "; ".join(strange), "said": "; ".join(unsaid.new_defects(said) + fault.unsaid(said)),
        "out": 0, "chance": 0.0,
    }  # fmt: skip


def _around(said: Said, feet: float) -> set[str]:
    """Every shot within some feet of one that a plant touched."""
    if not feet:
        return set()
    rows = said.simulated.truth.shots
    touched = rows["shot_key"].isin({key for item in said.simulated.truth.items for key in item["shots"]})
    place = rows[["easting", "northing"]].to_numpy(float)
    away = np.hypot(*(place[:, None] - place[touched.to_numpy()]).transpose(2, 0, 1)).min(axis=1)
    return set(rows.loc[away <= feet, "shot_key"])


def read_back(given: "pd.DataFrame", read: "pd.DataFrame") -> dict[str, Any]:
    """Shots as they were written (T22), beside what was read of them: rows, every column of them, coordinates."""
    columns = [name for name in given.columns if name != "geometry" and name in read]
    one, other = (table.set_index("shot_key")[[n for n in columns if n != "shot_key"]] for table in (given, read))
    other = other.reindex(one.index)
    for name in ("raw_easting", "raw_northing", "raw_elevation"):
        other[name] = other[name].str.replace(",", ".", regex=False)
    same = (one.eq(other) | (one.isna() & other.isna())).fillna(False)
    axes = ["easting", "northing", "elevation"]
    right = int((same[axes]).to_numpy().sum())
    return {
        "case": "T22", "planted": len(one), "found": int(same.all(axis=1).sum()), "beyond": len(read) - len(one),
        "kind": bool(same["note"].all()), "numbers": 3 * len(one), "right": right, "within": right,
        "strange": "", "said": "; ".join(f"{name} read wrong" for name in same.columns[~same.all()]),
        "out": 0, "chance": 0.0,
    }  # fmt: skip


def clean_row(simulated: "Simulated", layers: Mapping[str, Any]) -> dict[str, Any]:
    """Everything said about a job in which nothing is wrong: all of it is false.

    ``out`` are findings that are OUT, ``chance`` how many are to be expected: the decision rule itself lets sound work
    be called OUT so often, whatever is done about faults of the field.
    """
    flags = layers["flags"]
    strange = "; ".join(f"{flag} ({count})" for flag, count in flags["flag"].value_counts().items())
    return {
        "case": "nothing", "planted": 0, "found": 0, "beyond": len(flags), "kind": True, "numbers": 0, "right": 0,
        "within": 0, "strange": strange, "said": "; ".join(unsaid.causes(layers)),
        "out": len(unsaid.defects(layers)) - len(unsaid.causes(layers)),
        "chance": float(simulated.truth.checks["out"].sum()),
    }  # fmt: skip
