"""Faults of the field held against what was planted: which shots, what kind, what number, and what must not be said.

Reads tables only: the truth, the shots as they were handed over, and what the steps made of them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from bench import faults_unsaid as unsaid
from bench.compared import FAR
from bench.said import Said
from geoqa.model.tables.fact import Fact
from geoqa.simulate.site.scenario import U_HORIZONTAL, U_VERTICAL

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


def _told(said: Said, flag: str, true: Callable[[str], float], u: float) -> list[Number]:
    """One number for every planted shot that carries the flag."""
    facts = said.facts(flag)
    return [(facts[key].number, true(key), u) for key in said.keys(flag) if key in facts]


def _uncovered(said: Said) -> list[Number]:
    rows = said.layers["session_checks"].query("rule == 'closing' and session == 'C'")
    return [(float(count), float(len(said.keys("no-closing-check"))), 0.0) for count in rows["shots"]]


def _minutes(said: Said) -> list[Number]:
    when = said.simulated.tables["shots"].set_index("shot_key")["time"]
    made, facts = [], said.facts("same-place")
    for key in said.keys("same-place"):
        if key not in facts:
            continue
        # a twin at another place is no twin: its distance joins the minutes, and makes the number wrong
        twin = facts[key].other
        true = (when[key] - when[twin]).total_seconds() / 60.0 + 1000.0 * said.apart(key, twin)
        made.append((facts[key].number, true, 0.025))
    return made


def _slip(said: Said) -> list[Number]:
    def aside(key: str) -> float:
        return abs(float(said.true(key)["offset_deviation"]))

    return _told(said, "code-slip", aside, U_HORIZONTAL)


def _step(said: Said) -> list[Number]:
    keys = said.keys("swapped-pair")
    code = said.simulated.tables["shots"].set_index("shot_key")["code"]
    top, flow = (next(key for key in keys if code[key] == name) for name in ("CTB", "CFL"))
    rise = float(said.true(top)["elevation"] - said.true(flow)["elevation"])
    return _told(said, "swapped-pair", lambda _: rise, U_VERTICAL * _PAIR)


def _between(flag: str) -> Callable[[Said], list[Number]]:
    """Distance of the two shots that carry a flag."""

    def numbers(said: Said) -> list[Number]:
        one, two = said.keys(flag)
        return _told(said, flag, lambda _: said.apart(one, two), U_HORIZONTAL * _PAIR)

    return numbers


def _counted(said: Said) -> list[Number]:
    rows = said.layers["findings"].query("check == 'identical'")
    return [(float(count), float(len(said.keys("identical-to-design"))), 0.0) for count in rows["measured"]]


def _strayed(said: Said) -> list[Number]:
    sizes = {key: item["number"] for item in said.simulated.truth.items for key in item["shots"]}
    facts = said.facts("spike")
    return [
        (abs(fact.second if np.isnan(fact.number) else fact.number), abs(sizes[key]), U_HORIZONTAL * _CHORD)
        for key in said.keys("spike")
        if (fact := facts.get(key)) is not None
    ]


def _jumped(said: Said) -> list[Number]:
    shots = said.simulated.tables["shots"]
    made: list[Number] = []
    facts = said.facts("motion")
    for fact in (facts[key] for key in said.keys("motion") if key in facts):
        one, two = (str(shots.loc[shots["shot"] == name, "shot_key"].iloc[0]) for name in (fact.place, fact.other))
        made.append((fact.number, said.apart(one, two), U_HORIZONTAL * _PAIR))
        made.append((round(fact.second), 3.0, 0.0))
    return made


def _lean(said: Said) -> list[Number]:
    tilt = said.simulated.tables["shots"].set_index("shot_key")["tilt"]
    facts = said.facts("tilt-untested")
    return [(round(facts[key].number) if key in facts else np.nan, float(tilt[key]), 0.0) for key in said.keys("tilt")]


def _none(said: Said) -> list[Number]:
    return []


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One planted fault, and how it must be told.

    Attributes
    ----------
    plant : str
    facts : mapping of str to callable
        Flag that must be on every planted shot: whether its facts are as they must be.
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
    facts: Mapping[str, Callable[[Fact], bool]]
    numbers: Callable[[Said], list[Number]] = _none
    unsaid: Callable[[Said], list[str]] = unsaid.nothing
    shows_too: frozenset[str] = field(default_factory=frozenset)
    listed: str = ""
    around: float = 0.0


def _leans(fact: Fact) -> bool:
    return (round(fact.number), fact.unit) == (38, "deg")


def _exchanged(fact: Fact) -> bool:
    return {fact.written, fact.proposal} == {"CFL", "CTB"} and fact.other.isdigit()


FAULTS = (
    Fault(
        plant="T10", facts={"no-closing-check": lambda fact: (fact.session, fact.variant) == ("C", "no-closing")},
        numbers=_uncovered, unsaid=unsaid.another_rule,
    ),
    Fault(
        plant="T11", facts={"same-place": lambda fact: fact.unit == "min" and fact.number < fact.limit},
        numbers=_minutes, unsaid=unsaid.counted_repeats,
    ),
    Fault(
        plant="T13", facts={"tilt-untested": _leans, "tilt": _leans},
        numbers=_lean, unsaid=unsaid.judged("tilt"), shows_too=frozenset({"spike"}), listed="tilt",
    ),
    Fault(
        plant="T15", facts={"code-slip": lambda fact: fact.proposal == "WKB"},
        numbers=_slip, unsaid=unsaid.judged("code-slip"),
    ),
    Fault(
        plant="T16", facts={"swapped-pair": _exchanged},
        numbers=_step, unsaid=unsaid.judged("swapped-pair"), shows_too=frozenset({"spike"}),
    ),
    Fault(
        plant="T17", facts={
            "duplicate-name": lambda fact: (fact.written, fact.count, fact.place) == ("1187", 2, "day1 and day2")
        },
        numbers=_between("duplicate-name"), unsaid=unsaid.lost("duplicate-name"),
    ),
    Fault(
        plant="T18", facts={"unclosed": lambda fact: (fact.subject, fact.count) == ("RMO CR-3 outline", 7)},
        numbers=_between("unclosed"), unsaid=unsaid.lost("unclosed"),
    ),
    Fault(
        plant="T19", facts={
            "false-jump": lambda fact: (fact.variant, fact.place, fact.other) == ("design", "CFL-L-1", "CFL-L-2")
        },
        numbers=_between("false-jump"), unsaid=unsaid.across,
    ),
    Fault(
        plant="T20", facts={"identical-to-design": lambda fact: fact.number == 7 and fact.limit < 0.1},
        numbers=_counted, unsaid=unsaid.accused,
    ),
    Fault(plant="S01", facts={"spike": lambda fact: fact.unit == "job"}, numbers=_strayed),
    Fault(plant="S02", facts={"motion": lambda fact: bool(fact.place and fact.other)}, numbers=_jumped),
    Fault(
        plant="S03",
        facts={
            "row-twice": lambda fact: bool(fact.other),
            "two-names": lambda fact: bool(fact.other and fact.written),
            "re-shot": lambda fact: fact.number >= fact.limit,
        },
        shows_too=frozenset({"no-closing-check"}),
    ),
    Fault(
        plant="S04", facts={"weak-sky": lambda fact: fact.number < fact.limit},
        shows_too=frozenset({"spike", "satellites"}), around=FAR,
    ),
)  # fmt: skip
"""What is scored in memory."""

DECLARED = Fault(
    plant="T21", facts={"null-elevation": lambda fact: fact.written == "0.000"},
    unsaid=unsaid.low("null-elevation"), listed="null-elevation",
)  # fmt: skip
UNDECLARED = Fault(
    plant="T21", facts={"zero-elevation": lambda fact: 1400 <= fact.number < 1500},
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
        should not; ``kind``, whether the facts are as they must be; ``numbers``, ``right`` (within 4.5 u) and
        ``within`` (2 u); ``strange``, other flags; ``said``, what must not be said and was; ``out`` and
        ``chance``, 0, as they are of a job without a fault.
    """
    planted = found = beyond = 0
    kind = True
    for flag, holds in fault.facts.items():
        wanted, facts = set(said.keys(fault.listed or flag)), said.facts(flag)
        allowed = wanted | _around(said, fault.around)
        planted, found = planted + len(wanted), found + len(wanted & set(facts))
        beyond += len(set(facts) - allowed)
        kind &= all(holds(facts[key]) for key in wanted & set(facts))
    numbers = fault.numbers(said)
    off = [max(abs(told - true) - PRINTED, 0.0) for told, true, _ in numbers]
    scale = [max(u, 1e-9) for *_, u in numbers]
    strange = sorted(set(said.layers["flags"]["flag"]) - set(fault.facts) - fault.shows_too)
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
