import tomllib
from importlib.resources import files

from geoqa import plugins
from geoqa.model.step import Step


def test_the_default_plan_names_every_step_of_ours_once():
    names = tomllib.loads((files("geoqa") / "presets" / "steps.toml").read_text(encoding="utf-8"))["steps"]
    ours = [name for name, entry in plugins.declared("steps").items() if entry.value.startswith("geoqa.steps.")]
    assert len(set(names)) == len(names)
    assert set(names) <= set(ours)


def test_every_step_is_frozen_described_and_named_as_declared():
    for name, entry in plugins.declared("steps").items():
        if not entry.value.startswith("geoqa.steps."):
            continue
        made = plugins.load("steps", name)
        assert issubclass(made, Step)
        assert made.name == name
        assert made.__doc__
        assert made().makes()
        assert all(field.description for field in made.model_fields.values())
