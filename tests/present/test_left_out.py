"""Kinds that a map is not to hold are nowhere in it, and it says so."""

from geoqa.present.map.content import content
from geoqa.present.map.left_out import left_out


def test_nothing_of_a_kind_is_left_and_the_first_note_says_so(street):
    kinds = street.layers["design_lines"].set_index("line")["kind"]
    kind = kinds.iloc[0]
    lines = set(kinds.index[kinds == kind])
    shown = left_out(street, [kind])
    assert shown.notes[0].startswith(f"Left out of this map: {kind.replace('-', ' ')} (")
    shots, findings = shown.layers["shots"], shown.layers["findings"]
    assert 0 < len(shots) < len(street.layers["shots"])
    assert 0 < len(findings) < len(street.layers["findings"])
    assert kind not in set(shots["kind"]) | set(findings["kind"]) | set(shown.layers["design_lines"]["kind"])
    assert not lines & (set(findings["subject"]) | set(shown.layers["design_elements"]["line"]))
    assert set(shown.layers["evidence"]["finding"]) <= set(findings["finding"])
    about = content(street, without=[kind]).about
    assert not [name for name in {*lines, kind} if f'"{name}"' in about]
    assert content(street).about != about


def test_without_kinds_the_results_are_the_same_object(street):
    assert left_out(street, ()) is street


def test_what_lies_under_ground_is_warned_of_though_it_is_left_out(street):
    buried = [kind for kind in street.layers["shots"]["kind"].dropna().unique() if "top" in kind and "curb" not in kind]
    assert "Not for excavation" in content(street, without=buried).about
