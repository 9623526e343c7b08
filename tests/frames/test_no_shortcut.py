"""Survey coordinates never take the silent way from one system to another."""

import ast
from importlib.resources import files


def sources():
    return sorted(path for path in files("geoqa").rglob("*.py"))


def test_nobody_asks_a_table_to_change_its_system():
    found = [path.name for path in sources() if ".to_crs(" in path.read_text(encoding="utf-8")]
    assert found == []


def test_the_coordinate_library_is_imported_in_this_room_only():
    found = []
    for path in sources():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [each.name for each in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            if any(name.split(".")[0] == "pyproj" for name in names) and "frames" not in path.parts:
                found.append(path.name)
    assert found == []
