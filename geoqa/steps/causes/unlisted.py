"""What nobody lists: check shots that moved together as no known cause moves them."""

from collections.abc import Iterable

import numpy as np
import pandas as pd

from geoqa.kernels.causes.smooth_warp import Warp
from geoqa.steps.causes.suspects import SOMETHING, SPREAD, UNLISTED, WARP, Checks, Suspect

MARKS_OF_A_WARP = 4
"""Fewest marks that tell a warp from a mark that is off."""
SHARE_BLAMED = 4
"""Where more than one mark must be blamed, and one of so many or more, it is not told whether the marks are off or the
survey is."""


def too_many_blamed(blamed: int, marks: int) -> bool:
    """Whether as many marks are off as would make a survey suspect rather than the marks.

    Examples
    --------
    >>> [too_many_blamed(1, 3), too_many_blamed(2, 6), too_many_blamed(2, 9), too_many_blamed(3, 12)]
    [False, True, False, True]
    """
    return blamed > 1 and blamed * SHARE_BLAMED >= marks


def unlisted(checks: Checks, listed: Iterable[Suspect]) -> list[Suspect]:
    """Check shots of one session, or of one mark in one session, that no known cause moves together."""
    known = {each.acts[checks.row].tobytes() for each in listed if len(each.axes) == 3}
    known.add(np.ones(len(checks.row), bool).tobytes())
    marks = checks.control["mark"].to_numpy(dtype=object)[checks.mark]
    found: dict[bytes, tuple[str, np.ndarray]] = {}
    session = checks.session[checks.row]
    for number in pd.unique(session).tolist():
        here = session == number
        name = checks.sessions.iloc[checks.row[here.argmax()]]
        groups = [(f"session {name}", here)]
        groups += [(f"mark {mark} in session {name}", here & (marks == mark)) for mark in sorted(set(marks[here]))]
        for place, (subject, mine) in enumerate(groups):
            if mine.sum() > 1 and mine.tobytes() not in known:
                acts = np.zeros(len(checks.shots), dtype=bool)
                acts[checks.row[mine]] = True
                if place == 0:  # a session moved together took all its shots along
                    acts = checks.session == number
                found.setdefault(mine.tobytes(), (subject, acts))
    made = []
    for subject, acts in found.values():
        made.append(
            Suspect(
                cause=UNLISTED, variant=f"check shots of {subject} moved together", subject=subject, acts=acts,
                axes=(0, 1, 2), spread=np.full(3, SPREAD[UNLISTED] * checks.unit), weight=SOMETHING / len(found),
            )
        )  # fmt: skip
    return [*made, *_warps(checks)]


def _warps(checks: Checks) -> list[Suspect]:
    """Elevations of all shots off by amounts that follow the place, where marks enough tell it from single marks."""
    there = np.isfinite(checks.residual[:, 2])
    places = np.unique(checks.published[there, :2], axis=0)
    if len(places) < MARKS_OF_A_WARP or not np.isfinite(checks.published[:, :2]).all():
        return []
    warp = Warp.over(places)
    return [
        Suspect(
            cause=WARP, variant="elevations follow the place", subject="all shots", weight=SOMETHING, warp=warp,
            acts=np.ones(len(checks.shots), bool), spread=np.full(warp.root.shape[1], SPREAD[WARP] * checks.unit),
        )
    ]  # fmt: skip
