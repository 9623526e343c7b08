"""Times that state no zone are one question for the folder, and it is answered once in the job file."""

import pytest

from geoqa.errors import JobError
from geoqa.job.begin.begin import begin
from geoqa.job.document.load import parse

ROWS = "Point,Easting,Northing,Elevation,Code,Time\n" + "".join(
    f"{n},{611_900 + n},1103800.0,300.1,K,{{}}\n" for n in range(3)
)
JOB = '[job]\nname = "A"\ntime_zone = "America/Chicago"\n[frame]\nhorizontal = "EPSG:6405"\n'


def drafted(tmp_path, *times):
    for number, time in enumerate(times):
        (tmp_path / f"day{number}.csv").write_text(ROWS.replace("{}", time), encoding="utf-8")
    return begin(tmp_path).path.read_text(encoding="utf-8")


@pytest.mark.long
def test_one_line_asks_for_the_zone_of_all_files_that_need_it(tmp_path):
    text = drafted(tmp_path, "2026-04-15 08:00:00", "2026-04-16T08:00:00Z", "14.04.2026 08:00:00")
    lines = [line for line in text.splitlines() if line.startswith("time_")]
    assert lines == [
        'time_zone = "REQUIRED"   # e.g. "America/Chicago": zone of 6 times of day0.csv, day2.csv, which state none'
    ]


def test_a_pattern_that_can_be_two_is_asked_for_its_file(tmp_path):
    text = drafted(tmp_path, "04/03/2026 08:00:00")
    assert 'time_format = "REQUIRED"   # "%d/%m/%Y %H:%M:%S" or "%m/%d/%Y %H:%M:%S": which is first' in text
    assert 'time_zone = "REQUIRED"' in text


def test_times_that_say_their_zone_ask_nothing(tmp_path):
    assert "time_zone" not in drafted(tmp_path, "2026-04-16T08:00:00-05:00")


def test_the_zone_of_the_job_is_that_of_every_file_that_states_none():
    shots = '[[shots]]\nfile = "a.csv"\n[[shots]]\nfile = "b.csv"\ntime_zone = "UTC"\n[[shots]]\nfile = "c.xml"\n'
    job = parse(JOB + shots)
    zones = [getattr(each.reader, "time_zone", "takes none") for each in job.shots]
    assert zones == ["America/Chicago", "UTC", "takes none"]
    assert parse(job.to_toml()) == job


@pytest.mark.parametrize(("zone", "said"), [("REQUIRED", "still to be filled in"), ("Chikago", "such as America/")])
def test_a_zone_that_is_none_is_refused_once_with_what_may_stand_there(zone, said):
    with pytest.raises(JobError, match=said) as refused:
        parse(JOB.replace("America/Chicago", zone) + '[[shots]]\nfile = "a.csv"\n')
    assert "1 problem" in str(refused.value)
