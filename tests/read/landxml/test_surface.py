"""Surfaces: points and faces as the file has them, several by name, invisible faces left out, damage named."""

import numpy as np
import pytest

from bench import landxml as made
from geoqa.errors import SourceError
from geoqa.read.landxml.contents import surfaces_of
from geoqa.read.landxml.design import DesignLandXML

SQUARE = [(0.0, 0.0, 100.0), (100.0, 0.0, 101.0), (0.0, 100.0, 102.0), (100.0, 100.0, 103.0)]
FACES = [(1, 2, 3), (2, 4, 3)]


def elevation_at(surface, easting, northing):
    """Elevation by the weights of the corners, face by face: slow and plain."""
    for corners in surface.points[surface.faces]:
        weights = np.linalg.solve(np.vstack([corners[:, :2].T, np.ones(3)]), [easting, northing, 1.0])
        if (weights >= -1e-12).all():
            return float(weights @ corners[:, 2])
    return float("nan")


@pytest.mark.parametrize("version", ["1.0", "1.1", "1.2"])
def test_a_plane_is_a_plane_with_easting_and_northing_in_their_places(written, version):
    text = '<Surface name="EG"><Definition surfType="TIN"><Pnts><P id="1">0 0 100</P><P id="2">0 100 101</P>'
    text += '<P id="3">100 0 102</P></Pnts><Faces><F>1 2 3</F></Faces></Definition></Surface>'
    (surface,) = surfaces_of(written(made.document(made.surfaces(text), version=version)))
    assert elevation_at(surface, 50.0, 25.0) == 101.0


def test_invisible_faces_are_left_out_and_counted(written):
    tin = made.surface("EG", SQUARE, FACES, invisible=[1], neighbours=True)
    (surface,) = surfaces_of(written(made.document(made.surfaces(tin))))
    assert (surface.faces.tolist(), surface.invisible, len(surface.points)) == ([[0, 1, 2]], 1, 4)
    assert np.isnan(elevation_at(surface, 90.0, 90.0))


@pytest.mark.parametrize("ids", [[7, 3, 900, 12], [1_000_000_007, 5, 40_000, 2]])
def test_ids_need_no_order_and_may_have_gaps(written, ids):
    faces = [[ids[corner - 1] for corner in face] for face in FACES]
    tin = made.surface("EG", SQUARE, faces, ids=ids)
    (surface,) = surfaces_of(written(made.document(made.surfaces(tin))))
    assert surface.faces.tolist() == [[0, 1, 2], [1, 3, 2]]
    np.testing.assert_array_equal(surface.points, SQUARE)


def test_several_surfaces_are_chosen_by_name(written):
    before = (
        "<SourceData><Breaklines><Breakline><PntList3D>0 0 1 1 1 1</PntList3D></Breakline></Breaklines></SourceData>"
    )
    low, high = SQUARE, [(e, n, z + 10.0) for e, n, z in SQUARE]
    parts = made.surface("EG", low, FACES, state="existing"), made.surface("FG", high, FACES[:1], before=before)
    path = written(made.document(made.surfaces(*parts, state="proposed")))
    assert [(each.name, each.state) for each in surfaces_of(path)] == [("EG", "existing"), ("FG", "proposed")]
    (only,) = surfaces_of(path, names=["FG"])
    assert (only.name, only.points[0, 2], only.notes) == ("FG", 110.0, ("1 Breakline not read",))
    with pytest.raises(SourceError, match=r"has no surface XX; its surfaces are EG, FG"):
        surfaces_of(path, names=["XX"])


def test_a_job_that_names_a_surface_gets_its_tables_and_one_that_does_not_is_told(written):
    tins = made.surfaces(made.surface("EG", SQUARE, FACES), made.surface("FG", SQUARE, FACES, invisible=[0]))
    path = written(made.document(tins, unit="ftUS"))
    source = DesignLandXML(surfaces=("EG", "FG")).read(path, source="d")
    assert source.unit.name == "ftUS"
    points, faces = source.layers["surface_points"], source.layers["surface_faces"]
    assert points["surface"].tolist() == ["EG"] * 4 + ["FG"] * 4
    assert faces[["surface", "first", "second", "third"]].to_numpy().tolist()[-1] == ["FG", 1, 3, 2]
    with pytest.raises(SourceError, match=r'(?s)nothing of it is read as design.*surfaces = \["NAME"\]'):
        DesignLandXML().read(path, source="d")


def test_many_blocks_make_one_surface(written):
    grid = [(float(e), float(n), e + 2.0 * n) for n in range(80) for e in range(80)]
    faces = [(a, a + 1, a + 80) for a in range(1, 79 * 80) if a % 80]
    (surface,) = surfaces_of(written(made.document(made.surfaces(made.surface("EG", grid, faces)))))
    np.testing.assert_array_equal(surface.points, grid)
    np.testing.assert_array_equal(surface.faces, np.array(faces) - 1)


def broken(old, new, **more):
    return made.document(made.surfaces(made.surface("EG", SQUARE, FACES, **more))).replace(old, new, 1)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("<F>2 4 3</F>", "<F>2 9 3</F>", r"F no\. 2 names point 9, which is not there; ids from 1 to 4"),
        ("<F>2 4 3</F>", "<F>2 0 3</F>", r"F no\. 2 names point 0"),
        ("<F>2 4 3</F>", "<F>2 4</F>", r"F no\. 2 reads '2 4'; three ids"),
        ("<F>2 4 3</F>", "<F>2 4 3 1</F>", r"F no\. 2 reads '2 4 3 1'"),
        ("<F>2 4 3</F>", "<F>2 4 x</F>", r"F no\. 2 reads '2 4 x'"),
        ("<F>2 4 3</F>", "<F>2 4 2</F>", r"F no\. 2 names one point twice"),
        ("<F>2 4 3</F>", "<F>2 4 -1</F>", r"F no\. 2 reads '2 4 -1'"),
        ('<P id="2">', '<P id="1">', r"two points have the id 1"),
        ('<P id="2">', '<P id="two">', r"id 'two'; ids of points are whole numbers"),
        ('<P id="2">', "<P>", r"point no\. 2 has no id"),
        ("0.0 100.0 101.0", "0.0 100.0", r"P no\. 2 \(id 2\) reads '0\.0 100\.0'; three numbers"),
        ("0.0 100.0 101.0", "0.0 100.0 NaN", r"P no\. 2 \(id 2\) reads '0\.0 100\.0 NaN'"),
        ("0.0 100.0 101.0", "0.0 1e400 101.0", r"P no\. 2 \(id 2\)"),
        ("0.0 100.0 101.0", "0.0 1_0 101.0", r"P no\. 2 \(id 2\)"),
        ('surfType="TIN"', 'surfType="grid"', r"surfType 'grid'; only TIN"),
        ("<Pnts>", "<Pnts><Q/>", r"only P is allowed"),
    ],
)
def test_damage_is_named_with_the_surface_and_the_place(written, old, new, says):
    with pytest.raises(SourceError, match=rf"'design\.xml', line \d+: .*'EG'.*{says}"):
        surfaces_of(written(broken(old, new)))


def test_points_or_faces_that_are_missing_are_named(written):
    text = broken("", "")
    start, end = text.index("<Pnts>"), text.index("</Pnts>") + len("</Pnts>")
    with pytest.raises(SourceError, match=r"surface 'EG' has its Faces before, or without, its Pnts"):
        surfaces_of(written(text[:start] + text[end:]))
    start, end = text.index("<Faces>"), text.index("</Faces>") + len("</Faces>")
    with pytest.raises(SourceError, match=r"surface 'EG' has no Faces"):
        surfaces_of(written(text[:start] + text[end:]))
    with pytest.raises(SourceError, match=r"'EG', Faces: there is none"):
        surfaces_of(written(text[: start + 7] + text[end - 8 :]))


def test_two_surfaces_of_one_name_are_refused(written):
    twins = made.surfaces(made.surface("EG", SQUARE, FACES), made.surface("EG", SQUARE, FACES))
    with pytest.raises(SourceError, match=r"a second surface 'EG'; the first is in line \d+"):
        surfaces_of(written(made.document(twins)))
