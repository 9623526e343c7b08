"""What readers found out of whole files, as plain text in the table of sources, for steps that need it."""

import json
from collections.abc import Mapping
from typing import Any

ANGLES: Mapping[str, str] = {"tilt": "tilt", "tilt_azimuth": "azimuth of the lean"}
"""Columns of angles, and what they are called."""
ANGLE_DOUBT = "angle_doubt"
"""Fact of a file whose angles nobody states and whose numbers are hardly degrees: the unit they look like."""
NOT_TAKEN: Mapping[str, str] = {each: f"{each} not taken" for each in ANGLES}
"""Facts of a file: lines whose number is no angle a rod can show."""


def facts_of_shots(layers: Mapping[str, Any]) -> dict[str, dict[str, str]]:
    """Facts of each file of shots, by its id; none where nothing is known of files.

    Examples
    --------
    >>> import pandas as pd
    >>> files = pd.DataFrame({"source": ["day1"], "role": ["shots"], "detected": ['{"angle_doubt": "gon"}']})
    >>> facts_of_shots({"sources": files})
    {'day1': {'angle_doubt': 'gon'}}
    """
    sources = layers.get("sources")
    if sources is None or "detected" not in sources:
        return {}
    mine = sources[(sources["role"] == "shots") & sources["detected"].notna()]
    told = zip(mine["source"], mine["detected"], strict=True)
    return {str(source): json.loads(facts) for source, facts in told if facts}
