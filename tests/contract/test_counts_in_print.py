"""A count is printed beside a noun that fits it: the source holds no count before a bare plural."""

import ast
import re
from pathlib import Path

import geoqa

NOUNS = ("shots", "rows", "numbers", "verdicts", "marks", "visits", "points", "pairs", "files", "sessions", "lines",
         "places", "findings", "notes", "columns", "vertices", "kinds", "checks", "comparisons", "features", "objects",
         "tables", "layers", "codes", "entries", "steps", "problems", "mistakes", "hours", "minutes")  # fmt: skip
PLURAL = re.compile(rf"^\s(?:more |other |different |such |check |design )?(?:{'|'.join(NOUNS)})\b")
AT_LEAST_TWO = {
    "contract/flag_sentences.py": "lines and strings of which one shot differs: three shots and more",
    "contract/control_sentences.py": "marks that disagree are two and more",
    "steps/design/one_place.py": "a place has two shots and more",
    "steps/design/runs.py": "a run has three shots and more",
    "steps/judging/remedies.py": "tenths of such numbers",
    "read/vector/text_elevations.py": "vertices and points together, of a whole drawing",
    "read/vector/linework.py": "lines and points together, of a whole drawing",
    "read/delimited/layout.py": "lines that were looked at, or numbers on both sides of a comparison",
    "read/delimited/headings.py": "a table has two columns and more",
    "read/delimited/order.py": "refused are several columns",
    "read/delimited/rows.py": "an option of the job",
    "read/delimited/delimited.py": "an option of the job",
    "write/sheets/sheets.py": "more rows than a worksheet holds",
    "present/map/pack.py": "for programmers: lengths of columns",
    "kernels/causes/weighing.py": "for programmers: shapes of arrays",
    "kernels/design/station.py": "for programmers: shapes of arrays",
    "kernels/design/element_making.py": "for programmers: shapes of arrays",
    "kernels/design/band.py": "for programmers: shapes of arrays",
    "kernels/design/reaches.py": "for programmers: shapes of arrays",
    "kernels/tilt/compensation.py": "for programmers: shapes of arrays",
}
"""Where a count cannot be one, or nobody but a programmer reads it."""


def guarded_by_one(parents):
    """The text stands in a branch that one of a thing does not take."""
    return any(isinstance(each, ast.IfExp) for each in parents)


def bare_plurals(tree):
    found = []

    def walk(node, parents):
        if isinstance(node, ast.JoinedStr) and not guarded_by_one(parents):
            for value, after in zip(node.values, node.values[1:], strict=False):
                if not (isinstance(value, ast.FormattedValue) and isinstance(after, ast.Constant)):
                    continue
                if PLURAL.match(str(after.value)) and counts(value.value):
                    found.append(f"{ast.unparse(value)}{str(after.value)[:20]}")
        for child in ast.iter_child_nodes(node):
            walk(child, [*parents, node])

    def counts(value):
        return not (isinstance(value, ast.Call) and ast.unparse(value.func).endswith(("many", "listed", "join")))

    walk(tree, [])
    return found


def test_no_count_stands_before_a_bare_plural():
    root = Path(geoqa.__file__).parent
    wrong = {}
    for path in sorted(root.rglob("*.py")):
        name = path.relative_to(root).as_posix()
        if name in AT_LEAST_TWO:
            continue
        if found := bare_plurals(ast.parse(path.read_text(encoding="utf-8"))):
            wrong[name] = found
    assert wrong == {}


def test_the_search_finds_one():
    assert bare_plurals(ast.parse('text = f"{count} shots lie there"'))
    assert not bare_plurals(ast.parse('text = "1 shot" if count == 1 else f"{count} shots"'))
