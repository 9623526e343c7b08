"""What a spreadsheet does to a table of shots is told line by line, and no cut number is taken."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import LineString

from geoqa.read.codes import CodesText
from geoqa.read.control import ControlText
from geoqa.read.delimited.values import numbers
from geoqa.read.design import DesignVector
from geoqa.read.design_table import DesignText
from geoqa.read.levels import LevelsText
from geoqa.read.shots import ShotsText
from geoqa.read.slope_readings import ReadingsText
from geoqa.read.structures import StructuresText


@pytest.mark.parametrize("text", ["2.23E+06", "2.2285E+06", "1E+05", "-8.1e2", "2,23E+06"])
def test_a_number_cut_short_is_not_taken(text):
    got = numbers(pd.Series([text]), lines=np.array([7]), column="easting", decimal="," if "," in text else ".")
    assert np.isnan(got.values[0])
    assert str(got.troubles[0]).startswith(f"line 7, easting: '{text}' is a longer number cut short")


@pytest.mark.parametrize(("text", "value"), [("2.22850012E+06", 2228500.12), ("1.5E-02", 0.015), ("8.12E+02", 812.0)])
def test_a_number_whole_in_powers_of_ten_is_taken(text, value):
    assert numbers(pd.Series([text]), lines=np.array([1]), column="u").values[0] == pytest.approx(value)


def test_names_that_became_dates_are_told_and_their_shots_stand(tmp_path):
    path = tmp_path / "s.csv"
    path.write_text(
        "Point,Easting,Northing,Elevation,Code\n3-Feb,2228500.1,446000.2,1460.1,CTB\n102,2228510.1,446000.2,1460.1,1-Mar\n"
        "2026-02-04 00:00:00,2228520.1,446000.2,########,CTB\n",
        encoding="utf-8",
    )
    source = ShotsText().read(path, source="s")
    assert source.layers["shots"]["shot"].tolist() == ["3-Feb", "102", "2026-02-04 00:00:00"]
    assert [(each.line, each.column, each.loses_row) for each in source.troubles] == [
        (2, "shot", False), (3, "code", False), (4, "elevation", False), (4, "shot", False),
    ]  # fmt: skip


NAMED = {
    ControlText: ("mark,easting,northing,elevation\n", ("CP-1", "3-Feb"), "{},2228500.1,446000.2,1460.1\n", "mark"),
    CodesText: ("code,kind,geometry\n", ("CTB", "1-Mar"), "{},curb-top,line\n", "code"),
    LevelsText: ("point,elevation,u_v\n", ("101", "2026-02-03"), "{},1460.12,0.01\n", "point"),
    ReadingsText: ("place,value,u\n", ("101", "Feb-03"), "{},1.5 %,0.1 %\n", "place"),
    StructuresText: (
        "structure,rim shot,pipe,direction\n",
        ("MH-1", "2026-02-03 00:00:00"),
        "{},7,P-1,in\n",
        "structure",
    ),
    DesignText: (
        "point,kind,easting,northing,elevation\n",
        ("V-1", "2-Mar"),
        "{},valve,2228500.1,446000.2,1460\n",
        "point",
    ),
}
"""Reader to its header, a sound name and one that became a date, a row, and the column of the name."""


@pytest.mark.parametrize("reader", NAMED, ids=lambda reader: reader.__name__)
def test_names_of_every_list_that_became_dates_are_told_and_their_rows_stand(tmp_path, reader):
    head, names, row, column = NAMED[reader]
    path = tmp_path / "list.csv"
    path.write_text(head + "".join(row.format(name) for name in names), encoding="utf-8")
    source = reader().read(path, source="list")
    assert [(each.line, each.column, each.text) for each in source.troubles] == [(3, column, names[1])]
    assert not source.troubles[0].loses_row
    assert "is a date, as a spreadsheet makes it of a name" in source.troubles[0].reason
    (table,) = [each for each in source.layers.values() if len(each) == 2]
    assert names[1] in table.astype(str).to_numpy()


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "geojson"])
def test_design_whose_names_are_dates_is_told(tmp_path, suffix):
    names = pd.Series(pd.to_datetime(["2026-02-03", "2026-02-04"])) if suffix != "geojson" else ["3-Feb", "4-Feb"]
    lines = [LineString([(2228500.0, 446000.0 + at), (2228600.0, 446000.0 + at)]) for at in (0.0, 10.0)]
    path = tmp_path / f"walks.{suffix}"
    table = gpd.GeoDataFrame({"kind": "walk-front", "name": names}, geometry=lines, crs="EPSG:6547")
    table.to_file(path, schema={"geometry": "LineString", "properties": {"kind": "str", "name": "date"}},
                  engine="fiona") if suffix != "geojson" else table.to_file(path)  # fmt: skip
    source = DesignVector().read(path, source="walks")
    assert len(source.layers["design_lines"]) == 2
    assert [each.kept for each in source.troubles] == [True, True]
    assert all("is a date" in each.reason and each.column.startswith("name in layer") for each in source.troubles)
