"""A real browser, cut off from every network, that writes down whatever it asks for or complains about."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

import geoqa
from geoqa.model.results import Results, Title
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.finding import finding_id
from geoqa.model.tables.layer import Layers, placed
from geoqa.present.map.page import MapPage


@dataclass
class Opened:
    """A page, and what it asked for and said since it was opened."""

    page: object
    url: str
    requests: list = field(default_factory=list)
    messages: list = field(default_factory=list)

    def foreign(self):
        return [url for url in self.requests if url != self.url and not url.startswith("data:")]


def opener(chromium, folder, contexts):
    """A function that writes the map of some results, opens it from disk offline, and waits until it is drawn."""

    def open_page(results, *, width=1400, height=900, before="", **options):
        MapPage().write(results, folder)
        context = chromium.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        context.set_offline(True)
        page = context.new_page()
        opened = Opened(page, (folder / "map.html").as_uri())
        page.on("request", lambda request: opened.requests.append(request.url))
        page.on("console", lambda message: opened.messages.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: opened.messages.append(f"error: {error}"))
        if before:
            page.add_init_script(before)
        page.goto(opened.url)
        page.wait_for_selector("body[data-ready]", timeout=60_000)
        page.evaluate("() => { window.opened = geoqa.start.opened; }")  # for what tests ask of the page
        return opened

    return open_page


@pytest.fixture
def show(chromium, tmp_path):
    """Open the map of some results."""
    contexts = []
    yield opener(chromium, tmp_path, contexts)
    for context in contexts:
        context.close()


@pytest.fixture(scope="module")
def read(chromium, tmp_path_factory, sample):
    """The map of the sample job on a laptop, opened once for all tests of a module that leave it as they found it."""
    contexts = []
    opened = opener(chromium, tmp_path_factory.mktemp("map"), contexts)(sample, width=1280, height=800)
    yield opened
    assert opened.requests == [opened.url]
    assert opened.messages == []
    for context in contexts:
        context.close()


def make_many(shots, frame, *, out=0.01, lines=10):
    """A job of any size: parallel lines, two findings for each shot, `out` of them out of tolerance."""
    rng = np.random.default_rng(shots)
    each = -(-shots // lines)
    number = np.arange(shots)
    station = 1000.0 + 5.0 * (number % each) + rng.normal(0, 0.5, shots)
    line = number // each
    bad = rng.random(shots) < out
    aside = rng.normal(0, 0.03, shots) + np.where(bad, 0.3, 0.0)
    height = rng.normal(0, 0.025, shots)
    easting = np.round(2_200_000.0 + station, 3)
    northing = np.round(446_000.0 - 8.0 * line - aside + 40.0 * np.sin(station / 900.0), 3)
    elevation = np.round(1460.0 + 2.0 * np.sin(station / 400.0) + height, 3)
    name = np.array([f"{100001 + i}" for i in range(shots)], dtype=object)
    key = np.array([f"log/{each}" for each in name], dtype=object)
    names = np.array([f"L-{i:02d}" for i in range(lines)], dtype=object)
    kinds = np.array(["curb-top", "curb-flow", "walk-front", "walk-back", "storm-top"], dtype=object)[
        np.arange(lines) % 5
    ]
    log = pd.DataFrame(
        {
            "shot_key": key,
            "source": "log",
            "line": number + 2,
            "shot": name,
            "easting": easting,
            "northing": northing,
            "elevation": elevation,
            "raw_easting": [f"{value:.3f}" for value in easting],
            "raw_northing": [f"{value:.3f}" for value in northing],
            "raw_elevation": [f"{value:.3f}" for value in elevation],
            "code": kinds[line],
            "line_id": names[line],
            "kind": kinds[line],
            "role": "feature",
            "time": pd.Timestamp("2026-03-18T13:00:00Z") + pd.to_timedelta(number * 6, unit="s"),
            "session": "A",
            "solution": "fixed",
            "rod_height": 6.562,
            "use": True,
            "flags": "",
        }
    )
    parts = []
    for check, deviation, design, measured, limit in (
        ("offset", aside, np.zeros(shots), aside, 0.1),
        ("elevation", height, elevation - height, elevation, 0.08),
    ):
        below, above = norm.cdf((-limit - deviation) / 0.028), norm.sf((limit - deviation) / 0.028)
        inside = 1 - below - above
        verdict = np.where(np.maximum(below, above) >= 0.95, "OUT", np.where(inside >= 0.95, "IN", "UNDECIDED"))
        parts.append(
            pd.DataFrame(
                {
                    "finding": [
                        finding_id(check, "job rules", subject, (name,))
                        for subject, name in zip(names[line], key, strict=True)
                    ],
                    "check": check,
                    "against": "job rules",
                    "kind": kinds[line],
                    "subject": names[line],
                    "label": "shot " + name,
                    "shot": key,
                    "station": station,
                    "station_end": station,
                    "offset": aside,
                    "easting": easting,
                    "northing": northing,
                    "elevation": elevation,
                    "quantity": "length",
                    "design": design,
                    "measured": measured,
                    "deviation": deviation,
                    "lower": -limit,
                    "upper": limit,
                    "u": 0.028,
                    "u_common": 0.02,
                    "u_random": 0.02,
                    "rule": "guarded",
                    "verdict": verdict,
                    "p_conform": inside,
                    "why": np.where(verdict == "UNDECIDED", "near-limit", "proven"),
                    "reference": "Drawing C-101, note 4",
                    "verified": True,
                    "excess": (np.abs(deviation) - limit) / 0.028,
                }
            )
        )
    findings = pd.concat(parts, ignore_index=True)
    knots = np.linspace(1000.0, 1000.0 + 5.0 * each, max(2, shots // lines + 1))
    rows = []
    for i in range(lines):
        north = 446_000.0 - 8.0 * i + 40.0 * np.sin(knots / 900.0)
        rows.append(
            pd.DataFrame(
                {
                    "line": names[i],
                    "sequence": np.arange(len(knots) - 1),
                    "shape": "line",
                    "start_easting": 2_200_000.0 + knots[:-1],
                    "start_northing": north[:-1],
                    "end_easting": 2_200_000.0 + knots[1:],
                    "end_northing": north[1:],
                    "sense": 0,
                    "start_station": knots[:-1],
                    "length": np.diff(knots),
                }
            )
        )
    tables = {
        "shots": placed("shots", conform("shots", log), frame),
        "findings": placed("findings", conform("findings", findings), frame),
        "evidence": empty("evidence"),
        "design_lines": conform("design_lines", pd.DataFrame({"line": names, "kind": kinds, "source": "design"})),
        "design_elements": conform("design_elements", pd.concat(rows, ignore_index=True)),
    }
    counts = findings["verdict"].value_counts()
    title = Title(name=f"{shots:,} shots", revision="Design rev. B")
    return Results(
        title=title,
        layers=Layers(tables, frame=frame),
        summary={"reported": {str(k): int(v) for k, v in counts.items()}},
        record={},
    )


def turned(results, degrees):
    """The same job on ground turned counterclockwise about its first shot."""
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    origin = results.layers["shots"][["easting", "northing"]].iloc[0].to_numpy(float)
    tables = {}
    for name in results.layers:
        table = pd.DataFrame(results.layers[name]).drop(columns="geometry", errors="ignore")
        for before in ("", "start_", "end_", "center_"):
            pair = [f"{before}easting", f"{before}northing"]
            if set(pair) <= set(table.columns):
                east, north = (table[pair].to_numpy(float) - origin).T
                table[pair] = origin + np.column_stack([east * cos - north * sin, east * sin + north * cos])
        tables[name] = placed(name, table, results.layers.frame) if name in ("shots", "findings") else table
    layers = Layers(tables, frame=results.layers.frame)
    return Results(title=results.title, layers=layers, summary=results.summary, record=results.record)


SAMPLE = Path(__file__).parents[3] / "sample_jobs" / "tannery_lane" / "tannery_lane.toml"


@pytest.fixture(scope="session")
def sample():
    """The results of the sample job."""
    return geoqa.run(SAMPLE, write=False)


@pytest.fixture(scope="session")
def many(street):
    """Make a job of any size, in the frame of the street."""
    return lambda shots, **options: make_many(shots, street.layers.frame, **options)


@pytest.fixture(scope="session")
def slanting(many):
    """A long and thin job of 1,500 shots that runs a quarter of the way from east to north, and more."""
    return turned(many(1500, out=0.05), 50)
