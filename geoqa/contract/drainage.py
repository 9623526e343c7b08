"""Checks of curbs and gutters: whether water runs, where it stands, how high the curb shows."""

from geoqa.model.check import Check, ToleranceKey
from geoqa.model.reasons import Reason

REVEAL_KEY = ToleranceKey(
    name="reveal",
    sides=("least", "most"),
    description="Top of curb less flow line at the same place: a table with least and most.",
)
FALL_KEY = ToleranceKey(
    name="fall",
    quantity="slope",
    description="Least fall of a flow line in the direction the design drains; a slope.",
)
PONDING_KEY = ToleranceKey(
    name="ponding",
    description="Deepest water that may stay on a flow line; a length.",
)

_UNSHOT = Reason(
    name="unshot-reach",
    text="no usable shot for longer than the spacing: whether water runs there is not known",
    remedy="shoot the flow line there, at the spacing and at every low and high point",
)
_FEW = Reason(
    name="too-few-on-line",
    text="too few usable shots in a row on this stretch of the line",
    remedy="shoot the flow line there, at the spacing and at every low and high point",
)
_OF_NO_LINE = Reason(
    name="of-no-line",
    text="these shots are of no line: no design line of their kind is near, and they have no line ID, or one alone",
    remedy="write the line ID of these shots, or show the design of the line",
    at_desk=True,
)

REVEAL = Check(
    name="reveal",
    title="Reveal of curb",
    subject="work",
    quantity="length",
    tolerance=REVEAL_KEY,
    bound="range",
    consequence="position",
    better="a tape or rule",
    better_u=0.002,
    compared="The elevation of the top of curb, between the two of its shots beside the place, less that of the flow "
    "line shot. Where the design has both lines there, the reveal may differ from the design reveal by half the "
    "distance of least and most, so that a curb lowered by design at a ramp or driveway is held to its own reveal; "
    "where it has not, least and most hold.",
    judged="Uncertainty: the vertical ones of the three shots, by their shares; what a session shares cancels.",
    cannot_show="Between two shots of the top the curb is taken as straight: a drop between them is not seen, and a "
    "flow line shot beside the end of a drop is not held to the place where it ends.",
    source="JCGM 106:2012, guarded acceptance and guarded rejection; JCGM 100:2008, 5.2.2",
    reasons=(
        Reason(
            name="no-top-beside",
            text="no shot of the top of curb lies across from this one",
            remedy="shoot the top of curb at this station",
        ),
        Reason(
            name="top-not-shot",
            text="the top of curb was not shot for longer than the spacing across from this one",
            remedy="shoot the top of curb at this station",
        ),
        Reason(
            name="in-no-string",
            text="the shot is of no line of a curb: it has no line ID, or stands alone in it",
            remedy="write the line ID of this shot",
            at_desk=True,
        ),
        Reason(
            name="top-on-other-side",
            text="the top of curb lies on the other side of the flow line here than elsewhere: the lines cross, or "
            "their codes are exchanged",
            remedy="settle which shots are of which line",
            at_desk=True,
        ),
    ),
    order=42,
)
GUTTER_FALL = Check(
    name="gutter-fall",
    title="Fall of flow line",
    subject="work",
    quantity="slope",
    directions=("against the flow", "along the flow"),
    fall=True,
    tolerance=FALL_KEY,
    bound="least",
    consequence="water",
    better="a level run",
    compared="The slope of the straight line through the shots of a reach, positive where it falls in the direction in "
    "which the design drains; a reach ends where the design turns or breaks its grade, and where shots are missing. "
    "Where the design itself falls by less than the limit, the reach is held to not running backwards.",
    judged="Uncertainty: the vertical ones of the shots by their shares in the slope; what a session shares cancels, "
    "and what shots of one session have in common for minutes is counted as far as neighbours prove it.",
    cannot_show="Dips shorter than the reach: they are found by the check of standing water. Lengths are those of the "
    "line in plan, and their uncertainty is too small to count.",
    source="JCGM 106:2012, guarded acceptance and guarded rejection; JCGM 100:2008, 5.2.2",
    reasons=(
        _UNSHOT,
        _FEW,
        _OF_NO_LINE,
        Reason(
            name="no-flow-direction",
            text="the design has no elevations here, or is level: which way water is to run is not known",
            remedy="give the design of this line its elevations",
            at_desk=True,
        ),
    ),
    order=44,
)
PONDING = Check(
    name="ponding",
    title="Water standing on flow line",
    subject="work",
    quantity="length",
    directions=("of fall left", "deep"),
    tolerance=PONDING_KEY,
    bound="most",
    consequence="water",
    better="a level reading",
    better_u=0.003,
    compared="The lower of the two highest shots between a low point and the next outlets, less the low point: the "
    "depth of water that stays. Outlets are inlets beside the line, low points of the design, and the first and last "
    "shot of an unbroken stretch. Where no water stays, the number is the least fall left at any shot.",
    judged="Uncertainty: the vertical ones of low point and barrier; what a session shares cancels. The place is the "
    "worst of all, so that its depth is too large by luck: the chance that a stretch without standing water shows one "
    "so deep, by the number of pairs of shots that may be level, is taken out of the 5 % that the bound may miss. At "
    "most 5 % of stretches without any are called so.",
    cannot_show="Between two shots the line is taken as straight: a dip that no shot met is not seen. Beyond the ends "
    "of a stretch nothing is taken to hold water, so that the depth is the least that stands there. An inlet "
    "whose rim stands above the flow line by more than its u is no outlet below its rim; one without an elevation "
    "counts as an outlet, and the finding says so. Where one was shot as high above the flow line as "
    "a curb, and the option curb_opening of the step does not say from what height on it opens in the curb, nothing is "
    "said of standing water beside it.",
    source="Romano, Shaikh and Wolf, A Practical Two-Step Method for Testing Moment Inequalities, 2014; Bonferroni's "
    "inequality; JCGM 106:2012",
    reasons=(
        _UNSHOT,
        _FEW,
        _OF_NO_LINE,
        Reason(
            name="rim-or-opening",
            text="an inlet beside this low point was shot as high above the flow line as a curb: if it opens in the "
            "curb, water leaves there, and if its rim stands so high, none does",
            remedy="say from what height on a rim is that of an opening in the curb, curb_opening in the step gutters "
            "(more than any where none is), or shoot its throat",
            at_desk=True,
        ),
        Reason(
            name="nearly-level",
            text="too near to level for this measurement: neither standing water nor fall is proven here",
            remedy="level readings at the low point and at the place where water would leave it",
            judged=True,
        ),
    ),
    order=46,
)
