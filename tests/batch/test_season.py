"""What a season says: what is planted is found, nothing else is claimed more often than is said."""

import numpy as np
import pandas as pd
import pytest

from batch.seasons import facts, jobs_table, season_of
from bench.extent import extent
from geoqa.batch.season.make import crews_of, make_season


def season(made, **options):
    return make_season(made, jobs_table(made), **options)


def moved(found):
    rows = found.marks[found.marks["state"] == "moved"]
    return [(row["mark"], row["axis"], round(row["size"], 2)) for row in rows.to_dict("records")]


def off(found):
    rows = found.receivers[found.receivers["state"] == "off"]
    return [(row["receiver"], row["axis"]) for row in rows.to_dict("records")]


@pytest.mark.parametrize("seed", range(4))
def test_a_mark_that_moved_and_a_long_rod_are_both_found(seed):
    found = season(season_of(seed, moved=(2, 6, 0.05), rods={"R2": 0.03 + 0.02 * (seed > 0)}))
    rows = found.marks[found.marks["state"] == "moved"]
    assert rows[["mark", "axis"]].to_numpy().tolist() == [["CP-3", "elevation"]]
    row = rows.iloc[0]
    assert row["size"] == pytest.approx(-0.05, abs=0.015)
    assert row["low"] < -0.05 < row["high"] or abs(row["size"] + 0.05) < 0.015
    assert row["after"] < row["before"]
    assert set(off(found)) <= {("R2", "elevation")}


@pytest.mark.long
@pytest.mark.timeout(900)
def test_how_often_a_rod_three_hundredths_too_long_is_found_and_named_alone():
    """Sessions share 0.015 ft by themselves: 8 of them know a receiver to 0.007 ft, and 0.03 ft is found mostly."""
    found = [off(season(season_of(seed, rods={"R2": 0.03}))) for seed in range(extent(30, of_a_change=15))]
    assert sum(("R2", "elevation") in each for each in found) >= 0.6 * len(found)
    assert sum(bool(set(each) - {("R2", "elevation")}) for each in found) <= 2


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.parametrize("receivers", extent([("R1", "R2", "R3"), ("R1", "R2")], of_a_change=[("R1", "R2", "R3")]))
def test_where_nothing_is_planted_nothing_is_claimed_beyond_the_rate(receivers):
    """5 % each; of 40 batches at most 6, of 15 at most 3, by the binomial distribution at 99.5 %."""
    found = [season(season_of(seed, receivers=receivers)) for seed in range(extent(40, of_a_change=15))]
    most = extent(6, of_a_change=3)
    assert sum(bool(moved(each)) for each in found) <= most
    assert sum(bool(off(each)) for each in found) <= most


def test_with_few_jobs_nothing_is_said_of_marks_and_nobody_is_compared():
    found = season(season_of(1, jobs=3, receivers=("R1",), moved=(2, 1, 0.5)))
    assert set(found.marks["state"]) == {"few"}
    assert found.marks["p"].isna().all()
    assert set(found.receivers["state"]) == {"alone"}


def test_what_one_job_alone_shows_is_its_own():
    made = season_of(3)
    made[5][2].loc[made[5][2]["mark"] == "CP-2", "elevation"] += 0.2
    assert not any(
        axis == "elevation" and mark == "CP-2" and abs(size) > 0.1 for mark, axis, size in moved(season(made))
    )


def test_a_new_published_value_is_no_movement():
    made = season_of(5)
    for _, _, table in made[6:]:
        mine = table["mark"] == "CP-4"
        table.loc[mine, "published_elevation"] += 0.3
        table.loc[mine, "elevation"] -= 0.3
    found = season(made)
    assert moved(found) == []
    assert found.marks.loc[found.marks["mark"] == "CP-4", "published"].tolist() == [2, 2, 2]


def test_marks_of_one_name_in_two_places_or_frames_are_two():
    north, south = season_of(1, jobs=4), season_of(2, jobs=4, frame="another grid")
    far = season_of(3, jobs=4)
    for _, _, table in far:
        table["published_easting"] += 5000.0
    made = [
        (f"{nth}/{label}", told, table)
        for nth, each in enumerate((north, south, far))
        for label, told, table in each
    ]  # fmt: skip
    found = season(made)
    names = sorted(set(found.marks["mark"][found.marks["mark"].str.startswith("CP-1 ")]))
    assert names == ["CP-1 (0/part01/job.toml)", "CP-1 (1/part01/job.toml)", "CP-1 (2/part01/job.toml)"]
    assert found.frames == 2


@pytest.mark.long
def test_jobs_in_metres_are_told_in_the_unit_of_most():
    feet, metres = season_of(1), season_of(1, jobs=3, unit="m", frame="metres", scale=0.3048)
    found = season([*feet, *((f"m/{label}", told, table) for label, told, table in metres)])
    assert found.unit == "ft"
    alone = season(feet[:3])
    both = found.achieved.set_index(["by", "name"])
    session = ("session", "m/part01/job.toml · A")
    assert both.loc[session, "u_v"] == pytest.approx(
        alone.achieved.set_index(["by", "name"]).loc[("session", "part01/job.toml · A"), "u_v"]
    )


@pytest.mark.long
def test_a_receiver_is_compared_from_site_to_site_where_nobody_was_beside_it():
    """Twelve sites with control of their own: half of them by R1, half by R2, whose rod is long."""
    made = []
    for nth in range(12):
        [job] = season_of(nth, jobs=1, receivers=("R1",) if nth % 2 else ("R2",), rods={"R2": 0.08})
        job[2]["mark"] = [f"{nth}-{name}" for name in job[2]["mark"]]
        made.append((f"{nth:02d}/job.toml", *job[1:]))
    assert off(season(made)) == [("R2", "elevation")]


def test_what_was_achieved_is_the_root_mean_square_and_crews_are_told_when_asked():
    made = season_of(1, jobs=4)
    found = season(made)
    whole = pd.concat([table for _, _, table in made])
    row = found.achieved[found.achieved["by"] == "all"].iloc[0]
    assert row["u_v"] == pytest.approx(np.sqrt((whole["elevation"] ** 2).mean()))
    assert (row["jobs"], row["sessions"], row["shots"]) == (4, 8, 40)
    assert row["u_v_low"] < row["u_v"] < row["u_v_high"]
    assert set(found.achieved["by"]) == {"all", "receiver", "hours", "session"}
    crewed = [(label, told, table.assign(crew="C" + table["session"])) for label, told, table in made]
    asked = season(crewed, crews=True).achieved
    assert asked["name"][asked["by"] == "crew"].tolist() == ["CA", "CB"]


def test_shares_are_summed_by_owner_and_kind_and_causes_over_jobs():
    cause = {"cause": "rod", "title": "Rod height entered wrong", "subject": "s1", "shots": 4, "receivers": ["R1"]}
    made = [("a", facts(1, causes=[cause]), season_of(1, jobs=1)[0][2]), ("b", facts(2), season_of(2, jobs=1)[0][2]),
            ("c", facts(3, owner="Water District", causes=[cause]), season_of(3, jobs=1)[0][2])]  # fmt: skip
    found = season(made)
    shares = found.shares.set_index(["owner", "kind"])
    assert shares.loc[("Town of Larkmere", "curb-top"), ["numbers", "OUT", "IN"]].tolist() == [20, 2, 8]
    assert shares.loc[("Water District", "curb-top"), "numbers"] == 10
    assert found.causes[["cause", "jobs", "shots", "receivers", "where"]].to_numpy().tolist() == [
        ["rod", 2, 8, "R1", "a, c"]
    ]


def test_no_job_and_no_check_shot_are_a_season_too():
    found = make_season([], jobs_table([], refused=[("a", "no such file")]))
    assert len(found.marks) == len(found.achieved) == len(found.receivers) == 0
    bare = season([("a", facts(1), season_of(1, jobs=1)[0][2].iloc[:0])])
    assert len(bare.achieved) == 0


def test_a_time_that_is_missing_is_that_of_the_job_or_told():
    made = season_of(1, jobs=4)
    for _, told, table in made[:2]:
        table["time"] = pd.NaT
        told["date"] = ""
    assert season(made).without_time == 20


def test_crews_are_read_from_the_job_file(tmp_path):
    text = '[[shots]]\nfile = "a/day1.csv"\ncrew = "North"\n[[shots]]\nfile = "b.csv"\nid = "x"\ncrew = "South"\n'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert crews_of(tmp_path / "job.toml") == {"day1": "North", "x": "South"}
