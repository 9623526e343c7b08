"""What a crew is told at the end of its day, flag by flag: how urgent, in plain words, and what to do."""

from dataclasses import dataclass

NOW, LOOK, KNOW = 1, 2, 3
URGENCY = {
    NOW: "Before you leave",
    LOOK: "Look at before you leave, or settle tonight",
    KNOW: "Good to know",
}
"""Urgency in words, most urgent first."""


@dataclass(frozen=True)
class Say:
    """How one flag is told."""

    urgency: int
    title: str
    do: str


_SCREENED = "re-shoot with a good fix"

SAY = {
    "open-blunder": Say(NOW, "These shots are off together", "re-shoot them, see above for the cause"),
    "unexplained-control": Say(
        NOW, "Control is off, and no known cause fits", "check on two more marks; do not hand these shots over before"
    ),
    "solution": Say(NOW, "Not a fixed solution", _SCREENED),
    "tilt": Say(NOW, "Rod leaned too far", "re-shoot with the rod plumb"),
    "tilt-untested": Say(NOW, "Rod leaned further than was tested", "re-shoot with the rod plumb"),
    "pdop": Say(NOW, "Satellites badly placed", "wait, or come back at another hour, and re-shoot"),
    "hdop": Say(NOW, "Satellites badly placed", "wait, or come back at another hour, and re-shoot"),
    "vdop": Say(NOW, "Satellites badly placed", "wait, or come back at another hour, and re-shoot"),
    "satellites": Say(LOOK, "Few satellites", "re-shoot if the point matters, with more sky or another instrument"),
    "epochs": Say(LOOK, "Shot too quickly", "re-shoot and stay longer on the point"),
    "correction_age": Say(LOOK, "Corrections came late", "check the data link, re-shoot where it was down"),
    "reported_h": Say(LOOK, "Receiver reports poor position", _SCREENED),
    "reported_v": Say(LOOK, "Receiver reports poor elevation", _SCREENED),
    "no-closing-check": Say(NOW, "No closing check on control", "shoot a check on a known mark before you pack up"),
    "no-opening-check": Say(LOOK, "No opening check on control", "close on a known mark, and say so in the notes"),
    "no-check-after-pause": Say(LOOK, "No check after a long pause", "close on a known mark, re-shoot one of these"),
    "no-check-between": Say(LOOK, "Too long between two checks", "re-shoot one point of these and compare"),
    "spike": Say(NOW, "Shot strays from its line", "re-shoot it, or note what stands there"),
    "null-elevation": Say(NOW, "No elevation", "re-shoot it if the elevation is needed"),
    "zero-elevation": Say(NOW, "Elevation of exactly 0", "re-shoot it if the elevation is needed"),
    "unreadable": Say(NOW, "Number cannot be read", "export the file again, or re-shoot it"),
    "motion": Say(LOOK, "Too far in too short a time", "is the name, the place or the clock wrong? Re-shoot if unsure"),
    "clock": Say(LOOK, "Clock runs backwards", "check the clock of the controller"),
    "unclosed": Say(LOOK, "Outline does not close", "shoot the missing corner, or close it in the office"),
    "false-jump": Say(LOOK, "Line drawn across a gap", "start a new line there"),
    "code-slip": Say(LOOK, "Code does not fit the place", "correct the code while you remember"),
    "swapped-pair": Say(LOOK, "Top and bottom look exchanged", "correct the two codes while you remember"),
    "unknown-code": Say(LOOK, "Code is not in the code list", "correct the code while you remember"),
    "duplicate-name": Say(LOOK, "One name for two places", "rename one of them while you remember which is which"),
    "two-names": Say(LOOK, "One measurement under two names", "say which name is right"),
    "weak-sky": Say(LOOK, "Poor sky here", "check one or two of these points with another instrument"),
    "identical-to-design": Say(LOOK, "Equal to the design to the last digit", "was it staked rather than measured?"),
    "row-twice": Say(KNOW, "Row exported twice", "nothing; it counts once"),
    "re-shot": Say(KNOW, "Measured again", "nothing; repeats within minutes prove nothing"),
    "same-place": Say(KNOW, "Measured again under another name", "nothing; repeats within minutes prove nothing"),
}
"""Flag to how it is told."""

CAUSE_NOW = frozenset({"initialization", "rod", "tilt-off", "bad-shot"})
"""Causes of blunders that only a re-shoot, or a field record, cures."""

NOTHING = (
    "Nothing to re-shoot was found. That is no proof that the shots are right: it says that none of the checks "
    "listed here found anything."
)


def say(flag: str) -> Say:
    """How a flag is told; one that a stranger's step brings is to be looked at.

    Examples
    --------
    >>> say("tilt").do
    're-shoot with the rod plumb'
    >>> say("my-own").title
    'My own'
    """
    return SAY.get(flag, Say(LOOK, flag.replace("-", " ").capitalize(), "look at it"))
