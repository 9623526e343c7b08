"""Rows of the table `causes`: the answer, with what looks like it, and its runner-up."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from geoqa.contract.causes import cause_named, tells_apart
from geoqa.model import words
from geoqa.model.frame import Frame
from geoqa.model.words import listed
from geoqa.steps.causes.named_causes import EITHER, UNCHECKED, Answer, Named, causes_of, mean_of, others_of, tells_of
from geoqa.steps.causes.suspects import Checks
from geoqa.steps.causes.weighed import Weighed


def rows_of_answer(answer: Answer, checks: Checks, frame: Frame) -> list[dict[str, Any]]:
    """Rows of the table `causes`: the answer first, then its runners-up."""
    weighing = answer.weighing
    numbers: dict[str, Any] = {}
    if weighing is not None:
        best = weighing.answer
        numbers = {"chi2": best.chi2, "dof": best.dof, "p_fit": best.p_fit, "left": best.left}
    shared = {"explanation": 1, "status": answer.status, **numbers}
    rows = [shared | _row(each, checks) | _beside(each, answer, checks) for each in answer.proven]
    if not rows:
        rows = [shared | _bare(answer, checks, frame)]
    if weighing is None or weighing.undone is not None:
        return rows
    return rows + _runner_up(weighing)


def _beside(cause: Named, answer: Answer, checks: Checks) -> dict[str, str]:
    """What looks like the cause, or like the whole answer, and what would tell it apart."""
    others, own = others_of(answer), cause_named(cause.cause).alike
    tells = [tells_of(cause, checks)] if own else []
    if cause.cause in (UNCHECKED, EITHER):
        tells = [cause_named(cause.cause).tells]
    tells += [tells_apart(list(answer.group))] if others else []
    return {"alike": "; ".join(sorted({*others, *own})), "separates": "; ".join(tells)}


def _row(cause: Named, checks: Checks) -> dict[str, Any]:
    place = int(np.argmax(cause.acts))
    return {
        "cause": cause.cause,
        "variant": cause.variant,
        "subject": cause.subject,
        "shots": int(cause.acts.sum()),
        "doubtful": int(cause.doubtful.sum()),
        "first": checks.shots["shot_key"].iloc[place],
        **{f"shift_{name}": cause.size[axis] for axis, name in enumerate(("easting", "northing", "elevation"))},
        **{f"u_{name}": cause.u_size[axis] for axis, name in enumerate(("easting", "northing", "elevation"))},
        "probability": cause.probability,
        "prior": cause.prior,
        **{name: value for name, value in cause.facts.items() if value != ""},
        "words": cause.words,
        "remedy": cause.remedy,
    }


def _bare(answer: Answer, checks: Checks, frame: Frame) -> dict[str, Any]:
    """A row that names no cause."""
    weighing, status = answer.weighing, answer.status
    cause = "no-check" if status == "no-control" and len(checks.control) else status
    text = cause_named(cause).title
    if weighing is not None and weighing.weighed.widened > 1:
        text += f"; the stated uncertainties are too small, taken {weighing.weighed.widened:.1f} times as large"
    if status == "none-fits" and weighing is not None and weighing.weighed.fits:
        text += f": {_blamed(weighing)}"
    elif status == "none-fits" and weighing is not None:
        best = weighing.weighed.best
        near = listed(_titles(causes_of(weighing, best.causes))) if best.causes else "no cause"
        text += (
            f": nearest is {near}, which leaves {words.number(best.left, 1)} times the expected scatter; "
            f"the remainder lies at {_where(weighing)}"
        )
    if status == "two-disagree" and weighing is not None:
        marks = listed(sorted(checks.control["mark"].iloc[np.unique(checks.mark)]))
        text += f": {marks}; with two marks it cannot be told which is off"
    probability = weighing.weighed.best.probability if weighing is not None and status == "none" else np.nan
    return {
        "cause": cause, "variant": "", "subject": None, "shots": 0, "doubtful": 0, "words": text,
        "remedy": cause_named(cause).remedy, "probability": probability, "alike": "", "separates": "",
    }  # fmt: skip


def _blamed(weighing: Weighed) -> str:
    """Marks that would have to be wrong, where they are too many to be."""
    checks = weighing.checks
    suspects = [weighing.suspects[place] for place in weighing.weighed.best.causes]
    marks = sorted({each.subject for each in suspects if each.cause == "mark"})
    every = words.many(len(np.unique(checks.mark)), "mark")
    return (
        f"{len(marks)} of {every} ({listed(marks)}) would have to be wrong; whether they are, or the survey is off "
        "where they stand, cannot be told"
    )


def remaining(weighing: Weighed) -> np.ndarray:
    """What the best leaves at each check shot, root mean square over its axes, in standard uncertainties."""
    return np.sqrt(mean_of(weighing.weighed.remainder.reshape(-1, 3).T ** 2))


def _where(weighing: Weighed) -> str:
    """Marks and sessions with the largest remainder, in standard uncertainties."""
    checks = weighing.checks
    size = np.nan_to_num(remaining(weighing))
    told = []
    marks = checks.control["mark"].to_numpy(dtype=object)[checks.mark]
    session = checks.shots["session"].to_numpy(dtype=object)[checks.row]
    for kind, names in (("mark", marks), ("session", session)):
        known = sorted({str(name) for name in names if isinstance(name, str)})
        mean = {each: float(np.sqrt(np.mean(size[names == each] ** 2))) for each in known}
        worst = sorted(mean, key=lambda each: (-mean[each], each))[:2]
        told += [f"{kind} {each} ({mean[each]:.1f} u)" for each in worst if mean[each] > 2.0]
    return listed(told) if told else "no mark or session above the others"


def _titles(causes: Sequence[str]) -> list[str]:
    """Titles of causes in their order, each once, with how often it acts where it does so more than once.

    Examples
    --------
    >>> _titles(["bad-shot", "mark", "bad-shot"])
    ['one check shot alone is off (2 of them)', 'mark disturbed or wrongly published']
    """
    counts = Counter(causes)
    return [f"{cause_named(each).title.lower()}{f' ({n} of them)' if n > 1 else ''}" for each, n in counts.items()]


def _runner_up(weighing: Weighed) -> list[dict[str, Any]]:
    """The next explanation by other causes, with the odds against it."""
    rival = weighing.weighed.rival
    if rival is None:
        return []
    texts = [weighing.suspects[place].variant for place in rival.causes] or [cause_named("none").title.lower()]
    tens = weighing.weighed.log_odds / np.log(10.0)
    odds = f"{np.exp(weighing.weighed.log_odds):,.0f} to 1" if tens < 6 else "more than a million to 1"
    return [
        {
            "explanation": 2, "status": "runner-up", "cause": " + ".join(causes_of(weighing, rival.causes)) or "none",
            "variant": " and ".join(texts), "subject": None, "shots": 0, "doubtful": 0,
            "probability": rival.probability, "prior": float(np.exp(rival.log_prior)), "chi2": rival.chi2,
            "dof": rival.dof, "p_fit": rival.p_fit, "left": rival.left, "alike": "", "separates": "", "remedy": "",
            "words": f"runner-up: {' and '.join(texts)}; odds against it {odds}, priors included; "
            f"it leaves {words.number(rival.left, 1)} times the expected scatter",
        }
    ]  # fmt: skip
