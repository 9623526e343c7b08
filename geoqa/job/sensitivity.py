"""Which verdicts hang on a small error of the field set-up: the job judged again on shifted shots."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from numpy.typing import ArrayLike

from geoqa.job.document.load import LoadedJob
from geoqa.job.execute import Progress, execute, silent
from geoqa.job.inputs.intake import take_in
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.plan import default_steps
from geoqa.model.quantity import FOOT, US_SURVEY_FOOT, Length
from geoqa.model.signs import SIGNS, ranks
from geoqa.model.tables.layer import Layers, placed
from geoqa.model.tables.reported import reported_verdicts

if TYPE_CHECKING:
    import pandas as pd


ROD = Length.parse("0.02 ft")
GEOID = Length.parse("0.03 ft")
_PLUMB_BELOW = 3.0
NOTHING = "nothing there"
"""Verdict of a finding that one of the two runs does not have."""


@dataclass(frozen=True)
class Change:
    """One thing that may be wrong, and what the job's tables would be then."""

    name: str
    make: "Callable[[Layers], dict[str, pd.DataFrame]]"
    mark: str = ""  # whose own checks are not counted, for they go with it


def sensitivity(
    job: str | Path | LoadedJob, *, rod: Length = ROD, geoid: Length = GEOID, progress: Progress = silent
) -> "tuple[pd.DataFrame, pd.DataFrame]":
    """Judge a job again for every small error of its set-up, and list the verdicts that flip.

    Parameters
    ----------
    job : path of a job file, or a job that is already loaded
    rod : Length
        By which the entered rod is too short and too long.
    geoid : Length
        By which the geoid separation is too small and too large.
    progress : callable
        As in `geoqa.job.run`.

    Returns
    -------
    changes, flips : DataFrame
        One row a change: `change`; `total`, the findings that are reported as it is, as a run counts them, and of each
        verdict `as_OUT`, `as_UNDECIDED`, `as_NO_DATA`, `as_IN`; and what becomes of them: `same`, `stay` out,
        `no_longer_out`, `more_out`, `between` within and undecided, `unjudged`, `judged`, `gone`, and `own`, which go
        with the mark that is left out (`own_out` of them out). `same`, `no_longer_out`, `more_out`, `between`,
        `unjudged`, `judged`, `gone` and `own` add up to `total`. `new` and `new_out` are findings that there are not
        as it is; `flips` counts rows of the second table.
        One row a verdict that flips: `change`, `check`, `kind`, `subject`, `label`, `shot`, `before`, `after`,
        `deviation_before`, `deviation_after`. Nothing is written.

    Notes
    -----
    All steps run again, with the diagnosis of blunders: where a change is large enough to be named as a blunder,
    the numbers it acts on are not judged, and go to NO_DATA. A finding is held against what is reported of it then, so
    a shot that is in a run then by that run. Runs of neighbours and places of several shots are found anew; one that
    is not found again is held against the worst that is reported of its shots.
    """
    import pandas as pd

    loaded = job if isinstance(job, LoadedJob) else load_framed(job)
    layers = take_in(loaded).layers
    steps = default_steps(loaded.job.steps, loaded.job.outputs.every)
    changes = list(_changes(layers, rod, geoid))
    progress("as it is", 0, len(changes) + 1)
    before = _reported(execute(layers, steps))
    flips = []
    for done, change in enumerate(changes, start=1):
        progress(change.name, done, len(changes) + 1)
        shifted = Layers({**dict(layers), **change.make(layers)}, frame=layers.frame)
        flips.append(_flips(before, _reported(execute(shifted, steps)), change))
    whole = pd.concat(flips, ignore_index=True)
    return pd.DataFrame([_counted(each, whole, before) for each in changes]), whole


def _changes(layers: Layers, rod: Length, geoid: Length) -> Iterator[Change]:
    unit = layers.frame.unit
    for sign, word in ((1.0, "longer"), (-1.0, "shorter")):
        yield Change(f"rod {rod} {word} than entered", partial(_rod, by=sign * rod.to(unit)))
    for sign, word in ((1.0, "larger"), (-1.0, "smaller")):
        yield Change(f"geoid separation {geoid} {word}", partial(_moved, elevation=-sign * geoid.to(unit)))
    for mark in layers["control"]["mark"]:
        yield Change(f"without mark {mark}", partial(_without, mark=str(mark)), str(mark))
    if unit in (FOOT, US_SURVEY_FOOT):
        ratio = float(FOOT.metres / US_SURVEY_FOOT.metres)
        ratio = ratio if unit == US_SURVEY_FOOT else 1.0 / ratio
        name = "international" if unit == US_SURVEY_FOOT else "US survey"
        yield Change(f"shots in the {name} foot", partial(_scaled, ratio=ratio))


def _rod(layers: Layers, *, by: float) -> "dict[str, pd.DataFrame]":
    """Shots whose true rod is longer by so much: the tip is lower, and where it leans, farther from the antenna."""
    import numpy as np

    shots = layers["shots"]
    tilt = shots["tilt"].to_numpy(float)
    tilt = np.radians(np.where(tilt >= _PLUMB_BELOW, tilt, 0.0))
    toward = np.radians(shots["tilt_azimuth"].fillna(0.0).to_numpy(float))
    aside = np.where(shots["tilt_azimuth"].notna(), by * np.sin(tilt), 0.0)
    return _moved(
        layers, easting=-aside * np.sin(toward), northing=-aside * np.cos(toward), elevation=-by * np.cos(tilt)
    )


def _moved(layers: Layers, **by: ArrayLike) -> "dict[str, pd.DataFrame]":
    shots = layers["shots"]
    moved = shots.assign(**{name: shots[name] + amount for name, amount in by.items()})
    return {"shots": placed("shots", moved.drop(columns="geometry", errors="ignore"), layers.frame)}


def _scaled(layers: Layers, *, ratio: float) -> "dict[str, pd.DataFrame]":
    shots = layers["shots"]
    moved = shots.assign(**{name: shots[name] * ratio for name in ("easting", "northing", "elevation")})
    return {"shots": placed("shots", moved.drop(columns="geometry", errors="ignore"), layers.frame)}


def _without(layers: Layers, *, mark: str) -> "dict[str, pd.DataFrame]":
    control = layers["control"]
    return {"control": control[control["mark"] != mark].reset_index(drop=True)}


_KEY = ["check", "against", "shot"]


@dataclass(frozen=True, eq=False)
class Reported:
    """Findings of one run of the steps; `told` is the verdict that each is reported with."""

    findings: "pd.DataFrame"
    members: "pd.DataFrame"  # finding of a run or place, and the shots it stands for

    @property
    def alone(self) -> "pd.DataFrame":
        """What a run counts: runs, places, design elements, causes, and the shots that none of these reports."""
        return self.findings[self.findings["run"].isna()].reset_index(drop=True)

    def of_members(self) -> "pd.DataFrame":
        """What is compared, and with which shots, of every run and place."""
        named = self.members.merge(self.findings[["finding", "check", "against"]], on="finding")
        return named.drop_duplicates()

    def of_parts(self) -> "pd.DataFrame":
        """Findings that stand under a run or mean (`run`): shots, or sections, which are no shots."""
        return self.findings.loc[self.findings["run"].notna(), ["run", "finding"]]


def _reported(layers: Layers) -> Reported:
    import pandas as pd

    findings = layers["findings"]
    columns = ["finding", "check", "against", "kind", "subject", "label", "shot", "verdict", "deviation", "run"]
    table = pd.DataFrame(findings[columns]).assign(told=reported_verdicts(findings)).drop_duplicates("finding")
    members = [pd.DataFrame({"finding": pd.Series(dtype="str"), "shot": pd.Series(dtype="str")})]
    for name, own in (("run_members", "run"), ("place_members", "finding")):
        if name in layers:
            rows = pd.DataFrame(layers[name][[own, "shot_key"]])
            members.append(rows.rename(columns={own: "finding", "shot_key": "shot"}))
    return Reported(table.reset_index(drop=True), pd.concat(members, ignore_index=True))


def _flips(before: Reported, after: Reported, change: Change) -> "pd.DataFrame":
    import pandas as pd

    was, then = before.alone, after.findings.set_index("finding")
    now = was["finding"].map(then["told"])
    worst = was["finding"].map(_worst_of_members(before, after))
    # a mean that is proven no longer leaves the shots that are out by themselves: the place stays out
    beside = (was["told"] == "OUT") & (worst == "OUT")
    now = now.where(now.notna() & ~beside, worst).fillna(NOTHING)
    itself = then[then["run"].isna()]["deviation"]
    both = was.assign(before=was["told"], after=now, deviation_before=was["deviation"],
                      deviation_after=was["finding"].map(then["deviation"]).where(
                          ~was["finding"].isin(before.members["finding"]), was["finding"].map(itself)))  # fmt: skip
    fresh = _new(before, after)
    fresh = fresh.assign(before=NOTHING, after=fresh["told"], deviation_before=float("nan"),
                         deviation_after=fresh["deviation"])  # fmt: skip
    table = pd.concat([each for each in (both, fresh) if len(each)] or [both], ignore_index=True)
    mine = table[(table["before"] != table["after"]) & ~_own(table, change)]
    columns = ["check", "kind", "subject", "label", "shot", "before", "after", "deviation_before", "deviation_after"]
    made = mine.sort_values(["check", "subject", "shot", "finding"], kind="stable")[columns].reset_index(drop=True)
    made.insert(0, "change", change.name)
    return made.astype({"change": "str"})


def _own(table: "pd.DataFrame", change: Change) -> "pd.Series":
    """Checks on the mark that is left out, and causes that are about it."""
    about = table["check"].str.startswith("control-") | (table["check"] == "diagnosis")
    return about & (table["subject"] == change.mark)


def _worst_of_members(before: Reported, after: Reported) -> "pd.Series":
    """What is reported then of the shots, or the sections, of each run, mean and place, by its finding."""
    import numpy as np
    import pandas as pd

    then = after.findings.dropna(subset=["shot"])[[*_KEY, "told"]]
    rows = before.of_members().merge(then, on=_KEY)[["finding", "told"]]
    rows = pd.concat([rows, before.of_parts().merge(after.findings[["finding", "told"]], on="finding")
                      .drop(columns="finding").rename(columns={"run": "finding"})])  # fmt: skip
    worst = rows.assign(rank=ranks(rows["told"])).groupby("finding")["rank"].min()
    return worst.map(dict(enumerate(SIGNS))) if len(worst) else worst.astype(object).replace({np.nan: None})


def _new(before: Reported, after: Reported) -> "pd.DataFrame":
    """What is reported then and has no counterpart as it is: no finding of its name, nor of what stands under it."""
    fresh = after.alone[~after.alone["finding"].isin(before.findings["finding"])]
    known = after.of_members().merge(before.findings.dropna(subset=["shot"])[_KEY], on=_KEY)
    parts = after.of_parts()
    parts = parts[parts["finding"].isin(before.findings["finding"])]
    return fresh[~fresh["finding"].isin(known["finding"]) & ~fresh["finding"].isin(parts["run"])]


def _counted(change: Change, flips: "pd.DataFrame", before: Reported) -> dict[str, Any]:
    """How many findings become what: every one that is reported as it is in one count, and the new ones apart."""
    mine = flips[flips["change"] == change.name]
    told = before.alone["told"]
    was, now = mine["before"], mine["after"]
    old = was != NOTHING
    own = int(_own(before.alone, change).sum())
    out, undecided = was == "OUT", ["IN", "UNDECIDED"]
    open_now, open_then = was.isin(undecided), now.isin(undecided)
    own_out = int(((told == "OUT") & _own(before.alone, change)).sum())
    return {
        "change": change.name, "flips": len(mine), "total": len(told),
        **{f"as_{sign}": int((told == sign).sum()) for sign in SIGNS},
        "same": len(told) - own - int(old.sum()), "stay": int((told == "OUT").sum()) - own_out - int(out.sum()),
        "no_longer_out": int(out.sum()), "more_out": int((old & (now == "OUT")).sum()),
        "between": int((open_now & open_then).sum()), "unjudged": int((open_now & (now == "NO_DATA")).sum()),
        "judged": int(((was == "NO_DATA") & open_then).sum()), "gone": int((old & ~out & (now == NOTHING)).sum()),
        "own": own, "own_out": own_out, "new": int((~old).sum()), "new_out": int((~old & (now == "OUT")).sum()),
    }  # fmt: skip
