"""Checks of the survey: whether these measurements may be trusted."""

from collections.abc import Mapping
from typing import Any

from geoqa.contract.tolerances import HORIZONTAL, VERTICAL
from geoqa.model.check import CONTROL, Check

_RULE = "JCGM 106:2012, guarded acceptance and guarded rejection"

CONTROL_POSITION = Check(
    name="control-position",
    title="Control check, horizontal",
    subject="survey",
    quantity="length",
    radial=True,
    axis="h",
    tolerance=HORIZONTAL,
    bound="radius",
    of_kind=CONTROL,
    compared="A check shot on a known mark is compared with the mark's published easting and northing. The distance "
    "between the two is judged against a radius.",
    judged="Uncertainty: that of the shot (common and random part) and that of the published value.",
    cannot_show="A wrong coordinate system, foot or mark name shows here first. One mark alone cannot tell a moved "
    "mark from a shifted survey.",
    source=_RULE,
    order=50,
)
CONTROL_ELEVATION = Check(
    name="control-elevation",
    title="Control check, elevation",
    subject="survey",
    quantity="length",
    directions=("low", "high"),
    axis="v",
    tolerance=VERTICAL,
    of_kind=CONTROL,
    better="a level reading",
    compared="The elevation of a check shot minus the published elevation of its mark; positive is high.",
    judged="Uncertainty: that of the shot and that of the published value.",
    cannot_show="A constant miss on all marks points to rod height, geoid or vertical datum, not to the marks.",
    source=_RULE,
    order=60,
)
IDENTICAL = Check(
    name="identical",
    title="Rows identical to design",
    subject="survey",
    quantity="count",
    at_desk=True,
    compared="Rows whose recorded numbers equal the design in every comparable component at the resolution of the "
    "file, counted against what honest work would give by chance.",
    judged="The chance expectation is printed with the count; there is no measurement uncertainty in it.",
    cannot_show="It is a question, never an accusation: supply the raw log of these rows.",
    source="Poisson counts of chance agreement; any textbook of statistics",
    order=90,
)
DIAGNOSIS = Check(
    name="diagnosis",
    title="Survey blunder",
    subject="survey",
    quantity="count",
    at_desk=True,
    compared="Known causes of survey blunders (foot, frame and epoch, heights, ground scale, rod, initialization, "
    "marks, names of marks, swapped axes, zones) are held against the residuals at control, the log and the "
    "deviations from design. Each is computed at the site; the most probable is named with its odds and the priors "
    "behind them, or a group that predicts the same within three standard uncertainties, or none.",
    judged="Uncertainty: that of the check shots, of their sessions and of the published values, with its covariance.",
    cannot_show="A cause that is not listed cannot be named; then the answer is that none of the known causes fits. "
    "Nothing is corrected: the remedy is a change of the job file or a re-shoot.",
    source="Bayes' theorem with stated priors; docs/diagnosis.md",
    order=100,
)
SESSION_SHIFT = Check(
    name="session-shift",
    title="Session shifted as a whole",
    subject="survey",
    quantity="length",
    feels="both",
    at_desk=True,
    compared="What all check shots of a session agree on, measured minus published, along each axis. Shots under a "
    "named blunder, and marks that the others contradict, are left out first.",
    judged="Uncertainty: that of the shots, whose errors last for minutes, of the published values, which are the "
    "same in every session, and of the tilt of a geoid model. Stated uncertainties count as 8 degrees of freedom and "
    "are never taken smaller; the level holds for all sessions and axes together. A shift that is not chance is "
    "listed; it is out where it is proven to be more than the stated uncertainties let a session be off by (95 %), and "
    "more than a quarter of the narrowest limit of the work along its axis: less is no matter to clear first.",
    cannot_show="What the shift comes from, and whether it held at every moment of the session. Nothing is corrected "
    "unless the job names the session in the option apply of this step; else how the verdicts of the session would "
    "stand without it is said in one line.",
    source="Generalized least squares, any textbook; JCGM 100:2008, G.4.2",
    order=95,
)
OLDER_DESIGN = Check(
    name="older-design",
    title="Older revision used as design",
    subject="survey",
    quantity="count",
    at_desk=True,
    compared="Design files that the register of the job (sheet, revision, date of each [[design]], revision of [job]) "
    "says are older than another, and whose lines all shots miss by one shift: two lines or all of the file, in two "
    "sessions or more, at least half of the limit.",
    judged="The shift and what shows it are printed with the count; there is no measurement uncertainty in it. Numbers "
    "against these lines wait, shown both ways; what is out without the shift too stays out.",
    cannot_show="Work that was set out off as a whole misses its design in the same way: the revision in force tells. "
    "A shift that other lines of the same sessions show too is the survey's, and is not looked for here.",
    source="common practice, no source",
    order=96,
)
OTHER_FOOT = Check(
    name="other-foot",
    title="Design file in the other foot",
    subject="survey",
    quantity="count",
    at_desk=True,
    compared="Offsets from lines and distances from points of each design file that was read in international or US "
    "survey feet, with what the two feet differ by at that place (2 parts per million of the coordinates): five shots "
    "and two lines or points at the least, nine in ten of those that can tell, at least 0.2 ft and 4 u.",
    judged="How far shots lie off the file in either foot is printed with the count; there is no measurement "
    "uncertainty in it. Numbers against the file wait, shown both ways; what is out in both stays out.",
    cannot_show="Work that was set out in the wrong foot misses its design in the same way: who drew it tells. Lines "
    "in the direction of the shift tell nothing. Surfaces of the file are not looked at.",
    source="arithmetic: 1200/3937 m against 0.3048 m",
    order=97,
)

NAMELESS = " -"
"""Ends the subject of shots of one code that bear no line ID."""


def subject_in_words(finding: Mapping[Any, Any]) -> str:
    """What a finding is about, for people: without the name of a cause, which its label says.

    Examples
    --------
    >>> subject_in_words({"check": "diagnosis", "subject": "mark-name: CP-5"})
    'CP-5'
    >>> subject_in_words({"check": "offset", "subject": "CTB-L"})
    'CTB-L'
    >>> subject_in_words({"check": "clear-width", "subject": "SWF -"})
    'SWF without a line ID'
    """
    subject = str(finding["subject"])
    if finding["check"] == DIAGNOSIS.name:
        return subject.partition(": ")[2] or subject
    return f"{subject.removesuffix(NAMELESS)} without a line ID" if subject.endswith(NAMELESS) else subject
