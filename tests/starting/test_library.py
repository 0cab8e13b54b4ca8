"""The library of ready pieces: each can be written, and every guess in it lies in its range."""

from __future__ import annotations

import tomllib
from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.folder.checks.densities import density_doubt
from pricing.starting import start_folder
from pricing.starting.answers import answered
from pricing.starting.guesses import doubts_in, told
from pricing.starting.library import PARAGRAPHS, Library, Setting

DAY = date(2026, 11, 20)
FILE = {"alloys": "alloys.toml", "channels": "channels.toml", "processes": "processes.toml"}


@pytest.fixture(scope="module")
def library():
    return Library(Setting(assay=True, alloys={"sterling": Library().alloy("sterling")}))


@pytest.mark.parametrize("kind", [*PARAGRAPHS, "processes"])
def test_every_guess_lies_in_its_range(library, kind):
    names = library.names(kind)
    assert len(names) >= 4 and len(set(names)) == len(names)
    for name in names:
        text, ranges = told(library.text(kind, name))
        doubts = doubts_in(FILE.get(kind, "workshop.toml"), text, ranges)
        assert ranges and len(doubts) == len(ranges), name
        for path, low_high in doubts.items():
            doubt = tomllib.loads(f"doubt = {low_high}")["doubt"]
            value = _at(tomllib.loads(text), path)
            assert doubt["low"] <= value <= doubt["high"], path
            assert doubt["low"] < doubt["high"], path


def _at(here, path):
    """The figure at a doubt's path: names may have points and blanks in them, items go by name or material."""
    if not path:
        return here
    named = here if isinstance(here, dict) else {each.get("name", each.get("material")): each for each in here}
    for name, inner in named.items():
        if path == name or path.startswith(f"{name}."):
            return _at(inner, path[len(name) + 1 :])
    raise AssertionError(path)


def test_densities_are_plausible_by_what_is_in_them_and_each_names_its_source(library):
    for name in library.names("alloys"):
        alloy = library.alloy(name)
        assert density_doubt(alloy.composition, alloy.density) is None, name
        assert alloy.source, name


def test_sheet_and_wire_have_a_price_of_their_own_in_every_alloy(library):
    """Sheet is dearer than grain (common practice): where nothing is said, it would be priced as grain."""
    assert not [name for name in library.names("alloys") if library.alloy(name).stock_premium is None]


def test_everything_at_once_is_in_order_and_nothing_is_below_its_cost(library, tmp_path):
    everything = {kind: list(library.names(kind)) for kind in ("alloys", "processes", "channels")}
    said = {"metals": everything["alloys"], "ways": everything["processes"], "channels": everything["channels"]}
    answers = answered({**said, "tax": "20 %", "registered": "yes", "currency": "GBP", "pieces": "9 of 10"})
    assert not answers.slips
    start_folder(tmp_path / "all", answers, DAY)
    costing = cost(tmp_path / "all", asked_for(DAY))
    assert not costing.warnings
    assert len(costing.computed.resolved.variants) == len(everything["alloys"])
    sold = costing.computed.sold_places
    assert (costing.computed["profit"][sold] > 0).all()


@pytest.mark.parametrize(
    ("currency", "pounds", "written"),
    [
        ("GBP", 0.06, "0.06"),
        ("GBP", 46, "46.00"),
        ("EUR", 46, "53"),  # 46 × 1.15 = 52.9, to two figures
        ("JPY", 9.8, "1900"),  # 9.8 × 190 = 1862
        ("KWD", 5, "2"),  # 5 × 0.4
        ("VND", 20, "680000"),  # 20 × 34000
        ("PEN", 5, "23"),  # 5 × 4.6
        ("ZWG", 5, "5.00"),  # no rough level known: as if worth a pound
    ],
)
def test_guesses_are_in_the_workshop_s_own_money(currency, pounds, written):
    assert Library().amount(pounds, currency) == written


def test_round_amounts_are_coins():
    """£~0.5 in yen is 0.5 × 190 = 95, and the nearest of 1, 2, 5 × a power of ten is 100."""
    text = Library(Setting(currency="JPY", abroad="KWD")).text("channels", "trade")
    assert "rounding = { step = 100, " in text
    assert "rounding = { step = 0.500 }" in Library(Setting(abroad="KWD")).text("channels", "abroad")  # 1 × 0.4: 0.5


def test_a_remark_is_a_guess_only_where_it_says_so():
    text, ranges = told('minutes = 4 # guess 2..8: by the clock\nname = "a # b"\nper = "piece" # what is done')
    assert text.split("\n")[0] == "minutes = 4                         # a guess, 2 to 8: by the clock"
    assert text.split("\n")[1] == 'name = "a # b"'
    assert [(each.line, each.low, each.high) for each in ranges] == [(0, "2", "8")]


def test_a_process_without_a_machine_leaves_its_minutes_out():
    by_hand = Library(Setting(machines=frozenset()))
    assert by_hand.process("printed-and-cast").machines == ()
    assert "tumble" not in by_hand.text("processes", "printed-and-cast")
    assert "tumbler" in Library().process("printed-and-cast").machines
