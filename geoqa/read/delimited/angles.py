"""Angles of the lean, degrees inside: what no rod can show is no angle, and a unit nobody states may be asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import pi
from typing import TYPE_CHECKING, Literal

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.source import Evidence, Trouble
from geoqa.model.tables.read_facts import ANGLE_DOUBT, ANGLES, NOT_TAKEN
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd

AngleUnit = Literal["deg", "gon", "rad"]
"""What a job file may call the unit of tilt and azimuth of the lean."""
IN_DEGREES: dict[str, float] = {"deg": 1.0, "gon": 0.9, "rad": 180.0 / pi}
SPOKEN = {"deg": "degrees", "gon": "gon", "rad": "radians"}
TURN = {"deg": 360.0, "gon": 400.0, "rad": 2 * pi}

_SHARE = 0.02
"""Of azimuths in gon a tenth lies beyond 360; this share of them is no slip of single rows."""
_FEWEST, _SPREAD = 6, 1.0
"""Azimuths, and how far apart, from which a whole column within 6.2832 is hardly one of degrees."""
_LISTED = 12


@dataclass(frozen=True, kw_only=True)
class LeanAngles:
    """Tilt and azimuth in degrees, NaN where there is none, and what is to be said of them."""

    values: Mapping[str, np.ndarray]
    troubles: tuple[Trouble, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    facts: Mapping[str, str] = field(default_factory=dict)


def lean_angles(
    name: str,
    read: Mapping[str, np.ndarray],
    *,
    text: Mapping[str, pd.Series],
    lines: np.ndarray,
    headings: Mapping[str, str],
    stated: str | None,
) -> LeanAngles:
    """Bring the angles of the lean to degrees.

    Parameters
    ----------
    name : str
        Of the file, for messages.
    read : mapping of str to (n,) float64
        `tilt`, `tilt_azimuth` or both, as the file has them.
    text : mapping of str to Series
        The same as written.
    lines : (n,) int64
    headings : mapping of str to str
        Units that headings state.
    stated : str or None
        The unit the job states.

    Returns
    -------
    LeanAngles
        A tilt beyond 0 to 90 degrees and an azimuth beyond a turn are missing, and told. Where nobody states the unit
        and the azimuths are hardly degrees, none of them is taken, and a tilt is what leans the rod most of both
        readings.

    Raises
    ------
    SourceError
        The headings state units, and the job another one.

    Examples
    --------
    >>> import pandas as pd
    >>> found = lean_angles("a.csv", {"tilt_azimuth": np.array([100.0, 399.0])}, text={"tilt_azimuth": pd.Series(["100",
    ...     "399"])}, lines=np.array([2, 3]), headings={}, stated="gon")
    >>> found.values["tilt_azimuth"].round(1).tolist()
    [90.0, 359.1]
    """
    units = {each: _unit(name, each, headings, stated, tuple(read)) for each in read}
    asked = "tilt_azimuth" in read and not units["tilt_azimuth"]
    doubt = in_doubt(read["tilt_azimuth"]) if asked else ""
    values: dict[str, np.ndarray] = {}
    troubles: list[Trouble] = []
    evidence: list[Evidence] = []
    facts: dict[str, str] = {ANGLE_DOUBT: doubt} if doubt else {}
    if doubt:
        told = _doubted(read["tilt_azimuth"], text["tilt_azimuth"], lines, doubt, tilt=not units.get("tilt"))
        troubles.append(told)
    for each, given in read.items():
        unit = units[each] or "deg"
        if units[each] and unit != "deg":
            because = "its heading" if headings.get(each) == unit else "stated in the job"
            evidence.append(Evidence(what=ANGLES[each], answer=f"{SPOKEN[unit]}, taken as degrees", because=because))
        if doubt and each == "tilt_azimuth":
            values[each] = np.full(given.shape, np.nan)
            continue
        if doubt == "rad" and not units[each] and np.nanmax(np.abs(given), initial=0.0) <= TURN["rad"] / 4:
            unit = "rad"  # what leans the rod most
        values[each], wrong = _possible(each, given, unit)
        troubles += _impossible(each, text[each], lines, wrong, unit, asks=not units[each] and not doubt)
        if wrong.any():
            facts[NOT_TAKEN[each]] = " ".join(map(str, lines[wrong].tolist()))
    return LeanAngles(values=values, troubles=tuple(troubles), evidence=tuple(evidence), facts=facts)


def in_doubt(azimuth: np.ndarray) -> str:
    """The unit that azimuths look like where they are hardly degrees; empty where they may be.

    Examples
    --------
    >>> in_doubt(np.array([12.0, 104.5, 208.0, 391.0])), in_doubt(np.array([0.2, 1.7, 3.2, 4.6, 6.1, 0.1]))
    ('gon', 'rad')
    >>> in_doubt(np.array([12.0, 104.5, 359.0])), in_doubt(np.array([12.0, 104.5, 999.0]))
    ('', '')
    """
    known = azimuth[np.isfinite(azimuth)]
    if not known.size:
        return ""
    beyond = known > TURN["deg"]
    if known.min() >= 0 and known.max() <= TURN["gon"] and beyond.sum() > _SHARE * known.size:
        return "gon"
    small = np.abs(known).max() <= TURN["rad"] + 0.001
    return "rad" if small and known.size >= _FEWEST and np.ptp(known) > _SPREAD else ""


def _unit(name: str, column: str, headings: Mapping[str, str], stated: str | None, read: tuple[str, ...]) -> str:
    """Unit of a column: its heading's, else the job's, which is refused where it can be no column's."""
    heading = headings.get(column, "")
    open_to_it = any(headings.get(each, "") not in IN_DEGREES or headings[each] == stated for each in read)
    if heading in IN_DEGREES and stated and heading != stated and not open_to_it:
        raise SourceError(
            f"'{name}': the heading of the {ANGLES[column]} states {SPOKEN[heading]}, and angle_unit in its [[shots]] "
            f"{SPOKEN[stated]}; take angle_unit out, or mend the heading."
        )
    return heading if heading in IN_DEGREES else stated or ""


def _possible(column: str, given: np.ndarray, unit: str) -> tuple[np.ndarray, np.ndarray]:
    """Degrees, and which rows hold no angle that a rod can show."""
    turn = TURN[unit] * (1 + 1e-6)
    with np.errstate(invalid="ignore"):
        wrong = np.abs(given) > turn if column == "tilt_azimuth" else (given < 0) | (given > turn / 4)
    return np.where(wrong, np.nan, given * IN_DEGREES[unit]), wrong


def _impossible(
    column: str, text: pd.Series, lines: np.ndarray, wrong: np.ndarray, unit: str, *, asks: bool
) -> list[Trouble]:
    turn = TURN[unit]
    low, high = (-turn, turn) if column == "tilt_azimuth" else (0.0, turn / 4)
    other = '; where the log has another unit, state it in its [[shots]]: angle_unit = "gon" or "rad"'
    reason = (
        f"is no {ANGLES[column]}, and not taken: {low:.6g} to {high:.6g} {SPOKEN[unit]} are allowed; mend or empty it"
        f"{other if asks else ''}"
    )
    rows = np.flatnonzero(wrong)
    return [
        Trouble(line=int(lines[row]), column=column, text=str(text.iloc[row]), reason=reason) for row in rows.tolist()
    ]


def _doubted(azimuth: np.ndarray, text: pd.Series, lines: np.ndarray, doubt: str, *, tilt: bool) -> Trouble:
    """What is said once of a file whose unit of angles has to be stated, of its tilt too where no heading states it."""
    beyond = np.flatnonzero(azimuth > TURN["deg"])
    count = int(np.isfinite(azimuth).sum())
    if doubt == "gon":
        at = lines[beyond].tolist()
        more = f" and {len(at) - _LISTED} more" if len(at) > _LISTED else ""
        where = f"{'line' if len(at) == 1 else 'lines'} {', '.join(map(str, at[:_LISTED]))}{more}"
        row = int(beyond[np.argmax(azimuth[beyond])])
        found = f"is beyond 360, as {len(at)} of {many(count, 'azimuth')} ({where}), and none beyond 400: are they gon?"
        lean = ", a tilt is taken as degrees, the larger lean"
    else:
        row = int(np.nanargmax(np.abs(azimuth)))
        found = f"is the largest of {many(count, 'azimuth')}, all within 6.2832: are they radians?"
        lean = ", a tilt is taken as radians where it can be, the larger lean"
    reason = (
        f"{found} No azimuth of this file is taken{lean if tilt else ''}. "
        'State what its angles are in its [[shots]]: angle_unit = "deg", "gon" or "rad"'
    )
    return Trouble(line=0, column="tilt_azimuth", text=str(text.iloc[row]), reason=reason, kept=True, asks=True)
