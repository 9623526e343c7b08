"""A file with something changed is read or refused in words, whatever was changed: never a traceback."""

import math
import random
import re

import pytest

from bench import landxml as made
from geoqa.errors import GeoqaError
from geoqa.read.landxml.contents import surfaces_of
from geoqa.read.landxml.design import DesignLandXML
from geoqa.read.landxml.points import ControlLandXML, ShotsLandXML

VALUES = [
    "",
    "0",
    "-1",
    "nan",
    "INF",
    "1e308",
    "1e-300",
    "x",
    "1 2",
    "1 2 3",
    "9" * 400,
    "P",
    "name",
    "&amp;",
    "1,5",
    "١",
]
SPOTS = re.compile(r'(?<=[">])[^"<>]+(?=["<])|(?<=<)/?[A-Za-z]+|[a-zA-Z]+(?==)')


def whole():
    walk = made.Walk(2231000.0, 445000.0, 0.7).line(250.0).spiral(150.0, math.inf, 400.0, 1).curve(400.0, 0.6, 1)
    points = made.cg_points(made.cg_point("A", (1, 2, 3), code="valve"), made.cg_point("B", (3, 4)))
    rows = "<PVI>1000 50</PVI>", '<CircCurve radius="900">1400 50</CircCurve>', "<PVI>1500 48</PVI>"
    tin = made.surface("EG", [(0, 0, 1), (1, 0, 1), (0, 1, 1), (1, 1, 2)], [(1, 2, 3), (2, 4, 3)], invisible=[1])
    chain = made.plan_feature("X", made.chain([(0, 0, 1), (5, 5, 2), (9, 9, 3)]))
    return made.document(
        points,
        made.plan_features(made.plan_feature("W", walk.geometry()), chain),
        made.alignment("CL", walk, '<StaEquation staAhead="2000" staInternal="1200"/>', made.profile(*rows)),
        made.surfaces(tin),
    )


def changed(text, seed):
    draw = random.Random(seed)
    for _ in range(draw.choice([1, 1, 2, 4])):
        spots = [each.span() for each in SPOTS.finditer(text)]
        if not spots:
            break
        first, last = draw.choice(spots)
        if draw.random() < 0.7:
            text = text[:first] + draw.choice(VALUES) + text[last:]
        else:
            start = draw.randrange(len(text))
            text = text[:start] + text[start + draw.randrange(60) :]
    return text


@pytest.mark.long
def test_no_change_to_a_file_ends_in_a_traceback(written):
    text, done, refusals = whole(), 0, []
    for seed in range(200):
        path = written(changed(text, seed))
        for read in (
            lambda path: DesignLandXML(surfaces=("EG",), kinds={"*": "k"}).read(path, source="d"),
            surfaces_of,
            lambda path: ShotsLandXML().read(path, source="s"),
            lambda path: ControlLandXML().read(path, source="c"),
            lambda path: DesignLandXML().peek(path),
        ):
            try:
                read(path)
                done += 1
            except GeoqaError as error:
                refusals.append(str(error))
    assert [each for each in refusals if "design.xml" not in each] == []
    assert min(done, len(refusals)) > 50
