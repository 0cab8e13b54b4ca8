"""How a fault is told."""

from pricing.errors import Fault, Place, TroytagError, UsageFault, did_you_mean, told_once


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


def test_keys_of_a_table_are_shown_in_their_own_order_and_all_of_them():
    keys = ["zinc", *(f"key_{number}" for number in range(9)), "air"]
    assert did_you_mean("price", keys, most=40) == "Known: " + ", ".join(f'"{key}"' for key in keys) + "."
    assert did_you_mean("price", keys, most=2) == 'Known: "zinc", "key_0", ….'


def test_signs_that_cannot_be_seen_are_escaped():
    """0x1b steers a terminal, 0x202e turns the direction of reading round, 0xa0 is a blank that is none."""
    fault = Fault(Place("pro\x1bducts.toml", 1, 1, "a\x1b\tb"), "k\xa0ey", "no \u202e", "Known: \n.", (Place("a\x07"),))
    assert str(fault).splitlines() == [
        r"pro\x1bducts.toml:1:1 k\xa0ey: no \u202e. Known: \n.",
        "     1 | a?\tb",
        "       | ^",
        r"  and a\x07",
    ]
    assert did_you_mean("zzz", ["a\x1b[31mb"]) == r'Known: "a\x1b[31mb".'


def test_notes_of_one_kind_are_told_once():
    """Keys of one name and sentences that differ in names and numbers only are one kind."""
    notes = [Fault(Place("a.toml", line, 1), f"castings[{line}].mesh", f'"piece {line}" is {line} mm', "See.")
             for line in range(1, 7)]  # fmt: skip
    notes.insert(1, Fault(Place("b.toml", 9, 2), "flask", "it is red", "See."))
    assert told_once(notes) == [
        'a.toml:1:1 castings[1].mesh: "piece 1" is 1 mm. See. '
        "The same at a.toml:2:1, a.toml:3:1, a.toml:4:1 and 2 more.",
        "b.toml:9:2 flask: it is red. See.",
    ]


def test_of_a_very_long_word_the_beginning_is_told_back():
    """64 letters of a name, as a hash has; what may be a file is whole up to 255, as a file's name can be."""
    long = "x" * 120_000
    assert str(UsageFault(f'no alloy "{long}". Known: "tin".')) == f'no alloy "{"x" * 63}…". Known: "tin".'
    assert str(TroytagError(f"{long}: there is no such file")) == f"{'x' * 63}…: there is no such file"
    assert str(UsageFault("/a/b" * 2_000)) == f"{('/a/b' * 16)[:63]}…"
    kept = f'{"y" * 255}: no product "{"x" * 64}". Known: "{"z/" * 40}", "a", {"b" * 70}.'
    assert str(UsageFault(kept)) == kept
    assert "x" * 64 not in Fault(Place("a.toml"), "", f'no alloy "{long}"').headline()
