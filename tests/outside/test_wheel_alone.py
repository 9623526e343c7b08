"""The wheel holds all that a user needs, and nothing else: it runs the demo where there is no repository."""

import os
import shutil
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

from geoqa.version import VERSION

pytestmark = [pytest.mark.long, pytest.mark.timeout(900)]

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    shutil.copytree(ROOT / "geoqa", source / "geoqa", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source / name)
    words = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(source)]
    subprocess.run(words, check=True, capture_output=True)
    [made] = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def python(wheel, tmp_path_factory):
    """An environment with the wheel and what it depends on; a package in place of the wheel's is not on its path."""
    folder = tmp_path_factory.mktemp("empty") / "env"
    venv.create(folder, with_pip=False, symlinks=True)
    made = folder / "bin" / "python"
    words = ["-m", "pip", "--python", str(made), "install", "--quiet", "--no-deps", "--no-index", str(wheel)]
    subprocess.run([sys.executable, *words], check=True, capture_output=True)
    [packages] = (folder / "lib").glob("python*/site-packages")
    shared = [each for each in dict.fromkeys(sys.path) if each.endswith("site-packages")]
    (packages / "shared.pth").write_text("\n".join(shared) + "\n", encoding="utf-8")
    return made


def test_it_has_the_one_version_and_no_tests_or_pages(wheel):
    assert wheel.name == f"geoqa_survey-{VERSION}-py3-none-any.whl"
    with zipfile.ZipFile(wheel) as held:
        names = held.namelist()
        [metadata] = [name for name in names if name.endswith(".dist-info/METADATA")]
        assert f"\nVersion: {VERSION}\n" in held.read(metadata).decode("utf-8")
    assert {name.partition("/")[0] for name in names} == {"geoqa", metadata.partition("/")[0]}
    tracked = {path.relative_to(ROOT).as_posix() for path in (ROOT / "geoqa").rglob("*") if path.is_file()}
    assert {name for name in tracked if "__pycache__" not in name} <= set(names)


def test_it_runs_the_demo_from_an_empty_folder(python, tmp_path):
    outside = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}

    def call(*words):
        done = subprocess.run(
            [str(python), "-I", *words], cwd=tmp_path, env=outside,
            capture_output=True, text=True, encoding="utf-8", check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert str(python.parent.parent) in call("-c", "import geoqa; print(geoqa.__file__)")
    assert call("-m", "geoqa", "--version").strip() == f"geoqa, version {VERSION}"
    call("-m", "geoqa", "demo", "demo", "--run")
    assert (tmp_path / "demo" / "out" / "map.html").stat().st_size > 100_000
