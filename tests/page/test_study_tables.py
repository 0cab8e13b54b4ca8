"""What a study tells on a narrow screen: long tables fold, each with an address; rows fold by threes or by fours."""

from __future__ import annotations

import re
import sys
from types import SimpleNamespace

import pytest

from pricing.page.views.study_tables import FOLDS, LONG, TableShown, told_first
from pricing.questions.model import Table

LOOK = SimpleNamespace(called=lambda sku, alloy: (sku, alloy, ""))


def table(title: str, rows: int, figures: int = 2) -> Table:
    return Table(
        ("piece", *["price"] * figures), tuple((f"knob {at}", *["1.00"] * figures) for at in range(rows)), title
    )


def shown(*blocks: object) -> tuple[list[str], list[TableShown], int]:
    told, first = told_first(("whose these are", *blocks), LOOK)
    return (
        [each if isinstance(each, str) else each.title for each in told],
        [each for each in told if isinstance(each, TableShown)],
        first,
    )


def test_long_tables_fold_and_what_is_said_below_them_comes_above():
    half = LONG // 2
    order, tables, first = shown("Prices", table("shop", half), table("stall", half), table("far", FOLDS - 1), "Sum")
    assert order == ["Prices", "Sum", "shop", "stall", "far"] and first == 2  # the picture stands below both
    assert [each.folds for each in tables] == [True, True, False]


@pytest.mark.parametrize(
    "tables", [(table("shop", LONG // 2), table("stall", LONG // 2 - 1)), (table("shop", LONG + 1),)]
)
def test_what_is_short_or_one_table_stays_as_it_is_told(tables):
    order, found, first = shown("Prices", *tables, "Sum")
    assert order == ["Prices", *[each.title for each in tables], "Sum"] and first == 1
    assert not any(each.folds for each in found)


def test_each_table_has_an_address_of_its_own():
    _, tables, _ = shown(*[table(title, 1) for title in ("trade fair, at least 5 %", "trade fair, EUR", "価格")])
    assert [each.anchor for each in tables] == ["table-trade-fair", "table-trade-fair-2", "table-figures"]


@pytest.mark.parametrize(
    ("figures", "folded"),
    [
        (4, "stack close"),  # one line of four
        (5, "stack close by-three"),  # 3 and 2, not 4 and 1
        (6, "stack close by-three"),  # 3 and 3, not 4 and 2
        (7, "stack close"),  # two lines of four, not three of three
        (9, "stack close by-three"),  # 3, 3 and 3, not 4, 4 and 1
    ],
)
def test_no_figure_stands_alone_on_its_line(figures, folded):
    assert shown(table("shop", 2, figures))[1][0].folded == folded


def test_a_grid_of_short_figures_stays_a_grid():
    grid = Table(("", "20", "30", "40"), (("15", "41 %", "39 %", "36 %"),))
    assert shown(grid)[1][0].folded == ""
    assert shown(Table(("", *["20 points"] * 6), (("every 7 days", *["0.8/0.14"] * 6),)))[1][0].folded


def test_a_sale_opens_one_channel_at_a_time_without_a_script(looking, monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)  # the picture is looked at elsewhere
    text = looking.get("/studies/sale?ask=yes&off=0.20").text
    folds = re.findall(r'<details class="fold" id="(table-[a-z-]+)" name="tables"><summary><h2>([^<]+)</h2>', text)
    assert ("table-shop", "shop") in folds and len(folds) >= 4
    assert text.index("Leave out ") < text.index('<details class="fold"')
    named = re.findall(r'\bid="([^"]+)"', text)
    assert len(named) == len(set(named))
    one = looking.get("/studies/sale?ask=yes&off=0.20&channel=stall").text
    assert '<details class="fold"' not in one and '<h2 id="table-stall">stall</h2>' in one
