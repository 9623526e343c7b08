"""A package that geoqa has never seen brings a check, and no file of geoqa is edited for it.

It is built and installed in an environment of its own, then the demo is run with and without it.
"""

import csv
import json
import re
import shutil
import site
import subprocess
import sys
import venv
from pathlib import Path

import pytest

pytestmark = pytest.mark.long

PACKAGE = Path(__file__).parent / "walk_width"
SAMPLE = Path(__file__).parents[2] / "sample_jobs" / "tannery_lane"
JOB = "tannery_lane.toml"
ITS_CHECK, ITS_STEP, ITS_FLAG = "walk-width", "walk-widths", "no-spike"
ITS_REASON = "no shot on the other edge lies across from this one"
ITS_NOTE = re.compile(r"Widths of walks were taken from \d+ pairs of shots\.")


class Place:
    """An environment with geoqa and the package, and the demo run without and with the package's step."""

    def __init__(self, folder):
        self.folder = folder
        self.python = folder / "env" / "bin" / "python"
        venv.create(folder / "env", with_pip=False, symlinks=True)
        [packages] = (folder / "env" / "lib").glob("python*/site-packages")
        shared = [each for each in [*site.getsitepackages(), *sys.path] if each.endswith("site-packages")]
        lines = [f"import site; site.addsitedir({each!r})" for each in dict.fromkeys(shared)]
        (packages / "shared.pth").write_text("\n".join(lines) + "\n", encoding="utf-8")
        words = ["-m", "pip", "--python", str(self.python), "install", "--quiet", "--no-deps", str(PACKAGE)]
        subprocess.run([sys.executable, *words, "--disable-pip-version-check"], check=True)

    def call(self, *words, code=0):
        done = subprocess.run(
            [str(self.python), *words], cwd=self.folder, capture_output=True, text=True, encoding="utf-8", check=False
        )
        assert done.returncode == code, done.stderr
        return done.stdout

    def geoqa(self, *words, code=0):
        return self.call("-m", "geoqa", *words, code=code)

    def run_demo(self, name, *, with_step):
        """The sample job with a width for the front edge of walks, judged or not."""
        shutil.copytree(SAMPLE, self.folder / name)
        job = self.folder / name / JOB
        text = job.read_text(encoding="utf-8")
        text = text.replace("[tolerance.walk-front]\n", '[tolerance.walk-front]\nshot_width = "4.9 ft"\n')
        if with_step:
            text = text.replace("[outputs]\n", f'[[steps]]\nuse = "{ITS_STEP}"\n\n[outputs]\n')
            text += 'layers = ["csv", "sheets", "summary"]\n'
        else:
            text += 'layers = ["csv"]\npages = []\n'
        job.write_text(text, encoding="utf-8", newline="\n")
        said = self.geoqa("run", f"{name}/{JOB}", code=1)
        return said, self.folder / name / "out"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return Place(tmp_path_factory.mktemp("outside"))


@pytest.fixture(scope="module")
def without(place):
    return place.run_demo("without", with_step=False)[1]


@pytest.fixture(scope="module")
def with_it(place):
    return place.run_demo("with_it", with_step=True)[1]


def findings(out):
    with (out / "findings.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_its_findings_are_judged_and_say_its_own_reason_and_remedy(with_it):
    mine = [row for row in findings(with_it) if row["check"] == ITS_CHECK]
    assert {row["verdict"] for row in mine} >= {"IN", "NO_DATA"}
    missing = next(row for row in mine if row["verdict"] == "NO_DATA")
    assert missing["why"] == "no-other-edge"
    assert missing["remedy"] == "shoot the other edge at this station"
    judged = next(row for row in mine if row["verdict"] == "IN")
    assert float(judged["lower"]) == 4.9
    assert float(judged["u_common"]) == 0.05
    assert judged["u"] == judged["u_random"]  # what both shots share cancels: the check says which part it feels


def test_every_other_finding_is_the_same_to_the_byte(without, with_it):
    def others(out):
        lines = (out / "findings.csv").read_text(encoding="utf-8").splitlines(keepends=True)
        # a list that begins anew counts its items: one more among them moves the numbers behind it
        numbered = re.compile(r'^("F[0-9a-f]{16}",)("[0-9]+")?')
        return [numbered.sub(r"\1", line) for line in lines if f'"{ITS_CHECK}"' not in line]

    assert others(without) == others(with_it)
    assert len(others(without)) > 500
    assert len(findings(with_it)) > len(findings(without)) == len(others(without)) - 1


def test_its_harmless_flag_takes_no_shot_out_and_breaks_no_run(without, with_it):
    import pandas as pd

    flagged = {}
    for out in (without, with_it):
        shots = pd.read_csv(out / "shots.csv", dtype=str, keep_default_na=False)
        flagged[out] = shots["flags"].str.split(";")
        assert shots.loc[flagged[out].map(lambda names: names == [ITS_FLAG]), "use"].eq("true").all()
    ours = flagged[with_it].map(lambda names: [name for name in names if name != ITS_FLAG])
    assert (ours != flagged[with_it]).sum() > 50
    assert ours.map(";".join).tolist() == flagged[without].map(";".join).tolist()


def test_its_note_is_read_first(with_it):
    summary = json.loads((with_it / "summary.json").read_text(encoding="utf-8"))
    assert any(ITS_NOTE.fullmatch(note) for note in summary["notes"])


def test_its_row_stands_in_the_sheets(with_it):
    import openpyxl

    [book] = with_it.glob("*.xlsx")
    cells = [
        [cell for cell in row if isinstance(cell, str)]
        for sheet in openpyxl.load_workbook(book, read_only=True).worksheets
        for row in sheet.iter_rows(values_only=True)
    ]
    rows = [row for row in cells if ITS_CHECK in row]
    assert rows
    assert any(ITS_REASON in row for row in rows)
    assert any("wide; allowed: at least 4.90" in cell for row in rows for cell in row)


def test_it_is_explained_with_its_limit_its_reasons_and_its_source(place):
    text = place.geoqa("explain", ITS_CHECK)
    assert text.startswith(f"Width of the walk ({ITS_CHECK})")
    assert "Its limit: shot_width in [tolerance.KIND], a length." in text
    assert ITS_REASON in text
    assert "common practice, no source" in text


def test_it_is_listed_and_its_key_is_part_of_the_schema(place):
    assert ITS_STEP in place.geoqa("steps")
    schema = json.loads(place.geoqa("schema"))
    assert "Least width" in json.dumps(schema["$defs"]["Tolerance"]["properties"]["shot_width"])


@pytest.mark.parametrize(
    ("width", "told"),
    [
        ("4.9", '4.9 has no unit; write it as text with its unit, for example "0.10 ft"'),
        ('"0 ft"', "must be more than 0, and 0 ft is not"),
        ('"2 %"', "'2 %' is not a length"),
    ],
)
def test_a_wrong_value_of_its_key_is_refused_with_its_place(place, width, told, tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
        f'[tolerance.walk-front]\nshot_width = {width}\nreference = "r"\n',
        encoding="utf-8",
    )
    done = subprocess.run(
        [str(place.python), "-m", "geoqa", "check", str(job)],
        capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert f"[tolerance.walk-front], shot_width, line 8: {told}" in done.stderr


def test_without_the_package_its_key_is_refused(tmp_path):
    from geoqa.errors import JobError
    from geoqa.job.document.load import parse

    text = (
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
        '[tolerance.walk-front]\nshot_width = "5 ft"\nreference = "r"\n'
    )
    with pytest.raises(JobError, match=r"shot_width.*not an option here; .*allowed: .*horizontal, .*vertical, "):
        parse(text)


def test_loading_a_job_with_it_imports_no_step(place):
    shutil.copytree(SAMPLE, place.folder / "loaded")
    code = (
        "import sys; from geoqa.job.document.load import load; from geoqa.contract.checks import every_check; "
        f"load('loaded/{JOB}'); every_check()['{ITS_CHECK}']; "
        "print([name for name in sys.modules if name.startswith('geoqa.steps') or name == 'walk_width_step'])"
    )
    assert place.call("-c", code).strip() == "[]"


@pytest.mark.browser
def test_its_card_is_on_the_map(with_it, chromium):
    page = chromium.new_context(viewport={"width": 1400, "height": 900}).new_page()
    page.context.set_offline(True)
    troubles = []
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.goto((with_it / "map.html").as_uri())
    page.wait_for_selector("body[data-ready]", timeout=60_000)
    for closed in ("#list button.more", "#list .item.crowd[aria-expanded=false]"):
        while page.locator(closed).count():
            page.locator(closed).first.click()
    items = page.locator("#list .item:not(.crowd)", has_text="Width of the walk")
    items.filter(has_text=re.compile("not judged", re.IGNORECASE)).first.click()
    card = page.locator(".card").inner_text()
    assert "Width of the walk" in card
    assert ITS_REASON in card
    assert "Shoot the other edge at this station" in card
    assert troubles == []
