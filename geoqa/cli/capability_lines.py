"""What a method can decide, in lines of a terminal: a limit each, and where the uncertainty comes from."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

FEW = 3
"""Kinds that are named beside a part that is theirs alone."""

_PARTS = {"random": "own", "common": "session", "tilt": "tilt", "mark": "mark"}


def origins(budget: "pd.DataFrame", unit: str) -> list[str]:
    """Each part of the uncertainty with its numbers, and where they come from."""
    from geoqa.model import words

    lines, every = [], set(budget["kind"].astype(str))
    parts = budget[(budget["part"] != "all") & (budget["u"] != 0)]
    for (part, source), mine in parts.groupby(["part", "source"], sort=True):
        sizes = []
        for axis, name in (("h", "plan"), ("v", "elevation")):
            told = sorted({words.length(u, unit) for u in mine.loc[mine["axis"] == axis, "u"]})
            sizes += [f"{' or '.join(told)} in {name}"] if told else []
        kinds = sorted(set(mine["kind"].astype(str)))
        whose = f" for {', '.join(kinds)}" if len(kinds) < len(every) and len(kinds) <= FEW else ""
        lines.append(f"{_PARTS[str(part)]} {', '.join(sizes)}{whose}: {source}")
    return lines


_OTHER = {"cross-slope": "ramp-cross-slope", "ramp-cross-slope": "cross-slope"}


def not_covered(limits: "pd.DataFrame", told: set[tuple[str, str]]) -> str:
    """Checks with a limit whose number is not that of one shot, each with its kinds; without those that are told."""
    from geoqa.contract.checks import check_named

    kinds: dict[str, list[str]] = {}
    # one key is read by both: a kind is either a pair of edges or a ramp
    told = told | {(kind, _OTHER[check]) for kind, check in told if check in _OTHER}
    for check, kind in zip(limits["check"], limits["kind"], strict=True):
        if (
            not check_named(str(check)).axis
            and (kind, check) not in told
            and kind not in kinds.setdefault(str(check), [])
        ):
            kinds[str(check)].append(str(kind))
    return "; ".join(f"{check} of {', '.join(names)}" for check, names in kinds.items())


def line_of_several(row: Mapping[str, Any], unit: str) -> str:
    """What a number of several shots proves under one limit."""
    from geoqa.contract.checks import check_named
    from geoqa.model import words

    allowed = words.limits(row["lower"], row["upper"], check_named(row["check"]), row["quantity"], unit)
    mark = "●" if row["one_third"] else ("◆" if row["provable"] else "▲")
    u = words.quantity(row["u"], row["quantity"], unit)
    of = f" ({row['ruleset']})" if row["ruleset"] != "job" else ""
    assumed = f" ({row['assumed']})" if isinstance(row["assumed"], str) else ""
    check = str(row["check"]).replace("-", " ")
    return f"  {mark} {row['kind']}, {check}, {allowed}{of}, 1 sigma {u}: {row['words']}. From {row['shots']}{assumed}"


def line_of_one(row: Mapping[str, Any], unit: str) -> str:
    """What one shot proves under one limit."""
    from geoqa.contract.checks import check_named
    from geoqa.contract.decided import decided
    from geoqa.model import words

    allowed = words.limits(row["lower"], row["upper"], check_named(row["check"]), "length", unit)
    mark = "●" if row["one_third"] else ("◆" if row["provable"] else "▲")
    u = words.length(row["u"], unit)
    check = str(row["check"]).replace("-", " ")
    return f"  {mark} {row['kind']}, {check}, {allowed}, 1 sigma {u}: {decided(row, unit)}"
