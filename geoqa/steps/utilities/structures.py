"""The schedule of structures: rims, measure-downs, inverts, attributes, and what is missing or looks misread."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.utilities import INVERT, INVERT_READING, STRUCTURE_DROP, STRUCTURE_RECORD
from geoqa.contract.utility_sentences import design_of_invert, end_name, inches_or_millimetres
from geoqa.contract.work import ELEVATION
from geoqa.model import words
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, placed
from geoqa.steps.judging.drawn_at import questions_of_design, stated_once
from geoqa.steps.judging.text_columns import taken
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS, observed
from geoqa.steps.shots.flags import noted
from geoqa.steps.utilities.ends import WANTS, lines_of, notes_of, pipe_ends
from geoqa.steps.utilities.judged import Found, found, judged, listed, together
from geoqa.steps.utilities.questions import RIM, held, questions
from geoqa.steps.utilities.reduced import reduced_shots

KIND = "invert"
ATTRIBUTES = ("size", "material", "type", "facing", "depth", "direction")


class Structures(Step):
    """Make the schedule of structures, judge inverts, and name measure-downs that look misread.

    An invert is the rim less the measure-down, or the shot of the invert itself. The design of it is the end of the
    pipe's design line within 10 ft; a line of a kind with the word top is lowered by diameter and wall. What the
    check elevation judges at a design point is not judged again. 1 sigma of a measure-down is that of the notes,
    else `[uncertainty.measure-down]` vertical_random, else 0.02 ft.
    """

    name = "structures"
    needs = ("limits", *NEEDS)
    wants = ("precision", "point_matches", "design_points", *WANTS)
    gives = ("structures", "reduced_shots")
    adds = ("findings", "evidence", "notes")

    required_of_pipe: tuple[str, ...] = Field(("size", "material"), description="Attributes every end of a pipe needs")
    required_of_structure: tuple[str, ...] = Field(("type",), description="Attributes every structure needs")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """The schedule first, then what it says."""
        if not len(notes_of(layers)):
            none = placed("structures", empty("structures"), layers.frame)
            return {
                "structures": none,
                "reduced_shots": empty("reduced_shots"),
                "notes": noted(self.name, []),
            } | together()
        ends, asked = pipe_ends(layers), questions(layers)
        schedule = self._schedule(layers, ends, asked)
        made = {"structures": placed("structures", schedule, layers.frame)}
        return (
            made
            | {"reduced_shots": reduced_shots(layers, asked), "notes": noted(self.name, questions_of_design(layers))}
            | together(
                _inverts(layers, ends, asked),
                _readings(layers, ends, asked),
                _drops(layers, ends, asked),
                self._missing(layers, ends, schedule),
            )
        )

    def _schedule(self, layers: Layers, ends: pd.DataFrame, asked: pd.DataFrame) -> pd.DataFrame:
        rows = _of_ends(layers, ends, asked)
        metres = layers.frame.unit.metres_float
        filled_in = {name: stated_once(ends, name) for name in ("size", "material", "diameter", "wall")}
        for name in ("type", "facing", "depth", "sump"):
            filled_in[name] = stated_once(ends, name, by="structure")
        lacks = [
            [name for name in wanted if name in values and _empty(values[name])]
            for wanted, values in zip(
                [
                    (*(self.required_of_structure if first else ()), *(self.required_of_pipe if piped else ()))
                    for first, piped in zip(_firsts(ends), ends["pipe"].notna(), strict=True)
                ],
                pd.DataFrame(filled_in).assign(direction=ends["direction"]).to_dict("records"),
                strict=True,
            )
        ]
        made = ends[["structure", "pipe", "direction", "easting", "northing", "rim", "measure_down", "invert"]].assign(
            shot_key=taken(observed(layers)["shot"], ends["row"]),
            elevation=ends["rim"].where(ends["invert_shot"].isna(), ends["invert"]),
            sump=ends["rim"] - filled_in["sump"],
            u_common=rows["u_common"],
            u_random=rows["u_random"],
            design_invert=ends["design_invert"],
            deviation=ends["invert"] - ends["design_invert"],
            **{name: filled_in[name] for name in ("size", "material", "type", "facing", "depth")},
            diameter=filled_in["diameter"] / metres,
            wall=filled_in["wall"] / metres,
            missing=[", ".join(each) for each in lacks],
            question=asked["question"],
            invert_without=(ends["invert"] + asked["slip"]).where(asked["question"] != ""),
            why=ends["why"],
        )
        return conform("structures", made[(ends["structure"].notna())].reset_index(drop=True))

    def _missing(self, layers: Layers, ends: pd.DataFrame, schedule: pd.DataFrame) -> Found:
        rows = [
            _plain(row, source=str(source), why=STRUCTURE_RECORD.why("not-recorded"), kind="structure")
            | {"measured": float(len(row["missing"].split(", ")))}
            for row, source, noted in zip(
                schedule.to_dict("records"), ends.loc[ends["structure"].notna(), "source"], _on_shots(ends), strict=True
            )
            # who writes a measure-down on a shot keeps no schedule of attributes
            if row["missing"] and not noted
        ]
        for row in rows:
            row["label"] = f"{row.pop('lacks')} not recorded"
        return listed(layers, _once(rows), check=STRUCTURE_RECORD)


def _on_shots(ends: pd.DataFrame) -> np.ndarray:
    """Which rows of the schedule stand in the note of a shot."""
    there = ends["structure"].notna()
    return ends.loc[there, "on_shot"].to_numpy(bool) if "on_shot" in ends else np.zeros(int(there.sum()), dtype=bool)


def _plain(row: dict[Any, Any], *, source: str, why: int, kind: str) -> dict[str, Any]:
    """What a row of the schedule is called, and where it lies."""
    name = end_name(row["structure"], row["pipe"], row["direction"])
    key = row["shot_key"]
    return {
        "kind": kind, "subject": name, "source": source, "label": name, "why": why, "lacks": row["missing"],
        "easting": row["easting"], "northing": row["northing"], "keys": [key] if isinstance(key, str) else [],
    }  # fmt: skip


def _once(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """One row a name: what stands twice in the notes is told once."""
    return list({row["subject"]: row for row in rows}.values())


def _empty(value: object) -> bool:
    return value is None or value != value or value == ""


def _firsts(ends: pd.DataFrame) -> np.ndarray:
    """The first row of each structure: it bears what the structure itself needs."""
    return (ends["structure"].notna() & ~ends["structure"].duplicated()).to_numpy(bool)


def _of_ends(layers: Layers, ends: pd.DataFrame, asked: pd.DataFrame) -> pd.DataFrame:
    """Rows to be judged of the inverts of all ends, as read."""
    unit = layers.frame.unit.name

    def show(value: float) -> str:
        return words.usual(value, unit)

    rows = derived_rows(
        layers, ends["row"].to_numpy()[:, None], {"elevation": np.ones((len(ends), 1))},
        ends["invert"].to_numpy(float), design=ends["design_invert"].to_numpy(float), show=show,
    )  # fmt: skip
    rows["u_random"] = np.hypot(rows["u_random"], ends["u_down"])
    slip, left = (asked[name].to_numpy(float) for name in ("slip", "left"))
    return held(rows, [[each] for each in range(len(ends))], slip, asked, show=show, by_rim=left)


def _inverts(layers: Layers, ends: pd.DataFrame, asked: pd.DataFrame) -> Found:
    rows = _of_ends(layers, ends, asked)
    own = [INVERT.why(each) for each in ends["why"]]
    no_design = np.array([INVERT.why(each or "no-design-invert") for each in ends["design_why"]])
    lost = np.where(ends["design_invert"].isna(), no_design, 0)
    rows["why"] = np.select([np.array(own, int) > 0, rows["why"] > 0], [own, rows["why"]], lost)
    # a row without a structure notes sizes of a pipe, no end of it
    asked_of = (
        ~ends["alone"]
        & ends["pipe"].notna()
        & ends["structure"].notna()
        & ~(_judged_as_points(layers, ends) & (ends["why"] != "rim-below"))
    )
    return found(layers, _named(ends, rows, layers)[asked_of.to_numpy()], check=INVERT)


def _judged_as_points(layers: Layers, ends: pd.DataFrame) -> np.ndarray:
    """Ends whose invert is a shot of its own that the check elevation judges against a design point."""
    if "point_matches" not in layers or "design_points" not in layers:
        return np.zeros(len(ends), dtype=bool)
    limits, points, matches = layers["limits"], layers["design_points"], layers["point_matches"]
    held_to = set(limits.loc[limits["check"] == ELEVATION.name, "kind"])
    high = points.loc[points["elevation"].notna(), "point"]
    keys = matches.loc[matches["chosen"] & matches["design"].isin(high), "shot_key"]
    shots = observed(layers)
    mine = (shots["shot"].isin(keys) & shots["kind"].isin(held_to)).to_numpy(bool)
    row = ends["row"].to_numpy()
    shot = ends["invert_shot"].notna().to_numpy() & (row >= 0)
    return shot & mine[np.where(row >= 0, row, 0)] if len(mine) else np.zeros(len(ends), dtype=bool)


def _named(ends: pd.DataFrame, rows: pd.DataFrame, layers: Layers) -> pd.DataFrame:
    names = [end_name(*each) for each in ends[["structure", "pipe", "direction"]].itertuples(index=False)]
    names = [f"{name} ({n})" if (n := names[:at].count(name)) else name for at, name in enumerate(names)]
    design, line = lines_of(layers), ends["design_line"].to_numpy()
    of_line = None if design is None else taken(list(design.sources), line)
    return rows.assign(
        kind=KIND, subject=names, label=_taken_at(layers, ends), easting=ends["easting"], northing=ends["northing"],
        elevation=ends["invert"], shot=taken(observed(layers)["shot"], ends["row"]),
        source=ends["source"] if of_line is None else of_line.where(of_line.notna(), ends["source"]),
    )  # fmt: skip


def _taken_at(layers: Layers, ends: pd.DataFrame) -> list[str]:
    """Which shots an invert rests on, and the design it is held against where that was worked out."""
    shots, unit = observed(layers)["name"].to_numpy(dtype=object), layers.frame.unit.name
    made = []
    for row, direct, down in zip(ends["row"], ends["invert_shot"].notna(), ends["measure_down"], strict=True):
        reading = "" if np.isnan(down) else f" less {words.usual(down, unit)}"
        made.append("no shot" if row < 0 else f"shot {shots[row]}" if direct else f"rim shot {shots[row]}{reading}")
    return [
        f"{label}; {design}" if design else label for label, design in zip(made, _worked_out(ends, unit), strict=True)
    ]


def _worked_out(ends: pd.DataFrame, unit: str) -> list[str]:
    """How the design of each invert comes from a top; empty where the design line has it."""
    foot = unit != "m"
    diameter, wall = (stated_once(ends, name).to_numpy(float) for name in ("diameter", "wall"))
    return [
        design_of_invert(words.usual(top, unit), *(inches_or_millimetres(size, foot) for size in sizes))
        if depth > 0 and np.isfinite(top)
        else ""
        for top, depth, *sizes in zip(ends["design_drawn"], ends["design_depth"], diameter, wall, strict=True)
    ]


def _readings(layers: Layers, ends: pd.DataFrame, asked: pd.DataFrame) -> Found:
    mine = (asked["question"] != "").to_numpy()
    rows = _named(ends, _of_ends(layers, ends, asked), layers).assign(
        limit=-1, lower=-np.inf, upper=np.inf, rule="guarded", reference="whole steps of a tape, by the method",
        measured=ends["measure_down"], design=ends["measure_down"] - asked["slip"], deviation=asked["slip"],
        why=np.where(asked["question"] == RIM, *(INVERT_READING.why(each) for each in ("other-rim", "misread"))),
        cause=asked["title"], label="measure-down",
    )  # fmt: skip
    rows = rows.drop(columns=["without", "without_own", "u_without", "cause_both"], errors="ignore")[mine].reset_index(
        drop=True
    )
    return judged(layers, rows, check=INVERT_READING)


def _drops(layers: Layers, ends: pd.DataFrame, asked: pd.DataFrame) -> Found:
    """Of every structure with an end in and one out, the lowest invert in and the highest out."""
    invert, unit = ends["invert"].to_numpy(float), layers.frame.unit.name
    pairs, lost = [], []
    for _, rows in ends[ends["structure"].notna() & ends["pipe"].notna()].groupby("structure", sort=True):
        at = rows.index.to_numpy()
        way, known = asked["upper"].to_numpy()[at], np.isfinite(invert[at])
        enter, leave = at[(way < 0) & known], at[(way > 0) & known]
        below = at[(ends["why"].iloc[at] == "rim-below").to_numpy()]
        if len(below) and (way < 0).any() and (way > 0).any():
            # the one that is not known may be the lowest in, or the highest out
            lost.append((at[way < 0][0], at[way > 0][0]))
        elif len(enter) and len(leave):
            pairs.append((enter[np.argmin(invert[enter])], leave[np.argmax(invert[leave])]))
    if not pairs and not lost:
        return empty("findings"), empty("evidence")
    pair = np.array(pairs + lost)
    unknown = np.arange(len(pair)) >= len(pairs)
    row = ends["row"].to_numpy()[pair]
    fall = np.where(unknown, np.nan, invert[pair[:, 0]] - invert[pair[:, 1]])
    # one rim under both cancels
    weight = np.where((row[:, 0] == row[:, 1])[:, None], 0.0, [[1.0, -1.0]])

    def show(value: float) -> str:
        return words.usual(value, unit)

    made = derived_rows(layers, row, {"elevation": weight}, fall, show=show)
    u_down = ends["u_down"].to_numpy(float)[pair]
    made["u_random"] = np.hypot(made["u_random"], np.hypot(*u_down.T))
    slip = asked["slip"].to_numpy(float)[pair]
    made["why"] = np.where(unknown, STRUCTURE_DROP.why("rim-below"), made["why"])
    made = held(made, pair.tolist(), slip[:, 0] - slip[:, 1], asked, show=show)
    first = ends.iloc[pair[:, 0]].reset_index(drop=True)
    other = ends.iloc[pair[:, 1]].reset_index(drop=True)
    made = made.assign(
        kind="structure", subject=first["structure"], source=first["source"], design=np.nan,
        label=first["pipe"] + " in to " + other["pipe"] + " out",
        easting=first["easting"], northing=first["northing"], shot=made["keys"].str[0],
    )  # fmt: skip
    return found(layers, made, check=STRUCTURE_DROP, least=0.0, words="water runs down; set by the method")
