"""Known causes of survey blunders: what each is called, how it is cured, what tells it from its rivals, how likely."""

from collections.abc import Iterable

from geoqa.model.vocabulary import Cause

CAUSES = (
    Cause(name="none", title="No known blunder shows", remedy="nothing to correct"),
    Cause(
        name="none-fits",
        title="None of the known causes fits",
        remedy="correct nothing; look at the listed remainder, repeat the check shots it names, then run again",
        brief="correct nothing; repeat the check shots that are listed",
    ),
    Cause(
        name="unlisted",
        title="None of the known causes fits",
        remedy="find what changed for {subject} (base, its coordinates, antenna, correction source) and correct it, or "
        "re-shoot its {shots}; nothing of it is judged until then",
        now=True,
        brief="find what changed, and correct it, or re-shoot; until then none is judged",
    ),
    Cause(
        name="warp",
        title="Elevations off by amounts that follow the place, a warp the checks show",
        remedy="hold no mark to be wrong for it: look for what bends elevations over the site (marks and residuals of "
        "the site's own fit, geoid model, base and its coordinates), and run levels between two marks that differ; "
        "no elevation is judged until then",
        now=True,
        brief="hold no mark to be wrong; find what bends them, level between two marks",
    ),
    Cause(name="two-disagree", title="Two marks disagree", remedy="shoot a third mark; until then hold neither"),
    Cause(
        name="no-control",
        title="No control to compare with",
        remedy="shoot at least three marks and give [control] in the job file",
    ),
    Cause(
        name="no-check",
        title="Control is given, and no shot was read as a check of it",
        remedy="give the code of the check shots the role check in the code list ([codes]), and the name of the mark "
        "in their line ID or as a word beside the code; where no mark was shot, shoot at least three",
        brief="give check shots the role check in the code list and name their marks",
    ),
    Cause(
        name="foot",
        title="Wrong kind of foot",
        remedy='set unit = "{unit}" in [[shots]] of {files}, and run again',
        tells="unit in the field settings",
        prior=0.02,
        brief="declare the unit in [[shots]], and run again",
    ),
    Cause(
        name="frame-epoch",
        title="Global frame or epoch shown as the job's frame",
        remedy="declare the file's own system in [[shots]] of {files} (frame = its definition on the global datum, "
        "epoch = {epoch}), or export again in the job's frame, and run again",
        tells="frame and epoch of the correction source",
        prior=0.02,
        brief="declare frame and epoch of the file in [[shots]], and run again",
    ),
    Cause(
        name="ellipsoid-heights",
        title="Heights above the ellipsoid, geoid missing",
        remedy='set heights = "ellipsoid" in [[shots]] of {files} and name the geoid grid in [frame.geoid]; run again',
        tells="geoid model and separation in the log",
        prior=0.02,
        brief="declare ellipsoid heights in [[shots]] and name the geoid, and run again",
    ),
    Cause(
        name="geoid-sign",
        title="Geoid separation with the wrong sign",
        remedy="export {files} again with the geoid applied once, and run again; no setting of this job undoes it",
        tells="geoid model and separation in the log",
        prior=0.005,
        brief="export again with the geoid applied once, and run again",
    ),
    Cause(
        name="geoid-twice",
        title="Geoid separation applied twice",
        remedy="export {files} again with the geoid applied once, and run again; no setting of this job undoes it",
        tells="geoid model and separation in the log",
        prior=0.005,
        brief="export again with the geoid applied once, and run again",
    ),
    Cause(
        name="ground",
        title="Ground distances in place of grid distances",
        remedy="set combined_factor = {factor} and ground_origin = {origin} in [frame] and ground = true in [[shots]] "
        "of {files}, and run again",
        tells="factor and held point in the field settings",
        prior=0.02,
        brief="declare ground = true in [[shots]] with factor and origin in [frame]",
    ),
    Cause(
        name="north",
        title="True north in place of grid north",
        remedy="export {files} again with grid azimuths, and run again",
        tells="azimuth setting in the field settings",
        prior=0.005,
    ),
    Cause(
        name="swapped",
        title="Easting and northing swapped",
        remedy="name the columns of {files} in [[shots]] (easting and northing exchanged), and run again",
        prior=0.01,
        brief="name the columns of the file in [[shots]], and run again",
    ),
    Cause(
        name="metres",
        title="Metres in place of feet, or feet in place of metres",
        remedy='set unit = "{unit}" in [[shots]] of {files}, and run again',
        prior=0.01,
        brief="declare the unit in [[shots]], and run again",
    ),
    Cause(
        name="NAD27",
        title="NAD27 coordinates",
        remedy="have {files} converted where the NADCON grids are, declare the result in [[shots]], and run again",
        prior=0.005,
        brief="have it converted where the NADCON grids are, and run again",
    ),
    Cause(
        name="zone",
        title="Coordinates of another zone",
        remedy='set frame = "{code}" in [[shots]] of {files}, and run again',
        prior=0.005,
        brief="declare the frame of the file in [[shots]], and run again",
    ),
    Cause(
        name="elevation-constant",
        title="Elevations off by one amount (rod, antenna, base or vertical datum)",
        remedy="tell them apart by {tells}; correct that one, export {files} again and run again, or re-shoot these "
        "shots",
        tells="geoid model, vertical datum and antenna reference in the field settings",
        prior=0.02,
        now=True,
        alike=("rod", "antenna", "base", "vertical-datum"),
        brief="hold rod, antenna, base and vertical datum against the log",
    ),
    Cause(
        name="antenna",
        title="Antenna reference or antenna type entered wrong",
        remedy="put the true antenna into the field settings, export again and run again",
        tells="antenna type and reference in the field settings",
        brief="put the true antenna into the field settings, and run again",
    ),
    Cause(
        name="base",
        title="Elevation of the base entered wrong",
        remedy="put the true elevation of the base into the field record, export again and run again",
        tells="elevation keyed in for the base, or a mark shot from another base",
        brief="put the true elevation of the base into the record, and run again",
    ),
    Cause(
        name="vertical-datum",
        title="Vertical datum or geoid model other than that of the control",
        remedy="export again with the vertical datum and geoid model of the control, and run again",
        tells="vertical datum and geoid model in the field settings",
        brief="export again with the vertical datum of the control",
    ),
    Cause(
        name="rod",
        title="Rod height entered wrong",
        remedy="put the true rod height into the field record, export {files} again and run again; or re-shoot these "
        "shots",
        tells="rod_height of every shot",
        prior=0.05,
        now=True,
        brief="put the true rod height into the record, or re-shoot",
    ),
    Cause(
        name="initialization",
        title="Bad initialization",
        remedy="re-shoot the {shots} of this initialization; leave them out until then",
        tells="initialization of every shot",
        prior=0.03,
        now=True,
        brief="re-shoot them; leave them out until then",
    ),
    Cause(
        name="mark",
        title="Mark disturbed or wrongly published",
        remedy="do not hold {subject}; have the mark itself and its published value checked",
        tells="a shot on this mark in another session",
        prior=0.03,
        brief="do not hold it; have it and its published value checked",
    ),
    Cause(
        name="mark-name",
        title="Check shot taken on another mark than it names",
        remedy="correct the mark's name in the line ID of this check shot, and run again",
        tells="a photo of the mark",
        prior=0.03,
        brief="correct the mark's name in its line ID, and run again",
    ),
    Cause(
        name="bad-shot",
        title="One check shot alone is off",
        remedy="shoot the mark again; leave this check shot out until then",
        tells="a second shot on this mark in the same session",
        prior=0.02,
        now=True,
        brief="shoot the mark again; leave this shot out until then",
    ),
    Cause(
        name="tilt-off",
        title="Tilt compensation off or unsettled",
        remedy="reject the {shots}; re-shoot with the bubble, or after the tilt sensor settled",
        tells="tilt and tilt_azimuth of every shot",
        prior=0.03,
        now=True,
        brief="reject them; re-shoot with the bubble, or after the tilt sensor settled",
    ),
    Cause(
        name="unchecked",
        title="Shots that no check covers are off together",
        remedy="shoot check shots on two marks from the same set-up (rod, antenna and base as they stood); where it "
        "stands no more, two of the {shots} again in a session that is checked; until then none of them is judged",
        tells="check shots on two marks from the same set-up, before and after every change of rod or base",
        prior=0.03,
        now=True,
        alike=("initialization", "rod", "antenna", "base", "vertical-datum"),
        brief="shoot checks on two marks from the same set-up, or two of them again",
    ),
    Cause(
        name="block-with-check",
        title="A check shot and the shots round it are off together",
        remedy="re-shoot the {shots} after a new initialization, between two good checks; leave them out until then",
        tells="check shots on two marks before and after every change of rod, base or initialization",
        prior=0.03,
        now=True,
        brief="re-shoot them after a new initialization, between two good checks; leave them out until then",
    ),
    Cause(
        name="work-or-survey",
        title="Off in plan and elevation at once, the work or the survey",
        remedy="shoot two of the {shots} again after a new initialization, between two good checks: where they come "
        "out as before it is the work, and with them in the job it is judged so; where they do not, shoot all of them "
        "again; until then none of them is judged",
        tells="two of these shots again after a new initialization; the initialization of every shot in the log",
        prior=0.03,
        now=True,
        brief="shoot two of them again after a new initialization",
        asks="Work or survey?",
    ),
)
"""Answers that name no cause first, then the causes. A remedy is mostly a change of the job file."""

PRIOR = {cause.name: cause.prior for cause in CAUSES if cause.prior == cause.prior}
"""Probability of each cause before anything is measured, shared by its variants. Common practice, no source."""

_OURS = {cause.name: cause for cause in CAUSES}

LOST = {
    "session": "blunders cannot be tied to a session; breaks of more than an hour stand for it",
    "initialization": "a bad initialization is not told from other steps, nor from work that is off in plan and "
    "elevation at once; blocks without check shots are searched for no others",
    "rod_height": "a wrong rod entry cannot be read from the log; only its step in elevation shows",
    "tilt": "a leaning rod without compensation cannot be found",
    "tilt_azimuth": "the direction of a leaning rod is unknown; missing compensation cannot be found",
    "time": "steps cannot be placed in time; the order of the rows stands for it",
    "elevation": "causes that act in elevation cannot be found",
}
"""What is lost for the diagnosis where a field is missing."""


def cause_named(name: str) -> Cause:
    """The cause, or the answer, of that name; one that is not known is known by its name alone.

    Examples
    --------
    >>> cause_named("zone").title
    'Coordinates of another zone'
    """
    return _OURS.get(name) or Cause(name=name, title=name, remedy="")


def tells_apart(causes: Iterable[str]) -> str:
    """What would tell these causes apart.

    Examples
    --------
    >>> tells_apart(["rod", "initialization"])
    'rod_height of every shot; initialization of every shot'
    """
    return "; ".join(dict.fromkeys(told for name in causes if (told := cause_named(name).tells)))
