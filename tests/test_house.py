"""The house keeps its plan: who may import whom, how long a module may be, what is said only in one place."""

import ast
import functools
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterable, Iterator
from importlib.metadata import entry_points
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
HOUSE = ROOT / "geoqa"
MODULES = sorted(HOUSE.rglob("*.py"))
SCRIPTS = sorted(HOUSE.rglob("*.js"))
LONGEST = 400

MAY_IMPORT = {
    "errors": set(),
    "version": set(),
    "kernels": {"errors"},
    "model": {"errors", "kernels"},
    "frames": {"errors", "kernels", "model"},
    "plugins": {"errors"},
    "contract": {"errors", "model", "plugins"},
    "read": {"errors", "model", "frames"},
    "steps": {"errors", "contract", "kernels", "model", "frames"},
    "write": {"errors", "contract", "model", "frames"},
    "present": {"errors", "contract", "model", "frames"},
    "job": {"errors", "contract", "model", "frames", "plugins", "version"},
    "library": {"errors", "kernels", "model", "contract", "frames", "plugins", "steps", "present", "job"},
    "simulate": {"errors", "contract", "kernels", "model", "frames", "plugins"},
    "review": {"errors", "contract", "model", "plugins", "job"},
    "batch": {"errors", "contract", "kernels", "model", "plugins", "present", "job", "version"},
    "cli": {"errors", "contract", "model", "plugins", "job", "review", "simulate", "batch", "version"},
    "presets": set(),
}
ANY = {"__init__", "__main__", "testing", "checks"}
NO_CIRCLES = ((HOUSE, ROOT), (ROOT / "tests" / "bench", ROOT / "tests"))
"""Folders, and where the names of their modules begin, in which nothing may need itself by way of another."""


def room_of(path: Path) -> str:
    return path.relative_to(HOUSE).parts[0].removesuffix(".py")


Nodes = Iterable[ast.AST]
TOLD_BY = (ast.Import, ast.ImportFrom, ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)


@functools.cache
def nodes_of(path: Path) -> list[ast.AST]:
    """The imports, definitions and texts of a module, in the order of `ast.walk`: the module itself stands first."""
    return [
        node
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, TOLD_BY) or (isinstance(node, ast.Constant) and isinstance(node.value, str))
    ]


def nodes_in(code: str) -> list[ast.AST]:
    return list(ast.walk(ast.parse(code)))


def rooms_imported(nodes: Nodes) -> Iterator[str]:
    """Every room of the house that a module imports, also inside functions and under TYPE_CHECKING."""
    for node in nodes:
        if isinstance(node, ast.ImportFrom) and node.module is not None:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        for name in names:
            parts = name.split(".")
            if parts[0] == "geoqa":
                inside = len(parts) > 1 and any((HOUSE / each).exists() for each in (parts[1], f"{parts[1]}.py"))
                yield parts[1] if inside else "__init__"


def lines_without_docstrings(path: Path) -> int:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    for node in nodes_of(path):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and node.body:
            first = node.body[0]
            if (
                isinstance(first, ast.Expr)
                and isinstance(first.value, ast.Constant)
                and isinstance(first.value.value, str)
            ):
                lines -= (first.end_lineno or first.lineno) - first.lineno + 1
    return lines


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def test_every_room_is_planned():
    unplanned = {room_of(path) for path in MODULES} - ANY - set(MAY_IMPORT)
    assert unplanned == set(), "add them to DEVELOPERS.md and here"


def test_a_module_imports_only_from_rooms_below():
    forbidden = {}
    for path in MODULES:
        room = room_of(path)
        if room not in ANY:
            forbidden[named(path)] = set(rooms_imported(nodes_of(path))) - {room} - MAY_IMPORT[room]
    assert forbidden
    assert {path: rooms for path, rooms in forbidden.items() if rooms} == {}


def test_a_forbidden_arrow_is_seen_inside_a_function_and_under_type_checking():
    nodes = nodes_in(
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from geoqa.cli import main\n"
        "def f():\n    import geoqa.write.tables\n"
    )
    assert set(rooms_imported(nodes)) == {"cli", "write"}


def test_a_module_fits_on_the_desk():
    lengths = {named(path): lines_without_docstrings(path) for path in MODULES}
    assert {path: lines for path, lines in lengths.items() if lines > LONGEST} == {}


def test_a_script_fits_on_the_desk():
    long = [named(path) for path in SCRIPTS if len(path.read_text(encoding="utf-8").splitlines()) > LONGEST]
    assert long == []


def test_commands_are_doors_not_rooms():
    long = [named(path) for path in (HOUSE / "cli").glob("*.py") if lines_without_docstrings(path) > 100]
    assert long == []


def test_nothing_is_called_utils():
    names = {path.stem for path in MODULES} | {path.name for path in HOUSE.rglob("*") if path.is_dir()}
    assert not names & {"utils", "util", "helpers", "helper", "common", "misc"}


@pytest.mark.parametrize(
    ("pattern", "home"),
    [
        (r"\bimport pyproj|\bfrom pyproj", "frames"),
        (r"\bimport_module\(", "plugins"),
        (r"\bimport folium|\bfrom folium", "present"),
        (r"\bimport matplotlib|\bfrom matplotlib", "present"),
        (r"\bimport (dask|distributed)|\bfrom (dask|distributed)", "batch"),
    ],
)
def test_one_room_owns_a_library(pattern, home):
    strangers = {
        named(path)
        for path in MODULES
        if room_of(path) != home and re.search(pattern, path.read_text(encoding="utf-8"))
    }
    assert strangers == set()


READS_WORDS = re.compile(
    r"""flags["']\]\s*\.str\.|\.r?partition\(["'][;(]|["'] (?:not )?in (?:\w+\.)?(?:said|told|says|reason|words)\b"""
)
"""Ways in which a sentence, or flags joined in one text, was once read for a fact."""


def test_no_code_reads_a_sentence():
    """Facts are columns; flags are compared by `geoqa.model.tables.shot_flags`, as whole names."""
    readers = [
        named(path)
        for path in MODULES
        if room_of(path) in ("steps", "job", "write", "present")
        and READS_WORDS.search(path.read_text(encoding="utf-8"))
    ]
    assert readers == []


@pytest.mark.parametrize("text", ['shots["flags"].str.contains("x")', 'variant.rpartition("(")[2]', '"off" in said:'])
def test_a_sentence_that_is_read_is_seen(text):
    assert READS_WORDS.search(text)


def test_survey_data_never_goes_through_the_silent_transform():
    users = {named(path) for path in MODULES if ".to_crs(" in path.read_text(encoding="utf-8")}
    assert users == set()


def test_installed_plugins_are_those_the_package_declares():
    with (ROOT / "pyproject.toml").open("rb") as stream:
        declared = tomllib.load(stream)["project"]["entry-points"]
    for group, names in declared.items():
        installed = {
            entry.name: entry.value
            for entry in entry_points(group=group)
            if entry.dist and entry.dist.name == "geoqa-survey"
        }
        assert installed == names, "the installed package is older than pyproject.toml: run pip install -e . again"


def test_every_declared_plugin_can_be_imported():
    from geoqa import plugins
    from geoqa.model.check import Check

    for group in plugins.GROUPS:
        for name in plugins.declared(group):
            plugin = plugins.load(group, name)
            if group == "checks":
                assert isinstance(plugin, Check)
                assert plugin.name == name
            elif group == "rounds":
                assert callable(plugin)
            elif group != "words":
                assert hasattr(plugin, "model_fields"), (group, name)
            if group == "steps":
                assert plugin.name == name


OUR_STEPS = {
    name: value.partition(":")[0]
    for name, value in tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["entry-points"][
        "geoqa.steps"
    ].items()
    if value.startswith("geoqa.steps.")
}
KERNELS = [path for path in MODULES if room_of(path) == "kernels" and path.stem != "__init__"]
ONE_SIDED = {
    "beyond-design": {"IN", "UNDECIDED"},  # shots are counted; what lies within reach of a design is no finding
    "identical-to-design": {"IN", "UNDECIDED", "NO_DATA"},  # a count is beyond chance, or nothing is said
    "session-shifts": {"NO_DATA"},  # only what is proven not to be chance is a finding
    "pipe-vertices": {"IN", "OUT", "UNDECIDED"},  # it lists lines that mix measurements and marks
    "unknown-codes": {"IN", "OUT", "UNDECIDED"},  # it asks what was shot, and judges nothing
    "diagnosis": {"IN", "UNDECIDED", "NO_DATA"},  # a cause is named or not; no shot may stand under one that is
    "older-design": {"IN", "UNDECIDED"},  # a file is a matter or is none; the numbers that wait are other steps' rows
}
"""Verdicts that a step never gives."""


def mirror_of(module: str) -> Path:
    """Test file that mirrors a module: tests/ROOM/FOLDER/test_MODULE.py."""
    *above, own = module.split(".")[1:]
    return ROOT.joinpath("tests", *above, f"test_{own}.py")


def mirrored(module: str) -> bool:
    """Whether the mirror of a module is there, takes something from it, and has a test."""
    path = mirror_of(module)
    if not path.exists():
        return False
    tree = ast.parse(path.read_text(encoding="utf-8"))
    taken = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    taken |= {
        f"{node.module}.{alias.name}"
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    tests = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        and node.name.startswith("test_")
        and any(isinstance(each, ast.Assert) for each in ast.walk(node))
    ]
    return module in taken and bool(tests)


def has_a_public_face(path: Path) -> bool:
    return any(
        isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
        for node in nodes_of(path)[0].body
    )


def test_every_step_has_a_test_file_of_its_own():
    assert OUR_STEPS
    assert [named(mirror_of(module)) for module in OUR_STEPS.values() if not mirrored(module)] == [], "write these"


def test_every_kernel_has_a_test_file_of_its_own():
    modules = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in KERNELS if has_a_public_face(path)]
    assert modules
    unproven = [named(mirror_of(module)) for module in modules if not mirrored(module)]
    assert unproven == [], "write these; doctests alone do not count"


def test_the_test_of_a_step_names_every_verdict_it_gives():
    from geoqa import plugins

    judging = [name for name in sorted(OUR_STEPS) if "findings" in plugins.load("steps", name).adds]
    silent = {}
    for name in judging:
        text = mirror_of(OUR_STEPS[name]).read_text(encoding="utf-8")
        unnamed = {verdict for verdict in ("IN", "OUT", "UNDECIDED", "NO_DATA") if f'"{verdict}"' not in text}
        silent[name] = unnamed - ONE_SIDED.get(name, set())
    assert silent
    assert {name: verdicts for name, verdicts in silent.items() if verdicts} == {}, (
        "verdicts that no row of its test has"
    )


def test_a_missing_and_an_empty_mirror_are_seen(monkeypatch, tmp_path):
    monkeypatch.setattr(sys.modules[__name__], "ROOT", tmp_path)
    module, mirror = "geoqa.steps.shots.spikes", tmp_path / "tests" / "steps" / "shots" / "test_spikes.py"
    assert not mirrored(module)
    mirror.parent.mkdir(parents=True)
    for text, told in (
        ("def test_nothing():\n    assert True\n", False),
        (f"from {module} import Spikes\n\n\ndef test_it():\n    Spikes()\n", False),
        (f"from {module} import Spikes\n\n\ndef test_it():\n    assert Spikes()\n", True),
    ):
        mirror.write_text(text, encoding="utf-8")
        assert mirrored(module) == told


def test_importing_the_package_loads_no_heavy_library():
    code = (
        "import sys, geoqa, geoqa.cli; heavy = 'numpy pandas geopandas pydantic pyproj folium rich'.split(); "
        "print([name for name in heavy if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"


def modules_below(folder: Path, root: Path) -> dict[str, Path]:
    """Every module of a package by its dotted name; a package goes by its own."""
    return {
        ".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__"): path
        for path in sorted(folder.rglob("*.py"))
    }


def names_imported(nodes: Nodes) -> Iterator[str]:
    """Every dotted name imported, also inside functions and under TYPE_CHECKING."""
    for node in nodes:
        if isinstance(node, ast.ImportFrom) and node.module is not None:
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def names_used(nodes: Nodes) -> Iterator[str]:
    """Every dotted name imported, and every text that may name a module, as tables of lazy imports do.

    An example in a docstring is documented use, and counts.
    """
    yield from names_imported(nodes)
    for node in nodes:
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if re.fullmatch(r"geoqa(\.\w+)+", node.value):
                yield node.value
            for module, name in re.findall(r">>> from (geoqa[.\w]*) import (\w+)", node.value):
                yield f"{module}.{name}"


def module_of(name: str, modules: dict[str, Path]) -> str | None:
    """The module a dotted name lies in: the longest beginning of it that is one."""
    while name and name not in modules:
        name = name.rpartition(".")[0]
    return name or None


def uses_of(modules: dict[str, Path], names: Callable[[Nodes], Iterator[str]] = names_used) -> dict[str, set[str]]:
    """Which modules each one names, itself left out."""
    found = {name: {module_of(used, modules) for used in names(nodes_of(path))} for name, path in modules.items()}
    return {name: {used for used in uses if used is not None} - {name} for name, uses in found.items()}


def following(seeds: set[str], uses: dict[str, set[str]]) -> set[str]:
    """The seeds, and all that is used from them on."""
    seen: set[str] = set()
    waiting = set(seeds)
    while waiting:
        name = waiting.pop()
        seen.add(name)
        waiting |= uses[name] - seen
    return seen


def with_packages(uses: dict[str, set[str]]) -> dict[str, set[str]]:
    """Importing a module imports the packages it lies in."""
    return {name: used | ({name.rpartition(".")[0]} & set(uses)) for name, used in uses.items()}


def circles(uses: dict[str, set[str]]) -> list[str]:
    """Modules from which following imports leads back to themselves."""
    return [name for name in sorted(uses) if name in following(uses[name], uses)]


def test_every_module_is_reached_from_a_command_a_plugin_or_the_public_face():
    modules = modules_below(HOUSE, ROOT)
    with (ROOT / "pyproject.toml").open("rb") as stream:
        project = tomllib.load(stream)["project"]
    doors = [project["scripts"], *project["entry-points"].values()]
    seeds = {value.partition(":")[0] for door in doors for value in door.values()}
    seeds |= {"geoqa", "geoqa.__main__", "geoqa.checks", "geoqa.testing"} & set(modules)
    dead = set(modules) - following(seeds, with_packages(uses_of(modules)))
    assert dead == set(), "no command, plugin or public name reaches these: use them, or move them to the test bench"


def test_a_dead_module_is_seen():
    uses = {"a": {"a.c.d"}, "a.b": set(), "a.c": set(), "a.c.d": set(), "a.e": {"a.b"}}
    assert following({"a"}, with_packages(uses)) == {"a", "a.c", "a.c.d"}
    code = "def f():\n    '''\n    >>> from geoqa.b import c'''\nTABLE = {'run': 'geoqa.cli.run', 1: 'geoqa, too'}"
    assert set(names_used(nodes_in(code))) == {"geoqa.b.c", "geoqa.cli.run"}


def between_folders(uses: dict[str, set[str]]) -> dict[str, set[str]]:
    """The same arrows between the folders inside rooms; a module right in a room stands for itself."""
    folder = {name: ".".join(name.split(".")[:3]) for name in uses}
    arrows: dict[str, set[str]] = {place: set() for place in folder.values()}
    for name, used in uses.items():
        arrows[folder[name]] |= {folder[other] for other in used} - {folder[name]}
    return arrows


@pytest.mark.parametrize(("folder", "root"), NO_CIRCLES, ids=("geoqa", "bench"))
def test_no_module_and_no_folder_needs_itself_by_way_of_another(folder, root):
    uses = uses_of(modules_below(folder, root), names_imported)
    assert uses
    assert circles(uses) == []
    assert circles(between_folders(uses)) == []


def test_a_circle_is_seen():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": {"a"}}) == ["b", "c"]


def test_a_circle_of_folders_is_seen_where_modules_form_none():
    uses = {"geoqa.a.up.one": {"geoqa.a.down.one"}, "geoqa.a.down.one": set(), "geoqa.a.down.two": {"geoqa.a.up.one"}}
    assert circles(uses) == []
    assert circles(between_folders(uses)) == ["geoqa.a.down", "geoqa.a.up"]


def test_an_import_for_types_or_inside_a_function_counts_for_a_circle():
    typed = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from geoqa.a.two import Two\n"
    lazy = "def f():\n    from geoqa.a import three\n"
    assert "geoqa.a.two.Two" in set(names_imported(nodes_in(typed)))
    assert "geoqa.a.three" in set(names_imported(nodes_in(lazy)))
