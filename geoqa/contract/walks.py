"""Checks of walks and ramps: whether they can be used."""

from typing import Any

from geoqa.model.check import Check, ToleranceKey
from geoqa.model.reasons import Reason

LEVEL = "a reading of a 4 ft digital level"
LEVEL_U = 0.001
"""1 sigma of a slope read on a digital level: 0.18 % at most is stated for 0.1 degree; half to two thirds of that."""
TAPE = "a tape"
TAPE_U = 0.0015
"""Metres: 1 sigma of a width taped to 1/8 in or better."""

_RULE = "JCGM 106:2012, guarded acceptance and guarded rejection; uncertainty by JCGM 100:2008, 5.1"
_LIMIT = "It says whether the number keeps the numeric limit of the rule set that is named, and nothing of the law."

_ONE_EDGE = Reason(
    name="one-edge",
    text="only one edge was shot here",
    remedy="shoot the other edge across from it",
)
_CROSSED = Reason(
    name="crossed-edges",
    text="the two edges cross: here one lies on the other side than elsewhere",
    remedy="settle codes and line IDs of the two edges, or shoot them again",
)
_APART = Reason(
    name="no-edge-opposite",
    text="the other edge has a gap here, or lies farther off than a walk is wide",
    remedy="shoot the other edge across from it",
)
_NO_LINE = Reason(
    name="no-line-id",
    text="the shot bears no line ID, or is alone in its line, so that its edge is not known",
    remedy="write the line ID of its edge",
    at_desk=True,
)
_READ_ELSEWHERE = Reason(
    name="reading-elsewhere",
    text="no number of shots stands at the place that a reading names",
    remedy="write as place of the reading the name of the shot beside it, or of the ramp",
    at_desk=True,
)
STEPS = Reason(
    name="one-edge-steps",
    text="one edge steps here and the other does not, as a wrong rod from one shot on would make it; nothing tells rod "
    "from work",
    remedy="shoot the two shots beside the step again, one after the other with one rod, or read a level across",
)
EDGES = (_ONE_EDGE, _CROSSED, _APART, _NO_LINE, _READ_ELSEWHERE)


def _slope(name: str, description: str) -> ToleranceKey:
    return ToleranceKey(name=name, quantity="slope", description=description)


CROSS = _slope("cross_slope", "Most a walk or ramp may fall across, to either side; a slope, such as 1:48.")
_OF_SLOPE: dict[str, Any] = {
    "subject": "work", "quantity": "slope", "better": LEVEL, "better_slope": LEVEL_U, "consequence": "use",
}  # fmt: skip
_OF_WIDTH: dict[str, Any] = {
    "subject": "work", "quantity": "length", "better": TAPE, "better_u": TAPE_U, "consequence": "use",
}  # fmt: skip

CROSS_SLOPE = Check(
    name="cross-slope",
    title="Cross slope of a walk",
    **_OF_SLOPE,
    tolerance=CROSS,
    compared="The rise between the two edges over the distance between them in plan, square to the edge; where an edge "
    "was shot farther along, it is taken as straight between two shots. Shots across from each other make one section.",
    judged="By its magnitude. What a session shares cancels, and so does what shots soon after each other are seen to "
    "share. Between two shots an edge may bend as much as its legs do. Neighbours that agree are judged by their mean "
    "too.",
    cannot_show="A hollow or a hump between the edges, and level changes of 1/4 in: they are not measurable by this "
    "method. " + _LIMIT,
    source=_RULE,
    reasons=(*EDGES, STEPS),
    order=201,
)
RUNNING_SLOPE = Check(
    name="running-slope",
    title="Running slope of a walk",
    **_OF_SLOPE,
    tolerance=_slope("running_slope", "Most a walk may rise or fall along itself; a slope, such as 1:20."),
    compared="The rise between two shots of one edge over the distance between them in plan: from each shot to the "
    "farthest one within the spacing, or to the next one where that lies farther.",
    judged="By its magnitude. What a session shares cancels; so does what shots soon after each other share, where "
    "enough legs of the job show how much that is: otherwise the interval is rather too wide.",
    cannot_show="That a walk beside a street may be as steep as the street. " + _LIMIT,
    source=_RULE,
    reasons=(
        Reason(
            name="legs-too-long",
            text="the next shot of this edge is farther away than a slope is told over",
            remedy="shoot the edge in between",
        ),
        _NO_LINE,
        _READ_ELSEWHERE,
        STEPS,
    ),
    order=202,
)
CLEAR_WIDTH = Check(
    name="clear-width",
    title="Clear width of a walk",
    **_OF_WIDTH,
    tolerance=ToleranceKey(name="width", description="Least clear width of a walk; a length, such as 48 in."),
    bound="least",
    compared="The distance between the two edges in plan, square to the edge; beside an obstruction, that from it to "
    "the edge that is farther off. What a shot of an obstruction is of, its face or its centre with a radius, is read "
    "from its note; without one it is taken for the face.",
    judged="Uncertainty: what the two shots do not share.",
    cannot_show="An obstruction that nobody shot, and two that stand across from each other: each is taken by itself. "
    + _LIMIT,
    source=_RULE,
    reasons=(
        *EDGES,
        Reason(
            name="size-not-told",
            text="the centre of an obstruction was shot, and nobody says how large it is",
            remedy='write its size in the note, such as "centre, r 0.4 ft", or shoot its face',
            at_desk=True,
        ),
    ),
    order=203,
)
PASSING_SPACE = Check(
    name="passing-space",
    title="Distance between passing spaces",
    **_OF_WIDTH,
    tolerance=ToleranceKey(
        name="passing", zero=False, description="Longest stretch of a narrow walk without a passing space; a length."
    ),
    bound="most",
    compared="The longest stretch along a walk between sections that are as wide as a passing space.",
    judged="A section counts as it was measured. What it would be if only sections count that are proven wide enough, "
    "and if all count that may be, are the ends of what it is proven to be.",
    cannot_show="Widenings between two sections that were not shot. " + _LIMIT,
    source=_RULE,
    reasons=EDGES,
    order=204,
)
_NO_CORNERS = Reason(
    name="three-corners",
    text="fewer than four corners of it were shot",
    remedy="shoot all four corners of the ramp run, and the two far corners of its turning space",
)
_ONE_ROW = Reason(
    name="one-row",
    text="only one of its two ends was shot",
    remedy="shoot the corners of its other end too",
)
_NO_TURNING = Reason(
    name="no-turning-space",
    text="no far corners of a turning space were shot behind the ramp",
    remedy="shoot the two far corners of the turning space",
)
_NO_GUTTER = Reason(
    name="no-gutter-shots",
    text="no shots of the gutter or street in front of the ramp tell how it rises",
    remedy="shoot the gutter in front of the ramp, 2 ft out from its foot",
)
_NO_FLARES = Reason(
    name="no-flare-shots",
    text="the flares of it were not shot",
    remedy="shoot the curb end of each flare",
)
RAMP_SLOPE = Check(
    name="ramp-slope",
    title="Running slope of a ramp",
    **_OF_SLOPE,
    tolerance=_slope("ramp_slope", "Steepest a curb ramp may be along its run; a slope, such as 1:12."),
    bound="most",
    compared="From the mean of the shots across the foot of the ramp to that of the shots across its head.",
    judged="What a session shares cancels.",
    cannot_show="The steepest part of an uneven ramp. " + _LIMIT,
    source=_RULE,
    reasons=(_NO_CORNERS, _ONE_ROW, _READ_ELSEWHERE),
    order=211,
)
RAMP_CROSS_SLOPE = Check(
    name="ramp-cross-slope",
    title="Cross slope of a ramp",
    **_OF_SLOPE,
    tolerance=CROSS,
    compared="Between the outer shots across the foot of a ramp, and across its head.",
    judged="By its magnitude. What a session shares cancels.",
    cannot_show="A twist between the corners. " + _LIMIT,
    source=_RULE,
    reasons=(_NO_CORNERS, _ONE_ROW, _READ_ELSEWHERE),
    order=212,
)
COUNTER_SLOPE = Check(
    name="counter-slope",
    title="Counter slope at a ramp",
    **_OF_SLOPE,
    tolerance=_slope("counter_slope", "Steepest the gutter may rise away from the foot of a ramp; a slope."),
    bound="most",
    compared="How the gutter or street in front rises away from the foot of the ramp. The change of grade is the slope "
    "of the ramp plus that of the gutter: |ramp - (-gutter)|.",
    judged="What a session shares cancels.",
    cannot_show=_LIMIT,
    source=_RULE,
    reasons=(_NO_CORNERS, _NO_GUTTER, _READ_ELSEWHERE),
    order=213,
)
GRADE_CHANGE = Check(
    name="grade-change",
    title="Change of grade at the foot of a ramp",
    **_OF_SLOPE,
    tolerance=_slope("grade_change", "Most that ramp and gutter may differ in grade; a slope, such as 13.3 %."),
    bound="most",
    compared="The running slope of the ramp less that of the gutter it runs down to: |ramp - (-gutter)|, the sum of "
    "both where the gutter rises away from the ramp.",
    judged="What a session shares cancels; the shots of the foot are in both.",
    cannot_show=_LIMIT,
    source=_RULE,
    reasons=(_NO_CORNERS, _NO_GUTTER, _READ_ELSEWHERE),
    order=214,
)
TURNING_SPACE = Check(
    name="turning-space",
    title="Turning space",
    **_OF_WIDTH,
    tolerance=ToleranceKey(name="turning_space", description="Least side of a turning space; a length, such as 48 in."),
    bound="least",
    compared="The shorter side of the turning space between its corners: across, and along the run of the ramp.",
    judged="Uncertainty: what the shots of its corners do not share.",
    cannot_show="An edge that bends in between. " + _LIMIT,
    source=_RULE,
    reasons=(_NO_CORNERS, _NO_TURNING, _READ_ELSEWHERE),
    order=215,
)
TURNING_SLOPE = Check(
    name="turning-slope",
    title="Slope of a turning space",
    **_OF_SLOPE,
    tolerance=_slope("turning_slope", "Most a turning space may slope in either direction; a slope, such as 1:48."),
    compared="Between the means of opposite sides of the turning space: along the run of the ramp, and across it.",
    judged="By its magnitude. What a session shares cancels.",
    cannot_show="A twist between the corners. " + _LIMIT,
    source=_RULE,
    reasons=(_NO_CORNERS, _NO_TURNING, _READ_ELSEWHERE),
    order=216,
)
FLARE_SLOPE = Check(
    name="flare-slope",
    title="Slope of a flare",
    **_OF_SLOPE,
    tolerance=_slope("flare_slope", "Steepest a flare may be along the curb; a slope, such as 1:10."),
    bound="most",
    compared="From the corner of the ramp's foot to the end of the flare, parallel to the curb.",
    judged="What a session shares cancels.",
    cannot_show=_LIMIT,
    source=_RULE,
    reasons=(_NO_CORNERS, _NO_FLARES, _READ_ELSEWHERE),
    order=217,
)
WARNING_DEPTH = Check(
    name="warning-depth",
    title="Depth of a detectable warning",
    **_OF_WIDTH,
    tolerance=ToleranceKey(name="warning_depth", description="Least depth of a detectable warning; a length."),
    bound="least",
    compared="The distance from its front to its back, between the shots of either.",
    judged="Uncertainty: what the shots do not share.",
    cannot_show="Size and spacing of its domes. " + _LIMIT,
    source=_RULE,
    reasons=(
        Reason(
            name="one-side",
            text="only one side of it was shot",
            remedy="shoot the two corners of its other side, or tape its depth",
        ),
        _READ_ELSEWHERE,
    ),
    order=218,
)
TIE_IN = Check(
    name="tie-in",
    title="Step at the join to existing work",
    subject="work",
    quantity="length",
    directions=("down to the existing work", "up to the existing work"),
    better="a level reading",
    better_u=0.003,
    consequence="use",
    tolerance=ToleranceKey(
        name="tie_in", description="Most that new work may step up or down where it meets existing work; a length."
    ),
    compared="The elevation of the existing work less that of the end of the as-built line, which is carried on over "
    "the distance between both by its last leg. Existing work are shots of the kinds `existing` and `existing-KIND`, "
    "and design points of the kind `tie-in`, that lie ahead of an end.",
    judged="Uncertainty: the vertical ones of the two last shots of the line and of the existing one, by their shares; "
    "what a session shares cancels. Past its end a line may bend as its last two legs do.",
    cannot_show="How wide the joint is: the distance that is told is that between two shots. A step of 1/4 in is not "
    "measurable by this method. " + _LIMIT,
    source=_RULE,
    reasons=(
        Reason(
            name="no-existing-work",
            text="no existing work was shot ahead of either end of this line",
            remedy="shoot the existing work at the join, with a code of its own kind, such as existing-curb-top",
        ),
        Reason(
            name="which-existing",
            text="several shots of existing work lie ahead of this end and give different steps",
            remedy="give existing work codes of the kind that it goes on as, such as existing-curb-top",
            at_desk=True,
        ),
        Reason(
            name="no-leg",
            text="one shot of this line is no line that can be carried on to the existing work",
            remedy="shoot the line at least once more, back from the join",
        ),
    ),
    order=219,
)
