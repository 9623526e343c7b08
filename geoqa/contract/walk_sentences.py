"""What is said of walks, in words."""

from collections.abc import Sequence

from geoqa.model.words import length

_CHANGES = {
    "rod": "the rod height in the log",
    "session": "the session",
    "initialization": "the initialization",
    "pause": "a pause in the log",
}


def edge_step(
    rise: float, before: str, behind: str, *, later: bool, back: bool, changes: Sequence[str], unit: str
) -> str:
    """What a number that is out by a step of one edge may come of.

    Parameters
    ----------
    rise : float
        Of the step, in the job's unit.
    before, behind : str
        The two shots beside it.
    later : bool
        The shots that are off were taken from `behind` on, not up to it.
    back : bool
        It steps back farther along.
    changes : sequence of str
        What changes in the log where it steps: rod, session, initialization, pause.
    unit : str

    Examples
    --------
    >>> print(edge_step(0.2, "21", "22", later=True, back=False, changes=["rod"], unit="ft"))
    one edge steps 0.200 ft between shots 21 and 22 and the other does not, where the rod height in the log changes: \
a wrong rod from shot 22 on, or work built so
    >>> print(edge_step(0.2, "21", "22", later=False, back=False, changes=[], unit="ft"))
    one edge steps 0.200 ft between shots 21 and 22 and the other does not: a wrong rod up to shot 22, or work built so
    """
    since = f"from shot {behind} on" if later or back else f"up to shot {behind}"
    where = [_CHANGES[each] for each in changes]
    with_it = ""
    if where:
        pause = where[-1] == _CHANGES["pause"]
        with_it = f", at {where[0]}" if where == [_CHANGES["pause"]] else (
            f", where {' and '.join(where[:-1] if pause else where)} change{'s' if len(where) - pause == 1 else ''}"
        )  # fmt: skip
    return (
        f"one edge steps {length(rise, unit)} between shots {before} and {behind} and the other does not{with_it}: "
        f"a wrong rod {since}{', until it steps back' if back else ''}, or work built so"
    )


def shoot_beside_step(before: str, behind: str) -> str:
    """What settles whether a step of one edge is the rod's.

    Examples
    --------
    >>> shoot_beside_step("21", "22")
    'shoot 21 and 22 again, one after the other with one rod: the rise between them tells rod from work'
    """
    both = f"shoot {before} and {behind} again, one after the other with one rod"
    return f"{both}: the rise between them tells rod from work"
