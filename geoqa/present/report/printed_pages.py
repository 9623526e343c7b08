"""On which page of a PDF each anchor of the page it was printed from lies, for the contents."""

import re

MOST = 20_000
_PAGES = re.compile(rb"/Pages (\d+) 0 R")
_DESTS = re.compile(rb"/Dests (\d+) 0 R")
_PLACE = re.compile(rb"/([A-Za-z][\w-]*) \[(\d+) 0 R /XYZ")
_KIDS = re.compile(rb"/Kids \[([^\]]*)\]")
_OBJECT = re.compile(rb"(?:^|[\r\n])(\d+) 0 obj\b(.*?)endobj", re.DOTALL)


def pages_of(paper: bytes) -> dict[str, int]:
    r"""Page by anchor; empty where the file is written in another way than is read here: then nothing is said.

    Examples
    --------
    >>> paper = (b"1 0 obj\n<</Type /Pages /Kids [2 0 R 3 0 R]>>\nendobj"
    ...          b"\n4 0 obj\n<</scope [3 0 R /XYZ 0 792 0]>>\nendobj"
    ...          b"\n5 0 obj\n<</Type /Catalog /Pages 1 0 R /Dests 4 0 R>>\nendobj")
    >>> pages_of(paper), pages_of(b"%PDF")
    ({'scope': 2}, {})
    """
    root, named = _last(_PAGES, paper), _last(_DESTS, paper)
    if root is None or named is None:
        return {}
    objects = {int(number): body for number, body in _OBJECT.findall(paper)}
    order = {number: nth for nth, number in enumerate(_leaves(root, objects), start=1)}
    places = _PLACE.findall(objects.get(named, b""))
    return {anchor.decode("ascii"): order[int(at)] for anchor, at in places if int(at) in order}


def _last(pattern: re.Pattern[bytes], paper: bytes) -> int | None:
    found = pattern.findall(paper)
    return int(found[-1]) if found else None


def _leaves(root: int, objects: dict[int, bytes]) -> list[int]:
    """Numbers of the pages in their order: those of the tree that have no kids."""
    found, waiting, seen = list[int](), [root], 0
    while waiting and (seen := seen + 1) < MOST:
        at = waiting.pop()
        kids = _KIDS.search(objects.get(at, b"")) if b"/Type /Pages" in objects.get(at, b"") else None
        if kids is None:
            found.append(at)
        else:
            waiting += [int(each) for each in re.findall(rb"(\d+) 0 R", kids[1])][::-1]
    return found
