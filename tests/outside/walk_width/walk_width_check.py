"""How wide a walk is: declared without any step."""

from geoqa.checks import Check, Flag, Note, Reason, ToleranceKey

WIDTH = ToleranceKey(
    name="shot_width", zero=False, description="Least width of a walk between its front and back edge; a length."
)
WALK_WIDTH = Check(
    name="walk-width",
    title="Width of the walk",
    subject="work",
    quantity="length",
    directions=("narrow", "wide"),
    feels="random",
    tolerance=WIDTH,
    bound="least",
    consequence="use",
    better="a tape",
    reasons=(
        Reason(
            name="no-other-edge",
            text="no shot on the other edge lies across from this one",
            remedy="shoot the other edge at this station",
        ),
    ),
    compared="The distance from a shot on the front edge of a walk to the nearest shot on its back edge.",
    judged="Uncertainty: the random parts of both shots; what they share cancels.",
    cannot_show="The nearest shot is not always square across.",
    source="common practice, no source",
)
WORDS = (
    Flag(name="no-spike", title="looked at and found smooth", sentence="width {number} measured here"),
    Note(name="widths-taken", sentence="Widths of walks were taken from {count} pairs of shots.", subject="work"),
)
