"""Checks of the work: whether it was built where and how it was designed."""

from geoqa.contract.tolerances import HORIZONTAL, VERTICAL
from geoqa.model.check import Check

_RULE = "JCGM 106:2012, guarded acceptance and guarded rejection"

OFFSET = Check(
    name="offset",
    title="Offset from design line",
    subject="work",
    quantity="length",
    directions=("left", "right"),
    axis="h",
    tolerance=HORIZONTAL,
    of_geometry="line",
    consequence="position",
    compared="The distance of a shot from its design line, square to the line at the shot's station; positive is "
    "right of the line's direction. Arcs are true arcs.",
    judged="Uncertainty: the horizontal one of the shot, per axis, common and random part together.",
    cannot_show="It says nothing along the line, and nothing between two shots.",
    source=_RULE,
    order=10,
)
POSITION = Check(
    name="position",
    title="Position of point feature",
    subject="work",
    quantity="length",
    radial=True,
    axis="h",
    tolerance=HORIZONTAL,
    bound="radius",
    of_geometry="point",
    consequence="position",
    compared="The plan distance of a point feature from its design position, judged against a radius.",
    judged="The probability that the true distance is within the radius follows the noncentral chi-square "
    "distribution with two degrees of freedom.",
    cannot_show="Direction is shown on the map; only the distance is judged.",
    source=_RULE,
    order=20,
)
ELEVATION = Check(
    name="elevation",
    title="Elevation against design",
    subject="work",
    quantity="length",
    directions=("low", "high"),
    axis="v",
    tolerance=VERTICAL,
    better="a level reading",
    better_u=0.003,
    consequence="position",
    compared="The elevation of a shot minus the design elevation at the shot's own plan position; positive is high.",
    judged="Uncertainty: the vertical one of the shot, common and random part together.",
    cannot_show="A shot that is off in plan on a slope is compared where it was taken, not at the nearest design node.",
    source=_RULE,
    order=30,
)
EXTRA = Check(
    name="extra",
    title="As-built without design",
    subject="work",
    quantity="length",
    directions=("within", "from the nearest design"),
    at_desk=True,
    compared="Shots of a kind that has a design, but none within reach.",
    judged="The distance to the nearest design of the kind is judged against the reach of the match.",
    cannot_show="It may be a wrong code, an addition, or an older drawing.",
    source="common practice, no source",
    order=80,
)
