"""What a notebook shows: results as a list with the map, tables on a web map of their own, errors in one sentence."""

import html
import io
import re
import subprocess
import sys
import types

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely

import geoqa
from geoqa.errors import JobError, LayerError, StepError
from geoqa.job import progress_bar
from geoqa.library import assessed
from geoqa.library.assess import assess
from geoqa.model.signs import SIGNS

CRS = "EPSG:6547"
EAST, NORTH = 2228000.0, 444000.0
HOSTILE = "<img src=x onerror=alert(1)>"


def walk(kind="walk-front", name="W-1"):
    line = shapely.LineString([(EAST, NORTH, 1457.0), (EAST + 400, NORTH, 1458.0)])
    return geopandas.GeoDataFrame({"kind": [kind], "name": [name]}, geometry=[line], crs=CRS)


def shots(off=(0.0, 0.5, 0.14, 0.01)):
    place = [shapely.Point(EAST + 10 + 20 * at, NORTH - each, 1457.0) for at, each in enumerate(off)]
    names = {"shot": [str(101 + at) for at in range(len(off))], "code": ["WKF"] * len(off)}
    return geopandas.GeoDataFrame(names, geometry=place, crs=CRS)


def judged(table=None, design=None, *, kind="walk-front", **others):
    given = {
        "frame": CRS,
        "codes": {"WKF": kind},
        "tolerances": {kind: {"horizontal": "0.15 ft", "reference": "C-101"}},
        "uncertainty": {
            "default": {"horizontal_random": "0.02 ft", "vertical_random": "0.02 ft", "reference": "repeats"}
        },
    }
    return assess(shots() if table is None else table, walk() if design is None else design, **given | others)


# results


@pytest.fixture(scope="module")
def results():
    return judged()


def rows_of(page):
    """Texts of the cells of the list, row by row."""
    table = page.split("The work, worst first")[1].split("</table>")[0]
    rows = re.findall(r"<tr>(.*?)</tr>", table)
    return [[html.unescape(re.sub("<.*?>", "", cell)) for cell in re.findall(r"<t[dh].*?>(.*?)</t[dh]>", row)]
            for row in rows]  # fmt: skip


@pytest.mark.long
def test_results_show_the_work_worst_first(results):
    heads, *rows = rows_of(results._repr_html_())
    assert heads == ["Check", "Where", "Deviation", "Allowed", "Verdict"]
    assert len(rows) == len(results.work)
    assert rows[0] == [
        "Offset from design line",
        "walk-front, W-1, shot 102, 0+30.00",
        "0.50 right",
        "0.15 left or right",
        "▲ out of tolerance",
    ]
    assert rows[1][1:3] == ["walk-front, W-1, shot 103, 0+50.00", "0.14 right"]
    assert rows[1][4] == "◆ cannot be decided with this measurement"


@pytest.mark.long
def test_of_many_findings_ten_are_listed_and_the_rest_is_counted():
    results = judged(shots(np.full(16, 0.01)))
    page = results._repr_html_()
    assert len(rows_of(page)) == 11
    assert f"the first 10 of {len(results.work)}" in page


def test_results_show_counts_and_what_is_read_first(results):
    page = results._repr_html_()
    for verdict, sign in SIGNS.items():
        count = results.summary["reported"].get(verdict, 0)
        assert re.search(rf"{sign.mark}</td><td>{sign.text}</td><td[^>]*>{count}<", page)
    assert results.notes
    assert html.escape(results.notes[0]) in page


@pytest.mark.long
def test_text_from_files_cannot_end_up_as_markup_in_a_notebook():
    table = shots().assign(shot=HOSTILE)
    page = judged(table, walk(HOSTILE, HOSTILE), kind=HOSTILE, name=HOSTILE)._repr_html_()
    assert "<img" not in page
    assert html.escape(HOSTILE) in page


@pytest.mark.long
def test_the_map_is_shown_beside_the_list_while_it_is_small(results, monkeypatch):
    page = results._repr_html_()
    assert page.count("<iframe srcdoc=") == 1
    assert html.unescape(page.split('srcdoc="')[1].split('"')[0]) == results.map().html
    monkeypatch.setattr(assessed, "LARGEST_PAGE", 1000)
    small = results._repr_html_()
    assert "<iframe" not in small
    assert "results.map().save(" in small
    monkeypatch.setattr(assessed, "MOST_ROWS", 1)
    monkeypatch.setattr(assessed.Assessed, "map", None)  # it is not even made
    assert results._repr_html_() == small


# tables on the web map of another library


def explored(table, **how):
    return table.explore(tiles=None, **how).get_root().render()


@pytest.fixture(scope="module")
def odd():
    """Shots as logs have them: a time zone, a row without time, one without place, whole numbers with gaps."""
    table = shots()
    table["time"] = pd.date_range("2026-05-12 08:00", periods=4, freq="min", tz="America/Chicago")
    table.loc[2, "time"] = pd.NaT
    table["satellites"] = pd.array([14, None, 15, 16], dtype="Int64")
    table["solution"] = pd.Categorical(["fixed", "float", "fixed", None])
    table.loc[3, "geometry"] = None
    marks = geopandas.GeoDataFrame({"mark": ["CP-1"]}, geometry=[shapely.Point(EAST, NORTH + 50, 1460)], crs=CRS)
    check = geopandas.GeoDataFrame(
        {"shot": ["CP-1"], "code": ["CHK"]}, geometry=[shapely.Point(EAST + 0.3, NORTH + 50, 1460)], crs=CRS
    )
    limits = {"walk-front": {"horizontal": "0.15 ft", "spacing": "50 ft"}, "control": {"horizontal": "0.1 ft"}}
    return judged(
        pd.concat([table, check]).set_index("shot", drop=False),
        control=marks,
        codes={"WKF": "walk-front", "CHK": "control"},
        tolerances={kind: each | {"reference": "C-101"} for kind, each in limits.items()},
    )


@pytest.mark.parametrize("name", ["shots", "findings", "reported", "work", "survey", "evidence"])
def test_every_table_of_results_can_be_explored(odd, name):
    table = getattr(odd, name)
    assert len(table)
    page = explored(table)
    placed = table.geometry.notna()
    for text in table["shot"][placed].dropna():
        assert f'"{text}"' in page
    assert page.count('"type": "Feature"') == placed.sum()


@pytest.mark.parametrize("column", ["verdict", "deviation", "u", "verified", "why"])
def test_findings_can_be_coloured_by_a_column(odd, column):
    assert f'"{column}"' in explored(odd.findings, column=column)


@pytest.mark.parametrize("column", ["time", "satellites", "use", "solution", "kind"])
def test_shots_can_be_coloured_by_a_column(odd, column):
    assert f'"{column}"' in explored(odd.shots, column=column)


@pytest.mark.long
def test_an_index_with_the_name_of_a_column_comes_back_without_it(odd):
    assert odd.shots.index.tolist() == ["101", "102", "103", "104", "CP-1"]
    assert odd.shots.index.name is None
    assert odd.shots.reset_index()["shot"].tolist() == odd.shots["shot"].tolist()
    kept = judged(shots().rename_axis("mine"))
    assert kept.shots.index.name == "mine"


@pytest.mark.long
def test_of_several_tables_only_the_name_that_is_taken_is_left_out():
    days = {"day1": shots().set_index("shot", drop=False), "day2": shots().set_index("shot", drop=False)}
    table = judged(days).shots
    assert list(table.index.names) == [None, None]
    assert "101" in explored(table)


# errors


@pytest.mark.parametrize("error", [JobError("codes: names no code."), LayerError("two\nlines")])
def test_a_notebook_shows_an_error_by_its_name_and_its_words_alone(error):
    assert error._render_traceback_() == [f"{type(error).__name__}: {error}"]


def test_a_step_that_failed_shows_where():
    def broken():
        raise StepError("Step 'x' failed")

    with pytest.raises(StepError) as caught:
        broken()
    shown = "".join(caught.value._render_traceback_())
    assert "Traceback" in shown
    assert "in broken" in shown
    assert shown.endswith("StepError: Step 'x' failed\n")


# progress


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.long
def test_nothing_is_printed_where_nobody_asked(capsys):
    judged()
    assert capsys.readouterr() == ("", "")


@pytest.mark.long
def test_a_bar_is_silent_where_nobody_watches(capsys):
    judged(progress="bar")
    assert capsys.readouterr() == ("", "")


def test_a_bar_is_shown_on_a_terminal_and_is_gone_afterwards(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with progress_bar.bar() as shown:
        shown("offsets", 3, 9)
    text = terminal.getvalue()
    assert "offsets" in text
    assert "3/9" in text
    assert text.rstrip().endswith("\x1b[2K")  # the line is taken away


def test_a_notebook_without_widgets_gets_a_line_that_is_written_over(monkeypatch):
    shell = types.SimpleNamespace(kernel=object())
    monkeypatch.setitem(sys.modules, "IPython", types.SimpleNamespace(get_ipython=lambda: shell))
    monkeypatch.setattr(progress_bar, "find_spec", lambda name: None)
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    with progress_bar.bar() as shown:
        shown("offsets", 3, 9)
    first, second = (part for part in stream.getvalue().split("\r") if part)
    assert re.fullmatch(r"offsets +3/9 *", first)
    assert second.strip() == ""
    assert len(second) == len(first)


def test_a_shell_in_a_terminal_is_no_notebook(monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "IPython", types.SimpleNamespace(get_ipython=lambda: types.SimpleNamespace()))
    with progress_bar.bar() as shown:
        shown("offsets", 3, 9)
    assert capsys.readouterr() == ("", "")


@pytest.mark.long
def test_results_are_looked_at_without_the_libraries_of_other_looks():
    code = (
        "import sys, geoqa.library.assess, geoqa.library.job_file; "
        "print([name for name in ('folium', 'matplotlib', 'rich') if name in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
    assert geoqa.assess is assess
