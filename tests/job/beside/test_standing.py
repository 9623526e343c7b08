"""Layers are the same in whatever order the steps of a plan end."""

import random

import pandas as pd
import pytest

from bench.small_jobs import write_jobs
from geoqa.errors import StepError
from geoqa.job.beside.standing import Standing
from geoqa.job.document.load import load
from geoqa.job.execute import laid_over, made_by
from geoqa.job.inputs.intake import take_in
from geoqa.job.plan import default_steps, plan, waits_for

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    """What was read, the plan, what each step made, and the layers behind the last."""
    (path,) = write_jobs(tmp_path_factory.mktemp("small"), jobs=1)
    read = layers = take_in(load(path)).layers
    order = plan(default_steps(), read.available()).order
    made = []
    for step in order:
        made.append(made_by(step, layers))
        layers = laid_over(layers, step, made[-1])
    return read, order, made, layers


def drawn(order, seed):
    """The places of a plan in an order in which its steps might end."""
    random_ = random.Random(seed)
    place = {step.name: number for number, step in enumerate(order)}
    waits = {place[name]: {place[each] for each in others} for name, others in waits_for(order).items()}
    done = []
    while len(done) < len(order):
        done.append(random_.choice([each for each in waits if each not in done and waits[each] <= set(done)]))
    return done


def same(layers, others):
    assert list(layers) == list(others)
    for name in layers:
        pd.testing.assert_frame_equal(
            pd.DataFrame(layers[name]), pd.DataFrame(others[name]), check_exact=True, obj=name
        )


@pytest.mark.parametrize("seed", range(5))
def test_whatever_ends_first_the_layers_are_those_of_the_plan(judged, seed):
    read, order, made, layers = judged
    standing = Standing(read, order)
    asked = random.Random(seed)
    ended = drawn(order, seed)
    assert ended != sorted(ended)
    for number in ended:
        standing.put(number, made[number])
        if asked.random() < 0.5:
            standing.layers()
    same(standing.layers(), layers)


@pytest.mark.parametrize("seed", range(2))
def test_a_step_finds_what_it_asks_for_whatever_ended_before(judged, seed):
    read, order, made, layers = judged
    standing, asked = Standing(read, order), 0
    for number in drawn(order, seed):
        step = order[number]
        for name in {each.partition(".")[0] for each in (*step.needs, *step.wants)} & set(layers):
            sofar = read
            for each in sorted(standing.made):
                if name in made[each]:
                    sofar = laid_over(sofar, order[each], made[each])
            if name in sofar:
                found = pd.DataFrame(standing.layers_for(step)[name])
                pd.testing.assert_frame_equal(found, pd.DataFrame(sofar[name]), check_exact=True, obj=name)
                asked += 1
        standing.put(number, made[number])
    assert asked > 100
    same(standing.layers(), layers)


def test_what_was_not_declared_is_refused_when_it_is_put(judged):
    read, order, _, _ = judged
    with pytest.raises(StepError, match="declared"):
        Standing(read, order).put(0, {"other": pd.DataFrame()})


def test_before_any_step_they_are_what_was_read(judged):
    read, order, _, _ = judged
    assert Standing(read, order).layers() is read
