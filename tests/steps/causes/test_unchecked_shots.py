"""A stretch that no check covers is a question to the survey; one line off by itself is work."""

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.causes.suspect_blocks import Block, Seen
from geoqa.steps.causes.unchecked_shots import of_whole_sessions, unchecked, without_denied

STEP = 0.656


def day(*, lines=4, of_a_line=25, entry=None):
    count = lines * of_a_line
    rod = np.full(count, 6.562)
    if entry is not None:
        rod[entry] = 5.906
    shots = pd.DataFrame(
        {"shot_key": [f"s{n}" for n in range(count)], "session": "A", "source": "a", "rod_height": rod}
    )
    matches = pd.DataFrame(
        {"shot_key": shots["shot_key"], "design": [f"L{n // of_a_line}" for n in range(count)], "chosen": True,
         "station": 20.0 * (np.arange(count) % of_a_line)}
    )  # fmt: skip
    return shots.astype({"shot_key": "str", "session": "str"}), {"line_matches": matches.astype({"shot_key": "str"})}


def sight(count, high, seed, size=STEP):
    rise = np.random.default_rng(seed).normal(0.0, 0.03, count)
    rise[high] += size
    up = np.tile([0.0, 0.0, 1.0], (count, 1))
    return Seen(row=np.arange(count), direction=up, residual=rise, u=np.full(count, 0.045))


@pytest.mark.parametrize("seed", range(5))
def test_a_stretch_over_lines_is_found_with_its_shots_and_its_shift(seed):
    shots, layers = day()
    (found,) = unchecked(shots, layers, sight(100, slice(32, 71), seed), np.array([], int), unit=1.0)[:1]
    (found,) = unchecked(shots, layers, sight(100, slice(32, 71), seed), np.array([5, 95]), unit=1.0)
    assert found.cause == "unchecked"
    assert not found.variant.endswith(",")  # its number of shots follows after a comma of its own
    assert np.flatnonzero(found.acts).tolist() == list(range(32, 71))
    assert abs(found.size[2] - STEP) < 0.05


@pytest.mark.parametrize("seed", range(5))
def test_a_check_inside_says_that_it_is_the_work(seed):
    shots, layers = day()
    assert unchecked(shots, layers, sight(100, slice(32, 71), seed), np.array([5, 50, 95]), unit=1.0) == []


@pytest.mark.parametrize("seed", range(5))
def test_one_line_off_by_itself_and_sound_work_are_no_question(seed):
    shots, layers = day()
    assert unchecked(shots, layers, sight(100, slice(25, 50), seed), np.array([5, 95]), unit=1.0) == []
    assert unchecked(shots, layers, sight(100, slice(0, 0), seed), np.array([5, 95]), unit=1.0) == []


@pytest.mark.parametrize("seed", range(5))
def test_places_shot_several_times_tell_once_each(seed):
    """Three places at the end of one line and three of the next are built high, each shot five times over."""
    shots, layers = day()
    layers["line_matches"]["station"] = 20.0 * (np.arange(100) % 25 // 5)
    high = sight(100, slice(35, 65), seed, size=0.25)
    assert unchecked(shots, layers, high, np.array([5, 95]), unit=1.0) == []
    layers["line_matches"]["station"] = 20.0 * (np.arange(100) % 25)
    (found,) = unchecked(shots, layers, high, np.array([5, 95]), unit=1.0)
    assert np.flatnonzero(found.acts).tolist() == list(range(35, 65))


def test_a_rod_entry_that_no_check_bears_is_evidence():
    shots, layers = day(entry=slice(32, 71))
    (found,) = unchecked(shots, layers, sight(100, slice(32, 71), 1), np.array([5, 95]), unit=1.0)
    assert (found.cause, found.subject) == ("rod", "rod entry 5.906")
    assert "no check shot bears" in found.variant
    assert unchecked(shots, layers, sight(100, slice(0, 0), 1), np.array([5, 95]), unit=1.0) == []


def test_a_session_without_a_check_is_one_question():
    shots, layers = day()
    shots.loc[40:, "session"] = "B"
    (found,) = unchecked(shots, layers, sight(100, slice(40, 100), 3), np.array([5]), unit=1.0)
    assert found.subject == "session B"
    assert int(found.acts.sum()) == 60


@pytest.mark.parametrize("seed", range(5))
def test_a_session_that_steps_is_not_one_shift(seed):
    shots, layers = day()
    shots.loc[25:, "session"] = "B"
    high = sight(100, slice(25, 35), seed, size=0.25)
    high.residual[35:70] -= 0.20
    high.residual[70:] -= 0.35
    for found in unchecked(shots, layers, high, np.array([5]), unit=1.0):
        assert found.subject != "session B"
        assert not found.acts[25:35].any()


@pytest.mark.parametrize("seed", range(5))
def test_a_session_far_aside_in_plan_stays_one_shift_though_its_elevations_step(seed):
    shots, layers = day()
    shots.loc[25:, "session"] = "B"
    high = sight(100, slice(25, 35), seed, size=0.25)
    high.residual[35:70] -= 0.20
    high.residual[70:] -= 0.35
    east = np.random.default_rng(seed).normal(np.where(np.arange(100) < 25, 0.0, 4.4), 0.03)
    both = Seen(
        row=np.tile(high.row, 2), direction=np.vstack([high.direction, np.tile([1.0, 0.0, 0.0], (100, 1))]),
        residual=np.append(high.residual, east), u=np.tile(high.u, 2),
    )  # fmt: skip
    (found,) = unchecked(shots, layers, both, np.array([5]), unit=1.0)
    assert found.subject == "session B"
    assert found.size[0] == pytest.approx(4.4, abs=0.05)


def test_a_line_built_off_to_the_end_of_a_session_leaves_it_one_shift():
    shots, layers = day()
    shots.loc[25:, "session"] = "B"
    high = sight(100, slice(25, 100), 3)
    high.residual[75:] -= 0.1
    (found,) = unchecked(shots, layers, high, np.array([5]), unit=1.0)
    assert found.subject == "session B"


def shifted(acts):
    shift = np.where(acts[:, None], [0.0, 0.0, STEP], 0.0)
    return Block(cause="initialization", variant="bad initialization B1", subject="B1", acts=acts, shift=shift,
                 size=np.array([0.0, 0.0, STEP]), u_size=np.full(3, 0.02), log_odds=9.0)  # fmt: skip


def test_one_initialization_that_is_a_session_without_a_check_is_told_from_nothing_else():
    shots = day()[0]
    shots["session"] = ["A"] * 40 + ["B"] * 60
    second = (shots["session"] == "B").to_numpy()
    (of_all,) = of_whole_sessions([shifted(second)], shots, np.array([5]))
    assert (of_all.cause, of_all.subject) == ("unchecked", "session B")
    assert of_all.acts.tolist() == second.tolist()
    (of_part,) = of_whole_sessions([shifted(second & (np.arange(100) < 70))], shots, np.array([5]))
    (checked,) = of_whole_sessions([shifted(second)], shots, np.array([5, 95]))
    assert of_part.cause == checked.cause == "initialization"


@pytest.mark.parametrize("seed", range(8))
def test_lines_that_run_nearly_alike_tell_nothing_along_them(seed):
    """A stretch is 0.30 east and high, of four lines to the north that turn by half a degree each: it was 8.6 south."""
    rng = np.random.default_rng(seed)
    shots, layers = day()
    turn = np.radians(0.5 * (np.arange(100) // 25))
    off = np.where((np.arange(100) >= 32) & (np.arange(100) < 71), 0.30, 0.0)
    lasting = rng.normal(0.0, 0.03, 4)[np.arange(100) // 25]  # each line was built a little aside
    across = np.column_stack([np.cos(turn), -np.sin(turn), np.zeros(100)])
    seen = Seen(
        row=np.tile(np.arange(100), 2), direction=np.vstack([across, np.tile([0.0, 0.0, 1.0], (100, 1))]),
        residual=np.append(off * np.cos(turn) + lasting, off) + rng.normal(0.0, 0.02, 200), u=np.full(200, 0.045),
    )  # fmt: skip
    (found,) = unchecked(shots, layers, seen, np.array([5, 95]), unit=1.0)
    assert np.abs(found.size - [0.30, 0.0, 0.30]).max() < 0.10
    assert found.u_size[1] > 1.0  # as open as before


@pytest.mark.parametrize(("off", "kept"), [(0.0, False), (0.05, False), (0.25, True)])
def test_good_check_shots_of_an_initialization_deny_that_it_is_bad(off, kept):
    acts = np.ones(12, bool)
    block = Block(
        cause="initialization", variant="bad initialization C1", subject="C1", acts=acts,
        shift=np.tile([0.1, 0.0, 0.25], (12, 1)), size=np.array([0.1, 0.0, 0.25]), u_size=np.array([0.2, 0.2, 0.02]),
        log_odds=9.0,
    )  # fmt: skip
    residual = np.array([[0.01, 0.0, off], [0.0, -0.01, off + 0.02], [np.nan, 0.0, 0.0]])
    assert without_denied([block], np.array([0, 11, 5]), residual) == ([block] if kept else [])
    assert without_denied([block], np.array([], int), np.zeros((0, 3))) == [block]
