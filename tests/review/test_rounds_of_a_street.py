"""A street of another zone in two rounds: decisions come back, some work is mended and shot again, most is not."""

import datetime
import json
import shutil

import pandas as pd
import pytest

from geoqa.job.run import run
from geoqa.review.decide import decide
from geoqa.review.rounds import compare
from geoqa.simulate.job_folder import write
from geoqa.simulate.make import make
from tests.review.files_of_reviewers import record_of, save

pytestmark = pytest.mark.long

ZONE, SEED = "EPSG:6405", 3
MENDED, LEFT = ("D01", "D06"), ("D09", "D10")


def made(folder, *plants):
    simulated = make(seed=SEED, zone=ZONE, plants=plants)
    return write(simulated, folder)


def planted(job, *plants):
    """Keys of the shots of plants, by plant."""
    rows = json.loads((job.parent / "truth.json").read_text("utf-8"))["items"]
    return {plant: {key for row in rows if row["plant"] == plant for key in row["shots"]} for plant in plants}


def logs(job):
    return {
        path.stem: pd.read_csv(path, dtype="str", keep_default_na=False) for path in (job.parent / "shots").iterdir()
    }


def item_with(job, keys):
    """Number of the item that is out and made of most of these shots."""
    out = pd.read_csv(job.parent / "out" / "findings.csv", dtype="str")
    out = out[(out["verdict"] == "OUT") & out["shot"].isin(list(keys)) & out["item"].notna()]
    return out["item"].value_counts().index[0] if len(out) else ""


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    folder = tmp_path_factory.mktemp("street")
    job = made(folder / "one", *MENDED, *LEFT)
    text = job.read_text("utf-8").replace('folder = "out"', 'folder = "out"\nlayers = ["csv"]\npages = []')
    job.write_text(text, "utf-8")
    run(job)
    return job


def test_one_decision_holds_another_asks_and_a_conflict_is_listed(street, tmp_path):
    job = shutil.copytree(street.parent, tmp_path / "job") / street.name
    keys = planted(job, *MENDED, *LEFT)
    sag, aside = (item_with(job, keys[plant]) for plant in LEFT)
    facts = {"job": {"name": "Tannery Lane, phase 0", "file": job.name}}
    one = save(job, "one.json", "Engineer", {aside: "accept", sag: "fix"}, facts=facts)
    other = save(job, "other.json", "Inspector", {sag: "re-measure"}, facts=facts)
    first = decide(job, [one, other], now=datetime.datetime(2026, 6, 1, tzinfo=datetime.UTC))
    assert {each.item: each.decision for each in first.standing} == {aside: "accept"}
    assert [{each.by: each.decision for each in mine} for mine in first.conflicts] == [
        {"Engineer": "fix", "Inspector": "re-measure"}
    ]
    spoilt = job.parent / "spoilt.json"
    spoilt.write_text(one.read_text("utf-8").replace('"fix"', '"accept"'), "utf-8")
    found = decide(job, [spoilt])
    assert "changed by hand" in found.refused[0].why
    assert len(found.conflicts) == 1


def test_what_was_mended_is_closed_its_neighbours_are_named_and_the_rest_is_untouched(street, tmp_path):
    keys = planted(street, *MENDED, *LEFT)
    before = {row["item"]: row for row in record_of(street)["items"]}
    again = made(tmp_path / "mended", *LEFT)  # as the same crew would have found it without what was mended
    job = shutil.copytree(street.parent, tmp_path / "two") / street.name
    shot_anew, fresh = set().union(*(keys[plant] for plant in MENDED)), []
    for name, log in logs(again).items():
        mine = log[(name + "/" + log["point"]).isin(shot_anew)]
        checks = log[(log["code"] == "CHK") & (log["session"] == "A")]
        fresh.append(pd.concat([checks, mine]) if len(mine) else mine)
        kept = logs(job)[name]
        kept[~(name + "/" + kept["point"]).isin(shot_anew)].to_csv(job.parent / "shots" / f"{name}.csv", index=False)
    rows = pd.concat(fresh)
    when = pd.to_datetime(rows["time_utc"]) + pd.Timedelta(days=40)
    rows = rows.assign(
        point="9" + rows["point"], session="R2", initialization="R2", time_utc=when.dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    )
    rows.to_csv(job.parent / "shots" / "round2.csv", index=False)
    text = job.read_text("utf-8")
    table = text[text.index("[[shots]]") : text.index("[[shots]]", text.index("[[shots]]") + 1)]
    job.write_text(text.replace(table, table.replace("day1.csv", "round2.csv") + table, 1), "utf-8")
    run(job)
    found = compare([street.parent / "out", job.parent / "out"])
    by_item = {each.item: each for each in found.threads}
    for plant in LEFT:
        thread = by_item[item_with(street, keys[plant])]
        assert (thread.state, thread.untouched) == ("open", True)
    walk = by_item[
        next(item for item, row in before.items() if (row["check"], row["verdict"]) == ("cross-slope", "OUT"))
    ]
    assert walk.state == "closed"
    assert [place.partition(" 1")[2][:4] for place in walk.neighbours] == ["1+74", "3+01"]
    assert walk.beside
    out = {item for item, row in before.items() if row["verdict"] == "OUT" and row["state"] == "open"}
    touched = {item for item in out if before[item]["rows"] != record_row(job, item).get("rows")}
    assert {each.item for each in found.threads if each.item in out and not each.untouched} <= touched
    assert not found.of("reopened")


def record_row(job, item):
    return next((row for row in record_of(job)["items"] if row["item"] == item and row["state"] == "open"), {})
