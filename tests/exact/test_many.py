"""The comparison over very many workshops: drawn again the same, and it says what differs."""

import pytest

from . import many


def test_a_number_draws_the_same_workshop_again():
    assert [many.drawn(3, number) for number in range(12)] == [many.drawn(3, number) for number in range(12)]
    assert many.drawn(3, 1) != many.drawn(4, 1)
    assert [bool(many.drawn(3, number).tie) for number in range(6)] == [True, False, False, False, False, True]


@pytest.mark.parametrize(("differ", "code"), [([], 0), (["knob in brass: unit_cost: 1 instead of 2"], 1)])
def test_a_difference_is_told_and_is_the_exit_code(monkeypatch, capsys, differ, code):
    monkeypatch.setattr(many, "what_differs", lambda workshop, root: differ if workshop.tie else [])
    assert many.main(["--workshops", "10", "--seed", "3", "--first", "20"]) == code
    said = capsys.readouterr().out
    assert said.splitlines()[-1].startswith("10 workshops in ")
    assert said.splitlines()[-1].endswith(f"{2 * code} differ")
    assert ("workshop 20 of seed 3" in said) == ("workshop 25 of seed 3" in said) == bool(code)
    assert all(line in said for line in differ)
