"""What the package hands on: names in order, each importable, and nothing heavy before it is asked for."""

import subprocess
import sys

import pytest

import geoqa

HEAVY = ("numpy", "pandas", "geopandas", "shapely", "pyproj", "scipy", "pydantic", "folium", "matplotlib", "rasterio")


def test_importing_geoqa_imports_nothing_heavy():
    code = f"import geoqa, sys; print([name for name in {HEAVY!r} if name in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


@pytest.mark.parametrize("name", geoqa.__all__)
def test_every_public_name_is_there_and_says_what_it_is(name):
    made = getattr(geoqa, name)
    assert isinstance(made, str) or made.__doc__


def test_public_names_are_sorted_and_listed():
    assert sorted(geoqa.__all__) == geoqa.__all__ == dir(geoqa)


def test_an_unknown_name_says_which_there_are():
    with pytest.raises(AttributeError, match="has no attribute 'offset_station'"):
        _ = geoqa.offset_station
