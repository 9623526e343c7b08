"""Files of shots in the shapes that receivers, offices and spreadsheets write, made here, so that the truth is known.

Each is read right, or it is asked about (refused in words, or its value left out and told); it is silently wrong if a
value differs from what was written and nobody says so.
"""

from dataclasses import dataclass, replace
from itertools import count, product

import numpy as np
import pandas as pd

from geoqa.errors import OrderError, SourceError
from geoqa.frames.files.reading import FileAsRead
from geoqa.job.inputs.column_order import Unsettled, settled
from geoqa.model.source import Source
from geoqa.read.shots import ShotsText

NAMED = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "blanks"}
MARKS = ((",", "."), *product(";\t|", ".,"), (" ", "."), (" ", ","))
HEADS = {
    "long": {
        "shot": "Point",
        "easting": "Easting",
        "northing": "Northing",
        "elevation": "Elevation",
        "code": "Code",
        "time": "Date Time",
        "day": "Date",
        "note": "Remarks",
        "rod_height": "Rod Height",
        "tilt": "Tilt",
    },
    "letters": {
        "shot": "P",
        "easting": "E",
        "northing": "N",
        "elevation": "Z",
        "code": "Desc",
        "time": "Local Time",
        "day": "Date",
        "note": "Notes",
        "rod_height": "Rod",
        "tilt": "Lean",
    },
    "capitals": {
        "shot": "PtNo",
        "easting": "GridEast",
        "northing": "GridNorth",
        "elevation": "OrthoHeight",
        "code": "FeatureCode",
        "time": "LocalTime",
        "day": "LocalDate",
        "note": "Comment",
        "rod_height": "RodHeight",
        "tilt": "TiltAngle",
    },
    "units": {
        "shot": "Pt",
        "easting": "East",
        "northing": "North (ft)",
        "elevation": "Elev",
        "code": "Description",
        "time": "UTC",
        "day": "Day",
        "note": "Comments",
        "rod_height": "rod_ht",
        "tilt": "tilt_deg",
    },
    "none": {},
}
ORDERS = {"E N": ("easting", "northing"), "N E": ("northing", "easting")}
QUOTES = ("none", "of text", "of all")
COMMENTS = ("none", "above", "above and between")
TRAILS = ("none", "blanks", "empty field", "blank lines")
TIMES = ("none", "with zone", "local", "date and time")
TEXTS = ("codes", "words with numbers", "marks inside")
SITES = ((2_228_500.0, 446_000.0, 1460.0), (1_415_200.0, 415_100.0, 902.0), (500_350.0, 4_901_200.0, 250.0))
"""A zone in international feet, one in US survey feet, and one in metres whose northing is the larger."""
ROWS = 14
ASKING = ("state", "State", "no time", "trouble")


@dataclass(frozen=True, kw_only=True)
class Layout:
    """One shape of a file."""

    mark: str
    decimal: str
    head: str
    order: str
    quotes: str
    comments: str
    units: bool
    trail: str
    times: str
    texts: str
    site: tuple[float, float, float]

    @property
    def columns(self) -> tuple[str, ...]:
        """Our columns in file order; ``day`` is a date whose time stands in ``time``."""
        first = ("shot", *ORDERS[self.order], "elevation", "code")
        if self.head == "none":
            return first if self.texts == "codes" else (*first, "note")
        when = {"none": (), "date and time": ("day", "time")}.get(self.times, ("time",))
        return (*first, "note", *when, "rod_height", "tilt")


def layouts() -> list[Layout]:
    """Every delimiter, decimal mark, header and order; the other traits go round beside them."""
    made = []
    shapes = list(product(MARKS, HEADS, ORDERS))
    for turn, (((mark, decimal), head, order), at) in enumerate(zip(shapes, count(), strict=False)):
        made.append(
            Layout(
                mark=mark,
                decimal=decimal,
                head=head,
                order=order,
                quotes=QUOTES[at % 3],
                comments=COMMENTS[(at // 2) % 3],
                units=head not in ("none", "units") and at % 4 == 1,
                trail=TRAILS[(at // 3) % 4],
                times=TIMES[(turn + at // 4) % 4],
                texts=TEXTS[(at + at // 5) % 3],
                site=SITES[(at // 7) % 3],
            )
        )
    return made


def truth(layout: Layout, seed: int) -> pd.DataFrame:
    """What the file says, whatever it looks like."""
    rng = np.random.default_rng(seed)
    east, north, up = (base + np.round(rng.uniform(0, 400 if base > 2000 else 8, ROWS), 3) for base in layout.site)
    codes = np.array(["CTB", "WKF", "MH", "EP"])[rng.integers(0, 4, ROWS)]
    notes = {
        "codes": ["wet"] * ROWS,
        "words with numbers": [f"cracked {n} of 3 at 12 ft" for n in rng.integers(1, 4, ROWS)],
        "marks inside": ["by pole, left; 6 in. | old"] * ROWS,
    }[layout.texts]
    times = pd.date_range("2026-04-14T13:00:00Z", periods=ROWS, freq="47s").as_unit("us")
    return pd.DataFrame(
        {
            "shot": [f"{n:03d}" if n % 5 else f"A-{n}" for n in range(1, ROWS + 1)],
            "easting": np.round(east, 3),
            "northing": np.round(north, 3),
            "elevation": np.round(up, 3),
            "code": codes,
            "note": notes,
            "time": times,
            "rod_height": 6.562,
            "tilt": np.round(rng.uniform(0, 9, ROWS), 1),
        }
    )


def written(layout: Layout, table: pd.DataFrame) -> str:
    """The file as text."""
    lines = [] if layout.comments == "none" else ["# exported by the office, 3 sheets", "# point list"]
    head = HEADS[layout.head]
    if head:
        lines.append(_joined(layout, [head[each] for each in layout.columns], text=True))
    if layout.units:
        feet = {"easting": "ft", "northing": "ft", "elevation": "ft", "rod_height": "ft", "tilt": "deg"}
        lines.append(_joined(layout, [f"({feet.get(each, '-')})" for each in layout.columns], text=False))
    for at, row in enumerate(table.to_dict("records")):
        if layout.comments == "above and between" and at == 5:
            lines.append("# new battery")
        fields = [_field(layout, each, row) for each in layout.columns]
        lines.append(_joined(layout, fields, text=False))
    return "\n".join(lines) + "\n" * (3 if layout.trail == "blank lines" else 1)


def _field(layout: Layout, name: str, row: dict) -> str:
    if name == "day":
        return row["time"].strftime("%Y-%m-%d")
    value = row[name]
    if name == "time":
        form = {"date and time": "%H:%M:%S", "local": "%Y-%m-%dT%H:%M:%S"}.get(layout.times, "%Y-%m-%dT%H:%M:%SZ")
        return value.strftime(form)
    if isinstance(value, float):
        return f"{value:.3f}".replace(".", layout.decimal)
    if layout.quotes == "of text" and name in ("code", "note"):
        return f'"{value}"'
    return value


def _joined(layout: Layout, fields: list[str], *, text: bool) -> str:
    quoted = [
        _safe(layout, each, every=layout.quotes == "of all" or (text and layout.quotes == "of text")) for each in fields
    ]
    line = (layout.mark if layout.mark != " " or layout.trail != "blanks" else "   ").join(quoted)
    return line + {"blanks": "  ", "empty field": layout.mark}.get(layout.trail, "")


def _safe(layout: Layout, field: str, *, every: bool) -> str:
    if field.startswith('"'):
        return field
    return f'"{field}"' if every or layout.mark in field else field


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How a file was read: right, asked or wrong, and why."""

    layout: Layout
    word: str
    why: str


def outcome(layout: Layout, path, *, seed: int = 0, beside: bool = False) -> Outcome:
    """Write a file, read it, and compare; `beside`: with a control list beside it, and the zone of its times stated."""
    table = truth(layout, seed)
    path.write_text(written(layout, table), encoding="utf-8", newline="")
    try:
        source = _beside(path, table) if beside else ShotsText().read(path, source="d")
    except SourceError as error:
        return Outcome(layout=layout, word="asked", why=str(error).splitlines()[0])
    wrong, asked = _differences(layout, table, source)
    if wrong:
        return Outcome(layout=layout, word="wrong", why=wrong[0])
    return Outcome(layout=layout, word="asked" if asked else "right", why=asked[0] if asked else "")


def _beside(path, table: pd.DataFrame) -> Source:
    reader = ShotsText(time_zone="UTC")
    try:
        return reader.read(path, source="d")
    except OrderError as error:
        place = {"easting": [table["easting"].mean() + 30.0], "northing": [table["northing"].mean() - 40.0]}
        marks = pd.DataFrame({"mark": ["CP-1"], **place, "elevation": [float("nan")]})
        control = FileAsRead(role="control", name="control.csv", source=Source(layers={"control": marks}))
        shots = FileAsRead(role="shots", name=path.name, source=Source(layers={}))
        one = Unsettled(shots, error, lambda order, why: reader.in_order(order, why).read(path, source="d"))
        return settled([one], [control], None)[0].source


def _differences(layout: Layout, table: pd.DataFrame, source: Source) -> tuple[list[str], list[str]]:
    """What differs from the truth without a word, and what is left out and told."""
    shots = source.layers["shots"]
    told = {each.line for each in source.troubles}
    said = {each.column for each in source.troubles} | {e.what for e in source.evidence if "not taken" in e.answer}
    if len(shots) != len(table):
        lost = len(table) - len(shots)
        return ([], [f"{lost} rows left out, told"]) if len(told) >= lost > 0 else ([f"{lost} rows lost"], [])
    wrong, asked = [], []
    for name in dict.fromkeys("time" if each == "day" else each for each in layout.columns):
        got, meant = shots[name], table[name]
        same = np.isclose(got, meant) if meant.dtype == float else (got.astype(object) == meant.astype(object))
        differs = ~np.asarray(same, dtype=bool)
        if differs.any():
            empty = bool(got[differs].isna().all())
            (asked if empty and name in said else wrong).append(
                f"{name}: {got[differs].iloc[0]!r} for {meant[differs].iloc[0]!r}"
            )
    return wrong, asked


def tally(outcomes: list[Outcome]) -> dict[str, int]:
    """How many were read right, asked about and silently wrong."""
    return {word: sum(each.word == word for each in outcomes) for word in ("right", "asked", "wrong")}


def page(alone: list[Outcome], beside: list[Outcome]) -> str:
    """The page `docs/layouts.md`."""
    rows = [
        f"| {NAMED[each.layout.mark]} | {each.layout.decimal} | {each.layout.head} | {each.layout.order} | "
        f"{each.layout.quotes} | {each.layout.comments} | {'yes' if each.layout.units else 'no'} | "
        f"{each.layout.trail} | {each.layout.times} | {each.layout.texts} | {each.word} | {other.word} |"
        for each, other in zip(alone, beside, strict=True)
    ]
    first, second = tally(alone), tally(beside)
    asked = sorted(
        {
            each.why.replace("'d.txt'", "the file").split(":")[0][:90]
            for each in (*alone, *beside)
            if each.word == "asked"
        }
    )
    return "\n".join(
        [
            "# Layouts of delimited files",
            "",
            "Made by `GEOQA_WRITE_DOCS=1 pytest -m long tests/read/test_layouts.py`, not edited by hand.",
            f"{len(alone)} files of {ROWS} shots in three zones (ft, ftUS, m), each with a known answer. **Right**:",
            "every value as written. **Asked**: refused, or left out, with the line that settles it. **Wrong**:",
            "another value, and not a word.",
            "",
            "| read | right | asked | silently wrong |",
            "|---|---|---|---|",
            f"| alone | {first['right']} | {first['asked']} | {first['wrong']} |",
            f"| with control, `time_zone` stated | {second['right']} | {second['asked']} | {second['wrong']} |",
            "",
            "What is asked:",
            "",
            *(f"- {each}" for each in asked),
            "",
            "| delimiter | decimal | header | order | quotes | comments | units line | line ends | times | texts "
            "| alone | with control |",
            "|---|---|---|---|---|---|---|---|---|---|---|---|",
            *rows,
            "",
        ]
    )


def other_seeds(layout: Layout, seed: int) -> Layout:
    """The same delimiter, header and order, with other traits."""
    return replace(
        layout,
        quotes=QUOTES[seed % 3],
        comments=COMMENTS[(seed // 3) % 3],
        trail=TRAILS[seed % 4],
        times=TIMES[(seed // 2) % 4],
        texts=TEXTS[(seed // 4) % 3],
        site=SITES[seed % 3],
        units=layout.head not in ("none", "units") and seed % 2 == 0,
    )
