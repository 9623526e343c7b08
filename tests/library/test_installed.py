"""The list of the installed steps: the same facts as the command, and one broken package hides nobody."""

import json
from importlib.metadata import EntryPoint

import pytest
from click.testing import CliRunner

import geoqa
from geoqa import plugins
from geoqa.cli import main
from geoqa.errors import PluginError
from geoqa.library.installed import steps


def test_all_steps_are_listed_with_what_they_need_and_make():
    listed = geoqa.steps()
    assert [step.name for step in listed] == list(plugins.declared("steps"))
    assert len(repr(listed).splitlines()) == len(listed)
    assert "<td>offsets</td>" in listed._repr_html_()
    one = geoqa.steps("match-lines")
    assert one == next(step for step in listed if step.name == "match-lines")
    assert one.gives == ("line_matches",)
    assert one.package.startswith("geoqa-survey ")
    assert (one.options["reach"].default, one.options["reach"].type) == ("10 ft", "length")
    assert one.options["reach"].description
    assert "reach = '10 ft' (length)  Farthest" in repr(one)
    with pytest.raises(PluginError, match=r"Did you mean offsets\?"):
        geoqa.steps("offset")


def test_the_name_of_the_room_is_also_what_lists_it():
    import geoqa.steps.design.offsets as module

    assert geoqa.steps.design.offsets is module
    assert geoqa.steps() == steps()


def test_the_command_prints_the_same_facts():
    said = json.loads(CliRunner().invoke(main, ["steps", "--json"]).output)
    for step in geoqa.steps():
        assert said[step.name]["does"] == step.does
        assert said[step.name]["needs"] == list(step.needs)
        assert {name: each["default"] for name, each in said[step.name]["options"].items()} == {
            name: each.default for name, each in step.options.items()
        }


@pytest.fixture
def broken(monkeypatch):
    """Steps of packages that cannot be imported, or whose step is none."""
    ours = plugins.entry_points

    def entries(group):
        more = {
            "geoqa.steps": [("aaa-broken", "no_such_package:Thing"), ("zzz-none", "json:dumps")],
            "geoqa.readers": [("shots.aaa", "no_such_package:Thing")],
            "geoqa.writers": [("aaa", "no_such_package:Thing")],
        }.get(group, [])
        return [*ours(group=group), *(EntryPoint(name, value, group) for name, value in more)]

    monkeypatch.setattr(plugins, "entry_points", entries)
    plugins.declared.cache_clear()
    yield
    plugins.declared.cache_clear()


@pytest.mark.usefixtures("broken")
def test_a_broken_package_is_listed_with_what_is_wrong_with_it():
    listed = {step.name: step for step in geoqa.steps()}
    assert listed["offsets"].needs
    assert "cannot be imported: ModuleNotFoundError" in listed["aaa-broken"].trouble
    assert "cannot be described: TypeError('it is no Step')" in listed["zzz-none"].trouble
    assert "aaa-broken       cannot be used: " in repr(geoqa.steps())
    said = CliRunner().invoke(main, ["steps"])
    assert said.exit_code == 0
    assert "aaa-broken       cannot be used: " in said.output
    assert "offsets" in said.output
    assert "trouble" in json.loads(CliRunner().invoke(main, ["steps", "--json"]).output)["zzz-none"]
    alone = CliRunner().invoke(main, ["steps", "aaa-broken"])
    assert alone.exit_code != 0
    assert "cannot be imported" in str(alone.output) + str(alone.exception)


@pytest.mark.usefixtures("broken")
def test_the_schema_holds_what_the_other_packages_offer():
    said = CliRunner().invoke(main, ["schema"])
    assert said.exit_code == 0
    entries = json.loads(said.output)["properties"]["steps"]["items"]["anyOf"]
    by_name = {each["properties"]["use"]["const"]: each for each in entries}
    assert "reach" in by_name["match-lines"]["properties"]
    assert by_name["aaa-broken"]["description"].startswith("Cannot be used: The step 'aaa-broken'")
    assert by_name["zzz-none"]["description"].startswith("Cannot be used: ")
