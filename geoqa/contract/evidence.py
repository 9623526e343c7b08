"""Checks of the evidence: what was not measured."""

from geoqa.contract.tolerances import SPACING
from geoqa.model.check import Check
from geoqa.model.reasons import Reason

COVERAGE = Check(
    name="coverage",
    title="Design without as-built evidence",
    subject="evidence",
    quantity="length",
    tolerance=SPACING,
    bound="most",
    directions=("too few", "without a shot"),
    compared="The longest reach of a design line without an as-built shot, against the spacing the job asks for; and "
    "design points that nobody shot.",
    judged="Uncertainty: that of two stations.",
    cannot_show="No evidence is not the same as not built. Buried work cannot be checked after backfill. Where only "
    "rejected shots, those of another line, or those without a known code or with one in question lie, nothing is "
    "judged.",
    source="common practice, no source",
    reasons=(
        Reason(
            name="drawn-twice",
            text="another design line lies in the same place, and the shots count for that one",
            remedy="leave one of the two lines out of the design",
            at_desk=True,
        ),
        Reason(
            name="beside-another",
            text="what was shot along it lies nearer to another design line of its kind; is this one superseded?",
            remedy="leave a superseded line out of the design; else shoot it, or show that it was not to be built",
            at_desk=True,
        ),
    ),
    order=70,
)

UNKNOWN_CODE = Check(
    name="unknown-code",
    title="Shots with an unknown code",
    subject="evidence",
    quantity="count",
    at_desk=True,
    compared="Codes that several shots bear and the code list does not know are asked about once each, with the known "
    "codes they may stand for: by spelling, by line ID, and by the design that their shots lie on.",
    judged="Nothing is judged: without a code it is not known what was shot.",
    cannot_show="A code that is known and wrong is not among them. A proposal is never applied.",
    source="common practice, no source",
    reasons=(
        Reason(
            name="not-listed",
            text="the code list does not know the code of these shots, so they are not judged",
            at_desk=True,
        ),
    ),
    order=75,
)
