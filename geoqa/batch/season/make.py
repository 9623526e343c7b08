"""From the parts of jobs to the tables of a season."""

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.batch.season.achieved import achieved_table
from geoqa.batch.season.checks import season_checks, season_unit
from geoqa.batch.season.marks import alone, drifting_marks
from geoqa.batch.season.receivers import receivers_apart
from geoqa.model.season import Season
from geoqa.model.signs import SIGNS

if TYPE_CHECKING:
    import pandas as pd


def make_season(
    jobs: Sequence[tuple[str, Mapping[str, Any], "pd.DataFrame"]],
    rows: "pd.DataFrame",
    *,
    crews: bool = False,
    others: tuple[str, ...] = (),
) -> Season:
    """Make all tables.

    Parameters
    ----------
    jobs : sequence of (label, facts, checks)
        Of jobs that were judged, as their parts keep them; `checks` has a column `crew` where crews are asked for.
    rows : DataFrame
        Table `jobs` of `geoqa.model.season.Season`.
    crews : bool
    others : tuple of str
        TOML files that are no jobs.
    """
    facts = [each for _, each, _ in jobs]
    unit = season_unit([each["unit"] for each in facts])
    checks = season_checks(jobs, unit)
    marks, values, off = drifting_marks(checks)
    return Season(
        unit=unit,
        jobs=rows,
        shares=_shares(facts),
        achieved=achieved_table(checks, off, crews=crews),
        marks=marks,
        mark_values=values,
        receivers=receivers_apart(checks, off),
        causes=_causes(jobs),
        alone=alone(checks),
        without_time=int(checks["time"].isna().sum()),
        clocks=tuple(sorted(set(checks["clock"]))),
        frames=len({each["frame"] for each in facts}),
        without_receiver=sum(each["files_without_receiver"] for each in facts),
        crews=crews,
        others=others,
    )


def crews_of(job: Path) -> dict[str, str]:
    """Crew of each file of shots of a job file that states one: read when it is asked for, and kept nowhere."""
    table = tomllib.loads(job.read_text(encoding="utf-8-sig"))
    return {
        str(each.get("id") or Path(str(each.get("file", ""))).stem): str(each["crew"])
        for each in table.get("shots", [])
        if each.get("crew")
    }


def _shares(facts: Sequence[Mapping[str, Any]]) -> "pd.DataFrame":
    import pandas as pd

    rows = [{"owner": each["owner"], **row} for each in facts for row in each["work"]]
    table = pd.DataFrame(rows, columns=["owner", "kind", *SIGNS])
    made = table.groupby(["owner", "kind"], as_index=False)[list(SIGNS)].sum()
    made.insert(2, "numbers", made[list(SIGNS)].sum(axis=1))
    return made


def _causes(jobs: Sequence[tuple[str, Mapping[str, Any], "pd.DataFrame"]]) -> "pd.DataFrame":
    import pandas as pd

    rows = [{**cause, "job": label} for label, facts, _ in jobs for cause in facts["causes"]]
    made = []
    for (cause, title), mine in pd.DataFrame(rows, columns=["cause", "title", "shots", "receivers", "job"]).groupby(
        ["cause", "title"], sort=True
    ):
        made.append({
            "cause": cause, "title": title, "jobs": mine["job"].nunique(), "shots": mine["shots"].sum(),
            "receivers": ", ".join(sorted({each for used in mine["receivers"] for each in used})),
            "where": ", ".join(dict.fromkeys(mine["job"])),
        })  # fmt: skip
    table = pd.DataFrame(made, columns=["cause", "title", "jobs", "shots", "receivers", "where"])
    return table.sort_values(["jobs", "cause"], ascending=[False, True], ignore_index=True)
