"""What a run will judge of several shots at once, told before it: of which kinds, and what keeps it from the others."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geoqa.contract.checks import every_check
from geoqa.model.step import Step
from geoqa.model.tables.edge_pairs import pair_kind, paired_kinds
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.surfaces import surfaces
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd

RAMP_KINDS = ("ramp", "ramp-corner", "ramp-outline")
"""Kinds whose shots are corners of curb ramps."""
_MEASURED_DOWN = re.compile(r"\b(?:MD|measure[\s-]*downs?)\b.*\d", re.IGNORECASE)
GUTTER_KINDS, FLARE_KINDS = ("ramp-gutter", "gutter"), ("ramp-flare", "flare")
"""Kinds of shots beside a ramp: in the gutter before its foot, and at the curb ends of its flares."""
GROUND = "ground"
"""Kind of shots that are the finished surface over a pipe."""


@dataclass(frozen=True)
class Together:
    """Limits of several shots: those that will be judged and those that will not, a line each, and of which kinds."""

    judged: tuple[str, ...]
    left: tuple[str, ...]
    kinds: frozenset[str]


@dataclass(frozen=True, eq=False)
class _There:
    """What the files hold: shots and design of each kind, and the layers."""

    layers: Layers
    shots: "pd.DataFrame"
    count: Mapping[str, int]
    lines: Mapping[str, int]
    cover: Step | None = None

    def of(self, *kinds: str) -> str:
        """Shots of some kinds in words; empty where there are none."""
        return " and ".join(f"{many(self.count[kind], 'shot')} of {kind}" for kind in kinds if self.count.get(kind))


Found = tuple[bool, str]
"""Whether a limit of a kind can be judged, and by what or why not."""


def together(layers: Layers, kind_of_shot: "pd.Series", *, steps: Sequence[Step] = ()) -> Together:
    """Hold every limit of several shots against the shots, pairs of codes, notes and surfaces that are there.

    Parameters
    ----------
    layers : Layers
    kind_of_shot : (n,) Series of str
        Kind of each shot, null where its code has none.
    steps : sequence of Step
        Of the run: what the job says to the step `cover` tells what the finished surface is.

    Returns
    -------
    Together
    """
    shots = layers["shots"].assign(kind=kind_of_shot)
    there = _There(
        layers,
        shots,
        shots["kind"].value_counts().to_dict(),
        layers["design_lines"]["kind"].astype("str").value_counts().to_dict(),
        next((step for step in steps if step.name == "cover"), None),
    )
    keys = {name: check.tolerance.name for name, check in every_check().items() if check.tolerance is not None}
    limits = layers["limits"][["kind", "check"]].drop_duplicates()
    judged: dict[tuple[str, str], list[str]] = {}
    left: dict[tuple[str, str], list[str]] = {}
    for kind, rows in limits.groupby("kind", sort=True):
        found: dict[str, list[Found]] = {}
        for check in rows["check"].astype("str"):
            other = "ramp-cross-slope" if kind not in RAMP_KINDS else "cross-slope"  # they share their key
            if check in _ASKED and check != other:
                found.setdefault(keys[check], []).append(_ASKED[check](there, str(kind)))
        for key, answers in sorted(found.items()):
            can, said = max(answers, key=lambda each: each[0])
            (judged if can else left).setdefault((str(kind), said), []).append(key)
    return Together(
        tuple(f"to be judged: {', '.join(names)} of {kind}: {by}" for (kind, by), names in judged.items()),
        tuple(f"not judged: {', '.join(names)} of {kind}: {why}" for (kind, why), names in left.items()),
        frozenset(kind for kind, _ in (*judged, *left)),
    )


def _pairs(there: _There, kind: str, *, top: bool = False) -> Found:
    """Edges that the code list pairs to a kind; with `top` one of them is that of a curb."""
    pairs = [each for each in paired_kinds(there.layers["codes"]) if pair_kind(*each) == kind]
    if top:
        pairs = [each for each in pairs if sum("top" in one.split("-") for one in each) == 1]
    if not pairs:
        return False, (
            f"no two codes of lines pair to {kind}; in the code list, give one edge pairs_with = the code of the other"
        )
    shots = there.shots
    strings = shots[shots["line_id"].notna() & shots["kind"].notna()]
    for both in pairs:
        if all((strings["kind"] == one).any() for one in both):
            return True, there.of(*both)
    lacking = next(one for one in pairs[0] if not (strings["kind"] == one).any())
    if there.count.get(lacking):
        return False, f"no shot of {lacking} has a line ID, so none makes an edge"
    return False, f"no shot is of {lacking}"


def _reveals(there: _There, kind: str) -> Found:
    return _pairs(there, kind, top=True)


def _ramps(there: _There, kind: str) -> Found:
    said = there.of(*(RAMP_KINDS if kind in RAMP_KINDS else (kind,)))
    return bool(said), said or f"no shot is of {kind}"


def _gutters(there: _There, kind: str) -> Found:
    """A row of the ramp itself may lie in the gutter, so shots called so are not asked for."""
    can, said = _ramps(there, kind)
    beside = there.of(*GUTTER_KINDS)
    if not can:
        return can, said
    return can, f"{said} and {beside}" if beside else f"{said}, where a row of them lies in the gutter before the foot"


def _flares(there: _There, kind: str) -> Found:
    return _beside(there, kind, FLARE_KINDS)


def _beside(there: _There, kind: str, others: tuple[str, ...]) -> Found:
    """What needs shots of the ramp, and others beside it."""
    can, said = _ramps(there, kind)
    beside = there.of(*others)
    if can and not beside:
        return False, f"no shot is of {' or '.join(others)}"
    return can, f"{said} and {beside}" if can else said


def _flows(there: _There, kind: str, *, directed: bool = False) -> Found:
    if not there.count.get(kind):
        return False, f"no shot is of {kind}"
    lines = there.lines.get(kind, 0)
    if directed and not lines:
        return False, f"no design line is of {kind}, and only the design says which way it drains"
    return True, there.of(kind) + (f" along {many(lines, 'line')} of design" if lines else ", along themselves")


def _falls(there: _There, kind: str) -> Found:
    return _flows(there, kind, directed=True)


def _tops(there: _There, kind: str) -> Found:
    said = there.of(kind)
    return bool(said), f"{said}, on top of pipes" if said else f"no shot is of {kind}"


def _covered(there: _There, kind: str) -> Found:
    if not there.count.get(kind):
        return False, f"no shot is of {kind}"
    if surfaces(there.layers):
        return True, f"{there.of(kind)} below the design surface"
    ground: tuple[str, ...] = getattr(there.cover, "ground", (GROUND,))
    if shot := there.of(*ground):
        return True, f"{there.of(kind)} below {shot}"
    named: tuple[str, ...] = getattr(there.cover, "surface_kinds", ())
    if drawn := [f"{many(there.lines[each], 'line')} of {each}" for each in named if there.lines.get(each)]:
        return True, f"{there.of(kind)} below the design's {' and '.join(drawn)}"
    lines = (
        f"no line of the design is of {' or '.join(named)}"
        if named
        else 'lines of the design serve by [[steps]] use = "cover", surface_kinds = ["…"]'
    )
    return False, (
        "no finished surface: no design surface was read (surfaces = in its [[design]]), "
        f"and no shot is of {' or '.join(ground)}; {lines}"
    )


def _slopes(there: _There, kind: str) -> Found:
    notes = there.layers.get("structure_notes")
    if notes is None or not notes["pipe"].notna().any():
        if on_shots := _noted_on_shots(there):
            return True, f"measure-downs in the notes of {many(on_shots, 'shot')}"
        return False, "no [[structures]] notes the ends of pipes, and no note of a rim has a measure-down"
    lines = there.layers["design_lines"]
    of_kind = set(lines.loc[(lines["kind"] == kind).to_numpy(bool), "line"])
    pipes = set(notes.loc[(notes["kind"] == kind).fillna(value=False).to_numpy(bool), "pipe"].dropna())
    pipes |= of_kind & set(notes["pipe"].dropna())
    if not pipes:
        return False, f"no pipe of the notes is of {kind}: its kind there, or its design line, says it"
    return True, many(len(pipes), "pipe") + " of the notes of structures"


def _noted_on_shots(there: _There) -> int:
    """Shots of rims and inverts in whose notes a measure-down is written."""
    if "note" not in there.shots:
        return 0
    at = there.shots["kind"].astype("str").str.contains("rim|invert").fillna(value=False)
    written = there.shots["note"].astype("str").str.contains(_MEASURED_DOWN).fillna(value=False)
    return int((at & written).sum())


def _apart(there: _There, kind: str) -> Found:
    by_shots, said = _tops(there, kind)
    return (True, said) if by_shots else _slopes(there, kind)


_ASKED: dict[str, Callable[[_There, str], Found]] = {
    "cross-slope": _pairs,
    "running-slope": _pairs,
    "clear-width": _pairs,
    "passing-space": _pairs,
    "reveal": _reveals,
    "gutter-fall": _falls,
    "ponding": _flows,
    "ramp-slope": _ramps,
    "ramp-cross-slope": _ramps,
    "counter-slope": _gutters,
    "grade-change": _gutters,
    "turning-space": _ramps,
    "turning-slope": _ramps,
    "flare-slope": _flares,
    "warning-depth": _ramps,
    "straightness": _tops,
    "straightness-of-diameter": _tops,
    "cover": _covered,
    "clearance": _apart,
    "separation": _apart,
    "pipe-slope": _slopes,
}
"""Checks of several shots, each with what it is made of."""
