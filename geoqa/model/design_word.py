"""A word by which the lines and points of a design file can be told apart."""

from dataclasses import dataclass
from typing import Literal

Option = Literal["layers", "blocks", "values", "linetypes", "colours"]
"""Keys of `[[design]]` whose tables say which kind a word stands for."""


@dataclass(frozen=True, kw_only=True)
class DesignWord:
    """One layer, block, attribute value, linetype or colour of a design file, and what is drawn under it.

    Attributes
    ----------
    option : str
        Key of `[[design]]` whose table takes the word: ``layers``, ``blocks``, ``values``, ``linetypes``, ``colours``.
    word : str
        As the file writes it.
    field : str
        For values, the attribute that holds them (``kind_field``, in a drawing ``kind_tag``); else empty.
    lines, points, others : int
        How many lines, points, and things that are neither are drawn under it.
    blocks : int
        How many of the points are blocks, which their own names tell apart.
    kind : str
        A guess; empty where there is none.
    because : str
        What the guess is made of, or why there is none.
    """

    option: Option
    word: str
    field: str = ""
    lines: int = 0
    points: int = 0
    others: int = 0
    blocks: int = 0
    kind: str = ""
    because: str = ""
