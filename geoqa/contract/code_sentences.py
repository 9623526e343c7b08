"""What an unknown code may stand for, in a sentence."""

from collections.abc import Sequence
from dataclasses import dataclass

from geoqa.model.words import many


@dataclass(frozen=True, kw_only=True)
class Meant:
    """A known code that may be meant, with what speaks for it.

    Attributes
    ----------
    code : str
    shots : int
        Shots with the unknown code.
    on_design : int
        How many of them lie on design of the code's kind, within `close`.
    kind, close : str
    line : str
        Line ID that speaks for it, borne by `on_line` of them.
    on_line : int
    spelling : bool
        The two are spelled alike.
    """

    code: str
    shots: int
    on_design: int = 0
    kind: str = ""
    close: str = ""
    line: str = ""
    on_line: int = 0
    spelling: bool = False

    @property
    def rank(self) -> tuple[int, int, int, str]:
        """Place among the proposals: by the number of reasons, then by design, line ID and spelling."""
        reasons = bool(self.on_design) + bool(self.line) + self.spelling
        return -reasons, -self.on_design, -self.on_line, self.code

    def sentence(self) -> str:
        """The code, and what speaks for it.

        Examples
        --------
        >>> Meant(code="CTB", shots=6, on_design=5, kind="curb-top", close="0.40 ft", spelling=True).sentence()
        'CTB (5 of 6 lie within 0.40 ft of curb top in the design; spelled alike)'
        """
        reasons = []
        if self.on_design:
            lie = "lies" if self.on_design == 1 else "lie"
            kind = self.kind.replace("-", " ")
            reasons.append(f"{self.on_design} of {self.shots} {lie} within {self.close} of {kind} in the design")
        if self.line:
            reasons.append(f"line ID {self.line} of {many(self.on_line, 'shot')}")
        if self.spelling:
            reasons.append("spelled alike")
        return f"{self.code} ({'; '.join(reasons)})"


def what_is_meant(meant: Sequence[Meant]) -> str:
    """What to do about an unknown code.

    Parameters
    ----------
    meant : sequence of Meant
        The likeliest first; the first three are written out.

    Examples
    --------
    >>> what_is_meant([])
    'correct the code, or enter it in the code list; nothing known is like it'
    >>> what_is_meant([Meant(code="CTB", shots=3, spelling=True)])
    'did the crew mean CTB (spelled alike)? Correct the code, or enter it in the code list; nothing was changed'
    """
    if not meant:
        return "correct the code, or enter it in the code list; nothing known is like it"
    asked = " or ".join(each.sentence() for each in meant[:3])
    return f"did the crew mean {asked}? Correct the code, or enter it in the code list; nothing was changed"
