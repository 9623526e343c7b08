"""Why the end of a pipe has no invert, or none of the design: reasons that checks of what is buried share."""

from geoqa.model.reasons import Reason

NO_RIM = Reason(
    name="no-rim",
    text="no shot of the rim was found, so the measure-down has no elevation to start from",
    remedy="shoot the rim, and name its shot in the column rim_shot",
)
RIM_UNCLEAR = Reason(
    name="rim-unclear",
    text="several shots bear the name of the rim",
    remedy="name the one shot that was measured down from, in the column rim_shot",
    at_desk=True,
)
NO_MEASURE_DOWN = Reason(
    name="no-measure-down",
    text="no measure-down and no shot of the invert is noted",
    remedy="measure down from the rim to this invert",
)
RIM_BELOW = Reason(
    name="rim-below",
    text="the rim would not lie above its invert: the measure-down is 0 or less, or the shot of the invert is no lower "
    "than that of the rim",
    remedy="measure down again, or shoot rim and invert again; a measure-down is written without a sign",
)
NO_DESIGN_INVERT = Reason(
    name="no-design-invert",
    text="no design line of this pipe gives an elevation at this end",
    remedy="give the design line of the pipe the elevations of its inverts, and the pipe its name in the notes",
    at_desk=True,
)
TOP_WITHOUT_SIZE = Reason(
    name="top-without-size",
    text="the design line of this pipe is its top, and its diameter or wall is not noted",
    remedy="note size and wall of the pipe, each with its unit, in a [[structures]] file",
    at_desk=True,
)
TOP_OR_INVERT = Reason(
    name="top-or-invert",
    text="the design line of this pipe is called top, and nearly all inverts noted of its kind lie above its invert by "
    "size and wall: it seems to draw inverts",
    remedy='say in the [[design]] table of its file what it draws: pipes_drawn_at = "invert", or "top"',
    at_desk=True,
)
NO_DIRECTION = Reason(
    name="no-direction",
    text="it is not noted which way the water runs, and the design does not tell",
    remedy="write in or out into the column direction",
    at_desk=True,
)
ONE_END = Reason(
    name="one-end",
    text="only one end of this pipe is noted",
    remedy="note the structure at its other end, with its measure-down",
)
MANY_ENDS = Reason(
    name="many-ends",
    text="more than two ends, or two ends of one direction, bear the name of this pipe",
    remedy="give every pipe its own name, one end in and one out",
    at_desk=True,
)
NO_LENGTH = Reason(
    name="no-length",
    text="both ends lie at one place",
    remedy="name the rim shot of each structure in the column rim_shot",
    at_desk=True,
)
ENDS = (NO_RIM, RIM_UNCLEAR, NO_MEASURE_DOWN, RIM_BELOW)
