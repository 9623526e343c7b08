"""Reasons that any check may give for a row: what they mean, and what helps where something is missing."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Why a row has its verdict, or has none.

    Attributes
    ----------
    name : str
        The word in the column `why`.
    text : str
        The same for people.
    remedy : str
        What would let the row be judged; empty where nothing helps.
    judged : bool
        A row with this reason keeps its number and is judged; otherwise it is NO_DATA whatever its number.
    at_desk : bool
        Another shot would change nothing: the answer is found in the office.
    """

    name: str
    text: str
    remedy: str = ""
    judged: bool = False
    at_desk: bool = False


BY_VERDICT = (
    Reason(name="proven", text="the number proves it at the stated confidence", judged=True),
    Reason(name="as-measured", text="compared as measured; the uncertainty is not counted", judged=True),
    Reason(name="near-limit", text="too close to the limit for this measurement", judged=True),
    Reason(name="u-too-large", text="this method can never prove it within this tolerance", judged=True),
)
"""Reasons that follow from number, limits and uncertainty alone."""

SHARED = (
    *BY_VERDICT,
    Reason(
        name="no-limit",
        text="no tolerance is given for this kind and check",
        remedy="state a tolerance for this kind and check, with its source",
        at_desk=True,
    ),
    Reason(
        name="no-uncertainty",
        text="no uncertainty is known for this shot",
        remedy="declare an uncertainty for this kind",
        at_desk=True,
    ),
    Reason(
        name="screened",
        text="the shot was rejected by the screening rules",
        remedy="shoot it again within the screening rules",
    ),
    Reason(
        name="identical-to-design",
        text="the row equals the design at recorded resolution; it may not be a measurement",
        remedy="supply the raw log",
    ),
    Reason(
        name="open-blunder",
        text="a survey blunder acts on this shot; it is judged once that is cleared",
        remedy="clear the blunder first: see the diagnosis",
    ),
    Reason(
        name="out-both-ways",
        text="out of tolerance both ways",
        judged=True,
    ),
    Reason(
        name="survey-doubt",
        text="the check shots of this session are off and nothing known explains it; it is judged once that is settled",
        remedy="settle the survey first: check this session on two more marks; see the diagnosis",
    ),
    Reason(
        name="members-out",
        text="their mean by itself does not prove it",
        remedy="settle those that are out by themselves first",
        judged=True,
    ),
    Reason(name="no-position", text="the shot has no position", remedy="shoot it again"),
    Reason(
        name="ambiguous-match",
        text="two design lines are about equally likely; which one was shot?",
        remedy="write the name of the design in the line ID",
    ),
    Reason(
        name="past-end",
        text="the shot lies past the end of the design line",
        remedy="shoot it beside the line, or show the design that goes on here",
    ),
    Reason(name="no-elevation", text="the shot has no elevation", remedy="shoot it again with an elevation"),
    Reason(
        name="no-design-elevation",
        text="the design has no elevation here",
        remedy="give the design an elevation here",
        at_desk=True,
    ),
    Reason(
        name="no-mark",
        text="no control mark has this name",
        remedy="write the name of the mark in the line ID of the check shot",
        at_desk=True,
    ),
    Reason(
        name="no-design",
        text="no design of this kind lies within reach",
        remedy="show the design of it, or have it recorded as an addition",
        judged=True,
        at_desk=True,
    ),
    Reason(name="no-evidence", text="nothing usable was shot there", judged=True),
    Reason(
        name="code-question",
        text="only shots whose code is missing or in question lie there",
        remedy="settle the codes of the shots that lie in it: see their flags",
    ),
    Reason(
        name="zero-elevation",
        text="the elevation is exactly 0, far from all others; does 0 mean none?",
        remedy="if 0 means none, say so in the job: zero_is_null = true; else shoot it again",
    ),
    Reason(
        name="shots-differ",
        text="the shots of this place differ by more than their uncertainty allows; that of their mean is taken larger",
        judged=True,
    ),
    Reason(name="no-number", text="there is no number to judge here", remedy="shoot it again"),
    Reason(
        name="own-code-question",
        text="the code of this shot is in question: its flag says what may be meant",
        remedy="settle its code, correct it and run again; for that it need not be shot again",
        at_desk=True,
    ),
    Reason(
        name="older-design",
        text="its design is older than the register says, and all shots of its line miss it by one shift",
        remedy="ask for the revision in force, put it in place of the older one and run again",
        at_desk=True,
    ),
    Reason(
        name="other-foot",
        text="its design file was read in one foot, and all shots fit it in the other",
        remedy="settle the unit of the design file, state it in its [[design]] and run again",
        at_desk=True,
    ),
    Reason(
        name="unchecked-session",
        text="its session, which no shot checks, lies off the design in whole or in part: is the work off, or it?",
        remedy="check that session on a mark, from the same set-up; then this one is decided with all others of it",
        judged=True,
    ),
    Reason(
        name="between-sessions",
        text="its shots are of sessions that lie apart by their check shots, and the answer hangs on that",
        remedy="shoot all of it in one session",
        judged=True,
    ),
    Reason(
        name="design-apart",
        text="design and shots lie apart as a whole; nothing is held against the design before they lie together",
        remedy="settle the frame, unit and origin of design and shots first, and run again; see what is read first",
        at_desk=True,
    ),
)
"""Every reason that is not one check's own."""

OF_THE_DESIGN = ("older-design", "other-foot", "design-apart")
"""Reasons of numbers that wait for a matter of their design file."""

WHY = {reason.name: code for code, reason in enumerate(SHARED, start=1)}
"""Codes of the shared reasons in rows that are to be judged; 0 leaves the reason to the verdict."""
