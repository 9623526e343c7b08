"""Checks of the work: whether it was built where and how it was designed."""

from geoqa.contract.tolerances import HORIZONTAL, VERTICAL
from geoqa.model.check import Check
from geoqa.model.reasons import Reason

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
    cannot_show="It says nothing along the line, and nothing between two shots. Where a curve is drawn in chords and "
    "the job does not say whether chords or arc are the design, only what both readings say is said.",
    source=_RULE,
    reasons=(
        Reason(
            name="chorded-curve",
            text="a curve is drawn in chords here, and the chord and its arc give two answers",
            remedy="find out whether the arc or its chords are the design, and state it: see the note on curves drawn "
            "in chords",
            judged=True,
            at_desk=True,
        ),
    ),
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
    cannot_show="A shot that is off in plan on a slope is compared where it was taken, not at the nearest design node: "
    "a point feature by the grade that the design has round its node. Where the design gives no grade there, a number "
    "that a slope of 1:3 could make is not called out.",
    source=_RULE,
    reasons=(
        Reason(
            name="zero-design-elevation",
            text="the design elevation is exactly 0 here, far from all others; does 0 mean none?",
            remedy='give the design its elevation here, or leave elevations out: elevations = "none" in its [[design]]',
            at_desk=True,
        ),
        Reason(
            name="drawn-at-invert",
            text="the design line draws the invert of the pipe, as the job says or as nearly all inverts noted tell: "
            "no shot on top of the pipe is compared with its elevation",
            remedy='say in the [[design]] table of its file what it draws: pipes_drawn_at = "invert", or "top"',
            at_desk=True,
        ),
        Reason(
            name="place-or-node",
            text="the design at the as-built place and at the design point give two answers",
            remedy="decide which of the two the elevation is held to: its own number, or the grade round it",
            judged=True,
            at_desk=True,
        ),
        Reason(
            name="no-grade",
            text="off in plan, and the design gives no grade round it: a slope could make this number",
            remedy="add to the design the lines or points with elevations round it, or shoot the ground beside it",
            judged=True,
        ),
    ),
    order=30,
)
EXTRA = Check(
    name="extra",
    title="As-built without design",
    subject="work",
    quantity="count",
    bound="most",
    at_desk=True,
    compared="Shots of a kind that has a design, but none within reach.",
    judged="The shots are counted, and one is too many. How far the nearest design of the kind is stands beside the "
    "count: it is no deviation, for nobody says that they were built by it. The reach of the match is a method's, and "
    "no limit of the work.",
    cannot_show="It may be a wrong code, an addition, or an older drawing.",
    source="common practice, no source",
    order=80,
)
