"""The same design in every format that holds one: the same verdicts to 1e-6, in two zones and both feet."""

from itertools import pairwise

import ezdxf
import geopandas as gpd
import numpy as np
import openpyxl
import pytest
import shapely

import geoqa
from bench.extent import extent

pytestmark = pytest.mark.long

ZONES = {"ft": ("EPSG:6547", 2_228_000.0, 446_000.0), "ftUS": ("EPSG:2277", 3_113_000.0, 10_071_000.0)}
KINDS = {"WF-1": "walk-front", "WF-2": "walk-front", "CT-1": "curb-top"}
FORMATS = {
    "ft": ("gpkg", "geojson", "shp", "dxf", "xml", "csv"),
    "ftUS": ("gpkg", "geojson", "shp", "dxf without a unit", "dxf in inches", "xml", "xlsx"),
}


def design(east, north):
    """Lines with elevations in places that no decimal number is, and a point."""
    rng = np.random.default_rng(7)
    lines = {
        name: np.column_stack([
            east + 30.0 * np.arange(6) / 0.7, north + 20.0 * nth + rng.normal(0, 1, 6), 900 + rng.normal(0, 0.3, 6)
        ])
        for nth, name in enumerate(KINDS)
    }  # fmt: skip
    return lines, np.array([east + 100 / 3, north - 20 / 7, 899.123456789])


def write_design(folder, form, code, lines, point):
    suffix = form.split()[0]
    if suffix == "dxf":
        document = ezdxf.new("R2010")
        document.header["$INSUNITS"] = {"dxf": 2, "dxf without a unit": 0, "dxf in inches": 1}[form]
        for name, places in lines.items():
            document.modelspace().add_polyline3d(places.tolist(), dxfattribs={"layer": name})
        document.modelspace().add_point(point.tolist(), dxfattribs={"layer": "H-1"})
        document.saveas(folder / "design.dxf")
        return ["design.dxf"]
    if suffix in ("csv", "xlsx"):
        rows = [("line", "kind", "point", "easting", "northing", "elevation")]
        rows += [(name, KINDS[name], None, *map(float, each)) for name, places in lines.items() for each in places]
        rows.append((None, "hydrant", "H-1", *map(float, point)))
        if suffix == "csv":
            (folder / "design.csv").write_text(
                "\n".join(",".join("" if each is None else str(each) for each in row) for row in rows) + "\n"
            )
        else:
            book = openpyxl.Workbook()
            for row in rows:
                book.active.append(row)
            book.save(folder / "design.xlsx")
        return [f"design.{suffix}"]
    if suffix == "xml":
        (folder / "design.xml").write_text(landxml_of(lines, point, us=code == ZONES["ftUS"][0]))
        return ["design.xml"]
    shapes = [shapely.LineString(each) for each in lines.values()]
    frames = {
        "lines": gpd.GeoDataFrame({"name": list(lines), "kind": list(KINDS.values())}, geometry=shapes, crs=code),
        "points": gpd.GeoDataFrame({"name": ["H-1"], "kind": ["hydrant"]}, geometry=[shapely.Point(point)], crs=code),
    }  # fmt: skip
    names = []
    for part, frame in frames.items():
        name = f"design.{suffix}" if suffix == "gpkg" else f"{part}.{suffix}"
        exact = {"COORDINATE_PRECISION": "15"} if suffix == "geojson" else {}
        frame.to_file(folder / name, **({"layer": part} if suffix == "gpkg" else exact))
        names += [name] if name not in names else []
    return names


def landxml_of(lines, point, *, us):
    """Plan features of straight legs, and a point with its code; northing first, as the standard has it."""
    features = ""
    for name, places in lines.items():
        at = [" ".join(map(repr, (float(each[1]), float(each[0]), float(each[2])))) for each in places]
        legs = "".join(f"<Line><Start>{one}</Start><End>{two}</End></Line>" for one, two in pairwise(at))
        features += f'<PlanFeature name="{name}" code="{KINDS[name]}"><CoordGeom>{legs}</CoordGeom></PlanFeature>'
    where = " ".join(map(repr, (float(point[1]), float(point[0]), float(point[2]))))
    return (
        '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Imperial '
        f'linearUnit="{"USSurveyFoot" if us else "foot"}"/></Units><CgPoints><CgPoint name="H-1" code="hydrant">'
        f"{where}</CgPoint></CgPoints><PlanFeatures>{features}</PlanFeatures></LandXML>"
    )


def judged(folder, form, unit):
    code, east, north = ZONES[unit]
    lines, point = design(east, north)
    files = write_design(folder, form, code, lines, point)
    rng = np.random.default_rng(11)
    rows = []
    for name, places in lines.items():
        for share in np.linspace(0.05, 0.95, 9) * 5:
            nth = int(share)
            at = places[nth] + (share - nth) * (places[nth + 1] - places[nth]) + rng.normal(0, [0.1, 0.1, 0.05])
            rows.append((*at, {"walk-front": "WKF", "curb-top": "CTB"}[KINDS[name]]))
    rows[3] = (rows[3][0], rows[3][1], rows[3][2] + 0.7, rows[3][3])
    rows.append((*(point + np.array([0.1, -0.1, 0.02])), "HYD"))
    text = "".join(f"{n},{e:.4f},{no:.4f},{z:.4f},{c}\n" for n, (e, no, z, c) in enumerate(rows, start=1))
    (folder / "shots.csv").write_text("point,easting,northing,elevation,code\n" + text)
    codes = "code,kind,geometry\nWKF,walk-front,line\nCTB,curb-top,line\nHYD,hydrant,point\n"
    (folder / "codes.csv").write_text(codes)
    stated = f'\nunit = "{unit}"\nlayers = {{ "WF-*" = "walk-front", "CT-1" = "curb-top", "H-1" = "hydrant" }}'
    tables = "".join(
        f'[[design]]\nid = "d{n}"\nfile = "{name}"{stated * name.endswith("dxf")}\n' for n, name in enumerate(files)
    )
    limits = "".join(
        f'[tolerance.{kind}]\nhorizontal = "0.20 {unit}"\nvertical = "0.10 {unit}"\nreference = "C-101"\n'
        for kind in ("walk-front", "curb-top", "hydrant")
    )
    (folder / "job.toml").write_text(
        f'[job]\nname = "One"\n[frame]\nhorizontal = "{code}"\n[[shots]]\nfile = "shots.csv"\n'
        f'[codes]\nfile = "codes.csv"\n{tables}{limits}[uncertainty.default]\n'
        f'horizontal_random = "0.02 {unit}"\nvertical_random = "0.02 {unit}"\n'
        'reference = "invented"\n[outputs]\nlayers = ["csv"]\npages = []\n'
    )
    findings = geoqa.run(folder / "job.toml").findings
    return findings.sort_values(["check", "subject", "shot", "station"], ignore_index=True)


@pytest.mark.parametrize("unit", extent(["ft", "ftUS"], of_a_change=["ftUS"]))
def test_the_format_of_the_design_decides_nothing(tmp_path, unit):
    found = {}
    for form in FORMATS[unit]:
        folder = tmp_path / form.replace(" ", "-")
        folder.mkdir()
        found[form] = judged(folder, form, unit)
    first = found["gpkg"]
    assert {"IN", "OUT", "UNDECIDED"} <= set(first["verdict"])
    for form, other in found.items():
        for column in ("check", "subject", "kind", "shot", "verdict", "why"):
            assert other[column].fillna("").tolist() == first[column].fillna("").tolist(), (form, column)
        for column in ("design", "measured", "deviation", "station", "lower", "upper"):
            np.testing.assert_allclose(
                other[column].to_numpy(float),
                first[column].to_numpy(float),
                rtol=0,
                atol=1e-6,
                err_msg=f"{form} {column}",
            )


TABLES = {
    "cl.csv": "point,station,easting,northing\nA,0,{e0!r},{n!r}\nB,,{e1!r},{n!r}\nC,,{e2!r},{n!r}\n",
    "grade.csv": "station,elevation\n0,900\n100,901.25\n200,900.5\n",
    "section.csv": "line,kind,from,to,width,slope\nCT-1,curb-top,0,200,0,0\n",
    "design.csv": "line,kind,easting,northing,elevation\nCT-1,curb-top,{e0!r},{n!r},900\n"
    "CT-1,curb-top,{e1!r},{n!r},901.25\nCT-1,curb-top,{e2!r},{n!r},900.5\n",
}


@pytest.mark.parametrize("unit", ["ftUS"])
def test_an_alignment_with_its_profile_and_section_judges_as_its_line_does(tmp_path, unit):
    code, east, north = ZONES[unit]
    for name, text in TABLES.items():
        (tmp_path / name).write_text(text.format(e0=east, e1=east + 100.0, e2=east + 200.0, n=north))
    rng = np.random.default_rng(3)
    at = np.linspace(5.0, 195.0, 20)
    high = np.interp(at, [0, 100, 200], [900, 901.25, 900.5]) + rng.normal(0, 0.05, 20)
    rows = zip(at, rng.normal(0, 0.12, 20), high, strict=True)
    (tmp_path / "shots.csv").write_text(
        "point,easting,northing,elevation,code\n"
        + "".join(f"{n},{east + a:.4f},{north + o:.4f},{z:.4f},CTB\n" for n, (a, o, z) in enumerate(rows))
    )
    (tmp_path / "codes.csv").write_text("code,kind,geometry\nCTB,curb-top,line\n")
    found = []
    along = "".join(f'[{role}]\nfile = "{file}.csv"\n' for role, file in
                    (("baseline", "cl"), ("profile", "grade"), ("section", "section")))  # fmt: skip
    for tables in ('[[design]]\nfile = "design.csv"\n', along):
        (tmp_path / "job.toml").write_text(
            f'[job]\nname = "One"\n[frame]\nhorizontal = "{code}"\n[[shots]]\nfile = "shots.csv"\n'
            f'[codes]\nfile = "codes.csv"\n{tables}[tolerance.curb-top]\nhorizontal = "0.20 {unit}"\n'
            f'vertical = "0.10 {unit}"\nreference = "C-101"\n[uncertainty.default]\nhorizontal_random = "0.02 {unit}"\n'
            f'vertical_random = "0.02 {unit}"\nreference = "invented"\n[outputs]\nlayers = ["csv"]\npages = []\n'
        )
        findings = geoqa.run(tmp_path / "job.toml", write=False).findings
        findings = findings[findings["check"].isin(["offset", "elevation"])]
        found.append(findings.sort_values(["check", "shot", "label"], ignore_index=True))
    one, other = found
    assert {"IN", "OUT", "UNDECIDED"} <= set(one["verdict"])
    assert other["verdict"].tolist() == one["verdict"].tolist()
    for column in ("design", "measured", "deviation", "u"):
        np.testing.assert_allclose(other[column].to_numpy(float), one[column].to_numpy(float), rtol=0, atol=1e-6)
