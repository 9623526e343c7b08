"""What a package declares is refused in one sentence where it contradicts itself, the job file or another."""

from dataclasses import dataclass
from dataclasses import replace as changed
from importlib.metadata import EntryPoint

import pytest

from geoqa import plugins
from geoqa.checks import Check, Flag, Note, ToleranceKey
from geoqa.contract import checks
from geoqa.errors import CheckError, GeoqaError, PluginError
from geoqa.job.document import tolerance
from geoqa.job.document.load import parse
from geoqa.model import words
from geoqa.model.tables.fact import Fact, amount
from geoqa.model.vocabulary import beyond_limit

CLEAR_WIDTH = Check(
    name="clear-width",
    title="Clear width",
    subject="work",
    quantity="length",
    directions=("narrow", "wide"),
    tolerance=ToleranceKey(name="clear_width", description="Least clear width."),
    bound="least",
    compared="c",
    judged="j",
    cannot_show="n",
    source="s",
)
JOB = (
    '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
    '[tolerance.walk-front]\nhorizontal = "1 ft"\nreference = "r"\n'
    '[tolerance.walk-back]\nhorizontal = "1 ft"\nreference = "r"\n'
)


@dataclass
class Doubtful:
    """Stands for a module that cannot be imported."""

    error: Exception

    def __call__(self, module, attribute):
        raise self.error


def forget():
    for each in (checks.every_check, checks.tolerance_keys, checks.reason_texts, tolerance.tolerance_model):
        each.cache_clear()


@pytest.fixture
def declare(monkeypatch):
    """Declare one more check, under a name, from a package called width."""

    def install(check, *, name="clear-width"):
        known = dict(plugins.declared("checks"))
        entry = EntryPoint(name=name, value="width:CHECK", group="geoqa.checks")
        real_declared, real_import, real_owner = plugins.declared, plugins.imported, plugins.owner

        def imported(module, attribute):
            if module != "width":
                return real_import(module, attribute)
            return check(module, attribute) if isinstance(check, Doubtful) else check

        monkeypatch.setattr(
            plugins, "declared", lambda group: known | {name: entry} if group == "checks" else real_declared(group)
        )
        monkeypatch.setattr(plugins, "imported", imported)
        monkeypatch.setattr(
            plugins, "owner", lambda group, each: "width 0.1" if each == name else real_owner(group, each)
        )
        forget()

    yield install
    monkeypatch.undo()
    forget()


@pytest.mark.parametrize(
    ("check", "name", "told"),
    [
        (CLEAR_WIDTH, "wide", r"'clear-width' is declared as 'wide' by width 0\.1; the two names must be the same\."),
        ("text", "clear-width", r"What width 0\.1 declares as the check 'clear-width' is no Check\."),
        (Doubtful(ZeroDivisionError("by 0")), "clear-width", r"cannot be imported: ZeroDivisionError\('by 0'\)\. Rep"),
        (Doubtful(CheckError("Key 'X' is odd.")), "clear-width", r"cannot be imported: Key 'X' is odd\. Report"),
        (
            changed(CLEAR_WIDTH, tolerance=ToleranceKey(name="horizontal", description="mine")),
            "clear-width",
            r"'offset' \(geoqa-survey .*\) and 'clear-width' \(width 0\.1\) give the tolerance key 'horizontal' two",
        ),
    ],
)
def test_a_broken_package_is_told_once_however_many_tolerances_the_job_has(declare, check, name, told):
    declare(check, name=name)
    with pytest.raises((CheckError, PluginError), match=told) as caught:
        parse(JOB)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("key", ["reference", "limit", "model_dump", "edition"])
def test_a_key_whose_name_means_something_else_in_the_table_is_refused(declare, key):
    declare(changed(CLEAR_WIDTH, tolerance=ToleranceKey(name=key, description="mine")))
    with pytest.raises(CheckError, match=rf"'clear-width' \(width 0\.1\) reads the tolerance key '{key}', which means"):
        parse(JOB)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"name": "_width"}, "'_width' is no key of a tolerance"),
        ({"name": "Clear Width"}, "'Clear Width' is no key of a tolerance"),
        ({"quantity": "angle"}, "no quantity 'angle' of a limit; use one of length, slope, ratio, count, time"),
        ({"sides": ("low", "low")}, "its two sides need two names"),
    ],
)
def test_a_key_that_no_job_file_can_write_is_refused(change, told):
    with pytest.raises(CheckError, match=told):
        ToleranceKey(**{"name": "width", "description": "d"} | change)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"bound": "atleast"}, "no bound 'atleast'; use one of sides, radius, most, least"),
        ({"feels": "rand"}, "no feels 'rand'; use one of both, random, common"),
        ({"axis": "z"}, "no axis 'z'; use one of h, v"),
        ({"of_geometry": "area"}, "no of_geometry 'area'; use one of line, point"),
        ({"consequence": "cost"}, "no consequence 'cost'; use one of use, water, clearance, position"),
        ({"radial": True}, "a radial number is bounded by a radius"),
        ({"quantity": "slope", "tolerance": None, "axis": "v"}, "felt along an axis is a length, not a slope"),
    ],
)
def test_a_word_that_a_check_cannot_mean_is_refused_when_it_is_declared(change, told):
    with pytest.raises(CheckError, match=told):
        changed(CLEAR_WIDTH, **change)


@pytest.mark.parametrize("text", ["{number:.3f} wide", "{number!z}", "{unclosed", "lone } brace"])
def test_a_sentence_that_cannot_be_filled_is_refused_when_it_is_declared(text):
    with pytest.raises(CheckError, match="'a': its sentence cannot be"):
        Flag(name="a", title="b", sentence=text)
    with pytest.raises(GeoqaError, match="'a': its sentence cannot be"):
        Note(name="a", sentence=text)


def test_a_note_told_together_by_what_no_fact_holds_is_refused():
    with pytest.raises(CheckError, match="Note 'a': no fact is called 'width'"):
        Note(name="a", listing=lambda facts, unit: "", together=("width",))


def test_a_number_that_is_missing_is_a_dash_and_never_nan():
    assert amount(float("nan"), "s", "ft") == amount(float("nan"), "job", "ft") == "–"
    assert beyond_limit(Fact(name="my-own", written="seen by the crew"), "ft") == "my own: seen by the crew"


@pytest.mark.parametrize(
    ("check", "lower", "upper", "told"),
    [
        (CLEAR_WIDTH, 0.0, float("inf"), "at least 0.00 ft"),
        (changed(CLEAR_WIDTH, bound="most"), float("-inf"), 5.0, "at most 5.00 ft wide"),
        (changed(CLEAR_WIDTH, bound="sides"), float("-inf"), 5.0, "any narrow to 5.00 ft wide"),
    ],
)
def test_a_limit_to_one_side_is_told_as_the_check_bounds_its_number(check, lower, upper, told):
    assert words.limits(lower, upper, check, "length", "ft") == told
