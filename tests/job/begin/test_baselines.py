"""The centre line of a draft: the one alignment with a profile; of several none is chosen."""

from types import SimpleNamespace

import pytest

from geoqa.job.begin.baselines import baseline_of

LINE = '<Alignment name="{}" length="100" staStart="{}"><CoordGeom><Line><Start>0 {}</Start><End>100 {}</End></Line></CoordGeom>{}</Alignment>'  # noqa: E501
PROFILE = '<Profile><ProfAlign name="FG"><PVI>{} 10.0</PVI><PVI>{} 11.0</PVI></ProfAlign></Profile>'


def alignment(name, at, *, profile=True, start=1000.0):
    return LINE.format(name, start, at, at, PROFILE.format(start, start + 100) if profile else "")


@pytest.fixture
def lines(tmp_path):
    def of(*alignments):
        path = tmp_path / "road.xml"
        path.write_text(
            '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Imperial '
            f'linearUnit="foot"/></Units><Alignments>{"".join(alignments)}</Alignments></LandXML>',
            encoding="utf-8",
        )
        rows = tuple(("Alignment", each.split('"')[1], "", "") for each in alignments)
        file = SimpleNamespace(path=path, shown="road.xml", role="design", peek=SimpleNamespace(rows=rows))
        return [line for part in baseline_of([file]) for line in part.splitlines()]

    return of


def test_the_one_alignment_with_a_profile_is_the_centre_line(lines):
    assert lines(alignment("CL", 0))[:2] == ["[baseline]", 'file = "road.xml"']
    assert "10+00.00 to 11+00.00" in lines(alignment("CL", 0))[2]
    both = lines(alignment("CL", 0), alignment("FENCE", 40, profile=False))
    assert both[-1] == 'name = "CL"'


def test_of_several_none_is_chosen_and_without_a_profile_there_is_none(lines):
    several = lines(alignment("CL", 0), alignment("RAMP", 40))
    assert all(line.startswith("#") for line in several)
    assert any('name = "RAMP"' in line for line in several)
    assert lines(alignment("FENCE", 40, profile=False)) == []
