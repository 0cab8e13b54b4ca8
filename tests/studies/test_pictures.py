"""Pictures in a page: for a wide screen and for one held in a hand, where each row has its name above it."""

from __future__ import annotations

import re

import pytest

from pricing.studies.pictures import NARROW, WIDTH, Drawing, name_rows, thickness

pytest.importorskip("matplotlib")

NAMES = ["Acorn drawer knob, large, Silicon bronze, marketplace", "Bramble thimble, Sterling silver, stall"]


def _bars(axes):
    axes.barh(range(len(NAMES)), [3, 7], height=thickness(axes), label="left of it")
    name_rows(axes, NAMES, also=["3.00", "7.00"])
    axes.set_xlabel("per cent")


DRAWING = Drawing("Bars", "Fernhollow Castings, " + "a long word or two " * 4, "Seven is most", _bars, rows=len(NAMES))


def texts(svg: str) -> dict[str, tuple[float, float, str]]:
    """Every text with its place, across and down, and how it is anchored."""
    found = re.findall(r"<text ([^>]*)>([^<]*)</text>", svg)
    said = [(dict(re.findall(r'([\w-]+)="([^"]*)"', attributes)), word) for attributes, word in found]
    return {word: (float(at["x"]), float(at["y"]), at.get("text-anchor", "start")) for at, word in said if "x" in at}


def wide(svg: str) -> float:
    return float(re.search(r'viewBox="0 0 ([\d.]+) ', svg)[1])


def test_in_a_hand_a_row_has_its_name_above_it():
    beside, above = DRAWING.inline("one"), DRAWING.inline("two", narrow=True)
    # a picture is as many points wide as its inches have, 72 each
    assert wide(beside) == pytest.approx(72 * WIDTH) and wide(above) == pytest.approx(72 * NARROW)
    far, near = texts(beside), texts(above)
    for name in NAMES:
        assert far[name][2] == "end" and near[name][2] == "start" and near[name][0] < 0.1 * 72 * NARROW
    assert "3.00" not in far and near["3.00"][1] == pytest.approx(near[NAMES[0]][1])  # at the end of the same line
    assert "Fernhollow Castings" in " ".join(far) and DRAWING.told.strip() not in near  # broken over two lines


def test_words_are_words_in_the_letters_of_the_page():
    drawn = DRAWING.inline("one")
    assert "font-family" not in drawn and "style=" not in drawn and 'font-weight="700"' in drawn
    assert re.search(r'<text [^>]*font-size="8px"[^>]*>Bramble', drawn)
