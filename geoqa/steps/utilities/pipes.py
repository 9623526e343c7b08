"""The network of pipes: their two ends, and how they fall."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pydantic import Field

from geoqa.contract.utilities import PIPE_NETWORK, PIPE_SLOPE
from geoqa.contract.utility_sentences import pipe_label
from geoqa.kernels.utilities.grades import grades
from geoqa.model import words
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, shaped
from geoqa.steps.judging.text_columns import taken
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS
from geoqa.steps.utilities.ends import WANTS, lines_of, notes_of, pipe_ends
from geoqa.steps.utilities.judged import Found, found, judged, listed, together
from geoqa.steps.utilities.questions import held, questions

SAME_SIZE = 0.006
"""Metres: a nominal size in inches and in millimetres are one."""
PIPE = "pipe"
"""Kind of a pipe of which neither notes nor design say one."""


@dataclass(frozen=True, kw_only=True)
class Pipe:
    """A pipe by the rows of its ends in `pipe_ends`; -1 where there is none.

    Attributes
    ----------
    name, kind, source : str
    upper, lower : int
    why : str
        Why it has no slope; empty where it has one.
    """

    name: str
    kind: str
    source: str
    upper: int
    lower: int
    why: str


class Pipes(Step):
    """Put pipes together from the ends that were noted, and judge their slopes.

    An end where water flows out of a structure is the upper one. Where the direction is not noted, the design tells
    it. A pipe that is held to no tolerance is held to 0: water runs down.
    """

    name = "pipes"
    needs = ("limits", *NEEDS)
    wants = ("precision", "minimum_slopes", *WANTS)
    gives = ("pipes",)
    adds = ("findings", "evidence")

    minimum_slopes: tuple[str, ...] = Field(
        (), description='Kinds held to the least slope of their diameter, by the preset "sewer-minimum"; not verified'
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Every pipe that was noted."""
        pipes = network(layers)
        made, rows = _slopes(layers, pipes)
        slopes = found(layers, rows, check=PIPE_SLOPE, least=0.0, words="water runs down; set by the method")
        by_size = _by_diameter(layers, made, rows, self.minimum_slopes)
        return {"pipes": made} | together(slopes, by_size, _faults(layers, pipes))


def network(layers: Layers) -> list[Pipe]:
    """Pipes of which an end is noted, by name."""
    if not len(notes_of(layers)):
        return []
    ends, upper = pipe_ends(layers), questions(layers)["upper"].to_numpy()
    design = lines_of(layers)
    made = []
    for name, rows in ends[ends["pipe"].notna()].groupby("pipe", sort=True):
        line = int(rows["design_line"].iloc[0])
        stated = rows["kind"].dropna()
        kind = str(stated.iloc[0]) if len(stated) else PIPE if line < 0 or design is None else str(design.kinds[line])
        source = str(rows["source"].iloc[0]) if line < 0 or design is None else str(design.sources[line])
        at = rows.index[rows["structure"].notna()].to_numpy()
        if len(at):
            high, low, why = _two_ends(ends, at, upper[at].copy())
            made.append(Pipe(name=str(name), kind=kind, source=source, upper=high, lower=low, why=why))
    return made


def _two_ends(ends: pd.DataFrame, at: np.ndarray, way: np.ndarray) -> tuple[int, int, str]:
    """Upper and lower end of a pipe, and what keeps it from having a slope."""
    if len(at) == 1:
        return int(at[0]), -1, "one-end"
    if len(at) > 2:
        return int(at[0]), int(at[1]), "many-ends"
    if way[0] == 0 or way[1] == 0:
        way = np.where(way == 0, -way[::-1], way)
    if way[0] == 0:
        return int(at[0]), int(at[1]), "no-direction"
    if way[0] == way[1]:
        return int(at[0]), int(at[1]), "many-ends"
    high, low = (int(each) for each in (at if way[0] > 0 else at[::-1]))
    why = next((str(why) for why in ends["why"].iloc[[high, low]] if why), "")
    apart = np.hypot(*(ends[["easting", "northing"]].iloc[high] - ends[["easting", "northing"]].iloc[low]))
    return high, low, why or ("no-length" if apart == 0 else "")


def _by_diameter(layers: Layers, made: pd.DataFrame, rows: pd.DataFrame, kinds: tuple[str, ...]) -> Found:
    """Slopes of some kinds against the least slope of their diameter; a size that the list lacks takes no limit."""
    if "minimum_slopes" not in layers or not kinds or not len(rows):
        return empty("findings"), empty("evidence")
    listed_sizes = layers["minimum_slopes"]
    metres = made["diameter"].to_numpy(float)[:, None] * layers.frame.unit.metres_float
    near = np.abs(metres - listed_sizes["diameter"].to_numpy(float)) <= SAME_SIZE
    nth = np.where(near.any(axis=1), near.argmax(axis=1), -1)
    asked = rows["kind"].isin(kinds).to_numpy(bool)
    least = np.where(nth >= 0, listed_sizes["slope"].to_numpy(float)[nth], 0.0)
    one = listed_sizes.iloc[0]
    rows = rows.assign(
        limit=-1, lower=least, upper=np.inf, rule="guarded", reference=one["reference"],
        edition=one["edition"], source=rows["source"] + "; " + str(one["ruleset"]),
        why=np.where((nth < 0) & (rows["why"] == 0), PIPE_SLOPE.why("no-least-of-size"), rows["why"]),
    )[asked].reset_index(drop=True)  # fmt: skip
    findings, evidence = judged(layers, rows, check=PIPE_SLOPE)
    return findings.assign(verified=pd.array([bool(one["verified"])] * len(findings), dtype="boolean")), evidence


def _slopes(layers: Layers, pipes: list[Pipe]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The layer `pipes`, and its slopes as rows to be judged, in the same order."""
    frame, unit = layers.frame, layers.frame.unit.name
    if not pipes:
        return shaped(empty("pipes"), [], frame), pd.DataFrame()
    ends, asked = pipe_ends(layers), questions(layers)
    pair = np.array([[each.upper, each.lower] for each in pipes])
    both = np.asarray((pair >= 0).all(axis=1))
    pair = np.where(pair >= 0, pair, pair[:, :1])
    places = ends[["easting", "northing", "invert"]].to_numpy(float)
    fall = grades(places[pair[:, 0]], places[pair[:, 1]])
    sound = np.array([not each.why for each in pipes])
    slope = np.where(sound & both, fall.slope, np.nan)
    members = np.where(both[:, None], ends["row"].to_numpy()[pair], -1)

    def show(value: float) -> str:
        return words.quantity(value, "slope", unit)

    gradient = {"easting": fall.easting, "northing": fall.northing, "elevation": fall.elevation}
    rows = derived_rows(layers, members, gradient, slope, show=show)
    with np.errstate(divide="ignore", invalid="ignore"):
        down = np.hypot(*ends["u_down"].to_numpy(float)[pair].T) / fall.length
        slip = asked["slip"].to_numpy(float)[pair]
        rows["u_random"] = np.hypot(rows["u_random"], down)
        rows = held(rows, pair.tolist(), (slip[:, 0] - slip[:, 1]) / fall.length, asked, show=show)
    own = np.array([PIPE_SLOPE.why(each.why) for each in pipes])
    rows["why"] = np.where(own > 0, own, rows["why"])
    design, steps = _design_slopes(layers, ends, pair)
    first, last = (ends.iloc[pair[:, nth]].reset_index(drop=True) for nth in (0, 1))
    length = np.where(both, fall.length, np.nan)
    labels = [
        pipe_label(a, b, words.quantity(far, "length", unit, digits=1), "" if np.isnan(d) else show(float(d)))
        if there
        else f"at {a}"
        for a, b, far, d, there in zip(first["structure"], last["structure"], length, design, both, strict=True)
    ]
    named = pd.DataFrame([{"kind": each.kind, "subject": each.name, "source": each.source} for each in pipes])
    middle = (places[pair[:, 0], :2] + places[pair[:, 1], :2]) / 2
    rows = rows.assign(
        **named, label=labels, design=np.nan, easting=middle[:, 0], northing=middle[:, 1],
        station=steps[0], station_end=steps[1], shot=rows["keys"].str[0],
    )  # fmt: skip
    made = _layer(layers, pipes, rows, fall_design=design, length=length, places=places, pair=pair)
    return made, rows


def _design_slopes(layers: Layers, ends: pd.DataFrame, pair: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Slope of each pipe's design line, and the stations of its ends."""
    line = ends["design_line"].to_numpy()[pair[:, 0]]
    design = lines_of(layers)
    if design is None:
        return np.full(len(pair), np.nan), np.full((2, len(pair)), np.nan)
    at = np.where(line >= 0, line, 0)
    start, end = (np.where(line >= 0, each[at], np.nan) for each in (design.start, design.end))
    fall = ends["design_fall"].to_numpy(float)[pair[:, 0]]
    with np.errstate(divide="ignore", invalid="ignore"):
        return fall / (end - start), np.stack([start, end])


def _layer(
    layers: Layers, pipes: list[Pipe], rows: pd.DataFrame, *, fall_design: np.ndarray, length: np.ndarray,
    places: np.ndarray, pair: np.ndarray,
) -> pd.DataFrame:  # fmt: skip
    """The layer `pipes`."""
    ends = pipe_ends(layers)
    sizes = attributes(layers)
    here = [sizes.get(each.name, {}) for each in pipes]
    table = pd.DataFrame(
        {"pipe": [each.name for each in pipes], "kind": [each.kind for each in pipes]}
        | {
            "upper": ends["structure"].iloc[pair[:, 0]].to_numpy(dtype=object),
            "lower": [ends["structure"].iloc[each.lower] if each.lower >= 0 else None for each in pipes],
        }
        | {"length": length, "slope": rows["measured"], "u_slope": np.hypot(rows["u_common"], rows["u_random"])}
        | {"design_slope": fall_design, "why": [each.why for each in pipes]}
        | {name: [each.get(name) for each in here] for name in ("diameter", "wall", "material")}
    )
    shapes = [
        shapely.linestrings(places[each, :2]) if far > 0 else None for each, far in zip(pair, length, strict=True)
    ]
    return shaped(conform("pipes", table), shapes, layers.frame)


def attributes(layers: Layers) -> dict[str, dict[str, Any]]:
    """Diameter and wall in the job's unit, and material, of every pipe that is noted."""
    notes = notes_of(layers)
    notes = notes[notes["pipe"].notna()]
    made: dict[str, dict[str, Any]] = {}
    for pipe, rows in notes.groupby("pipe", sort=True):
        known = {name: rows[name].dropna() for name in ("diameter", "wall", "material")}
        made[str(pipe)] = {name: values.iloc[0] if len(values) else None for name, values in known.items()}
        for name in ("diameter", "wall"):
            value = made[str(pipe)][name]
            made[str(pipe)][name] = np.nan if value is None else float(value) / layers.frame.unit.metres_float
    return made


def _faults(layers: Layers, pipes: list[Pipe]) -> Found:
    """Pipes that do not hang together, pipes of the design that nobody noted, measure-downs without a pipe."""
    if not len(notes_of(layers)):
        return empty("findings"), empty("evidence")
    ends = pipe_ends(layers)
    rows = [
        _place(ends, [each.upper, each.lower])
        | {"kind": each.kind, "subject": each.name, "source": each.source, "label": "ends as noted"}
        | {"why": PIPE_NETWORK.why(each.why)}
        for each in pipes
        if each.why in ("one-end", "many-ends")
    ]
    loose = ends.index[(ends["pipe"].isna() & ends["measure_down"].notna()).to_numpy()]
    rows += [
        _place(ends, [at])
        | {"kind": "structure", "subject": str(ends["structure"].iloc[at]), "source": str(ends["source"].iloc[at])}
        | {"label": "measure-down without a pipe", "why": PIPE_NETWORK.why("no-pipe")}
        for at in loose
    ]
    design = lines_of(layers)
    if design is not None:
        limits = layers["limits"]
        kinds = {each.kind for each in pipes} | set(limits.loc[limits["check"] == PIPE_SLOPE.name, "kind"])
        noted = set(ends["pipe"].dropna())
        tips = taken(list(design.names), np.arange(len(design.names)))
        for at in np.flatnonzero([kind in kinds for kind in design.kinds]).tolist():
            if tips[at] not in noted:
                named = {"kind": design.kinds[at], "subject": tips[at], "source": design.sources[at]}
                first = design.elements.start[np.flatnonzero(design.elements.line == at)[:1]].reshape(-1, 2)
                spot = first[0] if len(first) else (np.nan, np.nan)
                rows.append(
                    named | {"label": "no end noted", "why": PIPE_NETWORK.why("not-noted"), "keys": []}
                    | {"easting": spot[0], "northing": spot[1]}
                )  # fmt: skip
    return listed(layers, list({(row["subject"], row["why"]): row for row in rows}.values()), check=PIPE_NETWORK)


def _place(ends: pd.DataFrame, at: list[int]) -> dict[str, Any]:
    one = ends.iloc[at[0]]
    return {"easting": one["easting"], "northing": one["northing"], "keys": []}
