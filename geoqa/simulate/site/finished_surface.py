"""The finished surface of the design: triangles between the lines of the section, to the grass behind the walks."""

import numpy as np

from geoqa.simulate.site import alignment, scenario

SURFACE_FILE, SURFACE = "finished_surface.xml", "finished grade"
_SPACING = 25.0
_BEHIND = 40.0
"""Feet from the centre line that the surface reaches to; behind the walk it rises at 2 %."""


def profile_across() -> tuple[np.ndarray, np.ndarray]:
    """Offsets of the break lines of the section, from left to right, and elevations above the centre line."""
    half = [(0.0, 0.0), (13.0, -0.26)]
    half += [(distance, above) for _, distance, above in scenario.SECTION.values()]
    _, back, above = scenario.SECTION["walk-back"]
    half.append((_BEHIND, above + 0.02 * (_BEHIND - back)))
    right = np.array(half)
    left = right[:0:-1] * [-1.0, 1.0]
    whole = np.concatenate([left, right])
    return whole[:, 0], whole[:, 1]


def points_and_faces(zone: scenario.Zone) -> tuple[np.ndarray, np.ndarray]:
    """Points (n, 3), easting, northing and elevation to 0.001 ft, and faces (m, 3) that name them from 0."""
    offset, above = profile_across()
    even = np.arange(scenario.BEGIN, scenario.FINISH, _SPACING)
    station = np.append(even, scenario.FINISH)
    east, north = alignment.place(np.repeat(station, len(offset)), np.tile(offset, len(station)))
    level = np.repeat(alignment.profile(station), len(offset)) + np.tile(above, len(station))
    points = np.column_stack([zone.easting + east, zone.northing + north, level]).round(3)
    corner = np.arange(len(station) - 1)[:, None] * len(offset) + np.arange(len(offset) - 1)
    first = corner.ravel()
    ahead = first + len(offset)
    faces = np.concatenate([np.column_stack([first, ahead, first + 1]), np.column_stack([first + 1, ahead, ahead + 1])])
    return points, faces


def landxml(zone: scenario.Zone, name: str) -> str:
    """The surface as LandXML 1.2, international feet."""
    points, faces = points_and_faces(zone)
    rows = "\n".join(
        f'     <P id="{number}">{north:.3f} {east:.3f} {level:.3f}</P>'
        for number, (east, north, level) in enumerate(points.tolist(), start=1)
    )
    named = "\n".join(f"     <F>{a + 1} {b + 1} {c + 1}</F>" for a, b, c in faces.tolist())
    return f"""\
<?xml version="1.0" encoding="UTF-8"?>
<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2" date="{scenario.REVISED}" time="00:00:00">
 <Units><Imperial linearUnit="foot" areaUnit="squareFoot" volumeUnit="cubicYard"
   temperatureUnit="fahrenheit" pressureUnit="inHG"/></Units>
 <CoordinateSystem epsgCode="{zone.code.partition(":")[2]}" desc="{name}"/>
 <Surfaces>
  <Surface name="{SURFACE}" state="proposed">
   <Definition surfType="TIN">
    <Pnts>
{rows}
    </Pnts>
    <Faces>
{named}
    </Faces>
   </Definition>
  </Surface>
 </Surfaces>
</LandXML>
"""
