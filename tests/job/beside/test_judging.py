"""Steps side by side make what one process makes; what another cannot do, this one does."""

import os
import warnings
from typing import ClassVar

import pandas as pd
import pytest

from bench.extent import extent
from bench.small_jobs import write_jobs
from geoqa.errors import StepError
from geoqa.job.beside import judging
from geoqa.job.beside.processes import Beside
from geoqa.job.document.load import load
from geoqa.job.execute import execute, laid_over, made_by
from geoqa.job.inputs.intake import take_in
from geoqa.job.plan import default_steps, plan, waits_for
from geoqa.model.step import Step
from geoqa.simulate import make, write

pytestmark = pytest.mark.long


class Where(Step):
    """Says which process runs it; found by another process, for the path of this one goes along."""

    name: ClassVar[str] = "where"
    needs: ClassVar[tuple[str, ...]] = ("shots",)
    gives: ClassVar[tuple[str, ...]] = ("where",)

    def run(self, layers):
        warnings.warn("a library speaks", stacklevel=1)
        return {"where": pd.DataFrame({"process": [os.getpid()]})}


class Early(Step):
    name: ClassVar[str] = "early"
    needs: ClassVar[tuple[str, ...]] = ("shots",)
    gives: ClassVar[tuple[str, ...]] = ("early",)

    def run(self, layers):
        raise ValueError("it never works")


class Late(Early):
    name: ClassVar[str] = "late"
    gives: ClassVar[tuple[str, ...]] = ("late",)


class Careless(Early):
    """Makes what it did not declare."""

    name: ClassVar[str] = "careless"
    gives: ClassVar[tuple[str, ...]] = ("careless",)

    def run(self, layers):
        return {"other": pd.DataFrame()}


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    (path,) = write_jobs(tmp_path_factory.mktemp("small"), jobs=1)
    return take_in(load(path)).layers


@pytest.fixture(scope="module")
def alone(read):
    return execute(read, default_steps())


@pytest.fixture
def idle(monkeypatch):
    """This process takes only what no other can run."""
    taken = judging._Board.taken

    def only_what_must_be(board, *, here):
        if not here:
            return taken(board, here=False)
        with board._changed:
            while board._waiting or len(board.standing.made) < len(board.standing.order):
                for number in sorted(board._only_here & set(board._waiting)):
                    board._waiting.remove(number)
                    return number
                board._changed.wait(timeout=0.05)
            return None

    monkeypatch.setattr(judging._Board, "taken", only_what_must_be)


def same(layers, others):
    assert sorted(layers) == sorted(others)
    for name in layers:
        pd.testing.assert_frame_equal(
            pd.DataFrame(layers[name]), pd.DataFrame(others[name]), check_exact=True, obj=name
        )


@pytest.mark.parametrize("processes", extent([2, 3, 4], of_a_change=[3]))
def test_several_processes_make_what_one_makes(read, alone, processes):
    with Beside(processes) as beside:
        same(beside.judge(read, default_steps()), alone)


def test_all_of_it_may_be_made_by_another_and_its_warnings_are_told(read, alone, idle):
    with Beside(2) as beside:
        (other,) = beside._others
        with pytest.warns(UserWarning, match="a library speaks"):
            made = beside.judge(read, [*default_steps(), Where()])
        assert made["where"]["process"].item() == other.pid
    same({name: table for name, table in made.items() if name != "where"}, alone)


def test_a_step_that_another_process_does_not_know_runs_here(read, idle):
    unknown = type("Unknown", (Where,), {"__module__": "nowhere", "name": "unknown"})
    with Beside(2) as beside, pytest.warns(UserWarning, match="a library speaks"):
        assert beside.judge(read, [unknown()])["where"]["process"].item() == os.getpid()


def test_a_process_that_dies_costs_nothing(read, alone):
    with Beside(3) as beside:
        for other in beside._others:
            other.kill()
        same(beside.judge(read, default_steps()), alone)


@pytest.mark.parametrize("steps", [(Early(), Late()), (Late(), Early()), (Where(), Late()), (Careless(), Where())])
def test_what_fails_is_said_as_by_one_process_the_first_of_the_plan(read, steps):
    said = []
    for processes in (1, 2):
        with Beside(processes) as beside, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            others = list(beside._others)
            with pytest.raises(StepError) as caught:
                beside.judge(read, [*default_steps()[:6], *steps])
            assert all(other.returncode is not None for other in others)
        said.append(str(caught.value))
    assert len(set(said)) == 1


@pytest.mark.parametrize("sample", extent(["demo", "tilt_test", "wrong_foot"], of_a_change=["demo"]))
def test_a_step_hangs_on_nothing_but_what_it_says_it_needs(sample, tmp_path, request):
    """Each is run anew over what only those made that it waits for: else its number would hang on who ended when."""
    path = write(make(seed=3), tmp_path / "job") if sample == "demo" else next(_sample(request, sample).glob("*.toml"))
    read = layers = take_in(load(path)).layers
    order = plan(default_steps((), load(path).job.outputs.every), read.available()).order
    waits, made, needed = waits_for(order), {}, {}
    for step in order:
        made[step.name] = made_by(step, layers)
        needed[step.name] = set(waits[step.name]).union(*(needed[each] for each in waits[step.name]))
        little = read
        for each in order:
            if each.name in needed[step.name]:
                little = laid_over(little, each, made[each.name])
        again = made_by(step, little)
        for name, table in made[step.name].items():
            pd.testing.assert_frame_equal(
                pd.DataFrame(table), pd.DataFrame(again[name]), check_exact=True, obj=f"{name} of {step.name}"
            )
        layers = laid_over(layers, step, made[step.name])


def _sample(request, name):
    return request.config.rootpath / "sample_jobs" / name
