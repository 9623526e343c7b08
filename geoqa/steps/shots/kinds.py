"""What each shot is of: its code looked up in the code list."""

from difflib import get_close_matches

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.errors import LayerError
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import all_flags, flagged


class Kinds(Step):
    """Look up kind and role of every shot by its code.

    Codes are compared exactly, blanks at their ends aside. An unknown code is flagged with the
    closest known one as a proposal; it is never changed, and its shot is not judged.
    """

    name = "kinds"
    needs = ("shots.code", "codes")
    extends = ("shots.kind", "shots.role")
    adds = ("flags",)

    likeness: float = Field(0.5, ge=0, le=1, description="Least likeness of a code that is proposed for an unknown one")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Look every different code up once."""
        shots, codes = layers["shots"], layers["codes"]
        known = codes["code"].str.strip()
        if known.duplicated().any():
            twice = known[known.duplicated()].iloc[0]
            raise LayerError(f"Code '{twice}' stands twice in the code list; remove one of its rows.")
        code, written = pd.factorize(shots["code"].str.strip())
        place = rows_of(written, known)
        row = np.where(code >= 0, place[code] if len(place) else -1, -1)
        made = pd.DataFrame({name: taken(codes[name], row).set_axis(shots.index) for name in ("kind", "role")})
        strange = np.flatnonzero(row < 0)
        near = [nearest_code(each, list(known), self.likeness) for each in written]
        flags = flagged(
            shots, strange, flag="unknown-code", reject=True, step=self.name,
            written=taken(written, code[strange]), proposal=taken(near, code[strange]),
        )  # fmt: skip
        return {"shots": made, "flags": all_flags([flags])}


def nearest_code(code: str, codes: list[str], likeness: float) -> str | None:
    """The known code that is most like an unknown one.

    Examples
    --------
    >>> nearest_code("CTBB", ["CFL", "CTB"], 0.5), nearest_code("XYZ", ["CFL", "CTB"], 0.5)
    ('CTB', None)
    """
    near = get_close_matches(code, sorted(codes), n=1, cutoff=likeness)
    near = near or [each for each in sorted(codes) if each.casefold() == code.casefold()]
    return near[0] if near else None
