"""A check: what a finding is about, declared once and read by all who judge, print, draw or explain it."""

import re
from dataclasses import dataclass, field
from typing import Literal

from geoqa.errors import CheckError
from geoqa.model.reasons import SHARED, Reason

QUANTITIES = ("length", "slope", "ratio", "count", "angle", "time")
"""What a judged number may be; its unit follows: the job's, per cent, per cent, none, degrees, seconds."""

Subject = Literal["work", "survey", "evidence"]
"""Was it built so; may the measurement be trusted; what was not measured."""

SUBJECTS: tuple[Subject, ...] = ("work", "survey", "evidence")

KEY_QUANTITIES = ("length", "slope", "ratio", "count", "time")
"""What a key of ``[tolerance.KIND]`` may be: there is a way to write each of them in a job file."""

CHOICES: dict[str, tuple[str, ...]] = {
    "quantity": QUANTITIES,
    "subject": SUBJECTS,
    "axis": ("h", "v", ""),
    "feels": ("both", "random", "common"),
    "bound": ("sides", "radius", "most", "least", "range"),
    "of_geometry": ("line", "point", ""),
    "consequence": ("use", "water", "clearance", "position", ""),
}
"""Fields of a check that take one of a few words."""

CONTROL = "control"
"""The kind under which a job writes the limits of its checks on control; no feature bears it."""


@dataclass(frozen=True, kw_only=True)
class ToleranceKey:
    """A key of ``[tolerance.KIND]``, as checks read it.

    Attributes
    ----------
    name : str
        As the job file writes it.
    description : str
        For the schema, and for who misspells it.
    quantity : {"length", "slope", "ratio", "count", "time"}
        Decides how its value is written: ``"0.10 ft"``, ``"1:48"`` or ``"2 %"``, a whole number, ``"30 min"``.
    sides : tuple of str, optional
        Names of a lower and an upper side, where a table may give each its own value; both are written without
        a sign. None: one value only.
    zero : bool
        0 is a limit too; otherwise the value must be more than 0.
    """

    name: str
    description: str
    quantity: str = "length"
    sides: tuple[str, str] | None = None
    zero: bool = True

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[a-z][a-z0-9_-]*", self.name):
            raise CheckError(f"'{self.name}' is no key of a tolerance: use small letters, digits, _ and -.")
        if self.quantity not in KEY_QUANTITIES:
            raise CheckError(
                f"Key '{self.name}': no quantity '{self.quantity}' of a limit; use one of {', '.join(KEY_QUANTITIES)}."
            )
        if self.sides is not None and (len(set(self.sides)) != 2 or not all(self.sides)):
            raise CheckError(f"Key '{self.name}': its two sides need two names.")


@dataclass(frozen=True, kw_only=True)
class Check:
    """What a finding is about.

    Attributes
    ----------
    name : str
        The word in the column `check`, in job files and on the command line.
    title : str
        A few words for people.
    subject : {"work", "survey", "evidence"}
        Was it built so; may the measurement be trusted; what was not measured.
    quantity : str
        One of `QUANTITIES`: of deviation, limits and uncertainty.
    compared, judged, cannot_show : str
        The explanation: what is compared with what, how it is judged, what it cannot show.
    source : str
        Where the rule or formula comes from; "common practice, no source" where there is none.
    directions : tuple of str, optional
        Words for a negative and a positive deviation. None: the number speaks for itself.
    radial : bool
        The deviation is a distance in plan, without a sign, and judged as one.
    fall : bool
        The deviation is a fall along the flow: below 0 it runs backwards, and a least of 0 says that it may not.
    axis : {"h", "v", ""}
        The number is that of one shot, in plan or in elevation: its uncertainty is the shot's along that axis.
    feels : {"both", "random", "common"}
        Which part of the uncertainty the number feels: a difference of two shots of one session only the random one.
    tolerance : ToleranceKey, optional
        The key of ``[tolerance.KIND]`` that its limits are read from. None: limits come from its method.
    bound : {"sides", "radius", "most", "least", "range"}
        How the value bounds the deviation: to both sides of 0; as a radius; from above; from below; or, with the two
        sides of its key as the least and the most the number itself may be, such as a fall between 1 % and 2 %.
    of_kind : str, optional
        The only kind that it is judged under, such as ``control``. None: every kind of feature.
    of_geometry : {"line", "point", ""}
        It needs a design of this shape.
    better : str
        The better method, where one shot cannot decide.
    better_u : float
        Metres: 1 sigma that the better method reaches in the field, so that nothing finer is asked of it; it is used
        where the check judges a length.
    better_slope : float, optional
        The same for a check that judges a slope: rise over run, such as 0.001 for a digital level read to 0.1 %.
    at_desk : bool
        Another shot would change nothing: the answer is found in the office.
    consequence : {"use", "water", "clearance", "position", ""}
        What a defect spoils.
    reasons : tuple of Reason
        Its own reasons, beside those that all checks share.
    order : int
        Place among the checks, where they are listed.
    """

    name: str
    title: str
    subject: Subject
    quantity: str
    compared: str
    judged: str
    cannot_show: str
    source: str
    directions: tuple[str, str] | None = None
    radial: bool = False
    fall: bool = False
    axis: Literal["h", "v", ""] = ""
    feels: Literal["both", "random", "common"] = "both"
    tolerance: ToleranceKey | None = None
    bound: Literal["sides", "radius", "most", "least", "range"] = "sides"
    of_kind: str | None = None
    of_geometry: Literal["line", "point", ""] = ""
    better: str = "a total station"
    better_u: float = 0.005
    better_slope: float | None = None
    at_desk: bool = False
    consequence: Literal["use", "water", "clearance", "position", ""] = ""
    reasons: tuple[Reason, ...] = ()
    order: int = 100
    _codes: dict[str, int] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        for name, words in CHOICES.items():
            if (word := getattr(self, name)) not in words:
                allowed = ", ".join(each for each in words if each)
                raise CheckError(f"Check '{self.name}': no {name} '{word}'; use one of {allowed}.")
        if self.axis and self.quantity != "length":
            raise CheckError(f"Check '{self.name}': what is felt along an axis is a length, not a {self.quantity}.")
        if self.tolerance is not None and self.radial and self.bound != "radius":
            raise CheckError(f"Check '{self.name}': a radial number is bounded by a radius.")
        if self.bound == "range" and (self.tolerance is None or self.tolerance.sides is None):
            raise CheckError(f"Check '{self.name}': a range needs a key with two sides, for the least and the most.")
        if self.tolerance is not None and self.tolerance.quantity != self.quantity:
            raise CheckError(
                f"Check '{self.name}' judges a {self.quantity}, but its key '{self.tolerance.name}' is a "
                f"{self.tolerance.quantity}."
            )
        for code, reason in enumerate(self.every_reason, start=1):
            if reason.name in self._codes:
                raise CheckError(
                    f"Check '{self.name}': its reason '{reason.name}' is one that all checks share, or stands twice."
                )
            self._codes[reason.name] = code

    @property
    def every_reason(self) -> tuple[Reason, ...]:
        """Shared reasons first, then its own: the order of their codes, from 1."""
        return (*SHARED, *self.reasons)

    def reason(self, name: str) -> Reason:
        """The reason of that name; one that nobody declares is known by its name alone."""
        code = self._codes.get(name, 0)
        return self.every_reason[code - 1] if code else Reason(name=name, text=name)

    def why(self, reason: str) -> int:
        """Code of a reason, for the column `why` of rows that are to be judged; 0 leaves the reason to the verdict.

        Raises
        ------
        CheckError
            Neither shared nor declared by this check.
        """
        if not reason:
            return 0
        try:
            return self._codes[reason]
        except KeyError:
            raise CheckError(
                f"Check '{self.name}' has no reason '{reason}'; declare it, or use one of {', '.join(self._codes)}."
            ) from None


def undeclared(name: str) -> Check:
    """What is known of a check that nobody declares: its name.

    Examples
    --------
    >>> undeclared("clear-width").title
    'Clear width'
    """
    return Check(
        name=name,
        title=name.replace("-", " ").capitalize(),
        subject="work",
        quantity="length",
        compared="Nothing is declared of this check.",
        judged="",
        cannot_show="",
        source="none",
    )
