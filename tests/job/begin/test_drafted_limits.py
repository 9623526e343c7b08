"""Drafted limits: one line for kinds that may share them, of several shots only where the kinds make such."""

import tomllib

from geoqa.job.begin.drafted_limits import drafted_limits

STREET = {
    "curb-top": "line", "curb-flow": "line", "walk-front": "line", "walk-back": "line", "hydrant": "point",
    "control": "mark",
}  # fmt: skip


def test_kinds_of_one_geometry_share_a_line_and_edges_make_a_pair():
    text = drafted_limits(STREET, "ftUS")
    [line] = [each for each in text.splitlines() if each.startswith("# walk ")]
    assert 'cross_slope = "… %", running_slope = "… %", width = "… ftUS"' in line
    assert '#   curb (top and flow line): reveal = { least = "… ftUS", most = "… ftUS" }' in text
    assert '#   curb-flow: fall = "… %", ponding = "… ftUS"' in text
    lines = [each.removeprefix("# ") for each in text.splitlines() if "reference =" in each]
    table = tomllib.loads("\n".join(lines))
    assert list(table) == ["curb-top, curb-flow, walk-front, walk-back", "hydrant", "control", "walk"]


def test_without_pairs_and_flow_lines_there_is_no_such_line():
    text = drafted_limits({"curb-top": "line", "rim": "point"}, "ft")
    assert "Limits of several shots" not in text
    assert "walk" not in text
    assert "pipe_slope" in drafted_limits({"rim": "point"}, "ft", roles={"structures"})
