"""One table of limits for several kinds: each has them, and troubles keep their line."""

import pytest

from geoqa.errors import JobError
from geoqa.job.document.load import parse

HEAD = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6559"\n[[shots]]\nfile = "a.csv"\n'


SHARED = """[tolerance]
"curb-top, rim" = { vertical = "0.1 ft", reference = "C" }
valve = { vertical = "1 in", reference = "D" }
"""


def test_every_kind_of_the_line_has_its_limits():
    found = parse(HEAD + SHARED).tolerance
    assert {kind: (str(each.vertical.lower), each.reference) for kind, each in found.items()} == {
        "curb-top": ("0.1 ft", "C"), "rim": ("0.1 ft", "C"), "valve": ("1 in", "D"),
    }  # fmt: skip


def test_a_kind_in_two_tables_is_refused_with_both_lines():
    with pytest.raises(JobError, match=r"has the kind rim twice, in 'curb-top, rim' and in 'rim', lines 8 and 9; keep"):
        parse(HEAD + SHARED.replace("valve", "rim"))


def test_what_is_wrong_keeps_its_line():
    with pytest.raises(
        JobError, match=r"\[tolerance\.rim\], verticl, line 8: not an option here; did you mean vertical"
    ):
        parse(HEAD + SHARED.replace("vertical", "verticl", 1))
