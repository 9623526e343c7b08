"""What the crew noted of structures and pipes: which shot is of which end, sizes and materials."""

from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.model.quantity import Length
from geoqa.model.tables.columns import conform
from geoqa.simulate.crew.record import measured_positions
from geoqa.simulate.site import scenario

if TYPE_CHECKING:
    import pandas as pd

STRUCTURES_FILE = "structures.csv"
_TYPES = {"IN": "curb inlet", "MH": "manhole", "OF": "outfall"}


def structure_notes(plan: "pd.DataFrame") -> "pd.DataFrame":
    """One row an end of a pipe, and one for the water main, which has no end here.

    Parameters
    ----------
    plan : DataFrame
        Of the crew, for the names of the shots.
    """
    import pandas as pd

    named = plan.drop_duplicates("id").set_index("id")["shot"]
    depth = _measure_downs(plan)
    rows: list[dict[str, Any]] = []
    for pipe, (first, leaves, last, enters, diameter, wall) in scenario.PIPES.items():
        for structure, end, direction in ((first, leaves, "out"), (last, enters, "in")):
            read = depth.get(f"{structure} {end}", np.nan)
            shot = None if np.isfinite(read) else named.get(f"{structure} {end}")
            rows.append(
                {"structure": structure, "rim_shot": named.get(f"{structure} rim"), "pipe": pipe,
                 "direction": direction, "measure_down": read, "invert_shot": shot, "size": f"{diameter:g} in",
                 "wall": f"{wall:g} in", "material": "concrete", "type": _TYPES[structure.partition("-")[0]],
                 "kind": "storm-top"}
            )  # fmt: skip
    main, size, wall = scenario.WATER[0], *scenario.WATER_SIZE
    rows.append({"pipe": main, "size": f"{size:g} in", "wall": f"{wall:g} in", "material": "ductile iron",
                 "kind": "water-top"})  # fmt: skip
    return pd.DataFrame(rows)


def _measure_downs(plan: "pd.DataFrame") -> dict[str, float]:
    """Measure-downs that stand in the notes themselves, by the invert; of the others the crew noted the shot alone."""
    levels = dict(zip(plan["id"], measured_positions(plan)[:, 2].round(3), strict=True))
    noted = plan.loc[plan["noted_down"], "id"]
    return {end: round(levels[f"{end.split(' ')[0]} rim"] - levels[end], 2) for end in noted}


def as_read(notes: "pd.DataFrame") -> "pd.DataFrame":
    """The table that a job reads from that file."""
    import pandas as pd

    columns = {
        name: notes[name] for name in ("structure", "pipe", "direction", "invert_shot", "size", "material", "type")
    }
    metres = {ours: [float(Length.parse(each).metres) for each in notes[name]] for ours, name in _SIZES.items()}
    columns["measure_down"] = notes["measure_down"].astype("float64")
    made = pd.DataFrame({**columns, **metres, "shot": notes["rim_shot"], "kind": notes["kind"]})
    return conform("structure_notes", made.assign(source="structures", line=np.arange(len(notes)) + 2))


_SIZES = {"diameter": "size", "wall": "wall"}
