"""How a fault is told."""

from pricing.errors import Fault, Place, did_you_mean


def test_a_fault_shows_its_line_with_a_caret_and_the_other_place():
    fault = Fault(
        Place("products/knob.toml", 7, 12, 'alloys = ["sterlin"]'),
        "alloys",
        'no alloy "sterlin"',
        'Did you mean "sterling"?',
        (Place("alloys.toml", 3, 1, "[alloys.sterling]"),),
    )
    assert str(fault).splitlines() == [
        'products/knob.toml:7:12 alloys: no alloy "sterlin". Did you mean "sterling"?',
        '     7 | alloys = ["sterlin"]',
        "       |            ^",
        "  and alloys.toml:3:1",
        "     3 | [alloys.sterling]",
        "       | ^",
    ]


def test_of_a_very_long_line_the_part_around_the_fault_is_shown():
    text = "x" * 5000 + "HERE" + "y" * 5000
    shown, caret = str(Fault(Place("alloys.toml", 1, 5001, text), "", "it is off")).splitlines()[1:]
    assert len(shown) < 180
    assert shown[caret.index("^") :].startswith("HERE")


def test_an_unknown_name_is_met_with_the_nearest_or_with_all():
    assert did_you_mean("sterlin", ["brass", "sterling"]) == 'Did you mean "sterling"?'
    assert did_you_mean("zzz", ["brass", "gold"]) == 'Known: "brass", "gold".'
    assert did_you_mean("zzz", []) == "There is none yet."
