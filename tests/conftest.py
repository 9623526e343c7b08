"""What the benchmarks measured, on its way to docs/speed.md; and a browser cut off from every network."""

import os
import platform
import shutil
from importlib.metadata import version
from pathlib import Path

import pytest
from hypothesis import settings

# how long an example takes says how busy the machine is, not whether the code is right
settings.register_profile("geoqa", deadline=None)
settings.load_profile("geoqa")

PAGE = Path(__file__).resolve().parent.parent / "docs" / "speed.md"
TITLES = {
    "station": "Station and offset",
    "surface": "Elevation of a surface of given faces",
    "growth": "From a hundred thousand shots to ten million",
    "first run": "The first job of a newcomer: the demo",
    "pipeline": "A whole job: log files to judged GeoParquet and map",
    "parts": "One job in parts",
    "stages": "Where the time of a job goes",
    "geopackage": "GeoPackage",
    "reading": "Reading a log",
    "landxml": "A LandXML surface",
    "map": "The map in a browser",
}
LIBRARIES = ("numpy", "pandas", "geopandas", "shapely", "pyarrow", "pyogrio", "scipy")
_SESSION = pytest.StashKey()


class Measured:
    """Tables of what was measured, by section; and what each section compares, in words."""

    def __init__(self):
        self.rows, self.words = {}, {}

    def add(self, section, words, **row):
        """Add one row; values are texts or numbers with their unit."""
        assert section in TITLES
        self.words[section] = words
        self.rows.setdefault(section, []).append({name.replace("_", " "): value for name, value in row.items()})

    def note(self, section, **row):
        """Add to the row of the section that agrees in the first value, or as a row of its own."""
        row = {name.replace("_", " "): value for name, value in row.items()}
        key, value = next(iter(row.items()))
        for known in self.rows.setdefault(section, []):
            if known.get(key) == value:
                known.update(row)
                return
        self.rows[section].append(row)

    def page(self):
        parts = [
            "# How fast it is\n\n"
            "Made by `GEOQA_WRITE_DOCS=1 .venv/bin/pytest -q -m benchmark -s`, and not edited by hand. Read it as "
            "ratios: rivals ran in the same minutes on the same machine. Processor time is that of all threads.\n",
            machine(),
        ]
        for section, title in TITLES.items():
            rows = self.rows.get(section)
            if not rows:
                continue
            names = list(dict.fromkeys(name for row in rows for name in row))
            table = [names, ["---"] * len(names), *([str(row.get(name, "–")) for name in names] for row in rows)]
            lines = "\n".join(f"| {' | '.join(row)} |" for row in table)
            parts.append(f"## {title}\n\n{self.words.get(section, '')}\n\n{lines}\n")
        return "\n".join(parts)


def machine():
    """Cores and versions; no name of a host or a folder."""
    memory = ""
    if Path("/proc/meminfo").exists():
        first = Path("/proc/meminfo").read_text(encoding="ascii").split()
        memory = f", {int(first[1]) / 2**20:.0f} GiB"
    there = []
    for name in LIBRARIES:
        try:
            there.append(f"{name} {version(name)}")
        except ModuleNotFoundError:
            there.append(f"{name} not installed")
    return (
        f"Measured on {os.cpu_count()} cores ({platform.machine()}){memory}, Python {platform.python_version()}, "
        f"{', '.join(there)}.\n"
    )


def pytest_configure(config):
    config.stash[_SESSION] = Measured()


@pytest.fixture(scope="session")
def measured(pytestconfig):
    """Where a benchmark writes down what it measured."""
    return pytestconfig.stash[_SESSION]


def pytest_sessionfinish(session, exitstatus):
    """Write the page, if all of it was measured and every bound was kept."""
    found = session.config.stash[_SESSION]
    if os.environ.get("GEOQA_WRITE_DOCS") != "1" or not found.rows:
        return
    if missing := [title for section, title in TITLES.items() if section not in found.rows]:
        session.config.get_terminal_writer().line(f"docs/speed.md stays: not measured were {', '.join(missing)}.")
    elif exitstatus == 0:
        PAGE.write_text(found.page(), encoding="utf-8", newline="\n")


BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
QUIET = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def chromium():
    """The system's Chromium; absence is a failure where GEOQA_REQUIRE_BROWSER is 1, else a skip."""
    path = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if path is None:
        reason = f"no browser found; looked for {', '.join(BROWSERS)}"
        if os.environ.get("GEOQA_REQUIRE_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with playwright.sync_playwright() as engine:
        browser = engine.chromium.launch(executable_path=path, args=QUIET)
        yield browser
        browser.close()
