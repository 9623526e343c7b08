"""What each format keeps and loses is found through the plugins, a stranger's too."""

from typing import ClassVar

from click.testing import CliRunner

from geoqa import plugins
from geoqa.cli import main
from geoqa.contract.formats import UNSAID, every_format
from geoqa.model.format import Format
from geoqa.model.output import Output


class Told(Output):
    """A stranger's writer."""

    format: ClassVar[Format | None] = Format(title="paper tape", keeps="the holes", loses="the paper")


class Untold(Output):
    """Writes stones."""


def test_a_strangers_writer_appears_with_its_record_or_says_that_it_has_none(monkeypatch):
    own = {"tape": Told, "stone": Untold}
    declared, load, owner = plugins.declared, plugins.load, plugins.owner
    monkeypatch.setattr(plugins, "declared", lambda group: own if group == "writers" else declared(group))
    monkeypatch.setattr(plugins, "load", lambda group, name: own.get(name) or load(group, name))
    monkeypatch.setattr(plugins, "owner", lambda group, name: "strange 1" if name in own else owner(group, name))
    found = {each.names: each for each in every_format()}
    assert found["tape",].keeps == "the holes"
    assert (found["stone",].title, found["stone",].loses) == ("Writes stones", UNSAID)
    assert found["stone",].package == "strange 1"
    said = CliRunner().invoke(main, ["formats"])
    assert said.exit_code == 0, said.output
    assert "written: tape \u2013 paper tape (strange 1)\n  keeps: the holes\n  loses: the paper" in said.output


def test_tables_in_memory_are_no_format_and_a_reader_stands_once():
    names = [name for each in every_format() for name in each.names]
    assert len(names) == len(set(names))
    assert not [name for name in names if name.startswith("table.")]
