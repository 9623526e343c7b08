"""Checks of as-built lines as a whole."""

from geoqa.model.check import Check, ToleranceKey
from geoqa.model.reasons import Reason

LINE_SHARE = Check(
    name="line-share",
    title="Share of an as-built line within the band",
    subject="work",
    quantity="ratio",
    tolerance=ToleranceKey(
        name="line_share",
        quantity="ratio",
        zero=False,
        description="Least share of an as-built line's length within the horizontal tolerance of its design line, "
        'e.g. "95 %".',
    ),
    bound="least",
    of_geometry="line",
    consequence="position",
    compared="The length of an as-built line that lies within a band along its design line, over its length beside "
    "that line. The band is as wide as `horizontal` of its kind, with flat caps; what lies past the ends of the design "
    "line counts on neither side.",
    judged="IN where enough of it would still lie within the band if every shot were 1.96 u farther from the design, "
    "OUT where too little would if every shot were 1.96 u nearer: scatter alone pushes shots out of a narrow band, so "
    "the share as measured is too small. A leg past a corner of the design that nobody shot counts as outside for the "
    "one and as inside for the other.",
    cannot_show="Between two shots it takes the line as the crew's arc, else to bend as the design does, its offset "
    "changing evenly. What nobody shot is a matter of coverage.",
    source="Goodchild and Hunter 1997, a simple positional accuracy measure for linear features.",
    reasons=(
        Reason(
            name="no-band",
            text="no horizontal tolerance is given for this kind, so the band has no width",
            remedy="state horizontal for this kind, with its source",
            at_desk=True,
        ),
        Reason(
            name="shots-left-out",
            text="more than a fifth of the shots of this line do not count: what was built there is not known",
            remedy="shoot those again, or settle what keeps them from being used: see their flags",
        ),
    ),
    order=15,
)
