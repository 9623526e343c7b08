"""In which line of a TOML file a key stands. It parses no values; unsure means None."""

import re

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*((?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*'))*)\s*=")
_PART = re.compile(r"[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*'")

Address = tuple[str | int, ...]


def locate(text: str) -> dict[Address, int]:
    r"""Map the address of every table and key to its 1-based line.

    Examples
    --------
    >>> places = locate('[job]\nname = "x"\n[[shots]]\nfile = "a.csv"\n[[shots]]\nfile = "b.csv"\n')
    >>> places["shots", 1, "file"], places["job",]
    (6, 1)
    >>> locate('[profile]\npoints = [\n  { station = "1+00" },\n  { station = "2+00" },\n]\n')["profile", "points", 1]
    4
    """
    places: dict[Address, int] = {}
    counts: dict[Address, int] = {}
    table: Address = ()
    closing: str | None = None
    rows: Address | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        if closing is not None:
            if rows is not None and line.lstrip().startswith("{"):
                places[rows] = number
                rows = _next_row(rows, line)
            if closing in (line.split("#")[0] if closing == "]" else line):
                closing = None
            continue
        if header := _HEADER.match(line):
            table = _address(header[2], counts, listed=header[1] == "[[")
            places.setdefault(table, number)
        elif key := _KEY.match(line):
            address = (*table, *(part.strip("\"'") for part in _PART.findall(key[1])))
            places.setdefault(address, number)
            closing = _opened(line[key.end() :])
            rows = (*address, 0) if line[key.end() :].split("#")[0].strip() == "[" else None
    return places


def _address(name: str, counts: dict[Address, int], *, listed: bool) -> Address:
    address: Address = ()
    parts = [part.strip("\"'") for part in _PART.findall(name)]
    for position, part in enumerate(parts):
        address = (*address, part)
        if listed and position == len(parts) - 1:
            counts[address] = counts.get(address, -1) + 1
        if address in counts:
            address = (*address, counts[address])
    return address


def _next_row(row: Address, line: str) -> Address | None:
    """Address of the table behind this one; None where a line holds several, for then none is sure."""
    *before, at = row
    return (*before, int(at) + 1) if line.count("{") == 1 else None


def _opened(value: str) -> str | None:
    """The closing text of a value that goes on over the next lines, if it does."""
    for quotes in ('"""', "'''"):
        if value.count(quotes) == 1:
            return quotes
    stripped = value.split("#")[0].strip()
    if stripped.startswith("[") and stripped.count("[") > stripped.count("]"):
        return "]"
    return None


def line_of(places: dict[Address, int], address: Address) -> int | None:
    """Line of an address, or of the nearest table around it.

    Examples
    --------
    >>> line_of({("job",): 3}, ("job", "name"))
    3
    """
    while address:
        if address in places:
            return places[address]
        address = address[:-1]
    return None
