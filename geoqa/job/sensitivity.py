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
from geoqa.model.signs import SIGNS
from geoqa.model.tables.layer import Layers, placed

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
        One row a change: `change`, `flips`, how many `to_OUT`, `to_IN`, `to_UNDECIDED`, `to_NO_DATA`, `gone`, and what
        becomes of the numbers out of tolerance: `out` as read, `stay` out, `between` in and undecided or back.
        One row a verdict that flips: `change`, `check`, `kind`, `subject`, `label`, `shot`, `before`, `after`,
        `deviation_before`, `deviation_after`. Nothing is written.

    Notes
    -----
    All steps run again, with the diagnosis of blunders: where a change is large enough to be named as a blunder,
    the numbers it acts on are not judged, and go to NO_DATA. Runs of neighbours are found anew; a run that is not
    found again is left out here, its shots are compared one by one. The checks on a mark that is left out go with it
    and are not counted.
    """
    import pandas as pd

    loaded = job if isinstance(job, LoadedJob) else load_framed(job)
    layers = take_in(loaded).layers
    steps = default_steps(loaded.job.steps, loaded.job.outputs.every)
    changes = list(_changes(layers, rod, geoid))
    progress("as it is", 0, len(changes) + 1)
    before = _verdicts(execute(layers, steps))
    flips = []
    for done, change in enumerate(changes, start=1):
        progress(change.name, done, len(changes) + 1)
        shifted = Layers({**dict(layers), **change.make(layers)}, frame=layers.frame)
        flips.append(_flips(before, _verdicts(execute(shifted, steps)), change))
    whole = pd.concat(flips, ignore_index=True)
    return _counted([each.name for each in changes], whole, before), whole


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


_KEY = ["check", "against", "kind", "subject", "shot", "finding"]


def _verdicts(layers: Layers) -> "pd.DataFrame":
    """Findings that stand for one shot or one design element; runs are found anew and have no lasting name."""
    findings = layers["findings"]
    runs = set(layers["runs"]["run"]) if "runs" in layers else set()
    mine = findings[~findings["finding"].isin(runs) & (findings["check"] != "diagnosis")]
    # a shot names its finding; a reach of a line has only the finding's own id
    ids = mine["finding"].where(mine["shot"].isna(), "-")
    table = mine.assign(shot=mine["shot"].fillna("-"), subject=mine["subject"].fillna("-"), finding=ids)
    return table.drop_duplicates(_KEY)[[*_KEY, "label", "verdict", "deviation"]]


def _flips(before: "pd.DataFrame", after: "pd.DataFrame", change: Change) -> "pd.DataFrame":
    both = before.merge(after, on=_KEY, how="outer", suffixes=("_before", "_after"), sort=True)
    for name in ("verdict_before", "verdict_after"):
        both[name] = both[name].fillna(NOTHING)
    own = both["check"].str.startswith("control-") & (both["subject"] == change.mark)
    mine = both[(both["verdict_before"] != both["verdict_after"]) & ~own].reset_index(drop=True)
    label = mine["label_before"].where(mine["label_before"].notna(), mine["label_after"])
    renamed = mine.rename(columns={"verdict_before": "before", "verdict_after": "after"})
    columns = ["check", "kind", "subject", "label", "shot", "before", "after", "deviation_before", "deviation_after"]
    made = renamed.assign(label=label)[columns]
    made.insert(0, "change", change.name)
    return made.astype({"change": "str"})


def _counted(names: list[str], flips: "pd.DataFrame", before: "pd.DataFrame") -> "pd.DataFrame":
    import pandas as pd

    out, rows = int((before["verdict"] == "OUT").sum()), []
    for name in names:
        mine = flips[flips["change"] == name]
        row: dict[str, Any] = {"change": name, "flips": len(mine)}
        row |= {f"to_{each}": int((mine["after"] == each).sum()) for each in SIGNS}
        between = mine["before"].isin(["IN", "UNDECIDED"]) & mine["after"].isin(["IN", "UNDECIDED"])
        row |= {"gone": int((mine["after"] == NOTHING).sum()), "between": int(between.sum()), "out": out}
        rows.append(row | {"stay": out - int((mine["before"] == "OUT").sum())})
    return pd.DataFrame(rows)
