"""Memory that nobody uses is given back, and what is used stays."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from geoqa.job.memory import give_back


def resident() -> int:
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])


@pytest.mark.skipif(sys.platform != "linux", reason="only there the system tells, and the C library gives back")
def test_what_is_no_longer_used_goes_back_to_the_system_and_the_rest_stays():
    text = pd.Series(["kept"] * 10, dtype="str")
    many = [bytes(1000) for _ in range(60_000)]
    held = many[::1000]  # scattered among what goes
    before = resident()
    del many
    give_back()
    assert (before - resident()) * 4096 > 20e6
    assert all(each == bytes(1000) for each in held)
    assert text.tolist() == ["kept"] * 10
    assert np.isfinite(np.arange(10.0)).all()
