"""What nobody lists: check shots that moved together as no known cause moves them."""

from collections.abc import Iterable

import numpy as np
import pandas as pd

from geoqa.steps.causes.suspects import SOMETHING, SPREAD, UNLISTED, Checks, Suspect


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
    return made
