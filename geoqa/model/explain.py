"""Every check in plain words: what is compared, how it is judged, and what it cannot show."""

from geoqa.model.words import CERTIFICATION, CHECKS, WHYS

EXPLANATIONS = {
    "diagnosis": (
        "Known causes of survey blunders (foot, frame and epoch, heights, ground scale, rod, initialization, marks, "
        "names of marks, swapped axes, zones) are held against the residuals at control, the log and the deviations "
        "from design. Each is computed at the site; the most probable is named with its odds and the priors behind "
        "them, or a group that predicts the same within three standard uncertainties, or none.",
        "Uncertainty: that of the check shots, of their sessions and of the published values, with its covariance.",
        "A cause that is not listed cannot be named; then the answer is that none of the known causes fits. Nothing "
        "is corrected: the remedy is a change of the job file or a re-shoot.",
    ),
    "control-position": (
        "A check shot on a known mark is compared with the mark's published easting and northing. The distance "
        "between the two is judged against a radius.",
        "Uncertainty: that of the shot (common and random part) and that of the published value.",
        "A wrong coordinate system, foot or mark name shows here first. One mark alone cannot tell a moved mark "
        "from a shifted survey.",
    ),
    "control-elevation": (
        "The elevation of a check shot minus the published elevation of its mark; positive is high.",
        "Uncertainty: that of the shot and that of the published value.",
        "A constant miss on all marks points to rod height, geoid or vertical datum, not to the marks.",
    ),
    "offset": (
        "The distance of a shot from its design line, square to the line at the shot's station; positive is right of "
        "the line's direction. Arcs are true arcs.",
        "Uncertainty: the horizontal one of the shot, per axis, common and random part together.",
        "It says nothing along the line, and nothing between two shots.",
    ),
    "elevation": (
        "The elevation of a shot minus the design elevation at the shot's own plan position; positive is high.",
        "Uncertainty: the vertical one of the shot, common and random part together.",
        "A shot that is off in plan on a slope is compared where it was taken, not at the nearest design node.",
    ),
    "position": (
        "The plan distance of a point feature from its design position, judged against a radius.",
        "The probability that the true distance is within the radius follows the noncentral chi-square distribution "
        "with two degrees of freedom.",
        "Direction is shown on the map; only the distance is judged.",
    ),
    "coverage": (
        "The longest reach of a design line without an as-built shot, against the spacing the job asks for; and "
        "design points that nobody shot.",
        "Uncertainty: that of two stations.",
        "No evidence is not the same as not built. Buried work cannot be checked after backfill. Where only shots "
        "without a known code, or with one in question, lie, nothing is judged until their codes are settled.",
    ),
    "extra": (
        "Shots of a kind that has a design, but none within reach.",
        "The distance to the nearest design of the kind is judged against the reach of the match.",
        "It may be a wrong code, an addition, or an older drawing.",
    ),
    "identical": (
        "Rows whose recorded numbers equal the design in every comparable component at the resolution of the file, "
        "counted against what honest work would give by chance.",
        "The chance expectation is printed with the count; there is no measurement uncertainty in it.",
        "It is a question, never an accusation: supply the raw log of these rows.",
    ),
}
"""Check name to three sentences: compared, judged, cannot show."""

RULE = (
    "IN if the true value lies within the limits with a probability of at least 95 %, OUT if it lies beyond one of "
    "them with at least 95 %, else UNDECIDED; NO_DATA where something is missing (JCGM 106:2012, no prior knowledge "
    "of the value assumed). The job may choose another rule; every output prints which."
)


def explain(check: str) -> str:
    """Write the explanation of one check as text for a terminal.

    Examples
    --------
    >>> explain("offset").splitlines()[0]
    'Offset from design line (offset)'
    """
    compared, judged, limits = EXPLANATIONS[check]
    reasons = "\n".join(f"  {why:<20} {text}" for why, text in WHYS.items())
    return "\n\n".join(
        (
            f"{CHECKS[check]} ({check})",
            compared,
            f"{judged}\n{RULE}",
            f"What it cannot show: {limits}",
            f"Reasons printed with a verdict:\n{reasons}",
            CERTIFICATION,
        )
    )
