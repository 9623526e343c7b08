"""Keys of ``[tolerance.KIND]`` that several of our checks read."""

from geoqa.model.check import ToleranceKey

HORIZONTAL = ToleranceKey(
    name="horizontal",
    sides=("left", "right"),
    description="Across the line, or radial for a point feature; a length, or { left = …, right = … }.",
)
VERTICAL = ToleranceKey(
    name="vertical",
    sides=("low", "high"),
    description="In elevation; a length, or { low = …, high = … }.",
)
SPACING = ToleranceKey(
    name="spacing",
    zero=False,
    description="Longest design reach without as-built evidence.",
)
