"""Does the 95 % interval of a pipe's slope hold the truth in 95 of 100, whatever the errors share?"""

import numpy as np
import pytest

from geoqa.steps.utilities.pipes import Pipes

Z = 1.959964
KINDS = ("independent", "common", "time-correlated")


def errors(kind, count, rng):
    """Errors of 2 x count rims in elevation: of their own, shared by a session of ten, or lasting over 20 minutes."""
    own = rng.normal(0, 0.02, (count, 2))
    if kind == "independent":
        return own
    if kind == "common":
        return own + np.repeat(rng.normal(0, 0.05, count // 10 + 1), 10)[:count, None]
    # a third of the variance lasts from one end to the other, twelve minutes later
    lasting = rng.normal(0, 0.02 * np.sqrt(1 / 3), (count, 2))
    phi = np.exp(-12 / 20)
    lasting[:, 1] = phi * lasting[:, 0] + np.sqrt(1 - phi**2) * lasting[:, 1]
    return own * np.sqrt(2 / 3) + lasting


def held(sewer, kind, count, seed):
    """Share of pipes whose true slope lies in the 95 % interval of the measured one."""
    rng = np.random.default_rng(seed)
    length, slope = rng.uniform(20, 350, count), rng.uniform(0.001, 0.02, count)
    off = errors(kind, count, rng)
    place = rng.normal(0, 0.02, (count, 2))
    down = 5 + rng.normal(0, 0.02, (count, 2))
    shots, notes = [], []
    for n in range(count):
        for end, (name, way) in enumerate((("A", "out"), ("B", "in"))):
            level = 1460 - slope[n] * length[n] * end + off[n, end]
            shots.append((f"{name}{n}", 30.0 * n, length[n] * end + place[n, end], level))
            notes.append((f"{name}{n}", f"P{n}", way, down[n, end]))
    sessions = np.repeat([f"S{n // 10}" for n in range(count)], 2)
    rims = sewer.rims(*shots, u_v_common=0.05 if kind == "common" else 0.0, u_h_common=0.0).assign(session=sessions)
    table = sewer.done(rims, sewer.notes(*notes), Pipes())["pipes"].set_index("pipe")
    table = table.loc[[f"P{n}" for n in range(count)]]
    return float(np.mean(np.abs(table["slope"].to_numpy() - slope) <= Z * table["u_slope"].to_numpy()))


def test_the_interval_of_a_few(sewer):
    """Of 30 at least 25: fewer would happen once in 700."""
    assert held(sewer, "common", 30, 7) >= 25 / 30


@pytest.mark.score
@pytest.mark.parametrize("kind", KINDS)
def test_the_interval_of_five_hundred(sewer, kind):
    share = held(sewer, kind, 500, 11)
    print(f"{kind}: {share:.1%}")
    assert 0.92 <= share <= 0.98
