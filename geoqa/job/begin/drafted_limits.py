"""Tolerances as a draft writes them: comments that wait for a number and the place it is written in."""

import re
from collections.abc import Collection, Iterator, Mapping
from types import MappingProxyType

from geoqa.job.begin.comment import one_line
from geoqa.job.document.quoted import quoted
from geoqa.model.tables.edge_pairs import pair_kind

SOURCE = 'reference = "drawing and note, or clause"'
_PAIRS = {frozenset({"front", "back"}): 'cross_slope = "… %", running_slope = "… %", width = "… {foot}"'}
"""Last words of the kinds of two edges, and the limits of both together."""


def drafted_limits(
    kinds: Mapping[str, str], foot: str, *, roles: Collection[str] = (), surface: bool = False,
    aside: Mapping[str, str] = MappingProxyType({}),
) -> str:  # fmt: skip
    """Commented lines of limits: nothing is judged without one, and each needs the place it is written in.

    Parameters
    ----------
    kinds : mapping of str to str
        Geometry of each kind: line, point, or mark for that of control.
    foot : str
        Unit of lengths: ft or ftUS.
    roles : collection of str
        What the files of the folder are.
    surface : bool
        Whether a file of design has a surface.
    aside : mapping of str to str
        Kinds that share no line with others, each with why.

    Returns
    -------
    str

    Examples
    --------
    >>> print(drafted_limits({"rim": "point", "valve": "point"}, "ft").splitlines()[3])
    # "rim, valve" = { horizontal = "… ft", vertical = "… ft", reference = "drawing and note, or clause" }
    """
    lines = [
        "[tolerance]",
        "# REQUIRED: a line for each kind that is to be judged, with the place it is written in; without its # and …",
        "# Kinds of one line share its limits; write a kind that has others on a line of its own.",
    ]
    groups: dict[str, list[str]] = {}
    known = {kind: geometry for kind, geometry in kinds.items() if kind not in aside}
    for kind, geometry in known.items() or [("curb-top", "line")]:
        groups.setdefault(geometry, []).append(kind)
    written = [(_key(group), _limits(geometry, foot)) for geometry, group in groups.items()]
    written += [(_key([kind]), limits.format(foot=foot)) for kind, limits in _of_pairs(kinds)]
    width = max(len(key) for key, _ in written)
    lines += [f"# {key:{width}} = {{ {limits}, {SOURCE} }}" for key, limits in written]
    lines.append("# spacing is the longest reach without a shot; leave out what is not asked for")
    if aside:
        lines.append(
            '# Not judged without a line of their own; "" in the table of kinds of their file leaves them out:'
        )
        lines += [f"#   {_key([kind])}: {why}" for kind, why in aside.items()]
    if more := list(_more(kinds, foot, roles, surface)):
        lines += ["# Limits of several shots, for a line of the kind, where the contract asks for them:", *more]
    return "\n".join(lines)


def _limits(geometry: str, foot: str) -> str:
    spacing = f', spacing = "… {foot}"' if geometry == "line" else ""
    return f'horizontal = "… {foot}", vertical = "… {foot}"{spacing}'


def _pairs_of(kinds: Mapping[str, str]) -> Iterator[tuple[str, frozenset[str]]]:
    """Kind of each pair of lines that differ in their last word, with both last words."""
    lines = [kind for kind, geometry in kinds.items() if geometry == "line" and "-" in kind]
    for at, one in enumerate(lines):
        for other in lines[at + 1 :]:
            if one.rpartition("-")[0] == other.rpartition("-")[0]:
                yield pair_kind(one, other), frozenset({one.rpartition("-")[2], other.rpartition("-")[2]})


def _of_pairs(kinds: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    for kind, ends in _pairs_of(kinds):
        if ends in _PAIRS and kind not in kinds:
            yield kind, _PAIRS[ends]


def _more(kinds: Mapping[str, str], foot: str, roles: Collection[str], surface: bool) -> Iterator[str]:
    for kind, ends in _pairs_of(kinds):
        if ends == {"top", "flow"}:
            yield f'#   {_key([kind])} (top and flow line): reveal = {{ least = "… {foot}", most = "… {foot}" }}'
    for kind, geometry in kinds.items():
        last = kind.rpartition("-")[2]
        if geometry == "line" and last in ("flow", "gutter", "swale"):
            yield f'#   {_key([kind])}: fall = "… %", ponding = "… {foot}"'
        if geometry == "line" and last == "top" and kind.startswith(("water", "storm", "sewer")):
            yield f'#   {_key([kind])}: cover = "… {foot}", straightness = "… {foot}"'
        if kind == "ramp":
            yield '#   ramp: ramp_slope = "1:…", cross_slope = "1:…", counter_slope = "1:…"'
    if "structures" in roles:
        yield f'#   the kind of a pipe: pipe_slope = {{ least = "… %" }};   invert: vertical = "… {foot}"'
    if surface:
        yield f'#   a kind of shots on a design surface, such as ground: surface = "… {foot}"'


def _key(kinds: list[str]) -> str:
    """Kinds as a key of the job file: bare where it can be."""
    joined = ", ".join(one_line(kind) for kind in kinds)
    return joined if re.fullmatch(r"[A-Za-z0-9_-]+", joined) else quoted(joined)
