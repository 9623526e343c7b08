"""The baseline of a job from LandXML, in the tables and by the kernels that every baseline goes through."""

import math

import numpy as np
import pytest

from bench import landxml as made
from geoqa.errors import SourceError
from geoqa.kernels.baseline.profile import Profile, profile_at
from geoqa.model.baseline import end_of, first_fault
from geoqa.read.landxml.alignment import alignment_of
from geoqa.read.landxml.baseline import AlignmentLandXML
from geoqa.read.landxml.contents import contents


def way():
    first = made.Walk(2231000.0, 445000.0, 0.7).line(250.0).spiral(150.0, math.inf, 400.0, 1).curve(400.0, 0.6, 1)
    return first.spiral(150.0, 400.0, math.inf, 1).line(100.0).curve(300.0, 0.4, -1, by="radius")


ROWS = "<PVI>1000 50</PVI>", '<CircCurve radius="5000">1400 62</CircCurve>', "<PVI>1900 52</PVI>"
EQUATION = '<StaEquation staBack="1200" staAhead="2000" staInternal="1200"/>'


def document(*names, unit="ftUS", profile=ROWS):
    return made.document(*(made.alignment(name, way(), EQUATION, made.profile(*profile)) for name in names), unit=unit)


@pytest.mark.parametrize("unit", ["ft", "ftUS", "m"])
def test_an_alignment_becomes_the_tables_of_a_baseline(written, unit):
    source = AlignmentLandXML().read(written(document("CL", unit=unit)), source="baseline")
    table = source.layers["baseline"]
    assert (source.unit.name, table["shape"].tolist()) == (unit, ["line", "spiral", "arc", "spiral", "line", "arc"])
    np.testing.assert_allclose(table[["easting", "northing"]].to_numpy(), way().ends[:-1], atol=1e-7)
    assert source.layers["baseline_equations"].to_numpy().tolist() == [[1200.0, 2000.0]]


def test_pieces_end_where_the_walk_does_by_the_kernels_of_a_baseline(written):
    held = contents(written(document("CL")))
    found = alignment_of(held.of("Alignment")[0], held.places)
    assert first_fault(found) is None
    ends = [end_of(each)[:2] for each in found.pieces]
    np.testing.assert_allclose(ends, way().ends[1:], atol=1e-6)


def test_a_vertical_circle_is_one_by_the_kernel_of_profiles(written):
    rows = AlignmentLandXML().read(written(document("CL")), source="b").layers["baseline_profile"]
    names = ("station", "elevation", "curve_in", "curve_out")
    profile = Profile(**{name: rows[name].to_numpy() for name in names})
    enter, leave, radius = math.atan(0.03), math.atan(-0.02), 5000.0
    tangent = radius * math.tan((enter - leave) / 2.0)
    start = 1400.0 - tangent * math.cos(enter), 62.0 - tangent * math.sin(enter)
    centre = start[0] + radius * math.sin(enter), start[1] - radius * math.cos(enter)
    station = np.linspace(start[0] + 0.001, 1400.0 + tangent * math.cos(leave) - 0.001, 101)
    true = centre[1] + np.sqrt(radius**2 - (station - centre[0]) ** 2)
    np.testing.assert_allclose(profile_at(profile, station)[0], true, atol=1e-6)


def test_of_several_the_job_names_one(written):
    path = written(document("CL", "DETOUR"))
    assert AlignmentLandXML(name="DETOUR").read(path, source="b").layers["baseline"]["baseline"][0] == "DETOUR"
    with pytest.raises(SourceError, match=r"several alignments; they are 'CL', 'DETOUR'.*name = \"CL\""):
        AlignmentLandXML().read(path, source="b")
    with pytest.raises(SourceError, match=r"has no alignment 'X'; they are 'CL', 'DETOUR'"):
        AlignmentLandXML(name="X").read(path, source="b")
    with pytest.raises(SourceError, match=r"and no Alignment"):
        AlignmentLandXML().read(written(made.document()), source="b")


def test_what_the_baseline_cannot_be_is_refused_with_its_line(written):
    bent = made.Walk(0.0, 0.0, 0.0).line(50.0)
    bent.azimuth = 0.3
    path = written(made.document(made.alignment("CL", bent.line(50.0))))
    with pytest.raises(SourceError, match=r"line \d+, baseline 'CL': it turns off by \+17\.1887 degrees"):
        AlignmentLandXML().read(path, source="b")
