"""Scripts that import each other become one: in order, whole, and refused where a browser would fail."""

import re
import shutil
import subprocess

import pytest

from geoqa.errors import OutputError
from geoqa.present.map import frame
from geoqa.present.map.scripts import bare, joined, ordered, taken_apart

NAMES = sorted(path.name for path in frame.STATIC.glob("*.js"))
ENTRIES = [frame.PICTURE, frame.DIFFERENCE, frame.START, frame.UNFOLD]


def reader(texts):
    """Scripts from a table; one that is not in it is not there."""

    def read(name):
        if name not in texts:
            raise FileNotFoundError(name)
        return texts[name]

    return read


def names_of(texts, entries=("a.js",)):
    return [script.name for script in ordered(reader(texts), entries)]


def test_a_script_runs_after_all_that_it_imports_and_once():
    texts = {
        "a.js": 'import { c } from "./c.js";\nimport * as b from "./b.js";\n',
        "b.js": 'import { c, d as e } from "./c.js";\n',
        "c.js": "export const c = 1, z = 2;\nexport const d = 3;\n",
        "other.js": "",
    }
    assert names_of(texts) == ["c.js", "b.js", "a.js"]
    assert names_of(texts, ["other.js", "b.js", "a.js"]) == ["other.js", "c.js", "b.js", "a.js"]


def test_the_order_does_not_hang_on_the_order_of_the_files():
    texts = {f"{name}.js": "" for name in "bcd"} | {
        "a.js": "".join(f'import * as {n} from "./{n}.js";\n' for n in "dbc")
    }
    assert names_of(texts) == names_of(dict(reversed(texts.items()))) == ["d.js", "b.js", "c.js", "a.js"]


def test_a_circle_is_refused_and_its_way_named():
    texts = {f"{a}.js": f'import * as {b} from "./{b}.js";\n' for a, b in ("ab", "bc", "cb")}
    with pytest.raises(OutputError, match=r"in a circle: b\.js > c\.js > b\.js"):
        joined(reader(texts), ["a.js"])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('import { b } from "./none.js";\n', r"none\.js, which a\.js asks for, is not there"),
        ('import { inner } from "./b.js";\n', r"a\.js asks b\.js for inner, which it does not export"),
        ('import * as b from "./b.js";\nexport const a = [...b.inner];\n', r"a\.js asks b\.js for inner"),
        ('import { b } from "./b.js";\nconst b = 1;\n', r"a\.js: b stands for two things"),
        ('import { b, f as b } from "./b.js";\n', r"a\.js: b stands for two things"),
        ('import { b } from "./b.js";\nexport async function b() {}\n', r"a\.js: b stands for two things"),
        ('import b from "./b.js";\n', r"a\.js, line 1: this form"),
        ('import "./b.js";\n', r"a\.js, line 1: this form"),
        ('import { b } from "../b.js";\n', r"a\.js, line 1: this form"),
        ('import { b } from "b";\n', r"a\.js, line 1: this form"),
        ('import { b c } from "./b.js";\n', r"a\.js, line 1: this form"),
        ('const a = 1;\nimport { b } from "./b.js";\n', r"a\.js, line 2: this form"),
        ('export const a = 1;\nimport { b } from "./b.js";\n', r"a\.js, line 2: this form"),
        ('const a = await import("./b.js");\n', r"a\.js, line 1: this form"),
        ("const a = import.meta.url;\n", r"a\.js, line 1: this form"),
        ("// a\n\nexport let a = 1;\n", r"a\.js, line 3: this form"),
        ("export default 1;\n", r"a\.js, line 1: this form"),
        ("const a = 1;\nexport { a };\n", r"a\.js, line 2: this form"),
        ('export * from "./b.js";\n', r"a\.js, line 1: this form"),
        ("const a = `</SCRIPT>`;\n", r"a\.js, line 1: </SCRIPT would end the script"),
        ("const a = 1;\nconst b = '<!--';\n", r"a\.js, line 2: <!-- would end the script"),
    ],
)
def test_what_would_fail_in_the_page_is_refused_when_it_is_written(text, says):
    texts = {"a.js": text, "b.js": "const inner = 1;\nexport const b = [inner];\nexport function f() {}\n"}
    with pytest.raises(OutputError, match=says):
        joined(reader(texts), ["a.js"])


def test_an_entry_that_is_not_there_is_named():
    with pytest.raises(OutputError, match=r"none\.js, which a page asks for, is not there"):
        joined(reader({}), ["none.js"])


def test_a_property_or_a_part_of_a_name_is_not_taken_for_a_script():
    texts = {
        "a.js": 'import * as b from "./b.js";\nconst c = about.b.x + ab.x + b.b;\n',
        "b.js": "export const b = 1;\n",
    }
    assert "about.b.x + ab.x + b.b" in joined(reader(texts), ["a.js"])


def test_imports_may_run_over_lines_and_stand_behind_comments():
    script = taken_apart("a.js", '// what it is\nimport {\n  b,\n  c as d,\n} from "./b.js";\n\nconst e = 1;\n')
    assert [(part.local, part.source, part.wanted) for part in script.imports] == [
        ("b", "b.js", "b"),
        ("d", "b.js", "c"),
    ]
    assert script.body == "// what it is\nconst e = 1;\n"


def test_every_script_of_the_folder_is_reached_from_what_a_page_begins_with():
    assert sorted(script.name for script in ordered(frame.static, ENTRIES)) == NAMES
    plain = {script.name for script in ordered(frame.static, [frame.START])}
    assert set(NAMES) - plain == {frame.PICTURE, frame.DIFFERENCE, "raster.js", frame.UNFOLD}


def test_no_script_reaches_another_but_by_import():
    for name in NAMES:
        assert re.findall(r"\bgeoqa\.|\bglobalThis\.|\bwindow\.\w+ =", frame.static(name)) == []


@pytest.fixture
def parses(tmp_path):
    node = shutil.which("node")
    if node is None:
        pytest.skip("no node found to parse the scripts with")

    def check(name, text):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return subprocess.run([node, "--check", str(path)], capture_output=True, text=True)

    return check


def test_every_script_parses_as_a_module_and_all_together_as_a_script(parses):
    assert parses("broken.mjs", 'import { a } from "./a.js";\nconst a = 1;\n').returncode != 0
    results = {name: parses(name.replace(".js", ".mjs"), frame.static(name)) for name in NAMES}
    assert {name: result.stderr for name, result in results.items() if result.returncode} == {}
    whole = parses("whole.cjs", joined(frame.static, ENTRIES))
    assert whole.returncode == 0, whole.stderr


def test_a_page_carries_scripts_without_comments_and_indents():
    text = "// what it is\nconst a = 1; // stays\n\nif (a) {\n  // why\n  go('// no comment');\n}\n"
    assert bare(text) == "const a = 1; // stays\nif (a) {\ngo('// no comment');\n}"


def test_a_script_with_a_text_over_several_lines_is_left_as_it_is():
    text = "const a = `one\n  // two\n`;"
    assert bare(text) == text
