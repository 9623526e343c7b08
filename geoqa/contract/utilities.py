"""Checks of what is buried: inverts, falls, straightness, cover, and the distance from others."""

from geoqa.contract.pipe_ends import (
    ENDS,
    MANY_ENDS,
    NO_DESIGN_INVERT,
    NO_DIRECTION,
    NO_LENGTH,
    ONE_END,
    TOP_OR_INVERT,
    TOP_WITHOUT_SIZE,
)
from geoqa.contract.tolerances import VERTICAL
from geoqa.model.check import Check, ToleranceKey
from geoqa.model.reasons import Reason
from geoqa.model.words import BEFORE_DIGGING

_RULE = "JCGM 106:2012, guarded acceptance and guarded rejection"
_SLOPE_U = "JCGM 100:2008 (GUM) 5.2.2: u² = (u1² + u2²) / length², what one session shares cancels"

INVERT = Check(
    name="invert",
    title="Invert against design",
    subject="work",
    quantity="length",
    directions=("low", "high"),
    tolerance=VERTICAL,
    of_kind="invert",
    better="a level reading to the rim and a taped measure-down",
    better_u=0.005,
    consequence="water",
    compared="The invert, which is the elevation of the rim less the measure-down, or that of a shot on the invert, "
    "minus the elevation of the pipe's design line at this end; positive is high. A design line of a kind with the "
    "word top is brought to the invert by diameter and wall, and the label says so; where nearly all inverts noted of "
    "it lie above that by just as much, it seems to draw inverts, and they wait for the job's word. A shot on the "
    "invert that the check elevation judges against a design point is not judged again.",
    judged="Uncertainty: the vertical one of the shot, and of the measure-down.",
    cannot_show="Which of rim and measure-down is off. Where the measure-down looks misread, it waits.",
    source=_RULE,
    reasons=(*ENDS, NO_DESIGN_INVERT, TOP_WITHOUT_SIZE, TOP_OR_INVERT),
    order=32,
)
INVERT_READING = Check(
    name="invert-reading",
    title="Measure-down that looks misread",
    subject="survey",
    quantity="length",
    directions=("too short", "too long"),
    compared="An invert is off its design by about whole feet, tenths of a foot, or as much as a tape of the other "
    "unit makes; the other inverts of its structure and of its pipe agree; and water would have to run uphill in the "
    "pipe or in the structure. Or its rim shot is noted for another structure too, and by one other shot all inverts "
    "of the structure lie at their design. The number is read less true of the measure-down, if it was misread so.",
    judged="Nothing is judged: what rests on the invert is shown as read and as it would be without the slip, and "
    "waits. What is out of tolerance both ways is out.",
    cannot_show="A slip that leaves the water running the right way looks like work that was built so. Nothing is "
    "corrected.",
    source="common practice, no source",
    reasons=(
        Reason(
            name="misread",
            text="about a whole step off, its neighbours agree, and water would run uphill",
            remedy="re-measure this measure-down",
        ),
        Reason(
            name="other-rim",
            text="its rim shot is noted for another structure too, and a shot that nobody noted fits",
            remedy="write the rim shot of this structure into the column rim_shot, or re-measure",
            at_desk=True,
        ),
    ),
    order=92,
)
STRUCTURE_DROP = Check(
    name="structure-drop",
    title="Fall through a structure",
    subject="work",
    quantity="length",
    bound="least",
    better="two taped measure-downs",
    better_u=0.005,
    consequence="water",
    compared="The lowest invert at which water enters a structure less the highest at which it leaves: nothing may "
    "lie lower than what is downstream of it.",
    judged="The rim is common to both and cancels; the uncertainty is that of the two measure-downs.",
    cannot_show="How much water would stand in the structure.",
    source=_SLOPE_U,
    reasons=ENDS,
    order=33,
)
STRUCTURE_RECORD = Check(
    name="structure-record",
    title="Attributes that were not recorded",
    subject="evidence",
    quantity="count",
    bound="most",
    compared="Attributes that the step requires of a pipe's end, and that nobody noted.",
    judged="Nothing is judged: they are listed.",
    cannot_show="Whether what was noted is true.",
    source="common practice, no source",
    reasons=(Reason(name="not-recorded", text="required attributes are missing", remedy="note them at the structure"),),
    order=76,
)
PIPE_NETWORK = Check(
    name="pipe-network",
    title="Pipes without two ends",
    subject="evidence",
    quantity="count",
    compared="Every pipe has two ends, water enters at one and leaves at the other, and every structure has a pipe.",
    judged="Nothing is judged: what does not hang together is listed.",
    cannot_show="Pipes that nobody noted or designed.",
    source="common practice, no source",
    reasons=(
        ONE_END,
        MANY_ENDS,
        Reason(
            name="not-noted",
            text="the design has this pipe, and no end of it is noted",
            remedy="note both of its ends with their measure-downs; what is buried cannot be measured later",
        ),
        Reason(
            name="no-pipe",
            text="a measure-down of this structure names no pipe",
            remedy="write the name of the pipe into the column pipe",
            at_desk=True,
        ),
    ),
    order=77,
)
PIPE_SLOPE = Check(
    name="pipe-slope",
    title="Slope of pipe",
    subject="work",
    quantity="slope",
    fall=True,
    tolerance=ToleranceKey(
        name="pipe_slope",
        quantity="slope",
        sides=("least", "most"),
        description='Fall of a pipe along the flow: { least = "0.40 %" }, or with most as well.',
    ),
    bound="range",
    better="a level reading to both rims and taped measure-downs",
    consequence="water",
    compared="The fall from the invert where water enters to the invert where it leaves, over the length in plan "
    "between the shots of its ends. A reversed fall is negative.",
    judged="Without a tolerance it is held to 0: water runs down. The uncertainty is that of both inverts; what they "
    "share in one session cancels.",
    cannot_show="Two ends say nothing about what lies between them: see straightness. The length is that between the "
    "shots, not between the walls of the structures.",
    source=_SLOPE_U,
    reasons=(
        *ENDS,
        ONE_END,
        MANY_ENDS,
        NO_DIRECTION,
        NO_LENGTH,
        Reason(
            name="no-least-of-size",
            text="the list of least slopes has no pipe of this diameter, or its size is not noted",
            remedy='note its size with its unit, such as "8 in"; for other sizes state a least pipe_slope',
            at_desk=True,
        ),
    ),
    order=34,
)
STRAIGHTNESS_KEY = ToleranceKey(
    name="straightness",
    zero=False,
    description="How far the top of a pipe may lie from the straight line between its ends.",
)
STRAIGHTNESS = Check(
    name="straightness",
    title="Straightness of pipe",
    subject="work",
    quantity="length",
    directions=("low", "high"),
    tolerance=STRAIGHTNESS_KEY,
    better="a level reading on the top of the pipe",
    better_u=0.003,
    consequence="water",
    compared="Shots on the top of a pipe against the straight line from the first to the last of them, in elevation. "
    "Neighbours on one side of it are one belly or hump, judged by its mean.",
    judged="Uncertainty: that of the shot and of both ends of the line; what one session shares cancels. Where both "
    "keys are given, the lesser of the two limits holds.",
    cannot_show="What lies between two shots; and whether the whole pipe is high or low.",
    source=_SLOPE_U,
    reasons=(
        Reason(
            name="few-tops",
            text="fewer than three shots lie on the top of this pipe",
            remedy="shoot the top of the pipe between its ends while the trench is open",
        ),
    ),
    order=35,
)
STRAIGHTNESS_OF_DIAMETER = Check(
    name="straightness-of-diameter",
    title="Straightness of pipe, as a share of its diameter",
    subject="work",
    quantity="ratio",
    tolerance=ToleranceKey(
        name="straightness_of_diameter",
        quantity="ratio",
        zero=False,
        description='The same as a share of the inside diameter, such as "5 %"; beside straightness the lesser holds.',
    ),
    consequence="water",
    compared="As straightness: where the diameter is known, the limit becomes a length, and the finding is one of "
    "straightness. Only pipes whose diameter nobody noted are listed under this name.",
    judged="Nothing is judged under this name.",
    cannot_show="See straightness.",
    source=_SLOPE_U,
    reasons=(
        Reason(
            name="no-diameter",
            text="the diameter of this pipe is not noted, so a share of it is no limit",
            remedy='note its size with its unit, such as "8 in", in a [[structures]] file',
            at_desk=True,
        ),
    ),
    order=36,
)
_MARKED = Reason(
    name="locate-mark",
    text="a mark on the ground or a record, not a measurement of the pipe",
    remedy="expose the pipe and shoot its top",
)
COVER = Check(
    name="cover",
    title="Cover over a pipe",
    subject="work",
    quantity="length",
    tolerance=ToleranceKey(name="cover", description="Least depth of the top of a pipe below the finished surface."),
    bound="least",
    better="a level reading of the top of the pipe",
    consequence="clearance",
    compared="The finished surface over a shot on top of a pipe less the shot: the surface of the design where there "
    "is one, else the plane of the nearest ground shots round it. Each finding says which.",
    judged="Uncertainty: that of the shot, and of the ground shots where these are the surface.",
    cannot_show="What the surface will be after the next paving. A surface of the design is taken as exact.",
    source=_SLOPE_U,
    reasons=(
        _MARKED,
        Reason(
            name="no-surface",
            text="no finished surface is known over this shot",
            remedy="give the surface of the design, or shoot the finished ground beside it on three sides",
        ),
        Reason(
            name="which-surface",
            text="several surfaces of the design lie over this shot",
            remedy='name the finished one: [[steps]] use = "cover", surface = "NAME"',
            at_desk=True,
        ),
    ),
    order=37,
)
NO_WALL = Reason(
    name="no-wall",
    text="the wall of the pipe is not noted; the distance between the outsides is smaller by it",
    remedy="note the wall of the pipe, with its unit, in a [[structures]] file",
    at_desk=True,
)
NO_SIZE = Reason(
    name="no-size",
    text="the size of the pipe is not noted, so its outside is not known",
    remedy='note its size with its unit, such as "8 in", in a [[structures]] file',
    at_desk=True,
)
CLEARANCE = Check(
    name="clearance",
    title="Clearance where pipes cross",
    subject="work",
    quantity="length",
    tolerance=ToleranceKey(
        name="clearance", description="Least vertical distance between the outsides of two pipes that cross."
    ),
    bound="least",
    better="a level reading of both pipes, exposed at the crossing by a qualified crew (a pothole where it is filled; "
    f"{BEFORE_DIGGING}),",
    consequence="clearance",
    compared="The bottom of the upper pipe less the top of the lower one, outside of their walls, where the two cross "
    "in plan; each between its shots, or between its inverts.",
    judged="Uncertainty: that of the shots round the crossing. Where the wall of a pipe is not noted, only a distance "
    "that is too small without it is called out.",
    cannot_show="A pipe is taken as straight between its shots.",
    source=_SLOPE_U,
    reasons=(_MARKED, NO_WALL, NO_SIZE, *ENDS),
    order=38,
)
SEPARATION = Check(
    name="separation",
    title="Distance between pipes side by side",
    subject="work",
    quantity="length",
    tolerance=ToleranceKey(
        name="separation", description="Least distance in plan between the outsides of pipes that run side by side."
    ),
    bound="least",
    consequence="clearance",
    compared="The least distance in plan from a shot of the pipe to another pipe beside it, less half of both outside "
    "diameters; pipes that cross are left to clearance.",
    judged="Uncertainty: the horizontal one of the shots, and what taking the least of several distances alike adds. "
    "Where a wall is not noted, only a distance that is too small without it is called out.",
    cannot_show="Whether a smaller distance is allowed because one pipe lies far above the other.",
    source=_SLOPE_U,
    reasons=(_MARKED, NO_WALL, NO_SIZE),
    order=39,
)
KNOWN_LEVELS = Check(
    name="known-levels",
    title="Pipes known in several ways",
    subject="evidence",
    quantity="count",
    compared="Shots of one pipe whose codes say that some are of the pipe itself, and others of marks on the ground or "
    "of a record: column known_by of the code list.",
    judged="Nothing is judged: the pipe is split into lines of one level each, and a mark or a record feeds no cover "
    "and no clearance.",
    cannot_show="How far a mark lies from the pipe.",
    source="common practice, no source",
    reasons=(
        Reason(
            name="several-levels",
            text="measurements and marks of one pipe are kept apart",
            remedy="expose the pipe at the marks and shoot it, or leave the marks out of the as-built line",
        ),
    ),
    order=78,
)
RIGHT_OF_WAY = Check(
    name="right-of-way",
    title="Within the right of way as supplied",
    subject="work",
    quantity="length",
    directions=("outside", "inside"),
    bound="least",
    consequence="position",
    compared="The distance in plan of a shot from the nearest line of the polygon of [right_of_way], positive inside.",
    judged="Uncertainty: the horizontal one of the shot. The polygon is taken as exact.",
    cannot_show="Where the boundary is: this is no boundary opinion, and the polygon is the licensee's.",
    source=_RULE,
    reasons=(
        Reason(
            name="not-closed",
            text="the lines of the right of way do not close to an area",
            remedy="supply the polygon closed, each line meeting the next",
            at_desk=True,
        ),
    ),
    order=45,
)
