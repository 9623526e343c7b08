"""What to do about a cause, and what would tell it from others that look alike: words only, never applied."""

TITLES = {
    "none": "No known blunder shows",
    "none-fits": "None of the known causes fits",
    "two-disagree": "Two marks disagree",
    "no-control": "No control to compare with",
    "foot": "Wrong kind of foot",
    "frame-epoch": "Global frame or epoch shown as the job's frame",
    "ellipsoid-heights": "Heights above the ellipsoid, geoid missing",
    "geoid-sign": "Geoid separation with the wrong sign",
    "geoid-twice": "Geoid separation applied twice",
    "ground": "Ground distances in place of grid distances",
    "north": "True north in place of grid north",
    "swapped": "Easting and northing swapped",
    "metres": "Metres in place of feet, or feet in place of metres",
    "NAD27": "NAD27 coordinates",
    "zone": "Coordinates of another zone",
    "elevation-constant": "One elevation shift in all shots: vertical datum, geoid model, antenna reference or rod",
    "rod": "Rod height entered wrong",
    "initialization": "Bad initialization",
    "mark": "Mark disturbed or wrongly published",
    "mark-name": "Check shot taken on another mark than it names",
    "bad-shot": "One check shot alone is off",
    "tilt-off": "Tilt compensation off or unsettled",
}
"""Every answer in a few words."""

REMEDY = {
    "none": "nothing to correct",
    "none-fits": "correct nothing; look at the listed remainder, repeat the check shots it names, then run again",
    "two-disagree": "shoot a third mark; until then hold neither",
    "no-control": "shoot at least three marks and give [control] in the job file",
    "foot": 'set unit = "{unit}" in [[shots]] of {files}, and run again',
    "frame-epoch": (
        "declare the file's own system in [[shots]] of {files} (frame = its definition on the global datum, "
        "epoch = {epoch}), or export again in the job's frame, and run again"
    ),
    "ellipsoid-heights": (
        'set heights = "ellipsoid" in [[shots]] of {files} and name the geoid grid in [frame.geoid]; run again'
    ),
    "geoid-sign": "export {files} again with the geoid applied once, and run again; no setting of this job undoes it",
    "geoid-twice": "export {files} again with the geoid applied once, and run again; no setting of this job undoes it",
    "ground": (
        "set combined_factor = {factor} and ground_origin = {origin} in [frame] and ground = true in [[shots]] "
        "of {files}, and run again"
    ),
    "north": "export {files} again with grid azimuths, and run again",
    "swapped": "name the columns of {files} in [[shots]] (easting and northing exchanged), and run again",
    "metres": 'set unit = "{unit}" in [[shots]] of {files}, and run again',
    "NAD27": "have {files} converted where the NADCON grids are, declare the result in [[shots]], and run again",
    "zone": 'set frame = "{code}" in [[shots]] of {files}, and run again',
    "elevation-constant": "find the reason in the field settings; correct the file or the benchmark, and run again",
    "rod": "put the true rod height into the field record, export {files} again and run again; or re-shoot these shots",
    "initialization": "re-shoot the {shots} shots of this initialization; leave them out until then",
    "mark": "do not hold {subject}; keep the others, and have its published value and the mark itself checked",
    "mark-name": "correct the mark's name in the line ID of this check shot, and run again",
    "bad-shot": "shoot the mark again; leave this check shot out until then",
    "tilt-off": "reject these {shots} shots; re-shoot them with the bubble, or after the tilt sensor settled",
}
"""The change to make, mostly in the job file; braces are filled with what was found."""

TELLS = {
    "foot": "unit in the field settings",
    "frame-epoch": "frame and epoch of the correction source",
    "ellipsoid-heights": "geoid model and separation in the log",
    "geoid-sign": "geoid model and separation in the log",
    "geoid-twice": "geoid model and separation in the log",
    "ground": "factor and held point in the field settings",
    "north": "azimuth setting in the field settings",
    "elevation-constant": "geoid model, vertical datum and antenna reference in the field settings",
    "rod": "rod_height of every shot",
    "initialization": "initialization of every shot",
    "mark": "a shot on this mark in another session",
    "mark-name": "a photo of the mark",
    "bad-shot": "a second shot on this mark in the same session",
    "tilt-off": "tilt and tilt_azimuth of every shot",
}
"""The log field, or the cheapest measurement, that would tell a cause from its rivals."""

LOST = {
    "session": "blunders cannot be tied to a session; breaks of more than an hour stand for it",
    "initialization": "a bad initialization is not told from other steps; blocks without check shots stay unsearched",
    "rod_height": "a wrong rod entry cannot be read from the log; only its step in elevation shows",
    "tilt": "a leaning rod without compensation cannot be found",
    "tilt_azimuth": "the direction of a leaning rod is unknown; missing compensation cannot be found",
    "time": "steps cannot be placed in time; the order of the rows stands for it",
    "elevation": "causes that act in elevation cannot be found",
}
"""What is lost for the diagnosis where a field is missing."""


def tells_apart(causes: list[str]) -> str:
    """What would tell these causes apart.

    Examples
    --------
    >>> tells_apart(["rod", "initialization"])
    'rod_height of every shot; initialization of every shot'
    """
    return "; ".join(dict.fromkeys(TELLS[each] for each in causes if each in TELLS))
