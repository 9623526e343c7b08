"""The end of a field day: what is planted is on the list in plain words, and honest days are left in peace."""

import json
import time

import numpy as np
import pandas as pd
import pytest

from bench import make, write
from bench.extent import extent
from geoqa.errors import FrameError, JobError, SourceError
from geoqa.job.day import DayFiles, day
from geoqa.job.run import run
from geoqa.model.vocabulary import KNOW, LOOK, NOW

pytestmark = pytest.mark.long

PLANTS = ("T10", "T13", "T15", "T16", "T17", "S01", "S03", "T21")


@pytest.fixture(scope="module")
def field(tmp_path_factory):
    folder = tmp_path_factory.mktemp("field")
    write(make(seed=3, plants=PLANTS), folder)
    return folder


def files(folder, name="day2", **more):
    named = {"control": "control.csv", "codes": "codes.csv", "design": "design.gpkg"}
    given = {role: folder / file for role, file in named.items()} | {"frame": "EPSG:6547"} | more
    return DayFiles(shots=folder / f"shots/{name}.csv", **given)


def test_what_went_wrong_is_on_the_list_most_urgent_first(field, tmp_path):
    results = day(files(field), folder=tmp_path)
    items = results.layers["day_items"]
    assert items["urgency"].is_monotonic_increasing
    assert items["item"].tolist() == list(range(1, len(items) + 1))
    by_title = items.set_index("title")
    assert by_title.loc["Rod leaned too far", "names"] == "2921, 2922, 2923, 2924"
    assert by_title.loc["No closing check on control", "urgency"] == NOW
    assert by_title.loc["No closing check on control", "do"].startswith("shoot a check")
    assert set(items.loc[items["title"] == "Top and bottom look exchanged", "names"]) == {"2012", "2057"}
    assert by_title.loc["Row exported twice", "urgency"] == KNOW
    assert by_title.loc["One measurement under two names", "urgency"] == LOOK
    assert "2135" in set(items.loc[items["title"] == "Shot strays from its line", "names"])
    first = day(files(field, "day1")).layers["day_items"].set_index("title")
    assert first.loc["Code does not fit the place", "shots"] == 5
    assert first.loc["No elevation", "shots"] == 3  # two valves at 0 and a blank: the third valve is of day 2


def test_the_page_is_one_column_without_script_and_says_what_the_list_says(field, tmp_path):
    results = day(files(field), folder=tmp_path)
    text = (tmp_path / "day.html").read_text(encoding="utf-8")
    assert "<script" not in text
    assert "http://" not in text
    assert "https://" not in text
    assert 'name="viewport"' in text
    assert "@media print" in text
    assert text.count('<li class="item">') == len(results.layers["day_items"])
    assert "PRELIMINARY" in text
    assert "not a certification" in text
    assert "No statement of accuracy" in text
    record = json.loads((tmp_path / "record.json").read_text(encoding="utf-8"))
    assert str(field) not in json.dumps(record)


def test_the_same_day_gives_the_same_bytes(field, tmp_path):
    for name in ("one", "two"):
        day(files(field), folder=tmp_path / name)
    assert (tmp_path / "one" / "day.html").read_bytes() == (tmp_path / "two" / "day.html").read_bytes()


@pytest.mark.parametrize(
    "seeds", [(1, 2), pytest.param(range(3, extent(9, of_a_change=6)), marks=pytest.mark.score)], ids=["two", "more"]
)
def test_an_honest_half_day_raises_nothing_urgent(tmp_path, capsys, seeds):
    urgent = []
    for seed in seeds:
        folder = tmp_path / str(seed)
        write(make(seed=seed, plants=()), folder)
        for name in ("day1", "day2"):
            items = day(files(folder, name)).layers["day_items"]
            urgent += items.loc[items["urgency"] == NOW, ["title", "why"]].to_numpy().tolist()
    with capsys.disabled():
        print(f"\n{2 * len(seeds)} honest days: {len(urgent)} urgent items")
    assert urgent == []


def test_a_frame_alone_is_enough_and_what_could_not_be_checked_is_said(field, tmp_path):
    bare = DayFiles(shots=field / "shots/day2.csv", frame="EPSG:6547")
    results = day(bare, folder=tmp_path)
    items = results.layers["day_items"]
    assert "Rod leaned too far" in set(items["title"])
    assert not items["title"].str.contains("check on control").any()  # without marks nobody knows what a check is
    said = " ".join(results.notes)
    assert all(each in said for each in ("No control was given", "No code list was given", "No design was given"))
    assert "No control was given" in (tmp_path / "day.html").read_text(encoding="utf-8")


def test_a_part_of_a_day_is_enough(field, tmp_path):
    lines = (field / "shots/day2.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    part = tmp_path / "part.csv"
    part.write_text("".join(lines[:60]), encoding="utf-8", newline="\n")
    items = day(DayFiles(shots=part, frame="EPSG:6547", control=field / "control.csv")).layers["day_items"]
    assert "No closing check on control" in set(items["title"])


@pytest.mark.parametrize("lost", ["time_utc", "satellites", "session", "tilt_deg", "line_id", "sequence", "reported_h"])
def test_a_log_without_a_field_is_no_crash_and_the_lost_check_is_named(field, tmp_path, lost):
    table = pd.read_csv(field / "shots/day2.csv", dtype=str).drop(columns=lost)
    path = tmp_path / "less.csv"
    table.to_csv(path, index=False)
    results = day(DayFiles(shots=path, frame="EPSG:6547", control=field / "control.csv", codes=field / "codes.csv"))
    ours = {"time_utc": "time", "tilt_deg": "tilt"}.get(lost, lost)
    assert any(note.startswith(f"Impossible without {ours} ") for note in results.notes)


def test_without_a_frame_the_possible_ones_are_weighed_and_none_is_chosen(field):
    with pytest.raises(JobError, match=r"(?s)--frame is needed.*none is chosen.*Cannot tell zone"):
        day(DayFiles(shots=field / "shots/day2.csv"))
    with pytest.raises(JobError, match=r"settled: zone North Dakota South\b.*Cannot tell unit"):
        day(DayFiles(shots=field / "shots/day2.csv", design=field / "design.gpkg"))


def test_shots_that_nobody_can_read_are_named_before_the_frame_is_asked_for(tmp_path):
    odd = tmp_path / "shots.odd"
    odd.write_text("1,2,3\n")
    with pytest.raises(SourceError, match=r"'shots\.odd' has no header and its column order cannot be told"):
        day(DayFiles(shots=odd))
    empty = tmp_path / "shots.csv"
    empty.write_text("")
    with pytest.raises(SourceError):
        day(DayFiles(shots=empty))


def test_shots_of_another_zone_are_refused_by_the_frame(field):
    with pytest.raises(FrameError, match="outside the area of use"):
        day(files(field, frame="EPSG:6405", control=None, codes=None, design=None))


def test_hostile_names_stay_text(field, tmp_path):
    text = (field / "shots/day2.csv").read_text(encoding="utf-8").replace("2921,", "<script>alert(1)</script>,", 1)
    path = tmp_path / "hostile.csv"
    path.write_text(text, encoding="utf-8", newline="\n")
    day(DayFiles(shots=path, frame="EPSG:6547"), folder=tmp_path / "out")
    page = (tmp_path / "out" / "day.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;" in page


def large(folder, count):
    """A file of `count` shots along one demo day: the day again and again, each 60 ft beside the last, a day later."""
    write(make(seed=1, plants=("T13", "S01")), folder)
    one = pd.read_csv(folder / "shots/day2.csv", dtype=str)
    parts = []
    for number in range(-(-count // len(one))):
        part = one.copy()
        part["northing"] = (part["northing"].astype(float) + 150.0 * number).map("{:.3f}".format)
        part["point"] = part["point"] + f"-{number}"
        part["session"] = part["session"] + str(number)
        later = pd.to_datetime(part["time_utc"]) + pd.Timedelta(days=number)
        part["time_utc"] = later.dt.strftime("%Y-%m-%dT%H:%M:%SZ")
        if number:
            part["line_id"] = part["line_id"] + f"/{number}"
        parts.append(part)
    path = folder / "large.csv"
    pd.concat(parts).iloc[:count].to_csv(path, index=False)
    return path


@pytest.mark.benchmark
def test_five_thousand_shots_take_less_than_five_seconds(tmp_path, capsys):
    path = large(tmp_path, 5000)
    listed = {"control": "control.csv", "codes": "codes.csv", "design": "design.gpkg"}
    took = {}
    for name, more in (
        ("frame alone", {}),
        ("all files", {role: tmp_path / file for role, file in listed.items()}),
    ):
        began = time.perf_counter()
        results = day(DayFiles(shots=path, frame="EPSG:6547", **more), folder=tmp_path / "out")
        took[name] = time.perf_counter() - began
        assert results.summary["shots"] == 5000
    with capsys.disabled():
        print("\n5,000 shots through geoqa day: " + ", ".join(f"{name} {took[name]:.2f} s" for name in took))
    assert np.max(list(took.values())) < 5.0


def test_the_map_and_the_page_ask_the_same_of_a_shot_with_two_faults(tmp_path):
    write(make(seed=3, plants=()), tmp_path)
    file = tmp_path / "shots/day2.csv"
    rows = pd.read_csv(file, dtype=str, keep_default_na=False)
    walk = rows.index[rows["code"] == "WKF"][[5, 12, 20]]
    rows.loc[walk, "code"] = "CTB"
    rows.loc[walk[:2], "solution"] = "float"
    rows.to_csv(file, index=False, lineterminator="\n")
    both, both_too, code_alone = rows.loc[walk, "point"]
    findings = run(next(tmp_path.glob("*.toml")), write=False).layers["findings"]
    why = findings.groupby(findings["shot"].str.removeprefix("day2/"))["why"].agg(set)
    assert (why[both], why[both_too], why[code_alone]) == ({"screened"}, {"screened"}, {"own-code-question"})
    items = day(files(tmp_path), folder=tmp_path / "day").layers["day_items"]
    asked = {
        name: items[items["names"].str.split(", ").map(lambda each, n=name: n in each)] for name in (both, code_alone)
    }
    # shot again first where its fix is no good, and its code in any case; a code in question alone is office work
    assert asked[both]["title"].tolist() == ["Not a fixed solution", "Code does not fit the place"]
    assert asked[code_alone]["title"].tolist() == ["Code does not fit the place"]
