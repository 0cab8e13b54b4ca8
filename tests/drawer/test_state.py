"""What lies in the drawer and what it had cost: the moving average, by published and by worked examples."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.drawer.model import Entry, KeptEntry, Line
from pricing.drawer.read import standing
from pricing.drawer.state import Held, drawer_after

DAY = date(2026, 11, 20)


def line(what: str, grams: float, money: float | None = None, form: str = "fresh", alloy: str = "sterling") -> Line:
    return Line(what=what, alloy=alloy, form=form, grams=grams, money=money)


def entries(*said, day: date = DAY) -> list[KeptEntry]:
    """Entries numbered from 1; each is a line, several lines, or an entry with more to say."""
    made = []
    for number, each in enumerate(said, 1):
        more = {} if isinstance(each, Line | tuple) else each
        lines = (each,) if isinstance(each, Line) else each if isinstance(each, tuple) else more.pop("lines")
        made.append(KeptEntry(**{"day": day, "lines": lines, "currency": "GBP", "number": number, "recorded": "",
                                 "form": 1, "previous": None, **more}))  # fmt: skip
    return made


def held(*said, form: str = "fresh") -> Held:
    return drawer_after(standing(entries(*said))).of("sterling", form)


def test_the_moving_average_of_a_textbook():
    """OpenStax, Principles of Accounting 1 (Financial), § 10.3, perpetual weighted average, from memory.

    150 at 21 lie there, 120 are sold, 225 bought at 27, 180 sold, 210 bought at 33: 285 are left at 8,902, and what
    was sold had cost 7,253 of the 16,155 in all.
    """
    drawer = drawer_after(standing(entries(
        line("counted", 150, 150 * 21), line("sold", 120), line("bought", 225, 225 * 27), line("sold", 180),
        line("bought", 210, 210 * 33),
    )))  # fmt: skip
    left = drawer.of("sterling", "fresh")
    sold = sum(move.cost for move in drawer.moves if move.line.what == "sold")
    assert (left.grams, round(left.cost), round(sold)) == (285, 8902, 7253)
    assert left.cost + sold == pytest.approx(16155)


def test_sprues_come_back_at_the_average_of_their_charge():
    """60 g at 1.00 and 40 g at 0.80 are a charge of 92.00: 0.92 a gram. 50 g come back: 46.00; the rest bears 46.00."""
    drawer = drawer_after(standing(entries(
        line("bought", 100, 100), line("bought", 40, 32, form="returned"),
        (line("returned", 50, form="returned"), line("used", 60), line("used", 40, form="returned")),
    )))  # fmt: skip
    returned = drawer.of("sterling", "returned")
    assert (returned.grams, returned.average) == (50, pytest.approx(0.92))
    assert drawer.of("sterling", "fresh") == Held(40, 40, 40)
    assert drawer.of("sterling", "returned").cost_paid + 40 + 46 == pytest.approx(132)


def test_filings_whose_worth_nobody_said_had_cost_nothing():
    """What was filed off was paid for with the pieces."""
    assert held(line("swept", 3, form="lemel"), form="lemel").cost_paid == 0
    assert held(line("swept", 3, 1.8, form="lemel"), form="lemel").average == pytest.approx(0.6)


def test_a_stocktake_sets_the_figure_and_names_the_difference():
    drawer = drawer_after(standing(entries(line("bought", 100, 80), line("used", 30), line("counted", 68.5))))
    last = drawer.moves[-1]
    assert (last.difference, last.cost) == (pytest.approx(-1.5), pytest.approx(-1.5 * 0.8))
    assert drawer.of("sterling", "fresh").cost_paid == pytest.approx(68.5 * 0.8)


def test_what_was_there_before_counts_as_the_rest_did_once_that_is_known():
    """50 g nobody knows the cost of, then 100 g for 90: 0.90 a gram for all 150; a third goes, 100 g at 0.90 stay."""
    assert held(line("counted", 50)).average is None and held(line("counted", 50)).cost_paid is None
    both = held(line("counted", 50), line("bought", 100, 90), line("used", 50))
    assert (both.grams, both.average, both.cost_paid) == (100, pytest.approx(0.9), pytest.approx(90))


def test_more_taken_than_there_was_is_shown_and_filled_first_by_what_comes_in():
    short = held(line("bought", 10, 8), line("used", 25))
    assert (short.grams, short.cost_paid) == (-15, 0.0)
    filled = held(line("bought", 10, 8), line("used", 25), line("bought", 100, 120))
    assert (filled.grams, filled.average, filled.cost_paid) == (85, pytest.approx(1.2), pytest.approx(102))


def test_metal_is_neither_made_nor_lost_and_nor_is_its_cost():
    """Whatever happens: bought = what lies there + what went out, in grams and in money."""
    drawer = drawer_after(standing(entries(
        line("bought", 250, 231.7), line("used", 81.3), line("bought", 13.7, 19.1), line("used", 3.9), line("sold", 44),
        line("counted", 120.2), line("bought", 11, 7),
    )))  # fmt: skip
    left = drawer.of("sterling", "fresh")
    out_g = 81.3 + 3.9 + 44 + (250 + 13.7 - 81.3 - 3.9 - 44 - 120.2)
    assert left.grams + out_g == pytest.approx(250 + 13.7 + 11, abs=1e-9)
    out = sum(-move.cost if move.difference else move.cost for move in drawer.moves if move.line.what != "bought")
    assert left.cost + out == pytest.approx(231.7 + 19.1 + 7, abs=1e-9)


def test_corrections_take_their_place_and_struck_out_entries_count_no_more():
    said = entries(
        line("bought", 100, 80),
        line("used", 99),
        line("counted", 60),
        {"lines": (line("used", 39),), "corrects": 2},
        line("bought", 7, 7),
        {"lines": (), "corrects": 5},
    )
    drawer = drawer_after(standing(said))
    assert [move.entry.number for move in drawer.moves] == [1, 4, 3]
    assert drawer.moves[-1].difference == pytest.approx(-1.0)  # 61 should have lain there
    assert drawer.of("sterling", "fresh").grams == 60


def test_what_happened_counts_by_its_day_not_by_when_it_was_written_down():
    said = entries(line("counted", 40), {"lines": (line("bought", 50, 50),), "day": date(2026, 11, 18)})
    assert drawer_after(standing(said)).moves[-1].difference == pytest.approx(-10)
    assert drawer_after(standing(said), until=date(2026, 11, 19)).of("sterling", "fresh").grams == 50


def test_money_in_another_currency_counts_at_the_rate_of_its_day():
    said = entries({"lines": (line("bought", 50, 70),), "currency": "USD", "rate": 0.79})
    assert drawer_after(standing(said)).of("sterling", "fresh").cost == pytest.approx(55.3)


@pytest.mark.parametrize(
    ("what", "form", "money", "problem"),
    [
        ("bought", "lemel", 5.0, "lemel metal is not bought"),
        ("bought", "fresh", None, "what was paid is missing"),
        ("used", "fresh", 5.0, "no money changes hands"),
        ("returned", "fresh", None, "fresh metal is not returned"),
    ],
)
def test_what_makes_no_sense_is_told(what, form, money, problem):
    with pytest.raises(ValueError, match=problem):
        line(what, 10, money, form)
    with pytest.raises(ValueError, match="nothing was weighed"):
        line("swept", 0.0, form="lemel")
    with pytest.raises(ValueError, match="there is nothing in it"):
        Entry(day=DAY, currency="GBP")
