"""Many runs of the tool on simulated jobs, pooled and held against what was predicted.

The lines of the score, and where each comes from, are in ``docs/score.md``.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from bench.bands import binomial_band
from bench.compared import FAR, Compared

if TYPE_CHECKING:
    import pandas as pd

CERTAIN = 5.8
"""Distance beyond a limit, in u, from which a planted thing must be OUT in every run."""
WITHIN = (0.92, 0.98)
"""Allowed share of numbers within 2 u of the truth: 95 ± 3 %."""
APART = ("cross-slope", "turning-space", "turning-slope", "ramp-cross-slope")
"""Checks whose sound numbers lie within 3 u of their limit by design: counted apart, and held to the risk that the rule
promises at the limit itself, 5 %."""
STRETCH, SLACK = "stretch", 0.05
"""Level of means whose ends the data find, and the share of them that may be found otherwise than planted."""
POOLED, SINGLE = 1e-3, 5e-3
"""Allowed false defects per sound check, over all runs and in any one of them."""
CONFIDENCE = 0.999
VERDICTS = ("IN", "UNDECIDED", "OUT", "NO_DATA")


@dataclass(frozen=True, eq=False)
class Score:
    """What many runs said, beside what was to be expected.

    Attributes
    ----------
    runs : int
    planted : DataFrame
        One row per planted thing: how often each verdict was found, the predicted number of each,
        and the band round it.
    sound : DataFrame
        One row per kind and check of what was not planted; the same.
    numbers : DataFrame
        One row per check and level: how many, the share within 2 u of the truth, the largest error over u.
    false_defects : DataFrame
        One row per run: sound checks, false defects.
    sound_runs : mapping of str to int
        Verdicts on runs of neighbours that hold nothing planted.
    near : DataFrame
        One row per check whose sound numbers lie near their limit by design: verdicts, and the most that may be OUT.
    """

    runs: int
    planted: "pd.DataFrame"
    sound: "pd.DataFrame"
    numbers: "pd.DataFrame"
    false_defects: "pd.DataFrame"
    sound_runs: Mapping[str, int]
    near: "pd.DataFrame"

    @property
    def largest_allowed(self) -> float:
        """Error over u that no number exceeds in 99.9 % of such trials, if every u is right."""
        return largest_of(int(self.numbers["numbers"].sum()))

    @property
    def share_within(self) -> float:
        """Share of all numbers within 2 u of the truth."""
        return float(np.average(self.numbers["within 2 u"], weights=self.numbers["numbers"]))

    @property
    def false_rate(self) -> float:
        """False defects per sound check over all runs."""
        return float(self.false_defects["false"].sum() / self.false_defects["sound"].sum())

    @property
    def worst_run(self) -> float:
        """False defects per sound check in the worst run."""
        return float((self.false_defects["false"] / self.false_defects["sound"]).max())

    def problems(self) -> tuple[str, ...]:
        """Every line of the score that does not hold, in words; empty if all do."""
        return (*self._planted_problems(), *self._sound_problems(), *self._number_problems())

    def _planted_problems(self) -> Iterable[str]:
        for row in self.planted.to_dict("records"):
            name = f"{row['plant']} ({row['check'] or 'flag'})"
            if row["level"] == STRETCH:
                yield from _stretch_problems(name, row)
                continue
            if row["missing"]:
                yield f"{name}: nothing found in {row['missing']} of {row['times']}"
            if row["excess"] >= CERTAIN and row["OUT"] != row["times"]:
                yield f"{name}: {row['excess']:.1f} u beyond its limit, OUT in {row['OUT']} of {row['times']}"
            if row["unadvised"]:
                yield f"{name}: undecided without a word of what would decide it in {row['unadvised']}"
            if row["unflagged"]:
                yield f"{name}: flag missing in {row['unflagged']} of {row['times']}"
            if row["away"] > FAR:
                yield f"{name}: reported {row['away']:.1f} ft from its place"
            yield from _off_band(name, row)

    def _sound_problems(self) -> Iterable[str]:
        for row in self.sound.to_dict("records"):
            name = f"sound {row['kind']}, {row['check']}"
            if row["missing"] or row["NO_DATA"]:
                yield f"{name}: {row['missing'] + row['NO_DATA']} of {row['times']} not judged"
            yield from _off_band(name, row)

    def _number_problems(self) -> Iterable[str]:
        for row in self.near.to_dict("records"):
            if row["OUT"] > row["allowed"]:
                yield f"sound {row['check']}: OUT {row['OUT']} of {row['times']}, at most {row['allowed']}"
        if not WITHIN[0] <= self.share_within <= WITHIN[1]:
            yield f"{100 * self.share_within:.2f} % of the numbers within 2 u of the truth, not 95 ± 3 %"
        if self.numbers["largest"].max() > self.largest_allowed:
            yield f"a number {self.numbers['largest'].max():.2f} u off the truth; allowed {self.largest_allowed:.2f} u"
        if self.false_rate > POOLED:
            yield f"{1000 * self.false_rate:.2f} false defects per 1,000 sound checks; allowed 1"
        if self.worst_run > SINGLE:
            yield f"{1000 * self.worst_run:.2f} false defects per 1,000 sound checks in one run; allowed 5"


def largest_of(count: int, *, confidence: float = CONFIDENCE) -> float:
    """Bound that the largest of `count` normal errors, in u, keeps with the given confidence.

    The chance that any of them exceeds z is at most ``count * 2 * (1 - Phi(z))``; that is set to
    ``1 - confidence``.

    Examples
    --------
    >>> round(largest_of(1), 3), round(largest_of(100_000), 3)
    (3.291, 5.731)
    """
    return float(-ndtri((1 - confidence) / (2 * count)))


def _stretch_problems(name: str, row: Mapping[str, float]) -> Iterable[str]:
    """The ends of a stretch are found by the data, which no prediction knows."""
    slack = SLACK * row["times"]
    # sections of sound work need no mean that speaks for them: each may stand by itself
    if row["missing"] > (slack if row["excess"] >= 0 else 3 * slack):
        yield f"{name}: nothing found in {row['missing']} of {row['times']}"
    if row["excess"] >= CERTAIN and row["OUT"] < row["times"] - slack:
        yield f"{name}: {row['excess']:.1f} u beyond its limit, OUT in {row['OUT']} of {row['times']}"
    if row["unadvised"]:
        yield f"{name}: undecided without a word of what would decide it in {row['unadvised']}"
    for verdict in VERDICTS:
        if not row[f"low {verdict}"] - slack <= row[verdict] <= row[f"high {verdict}"] + slack:
            yield f"{name}: {verdict} {row[verdict]} times, expected {row[f'mean {verdict}']:.1f}"


def _off_band(name: str, row: Mapping[str, float]) -> Iterable[str]:
    for verdict in VERDICTS:
        low, high = row[f"low {verdict}"], row[f"high {verdict}"]
        if not low <= row[verdict] <= high:
            yield f"{name}: {verdict} {row[verdict]} times, expected {row[f'mean {verdict}']:.1f} ({low} to {high})"


def pooled(runs: Iterable[Compared]) -> Score:
    """Pool the runs.

    Parameters
    ----------
    runs : iterable of Compared

    Notes
    -----
    Counts of independent checks with unequal chances scatter less than a binomial count of the
    same mean chance (Hoeffding 1956), so the binomial band is on the safe side.
    """
    import pandas as pd

    runs = list(runs)
    items = pd.concat([each.items for each in runs], ignore_index=True)
    shots = pd.concat([each.shots for each in runs], ignore_index=True)
    along = pd.concat([each.runs for each in runs], ignore_index=True)
    sound = shots[~shots["planted"]].rename(columns={"within": "p_IN", "undecided": "p_UNDECIDED", "out": "p_OUT"})
    return Score(
        runs=len(runs),
        planted=_planted(items),
        sound=_counted(sound.assign(p_NO_DATA=0.0), ["kind", "check"]),
        numbers=pd.concat([_numbers(shots, "shot"), _numbers(along, "run")], ignore_index=True),
        false_defects=pd.DataFrame([_false(each) for each in runs]),
        near=_near(pd.concat([each.other for each in runs], ignore_index=True)),
        sound_runs=along.loc[~along["planted"].astype(bool), "verdict"].value_counts().sort_index().to_dict(),
    )


def _planted(items: "pd.DataFrame") -> "pd.DataFrame":
    """Things that a verdict or a flag is expected on."""
    told = items[(items["check"] != "") | (items["expect"] != "") | (items["flag"] != "")]
    by = ["plant", "check", "level"]
    made = _counted(told, by)
    groups = told.groupby(by, sort=True)
    made["excess"] = groups["excess"].min().fillna(0.0).to_numpy(float)
    made["away"] = groups["away"].max().fillna(0.0).where(groups["level"].first() != "", 0.0).to_numpy(float)
    made["unadvised"] = groups["advised"].agg(lambda advised: int((~advised.astype(bool)).sum())).to_numpy(int)
    made["unflagged"] = groups["flagged"].agg(lambda flagged: sum(each is False for each in flagged)).to_numpy(int)
    return made


def _counted(rows: "pd.DataFrame", by: list[str]) -> "pd.DataFrame":
    """Counts of every verdict in groups, with the predicted mean and the band round it."""
    import pandas as pd

    made = []
    for key, group in rows.groupby(by, sort=True):
        expected = group[[f"p_{verdict}" for verdict in VERDICTS]].fillna(0.0)
        judged = bool(expected.to_numpy().sum() > 0)
        row = dict(zip(by, key, strict=True)) | {"times": len(group)}
        row["missing"] = int(group["verdict"].isin(["missing", "mixed"]).sum())
        for verdict in VERDICTS:
            mean = float(expected[f"p_{verdict}"].sum())
            low, high = (
                binomial_band(len(group), mean / len(group), confidence=CONFIDENCE) if judged else (0, len(group))
            )
            row |= {verdict: int((group["verdict"] == verdict).sum()), f"mean {verdict}": mean}
            row |= {f"low {verdict}": low, f"high {verdict}": high}
        made.append(row)
    return pd.DataFrame(made)


def _numbers(rows: "pd.DataFrame", level: str) -> "pd.DataFrame":
    """Errors of numbers over their u, by check."""
    known = rows[np.isfinite(rows["z"].to_numpy(float))]
    size = known["z"].abs().groupby(known["check"])
    made = size.agg(numbers="size", within=lambda z: (z <= 2).mean(), largest="max").reset_index()
    return made.rename(columns={"within": "within 2 u"}).assign(level=level)


def _near(other: "pd.DataFrame") -> "pd.DataFrame":
    """Verdicts on sound numbers that lie near their limit by design."""
    import pandas as pd

    mine = other[other["check"].isin(APART) & ~other["planted"].astype(bool)]
    made = []
    for check, rows in mine.groupby("check", sort=True):
        judged = rows[rows["verdict"] != "NO_DATA"]
        _, most = binomial_band(len(judged), 0.05, confidence=CONFIDENCE)
        counts = {verdict: int((judged["verdict"] == verdict).sum()) for verdict in VERDICTS[:3]}
        made.append({"check": check, "times": len(judged), **counts, "allowed": most})
    return pd.DataFrame(made, columns=["check", "times", *VERDICTS[:3], "allowed"])


def _false(run: Compared) -> dict[str, int]:
    """Sound checks of one run that were judged, and how many of them were called defects."""
    other = run.other[~run.other["check"].isin(APART)]
    sound = [part.loc[~part["planted"].astype(bool), "verdict"] for part in (run.shots, run.runs, other)]
    judged = sum(int(part.isin(["IN", "UNDECIDED", "OUT"]).sum()) for part in sound)
    return {"sound": judged, "false": sum(int((part == "OUT").sum()) for part in sound)}
