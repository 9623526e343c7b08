"""Jobs whose errors are not what their record says, and how often each part of a stated uncertainty holds them.

A variant is one of the demo's jobs with other errors or another record of them: a log that states too little, heavy
tails, errors that follow each other, a session off in plan, a wrong heading, no log at all.
"""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from bench.worlds import NEEDED, Tables, World, checked_in
from geoqa.job.plan import default_steps
from geoqa.simulate.crew.crew import ROD
from geoqa.simulate.crew.draws import stream
from geoqa.simulate.crew.plants import Item, Sown, plant
from geoqa.simulate.make import Simulated

if TYPE_CHECKING:
    import pandas as pd

WITHIN = 1.959963984540054
"""Standard uncertainties that hold 95 %."""
HEADING = 3.0
"""Degrees by which a heading is off, one way in all of a session."""


@plant("W11", "session C leans 10 to 25°, with a heading that is 3° off")
def _wrong_heading(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan.index[(plan["session"] == "C") & plan["target"].isin(["line", "point"])]
    draw = stream(seed, "leaning session").uniform(size=(2, len(rows)))
    lean, toward = np.radians(10.0 + 15.0 * draw[0]), 2 * np.pi * draw[1]
    turned = toward + np.radians(HEADING)
    plan.loc[rows, "common_e"] += ROD * np.sin(lean) * (np.sin(turned) - np.sin(toward))
    plan.loc[rows, "common_n"] += ROD * np.sin(lean) * (np.cos(turned) - np.cos(toward))
    plan.loc[rows, "tilt"], plan.loc[rows, "tilt_azimuth"] = np.degrees(lean).round(1), np.degrees(toward).round(1)
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


def _from_the_log(share: float, then: Callable[[Tables], Tables] | None = None) -> Callable[[Tables], Tables]:
    """Nothing declared, and a log that reports that share of the demo's precisions."""

    def change(tables: Tables) -> Tables:
        shots = tables["shots"].copy()
        shots[["reported_h", "reported_v"]] *= share
        made = tables | {"shots": shots, "precision": tables["precision"].iloc[:0]}
        return made if then is None else then(made)

    return change


VARIANTS = (
    World(name="log", record=_from_the_log(1.0)),
    World(name="log says half", record=_from_the_log(0.5)),
    World(name="log says a third", record=_from_the_log(1 / 3)),
    World(name="log says half, no checks", record=_from_the_log(0.5, checked_in(""))),
    World(name="log says half, t", plants=("W02",), record=_from_the_log(0.5)),
    World(name="log says half, AR(1)", plants=("W03",), record=_from_the_log(0.5)),
    World(name="no log", record=_from_the_log(np.nan)),
    World(name="plan bias declared 0", plants=("W04",)),
    World(name="heading off", plants=("W11",)),
)


def steps_of_parts() -> list[Any]:
    """What makes verdicts on single shots."""
    wanted = {*NEEDED} - {"runs", "coverage", "positions"}
    return [step for step in default_steps() if step.name in wanted]


def held(job: Simulated, layers: Mapping[str, Any]) -> dict[str, float]:
    """Share of errors within 1.96 of their u, for each check and part."""
    errors = errors_of(job, layers)
    return {
        f"{check} {part}": float((mine[part].abs() <= WITHIN).mean())
        for check, mine in errors.groupby("check")
        for part in ("whole", "random", "common")
    }


def errors_of(job: Simulated, layers: Mapping[str, Any]) -> "pd.DataFrame":
    """Errors over their stated parts, one row for every judged offset and elevation of a shot on a line.

    Columns: check, session, `whole`, `random` and `common`, each in its own standard uncertainty; lengths of u.
    """
    import pandas as pd

    findings = pd.DataFrame(layers["findings"]).drop(columns="geometry", errors="ignore")
    rows = findings[findings["shot"].notna() & findings["check"].isin(["offset", "elevation"])]
    rows = rows[rows["verdict"].isin(["IN", "OUT", "UNDECIDED"])]
    truth = job.truth.shots.set_index("shot_key").loc[rows["shot"]]
    shots = job.tables["shots"].set_index("shot_key").loc[rows["shot"]]
    matches = layers["line_matches"]
    chosen = matches[matches["chosen"]].drop_duplicates("shot_key").set_index("shot_key")
    azimuth = np.radians(chosen["azimuth"].reindex(rows["shot"]).to_numpy(float))
    total = shots[["easting", "northing", "elevation"]].to_numpy(float) - truth[
        ["easting", "northing", "elevation"]
    ].to_numpy(float)
    common = truth[["common_e", "common_n", "common_v"]].to_numpy(float)
    own = total - common

    def felt(error: np.ndarray) -> np.ndarray:
        across = error[:, 0] * np.cos(azimuth) - error[:, 1] * np.sin(azimuth)
        return np.where(rows["check"].to_numpy() == "offset", across, error[:, 2])

    with np.errstate(divide="ignore", invalid="ignore"):
        made = pd.DataFrame(
            {
                "check": rows["check"].to_numpy(),
                "session": shots["session"].to_numpy(),
                "whole": felt(total) / np.hypot(rows["u_common"], rows["u_random"]).to_numpy(float),
                "random": felt(own) / rows["u_random"].to_numpy(float),
                "common": np.where(felt(common) == 0, 0.0, felt(common) / rows["u_common"].to_numpy(float)),
                "u_common": rows["u_common"].to_numpy(float),
                "u_random": rows["u_random"].to_numpy(float),
                "verdict": rows["verdict"].to_numpy(),
            }
        )
    return made[np.isfinite(azimuth) & np.isfinite(made["whole"])]
