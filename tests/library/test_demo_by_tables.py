"""The demo by its job file and by tables in memory: every finding the same, to the last bit, in three zones.

And what its outputs count is the same in all of them.
"""

import tomllib

import geopandas
import pandas as pd
import pyogrio
import pytest

import geoqa
from bench.counts_agree import hold_counts, hold_day_page
from bench.extent import extent
from geoqa.model.signs import SIGNS
from geoqa.model.tables.reported import shots_by_sign, signs_of_shots
from geoqa.simulate.job_folder import write
from geoqa.simulate.make import make
from geoqa.simulate.site.scenario import ZONES
from geoqa.write.cad.drawing import drawing_of

pytestmark = pytest.mark.long

HELD = [
    "finding", "check", "against", "kind", "subject", "label", "shot", "run", "station", "station_end", "offset",
    "easting", "northing", "elevation", "design", "measured", "deviation", "lower", "upper", "u_common", "u_random",
    "u", "rule", "p_conform", "verdict", "why", "cause", "reference", "excess",
]  # fmt: skip
"""All of a finding but its remedy, which may quote the job file."""


def points(table):
    place = geopandas.points_from_xy(table["easting"], table["northing"], table["elevation"])
    return geopandas.GeoDataFrame(table.drop(columns=["easting", "northing", "elevation"]), geometry=place)


def shots_of(path, zone):
    table = pd.read_csv(path, keep_default_na=False, na_values=[""])
    table["time_utc"] = pd.to_datetime(table["time_utc"])
    return points(table).set_crs(zone).set_index(table["point"].rename("mine") * 10)


def listing(path):
    return pd.read_csv(path, keep_default_na=False)


FIRST, *OTHERS = extent(list(ZONES), of_a_change=list(ZONES)[:2])


@pytest.fixture(scope="module", params=[FIRST, *(pytest.param(zone, marks=pytest.mark.score) for zone in OTHERS)])
def both(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    file = write(make(zone=request.param), folder)
    _without_files_of_their_own(file)
    stated = tomllib.loads(file.read_text(encoding="utf-8"))
    drawn = [pyogrio.read_dataframe(folder / "design.gpkg", layer=name) for name in ("lines", "points")]
    elements = pyogrio.read_dataframe(folder / "design.gpkg", layer="elements", read_geometry=False)
    shots = {day: shots_of(folder / "shots" / f"{day}.csv", request.param) for day in ("day1", "day2")}
    given = {"shots": shots, "design": drawn, "elements": elements}
    given |= {name: listing(folder / f"{name}.csv") for name in ("control", "codes", "screening")}
    before = {name: _copied(value) for name, value in given.items()}
    said = {key: value for key, value in stated["shots"][0].items() if key != "file"}
    by_tables = geoqa.assess(
        **given,
        frame=stated["frame"],
        tolerances=stated["tolerance"],
        uncertainty=stated["uncertainty"],
        rule=stated["decision"]["rule"],
        declared={"shots": said, "control": {"unit": "ft"}},
        name=stated["job"]["name"],
        revision=stated["job"]["revision"],
        date=stated["job"]["date"],
    )
    return geoqa.run(file, write=False), by_tables, given, before


def _without_files_of_their_own(file):
    """Tables in memory hold neither a centre line, nor a surface, nor notes of structures."""
    text = file.read_text(encoding="utf-8").replace('folder = "out"', 'folder = "out"\npages = ["map", "day"]')
    first, last = text.index("[[design]]                   # the finished"), text.index("[background]")
    file.write_text(text[:first] + text[last:], encoding="utf-8")


def _copied(value):
    if isinstance(value, dict):
        return {name: each.copy(deep=True) for name, each in value.items()}
    return [each.copy(deep=True) for each in value] if isinstance(value, list) else value.copy(deep=True)


def test_the_findings_are_the_same_to_the_last_bit(both):
    by_file, by_tables, _, _ = both
    assert len(by_file.findings) > 1000
    pd.testing.assert_frame_equal(
        pd.DataFrame(by_file.findings[HELD]), pd.DataFrame(by_tables.findings[HELD]), check_exact=True
    )


def test_summary_flags_and_causes_are_the_same(both):
    by_file, by_tables, _, _ = both
    assert by_file.summary["reported"] == by_tables.summary["reported"]
    flags = ["shot_key", "flag", "reject", "step"]
    pd.testing.assert_frame_equal(by_file.layers["flags"][flags], by_tables.layers["flags"][flags])
    assert by_file.layers["causes"]["cause"].tolist() == by_tables.layers["causes"]["cause"].tolist()


def test_rows_keep_their_order_and_their_index(both):
    _, by_tables, given, _ = both
    shots = by_tables.shots
    assert shots.index.get_level_values(0).tolist() == [
        day for day, table in given["shots"].items() for _ in table.index
    ]
    assert shots.loc["day2", "shot"].tolist() == [str(each) for each in given["shots"]["day2"]["point"]]
    assert shots.loc["day2"].index.tolist() == given["shots"]["day2"].index.tolist()
    assert shots.loc["day1", "line"].tolist() == list(range(1, len(given["shots"]["day1"]) + 1))


def test_no_table_is_changed(both):
    _, _, given, before = both
    for name, value in given.items():
        pairs = {
            dict: lambda one, two: list(zip(one.values(), two.values(), strict=True)),
            list: lambda one, two: list(zip(one, two, strict=True)),
        }.get(type(value), lambda one, two: [(one, two)])(value, before[name])
        for one, two in pairs:
            pd.testing.assert_frame_equal(pd.DataFrame(one), pd.DataFrame(two), check_exact=True)


def test_the_three_chapters_hold_every_reported_finding_once(both):
    by_file, by_tables, _, _ = both
    chapters = (by_tables.work, by_tables.survey, by_tables.evidence)
    assert all(len(each) for each in chapters)
    together = sorted(name for each in chapters for name in each["finding"])
    assert together == sorted(by_file.reported["finding"])
    assert set(by_tables.evidence["check"]) == {"coverage", "pipe-network"}
    for each in chapters:
        assert isinstance(each, geopandas.GeoDataFrame)
        assert each["verdict"].iloc[0] != "IN"


def test_the_record_holds_a_hash_for_every_table_and_no_path(both):
    _, by_tables, _, _ = both
    inputs = by_tables.record["inputs"]
    assert [(each["path"], each["reader"]) for each in inputs] == [
        ("day1", "table.shots"), ("day2", "table.shots"), ("control", "table.control"), ("codes", "table.codes"),
        ("screening", "table.screening"), ("design", "table.design"),
    ]  # fmt: skip
    assert all(len(each["sha256"]) == 64 for each in inputs)
    assert len({each["sha256"] for each in inputs}) == len(inputs)
    assert by_tables.record["job"]["file"] == "in memory"
    assert "[tolerance.walk-front]" in by_tables.record["job"]["text"]


def test_every_output_counts_the_same_things_with_the_same_words(both):
    results = both[0]
    assert all((results.reported["verdict"] == sign).any() for sign in SIGNS)
    assert all(shots_by_sign(results.layers).values())
    hold_counts(results)
    hold_day_page(results)


def test_a_member_of_a_run_bears_the_sign_of_its_run_everywhere(both):
    results = both[0]
    findings = results.findings
    verdict = findings.set_index("finding")["verdict"]
    members = findings[findings["run"].notna()]
    milder = members[(members["run"].map(verdict) == "OUT") & (members["verdict"] != "OUT")]
    assert len(milder), "the demo has a run whose members could not be decided alone"
    signs = dict(zip(results.shots["shot_key"], signs_of_shots(findings, results.shots), strict=True))
    assert {signs[key] for key in milder["shot"]} == {"OUT"}
    marks = {mark.says["KEY"]: mark for mark in drawing_of(results, spacing=1.0, exaggeration=20).marks}
    assert {marks[key].verdict for key in milder["shot"]} == {"OUT"}
