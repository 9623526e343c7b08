"""Checks of the evidence: what was not measured."""

from geoqa.contract.tolerances import SPACING
from geoqa.model.check import Check

COVERAGE = Check(
    name="coverage",
    title="Design without as-built evidence",
    subject="evidence",
    quantity="length",
    tolerance=SPACING,
    bound="most",
    compared="The longest reach of a design line without an as-built shot, against the spacing the job asks for; and "
    "design points that nobody shot.",
    judged="Uncertainty: that of two stations.",
    cannot_show="No evidence is not the same as not built. Buried work cannot be checked after backfill. Where only "
    "shots without a known code, or with one in question, lie, nothing is judged until their codes are settled.",
    source="common practice, no source",
    order=70,
)
