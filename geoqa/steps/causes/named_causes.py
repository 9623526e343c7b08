"""From weighed causes to an answer: a cause, a group of causes, or that none fits; with its words."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from geoqa.contract.causes import PRIOR, cause_named
from geoqa.model import words
from geoqa.model.words import listed
from geoqa.steps.causes.suspect_blocks import Block
from geoqa.steps.causes.suspects import SHIFT, UNLISTED, WARP, Checks, Suspect
from geoqa.steps.causes.unlisted import too_many_blamed
from geoqa.steps.causes.weighed import Weighed

UNCHECKED = "unchecked"
"""Shots that no check covers and that are off together."""
EITHER = "work-or-survey"
"""Shots of which nothing tells whether the work is off, or the survey: no probability is claimed of either."""
UNSEEN = 1.0
"""Feet, 95 %: a shift of a block that is known no better is not told, where it may be nothing."""
WORTH_NAMING = 0.5
"""Probability, its group included, from which a cause found in blocks of shots is named."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Named:
    """A cause that the best explanation holds, with what it does to every shot.

    Attributes
    ----------
    cause, variant, subject : str
    acts, doubtful : (n,) bool array
        Shots it acts on, and shots of which that is not known.
    shift : (n, 3) float64
        Shown minus true.
    size, u_size : (3,) float64
        Shift at the middle of the shots it acts on, 1 sigma.
    u_shift : (n, 3) float64, optional
        1 sigma of the shift of every shot; that of the middle if left out.
    words : str
        What was found, in words with its numbers.
    prior, probability : float
    """

    cause: str
    variant: str
    subject: str
    acts: np.ndarray
    doubtful: np.ndarray
    shift: np.ndarray
    size: np.ndarray
    u_size: np.ndarray
    prior: float
    words: str = ""
    remedy: str = ""
    probability: float = np.nan
    facts: dict[str, Any] = field(default_factory=dict)
    u_shift: np.ndarray | None = None

    @property
    def spoils(self) -> np.ndarray:
        """Shots that may not be judged until this is cleared."""
        return self.acts | self.doubtful

    @property
    def title(self) -> str:
        """The cause in a few words."""
        return cause_named(self.cause).title

    @classmethod
    def of_suspect(
        cls, suspect: Suspect, points: np.ndarray, sizes: np.ndarray, u_sizes: np.ndarray, epoch: float | None
    ) -> "Named":
        """A weighed cause at its best sizes."""
        acts = suspect.acts
        shift = np.full(points.shape, np.nan)
        if suspect.signature is not None:
            shift[acts] = points[acts] - suspect.signature.restore(points[acts], sizes)
        else:
            shift[acts] = suspect.shift(points[acts], sizes)
        there = np.flatnonzero(acts & np.isfinite(points).all(axis=1))
        if not there.size:
            there = np.flatnonzero(acts)
        middle = mean_of(points[there])[None, :]
        columns = suspect.columns(middle)[0]
        if suspect.signature is not None and columns.shape[1]:
            columns = mean_of(suspect.columns(points[there]))
        doubtful = suspect.doubtful if suspect.doubtful is not None else np.zeros(len(points), bool)
        return cls(
            cause=suspect.cause,
            variant=suspect.variant,
            subject=suspect.subject,
            acts=acts,
            doubtful=doubtful,
            shift=shift,
            size=mean_of(shift[there]),
            u_size=np.sqrt((columns**2) @ (u_sizes**2)) if u_sizes.size else suspect.u_fixed,
            prior=suspect.weight,
            facts=_facts(suspect, sizes, u_sizes, epoch, middle[0]),
            u_shift=_u_of_every_shot(suspect, points, sizes, u_sizes),
        )

    @classmethod
    def of_block(cls, block: Block) -> "Named":
        """A cause found in deviations from design."""
        return cls(
            cause=block.cause,
            variant=block.variant,
            subject=block.subject,
            acts=block.acts,
            doubtful=np.zeros(len(block.acts), bool),
            shift=block.shift,
            size=block.size,
            u_size=block.u_size,
            prior=PRIOR[block.cause],
            probability=block.probability,
        )


def _u_of_every_shot(suspect: Suspect, points: np.ndarray, sizes: np.ndarray, u_sizes: np.ndarray) -> np.ndarray | None:
    """1 sigma of the shift of every shot, (n, 3); None where nothing of it is open."""
    if not u_sizes.size:
        return None
    columns = suspect.columns(points)
    u = np.sqrt(columns**2 @ u_sizes**2)
    if suspect.warp is not None:  # between the marks it is known only as far as it is smooth
        usual = float(np.linalg.norm(sizes)) / np.sqrt(sizes.size)
        u[:, 2] = np.hypot(u[:, 2], usual * suspect.warp.unknown(np.nan_to_num(points[:, :2])))
    return u


def mean_of(values: np.ndarray) -> np.ndarray:
    """Mean over the first axis of what is there; NaN where nothing is."""
    there = np.isfinite(values)
    count = there.sum(axis=0)
    total = np.where(there, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _facts(
    suspect: Suspect, sizes: np.ndarray, u_sizes: np.ndarray, epoch: float | None, middle: np.ndarray
) -> dict[str, Any]:
    """Numbers that a remedy needs."""
    signature = suspect.signature
    if signature is None:
        return {}
    facts: dict[str, Any] = {"code": signature.code, "unit": signature.unit}
    if suspect.cause == "frame-epoch":
        facts["epoch"] = float((2020.0 if epoch is None else epoch) + sizes[0])
        facts["u_epoch"] = float(u_sizes[0])
    if suspect.cause == "ground":
        two = np.array([middle, middle + np.array([1000.0, 0.0, 0.0])])
        shown = two + suspect.shift(two, sizes)
        ratio = float((shown[1, 0] - shown[0, 0]) / 1000.0)
        facts["ppm"] = (ratio - 1.0) * 1e6
        facts["factor"] = 1.0 / ratio
        moved = shown[0, :2] - two[0, :2]
        origin = middle[:2] - moved / (ratio - 1.0)
        facts["origin_easting"], facts["origin_northing"] = (float(value) for value in origin)
    return facts


@dataclass(frozen=True, kw_only=True, eq=False)
class Answer:
    """What the diagnosis says.

    Attributes
    ----------
    status : str
        named, group, none, none-fits, two-disagree or no-control.
    proven : tuple of Named
        Causes named; empty for none, and for none-fits where nothing that moved together is found either.
    group : tuple of str
        Causes that predict the same; more than those named only where the status is group.
    """

    status: str
    proven: tuple[Named, ...]
    group: tuple[str, ...] = ()
    weighing: Weighed | None = None

    @property
    def shift_known(self) -> bool:
        """Whether all that it may be moves the shots alike."""
        return {"rod", SHIFT} >= set(self.group) - {each.cause for each in self.proven}


def answer_of(
    weighing: Weighed | None, named: list[Named], gross: Named | None, blocks: list[Named], checks: Checks
) -> Answer:
    """Decide what is said, and find its words."""
    blocks = [
        replace(each, probability=np.nan) if each.cause == EITHER else each
        for each in blocks
        if each.probability >= WORTH_NAMING
    ]
    if weighing is None:
        return _told(Answer(status="named" if blocks else "no-control", proven=tuple(blocks)), checks)
    weighed = weighing.weighed
    if not weighed.fits:
        if weighed.unlisted is None:
            return Answer(status="none-fits", proven=(), weighing=weighing)
        against = float(np.exp(min(weighed.best.score - weighed.unlisted.score, 700.0)))
        if any(each.cause == WARP for each in named):  # where the survey bends, no mark is blamed for it
            named = [each for each in named if each.cause != "mark"]
        named = [replace(each, probability=1.0 / (1.0 + against)) for each in named]
        if gross is not None:
            named = [replace(gross, probability=1.0), *named]
        return _told(Answer(status="none-fits", proven=tuple(named), weighing=weighing), checks)
    blamed = len({each.subject for each in named if each.cause == "mark"})
    if len(np.unique(checks.mark)) > 2 and too_many_blamed(blamed, len(np.unique(checks.mark))):
        return Answer(status="none-fits", proven=(), weighing=weighing)
    causes = causes_of(weighing, weighed.best.causes)
    alike = sorted({each for place in weighed.alike for each in causes_of(weighing, weighed.ranked[place].causes)})
    status = "group" if set(alike) - set(causes) or any(cause_named(each).alike for each in causes) else "named"
    share = sum(each.probability for each in weighed.ranked if causes_of(weighing, each.causes) == causes)
    named = [replace(each, probability=share if np.isnan(each.probability) else each.probability) for each in named]
    if not named and gross is None and not blocks:
        return Answer(status="none", proven=(), weighing=weighing)
    if {each.cause for each in named} == {"mark"} and len(np.unique(checks.mark)) == 2:
        return Answer(status="two-disagree", proven=(), weighing=weighing)
    if gross is not None:
        named = [replace(gross, probability=1.0), *named]
    return _told(Answer(status=status, proven=(*named, *blocks), group=tuple(alike), weighing=weighing), checks)


def causes_of(weighing: Weighed, places: Iterable[int]) -> tuple[str, ...]:
    """Names of weighed causes, in order."""
    return tuple(sorted(weighing.suspects[place].cause for place in places))


def _told(answer: Answer, checks: Checks) -> Answer:
    proven = tuple(
        replace(each, words=_sentence(each, answer, checks), remedy=_remedy(each, checks)) for each in answer.proven
    )
    return replace(answer, proven=proven)


SAID_WHOLE = ("mark", "mark-name", "bad-shot", EITHER)
"""Causes whose variant says all that their title says."""
TITLE_SAYS_ALL = ("warp", "tilt-off")
"""Causes whose title says all that their variant says."""


def which_way(cause: str, variant: str) -> str:
    """A cause and which way it acts, in a few words; empty for an answer that names none.

    Examples
    --------
    >>> which_way("mark", "mark CP-3 moved"), which_way("none-fits", "")
    ('mark CP-3 moved', '')
    """
    if not variant:
        return ""
    if cause in TITLE_SAYS_ALL:
        return cause_named(cause).title
    return variant if cause in SAID_WHOLE else f"{cause_named(cause).title}: {variant}".rstrip(",")


def _sentence(cause: Named, answer: Answer, checks: Checks) -> str:
    unit = checks.job_unit
    said = which_way(cause.cause, cause.variant)
    parts = [said[:1].upper() + said[1:]]
    if cause.cause == WARP:
        parts = [_follows_the_place(cause, checks)]
    elif cause_named(cause.cause).alike and cause.cause != UNCHECKED:
        parts = [_look_alike(cause, unit)]
    else:
        parts += [moved] if (moved := _moved(cause, unit, UNSEEN * checks.unit)) else []
    if cause.cause == UNCHECKED:
        parts.append(_without_a_check(cause))
    if cause.cause == EITHER:
        parts.append(
            "work that is built so and a bad initialization look alike here, for the log names none: between one shot "
            "and the next they step aside and up or down at once, and so they come back"
        )
    if cause.cause == UNLISTED:
        by = ", ".join(words.length(value, unit, signed=True) for value in cause.size.tolist())
        parts[0] += f" by ({by}) in easting, northing and elevation, as no known cause moves them"
    count = int(cause.acts.sum())
    first = checks.shots["shot_key"].iloc[int(np.argmax(cause.acts))]
    parts.append(f"{count} shot{'s' if count > 1 else ''}, the first {first}")
    if "ppm" in cause.facts:
        parts.append(f"scale {cause.facts['ppm']:+.1f} ppm")
    if "epoch" in cause.facts:
        parts.append(f"epoch {cause.facts['epoch']:.1f} ± {cause.facts['u_epoch']:.1f}")
    if cause.doubtful.any():
        parts.append(
            f"{words.many(int(cause.doubtful.sum()), 'more shot lies', 'more shots lie')} between the last good and "
            "the first bad check shot"
        )
    if np.isfinite(cause.probability):
        parts.append(f"probability {words.probability(cause.probability)}")
    if answer.weighing is not None:
        left = answer.weighing.answer.left
        parts.append(f"what is left at control is {words.number(left, 1)} times the expected scatter")
        if answer.weighing.weighed.widened > 1:
            parts.append(
                f"the stated uncertainties are too small, taken {answer.weighing.weighed.widened:.1f} times as large"
            )
    others = sorted(set(others_of(answer)) - set(cause_named(cause.cause).alike))
    if others:
        parts.append(f"predicts the same as {listed([cause_named(one).title.lower() for one in others])}")
    return "; ".join(parts)


def _look_alike(cause: Named, unit: str) -> str:
    """Whose elevations are off, which way and by how much; and that several causes would do the same."""
    digits = words.decimals("length", unit)
    size, u = float(cause.size[2]), float(cause.u_size[2])
    amount = f"{words.number(abs(size), digits)} ± {words.number(2 * u, digits)} {unit} (± at 95 %)"
    return (
        f"Elevations of {cause.subject.replace('from', 'all shots from')} are all {'low' if size < 0 else 'high'} by "
        f"{amount}; rod height, antenna, base elevation or vertical datum look alike here"
    )


def _without_a_check(cause: Named) -> str:
    """What makes the same of all its shots, as far as it can be told from where they are off."""
    level = bool((np.abs(cause.size[:2]) <= 2 * cause.u_size[:2]).all())
    alike = (
        "rod height, antenna, base elevation, vertical datum and a bad initialization"
        if level
        else ("base position, correction source and a bad initialization")
    )
    return f"without a check shot {alike} look alike"


def _follows_the_place(cause: Named, checks: Checks) -> str:
    """How far elevations are off at the mark where they are lowest, and where they are highest."""
    at = cause.shift[checks.row, 2]
    marks = checks.control["mark"].to_numpy(dtype=object)[checks.mark]
    ends = [
        f"{words.length(float(at[place]), checks.job_unit, signed=True)} at {marks[place]}"
        for place in (int(np.nanargmin(at)), int(np.nanargmax(at)))
    ]
    return (
        f"Elevations are off by amounts that follow the place, from {ends[0]} to {ends[1]}, as no known cause moves "
        "them and as no single mark would; the marks are not blamed for it"
    )


def tells_of(cause: Named, checks: Checks) -> str:
    """What would tell causes that look alike apart, with what the log has to say of the rod."""
    alike = cause_named(cause.cause).alike
    if not alike:
        return ""
    rod = checks.shots["rod_height"].to_numpy(float)
    mine = rod[cause.acts][np.isfinite(rod[cause.acts])]
    if not mine.size:
        first = "the rod height of every shot, which the files do not have"
    elif np.ptp(rod[np.isfinite(rod)]) < 0.002 * checks.unit:
        first = f"the rod measured against its entry, {words.length(float(mine[0]), checks.job_unit)} for every shot"
    else:
        first = "the rod measured against its entries"
    return "; ".join([first, *(cause_named(each).tells for each in alike if each != "rod")])


def _moved(cause: Named, unit: str, unseen: float) -> str:
    """How far the cause moves its shots along each axis, the unit once; with the 95 % uncertainty if one is known.

    An axis of which nothing is seen (95 % uncertainty above `unseen`) is left out.
    """
    digits = words.decimals("length", unit)
    shift = [
        f"{name} {words.number(value, digits, signed=True)}" + (f" ± {words.number(2 * u, digits)}" if u > 0 else "")
        for name, value, u in zip(("easting", "northing", "elevation"), cause.size, cause.u_size, strict=True)
        if (abs(value) > 0 or u > 0) and not (2 * u > unseen and abs(value) < 2 * u)
    ]
    if not shift:
        return ""
    return f"{', '.join(shift)} {unit}" + (" (± at 95 %)" if "±" in " ".join(shift) else "")


def _remedy(cause: Named, checks: Checks) -> str:
    files = sorted(checks.shots.loc[cause.acts, "source"].unique())
    facts = cause.facts
    origin = ", ".join(f"{facts[name]:.3f}" for name in ("origin_easting", "origin_northing") if name in facts)
    return cause_named(cause.cause).remedy.format(
        files=listed([str(name) for name in files]), shots=words.many(int(cause.acts.sum()), "shot"),
        subject=cause.subject,
        unit=facts.get("unit", ""), code=facts.get("code", ""), epoch=f"{facts.get('epoch', np.nan):.1f}",
        factor=f"{facts.get('factor', np.nan):.8f}", origin=f"[{origin}]", tells=tells_of(cause, checks),
    )  # fmt: skip


_OTHER = {"ft": "ftUS", "ftUS": "ft"}


def unit_as_is(answer: Answer, checks: Checks, units: Mapping[str, str]) -> Answer:
    """Do not propose the unit that the files have already; where all shots are off, the control list may be.

    Parameters
    ----------
    answer : Answer
    checks : Checks
    units : mapping
        Unit that the numbers of each source of shots are taken in.
    """
    proven = []
    for each in answer.proven:
        files = sorted(checks.shots.loc[each.acts, "source"].unique())
        unit = str(each.facts.get("unit", ""))
        if each.cause == "foot" and {units.get(str(name)) for name in files} == {unit}:
            named = listed([str(name) for name in files])
            told = f"{named} {'is' if len(files) == 1 else 'are'} taken in {unit} already: "
            again = f"export {named} again in {unit}, and run again"
            if each.acts.all():
                told += (
                    f'if the control list is in {_OTHER[unit]}, set unit = "{_OTHER[unit]}" in [control]; else {again}'
                )
            else:
                told += again
            each = replace(each, remedy=told)
        proven.append(each)
    return replace(answer, proven=tuple(proven))


def others_of(answer: Answer) -> list[str]:
    """Causes that predict the same as the answer and are not named."""
    return sorted(set(answer.group) - {each.cause for each in answer.proven})
