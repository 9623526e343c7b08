"""The crew's two days: clock, names, raw log, what was really built, and the errors made.

The plan has one row a shot. Its truth and its errors stand in separate columns:

======================  =================================================================
``base_e, base_n, base_z``  design, or published value of a mark
``aside, dev_z``            true offset (right positive) and elevation off the design line
``dev_e, dev_n``            true position off the design point or the published mark
``common_e/n/v``            errors shared with other shots: session, published value of a mark
``err_e/n/v``               errors of this shot alone
======================  =================================================================

`noted_down` says that the notes of structures have the measure-down of an invert, not its shot.
``copied, swapped, scale, lift, shown, written_elevation`` say how the shot is written; `shown` names a frame that
stands in place of the job's (`geoqa.simulate.crew.shown`).
Measured = base + true deviation + common + own error.
"""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.simulate.crew.draws import stream
from geoqa.simulate.crew.route import SESSIONS, route
from geoqa.simulate.site import scenario

if TYPE_CHECKING:
    import pandas as pd

ROD = 6.562
"""Rod of 2.000 m to the antenna reference, in feet."""

PACE = 5.0
"""Feet a second between one place and the next."""

_NOTES = {
    "curb-flow": ("at joint", "gutter clean", "mortar on pan", "low spot holds leaves"),
    "curb-top": ("back of curb at joint", "form still on", "chipped edge", "tooled joint"),
    "walk-front": ("at joint", "saw cut", "broom finish", "grass over edge"),
    "walk-back": ("at joint", "fence 2 ft off", "backfill low", "hedge 3 ft off"),
    "water-top": ("joint", "tracer wire taped", "polywrap on"),
    "storm-top": ("bell", "barrel", "joint wrapped"),
    "rim": ("frame set in mortar",),
    "valve": ("centre of lid",),
    "hydrant": ("centre of flange, outlet toward street",),
    "ramp": ("corner", "broom finish"),
    "detectable-warning": ("corner of panel",),
    "driveway": ("edge of concrete",),
    "ground": ("grass strip",),
    "control": ("bipod, plumb, 180 epochs",),
}

_TEXTS = ("id", "kind", "line_id", "target", "design", "session", "source")
_NUMBERS = ("station", "at", "azimuth", "base_e", "base_n", "base_z", "tilt", "tilt_azimuth")


def plan(seed: int) -> "pd.DataFrame":
    """Every shot of the route with truth, errors and raw log, before anything is planted."""
    import pandas as pd

    rows = route(seed)
    shots = pd.DataFrame(
        {
            **{name: pd.array([row.get(name) for row in rows], dtype="str") for name in _TEXTS},
            "sequence": pd.array([row.get("sequence") for row in rows], dtype="Int64"),
            **{name: np.array([row.get(name, np.nan) for row in rows], float) for name in _NUMBERS},
        }
    )
    shots["plant"] = pd.array([""] * len(shots), dtype="str")
    _name_and_time(shots, seed)
    _built(shots, seed)
    _errors(shots, seed)
    _raw_log(shots, seed)
    shots["copied"], shots["swapped"], shots["noted_down"] = False, False, False
    shots["scale"], shots["lift"] = 1.0, 0.0
    shots["shown"] = pd.array([""] * len(shots), dtype="str")
    shots["written_elevation"] = pd.array([None] * len(shots), dtype="str")
    return shots


def _name_and_time(shots: "pd.DataFrame", seed: int) -> None:
    import pandas as pd

    first = {"day1": 1001, "day2": 2001}
    shots["shot"] = shots["source"].map(first).astype(int) + shots.groupby("source").cumcount()
    shots["shot"] = shots["shot"].astype("str")
    usual = stream(seed, "clock").integers(24, 48, len(shots))
    taken = np.where(shots["kind"] == "control", 230, np.where(shots["kind"] == "tilt-test", 22, usual))
    # nobody measures while walking to the next string
    seconds = pd.Series(np.maximum(taken, np.round(_walked(shots) / PACE + 12.0)), index=shots.index)
    start = shots["session"].map({name: when for name, (_, when) in SESSIONS.items()})
    since = seconds.groupby(shots["session"]).cumsum()
    shots["time"] = (pd.to_datetime(start, utc=True) + pd.to_timedelta(since, unit="s")).astype("datetime64[us, UTC]")
    block = shots.groupby("session").cumcount() // 60 + 1
    shots["initialization"] = (shots["session"] + block.astype("str")).astype("str")


def _walked(shots: "pd.DataFrame") -> np.ndarray:
    """Feet from the shot before; 0 for the first of a session."""
    place = shots[["base_e", "base_n"]].to_numpy()
    far = np.append(0.0, np.hypot(*np.diff(place, axis=0).T))
    return np.where(shots["session"] == shots["session"].shift(), far, 0.0)


def _built(shots: "pd.DataFrame", seed: int) -> None:
    """Sound construction wanders slowly about its design, by far less than any tolerance."""
    count = len(shots)
    aside, rise = np.zeros(count), np.zeros(count)
    for name in sorted(shots.loc[shots["target"] == "line", "design"].unique()):
        rows = np.flatnonzero(shots["design"] == name)
        phase = stream(seed, f"built {name}").uniform(0.0, 2 * np.pi, (2, 2))
        station = shots["station"].to_numpy()[rows]
        waves = np.sin(2 * np.pi * station / np.array([[180.0], [410.0]]) + phase[:, :, None]).mean(axis=1)
        aside[rows], rise[rows] = scenario.BUILT_OFFSET * waves[0], scenario.BUILT_ELEVATION * waves[1]
    point = (shots["target"] == "point").to_numpy()
    draw = stream(seed, "built points").uniform(-1.0, 1.0, (3, count))
    shots["aside"] = aside
    shots["dev_e"] = np.where(point, scenario.BUILT_OFFSET * draw[0], 0.0)
    shots["dev_n"] = np.where(point, scenario.BUILT_OFFSET * draw[1], 0.0)
    shots["dev_z"] = np.where(point, scenario.BUILT_ELEVATION * draw[2], rise)


def _errors(shots: "pd.DataFrame", seed: int) -> None:
    noise = stream(seed, "noise").normal(size=(4, len(shots)))
    shots["err_e"] = scenario.U_HORIZONTAL * noise[0]
    shots["err_n"] = scenario.U_HORIZONTAL * noise[1]
    invert = (shots["kind"] == "invert").to_numpy()
    shots["err_v"] = scenario.U_VERTICAL * noise[2] + np.where(invert, scenario.U_MEASURE_DOWN * noise[3], 0.0)
    _add_tilt(shots, seed)
    bias = session_biases(seed)
    shots["common_v"] = shots["session"].map(bias).astype(float)
    shots["common_e"], shots["common_n"] = 0.0, 0.0
    for mark, (east, north, elevation) in mark_errors(seed).items():
        there = (shots["target"] == "mark") & (shots["design"] == mark)
        shots.loc[there, ["common_e", "common_n"]] = [east, north]
        shots.loc[there, "common_v"] += elevation


def session_biases(seed: int) -> dict[str, float]:
    """Elevation bias of every session."""
    draw = stream(seed, "session biases").normal(0.0, scenario.U_SESSION, len(SESSIONS))
    return dict(zip(SESSIONS, draw.tolist(), strict=True))


def mark_errors(seed: int) -> dict[str, tuple[float, float, float]]:
    """True minus published position of every mark."""
    horizontal, vertical = scenario.CONTROL_U
    draw = stream(seed, "published marks").normal(size=(len(scenario.CONTROL), 3)) * [horizontal, horizontal, vertical]
    return {mark: tuple(row) for mark, row in zip(scenario.CONTROL, draw.tolist(), strict=True)}


def _add_tilt(shots: "pd.DataFrame", seed: int) -> None:
    """Errors of the tilt test: heading 1.0°, tilt angle 0.3°, both one sigma, for the compensated shots."""
    draw = stream(seed, "tilt test").normal(size=(2, len(shots)))
    tilt = np.radians(shots["tilt"].fillna(0.0).to_numpy())
    toward = np.radians(shots["tilt_azimuth"].fillna(0.0).to_numpy())
    on = tilt > 0
    radial = np.where(on, ROD * np.cos(tilt) * np.radians(0.3) * draw[0], 0.0)
    aside = np.where(on, ROD * np.sin(tilt) * np.radians(1.0) * draw[1], 0.0)
    shots["err_e"] += radial * np.sin(toward) + aside * np.cos(toward)
    shots["err_n"] += radial * np.cos(toward) - aside * np.sin(toward)
    # one wrong angle moves the tip towards the antenna and down
    shots["err_v"] -= np.where(on, ROD * np.sin(tilt) * np.radians(0.3) * draw[0], 0.0)


def _raw_log(shots: "pd.DataFrame", seed: int) -> None:
    import pandas as pd

    draw, count = stream(seed, "raw log"), len(shots)
    check, point = (shots["kind"] == "control").to_numpy(), (shots["target"] == "point").to_numpy()
    shots["solution"] = pd.array(["fixed"] * count, dtype="str")
    shots["satellites"] = draw.integers(13, 25, count)
    shots["epochs"] = np.where(check, 180, np.where(point, 10, 5))
    shots["hdop"] = draw.uniform(0.55, 0.95, count).round(2)
    shots["vdop"] = draw.uniform(0.90, 1.60, count).round(2)
    shots["pdop"] = np.hypot(shots["hdop"], shots["vdop"]).round(2)
    shots["correction_age"] = draw.uniform(0.6, 1.9, count).round(1)
    shots["reported_h"] = (scenario.U_HORIZONTAL * np.sqrt(2) * draw.uniform(0.8, 1.15, count)).round(3)
    shots["reported_v"] = (0.028 * draw.uniform(0.8, 1.15, count)).round(3)
    shots["rod_height"] = ROD
    plumb = shots["tilt"].isna() | (shots["tilt"] == 0)
    shots["tilt"] = shots["tilt"].mask(plumb, draw.uniform(0.0, 0.4, count)).round(1)
    shots["tilt_azimuth"] = shots["tilt_azimuth"].mask(plumb, draw.uniform(0.0, 359.9, count)).round(1)
    picks, spoken = draw.integers(0, 100, count), draw.uniform(size=count)
    shots["note"] = pd.array(
        [_note(*row) for row in zip(shots["kind"], check | point, picks, spoken, strict=True)], dtype="str"
    )
    snapped = check | point | (spoken > 0.97)
    frames = 231 + np.cumsum(np.where(snapped, draw.integers(1, 4, count), 0))
    shots["photo"] = pd.array(
        [f"IMG_{frame:04d}.jpg" if taken else None for frame, taken in zip(frames, snapped, strict=True)], dtype="str"
    )


def _note(kind: str, always: bool, pick: int, spoken: float) -> str | None:
    words = _NOTES.get(kind, ())
    return words[pick % len(words)] if words and (always or spoken < 0.12) else None
