"""What resolving settles: quotes in force, overrides, volumes, rounding steps."""

from __future__ import annotations

import shutil
from datetime import date
from itertools import pairwise

import pytest

from pricing.errors import Faults
from pricing.folder.prices.in_force import in_force
from pricing.folder.read import read_folder
from pricing.folder.rows.resolve import Asked, resolve
from pricing.formulas.frozen import HEADS
from pricing.meshes import volume_and_area
from pricing.model.quote import Quote
from pricing.resources import sample_catalog
from tests.folders import alder_wharf, tin_lane

AS_OF = Asked(date(2026, 11, 20))


def no_mesh(path):
    raise AssertionError(f"{path} is not to be measured")


def resolved(folder=None, asked=AS_OF, measure=no_mesh):
    return resolve(read_folder(folder or tin_lane()), asked, measure)[0]


def variant(found, sku, alloy):
    return next(each for each in found.variants if (each.sku, each.alloy) == (sku, alloy))


@pytest.fixture
def lane(tmp_path):
    return shutil.copytree(tin_lane(), tmp_path / "lane")


def edit(file, old, new):
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def quote(day, price, metal="Ag", per="ozt"):
    return Quote(date=date(2026, 11, day), metal=metal, price=price, per=per, currency="GBP")


def test_the_newest_quote_up_to_the_day_is_in_force_and_of_equals_the_last_line():
    lines = [quote(18, 50.0), quote(12, 40.0), quote(18, 51.0), quote(24, 60.0), quote(18, 0.8, "USD", "unit")]
    assert in_force(lines, date(2026, 11, 20)).metals["Ag"].price == 51.0
    assert in_force(lines, date(2026, 11, 17)).metals["Ag"].price == 40.0
    assert in_force(lines, date(2026, 11, 24)).metals["Ag"].price == 60.0
    assert in_force(lines, date(2026, 11, 20)).exchange["USD"].price == 0.8
    assert "Ag" not in in_force(lines, date(2026, 11, 11)).metals


def test_overrides_of_the_product_come_before_those_of_the_alloy():
    found = resolved()
    studs = {alloy: variant(found, "lantern-studs", alloy) for alloy in ("silver-925", "gold-14k", "brass")}
    pour = {alloy: next(step for step in studs[alloy].steps if step.name == "pour").good for alloy in studs}
    assert pour == {"silver-925": 0.91, "gold-14k": 0.96, "brass": 0.91}
    assert {alloy: studs[alloy].sprue_ratio for alloy in studs} == {"silver-925": 0.62, "gold-14k": 0.48, "brass": 0.62}
    assert "mark" not in [step.name for step in studs["brass"].steps]
    online = {alloy: next(price for price in studs[alloy].prices if price.channel == "online") for alloy in studs}
    assert online["brass"].policy_kind == "margin"
    assert (online["gold-14k"].metal_multiple, online["gold-14k"].work_multiple) == (1.22, 2.3)


def test_a_step_that_nobody_changed_is_one_row_for_all_who_share_it():
    found = resolved()
    trees = {id(step) for each in found.variants for step in each.steps if step.name == "tree"}
    assert len(trees) == 1


def test_a_cousin_takes_all_but_what_it_states():
    small = variant(resolved(), "reed-pin-small", "silver-925")
    pierce = next(step for step in small.steps if step.name == "pierce")
    assert (small.scale, small.expected_sales, small.sprue_ratio) == (0.72, 30, 0.41)
    assert (pierce.step_minutes, pierce.good, pierce.metal_loss) == (8, 0.965, 0.014)
    assert variant(resolved(), "reed-pin", "silver-925").scale == 1


@pytest.mark.parametrize(("currency", "step"), [("EUR", 0.01), ("JPY", 1.0), ("KWD", 0.001)])
def test_without_a_stated_step_prices_go_by_the_minor_unit(lane, currency, step):
    edit(lane / "workshop.toml", 'currency = "EUR"', f'currency = "{currency}"')
    edit(lane / "metal_prices.csv", "EUR", currency)
    edit(lane / "channels.toml", "rounding = { step = 0.5 }", "")
    gallery = next(channel for channel in resolved(lane).channels if channel.name == "gallery")
    assert [each.step_size for each in gallery.price_steps] == [pytest.approx(step)]


def test_a_mesh_gives_volume_and_surface_and_a_stated_surface_stands(lane):
    edit(lane / "products" / "reed-pin.toml", "volume_cm3 = 0.62, area_cm2 = 11.2", 'mesh = "pin.stl"')
    (lane / "pin.stl").write_bytes(b"measured by the function below")
    asked_for = []

    def measure(path):
        asked_for.append(path.name)
        return 0.5, 9.0

    pin = variant(resolved(lane, measure=measure), "reed-pin", "silver-925").castings[0]
    assert (pin.volume_cm3, pin.area_cm2) == (0.5, 9.0)
    assert asked_for == ["pin.stl"]
    edit(lane / "products" / "reed-pin.toml", 'mesh = "pin.stl"', 'mesh = "pin.stl", area_cm2 = 12.5')
    assert variant(resolved(lane, measure=measure), "reed-pin", "silver-925").castings[0].area_cm2 == 12.5


def test_an_alloy_that_nothing_is_made_of_needs_no_quote(lane):
    with (lane / "alloys.toml").open("a", encoding="utf-8") as file:
        file.write(
            '\n[alloys.bell]\nname = "Bell metal"\ndensity = 8.6\ncomposition = { Cu = 0.78, Sn = 0.22 }\n'
            'priced_by = "content"\nmelt_loss = 0.02\n'
        )
    bell = next(alloy for alloy in resolved(lane).alloys if alloy.name == "bell")
    assert [content.metal for content in bell.contents] == ["Cu", None]


def test_a_run_and_its_design_are_passed_on():
    workshop = resolved(asked=Asked(date(2026, 11, 20), run=25, charge_design=True)).workshop
    assert (workshop.run_sets, workshop.design_charged) == (25, True)


def test_a_damaged_mesh_is_told_once_where_it_is_named(lane):
    """A cousin has the very same castings, and comes first in the order of files."""
    edit(lane / "products" / "reed-pin.toml", "volume_cm3 = 0.62, area_cm2 = 11.2", 'mesh = "pin.stl"')
    (lane / "pin.stl").write_bytes(b"")
    cousin = 'sku = "a-pin"\nname = "A pin"\nlike = "reed-pin"\n'
    (lane / "products" / "a-pin.toml").write_text(cousin, encoding="utf-8")
    with pytest.raises(Faults) as raised:
        resolve(read_folder(lane), AS_OF, lambda path: volume_and_area(path, thorough=True)[:2])
    text = (lane / "products" / "reed-pin.toml").read_text(encoding="utf-8")
    line = next(number for number, each in enumerate(text.splitlines(), start=1) if "pin.stl" in each)
    column = text.splitlines()[line - 1].index('"pin.stl"') + 1
    assert [fault.headline() for fault in raised.value.faults] == [
        f"products/reed-pin.toml:{line}:{column} castings[0].mesh: pin.stl: the file is empty. "
        "Export it again from the modelling program."
    ]


def test_an_exchange_rate_in_another_currency_is_told_by_its_column(lane):
    with (lane / "metal_prices.csv").open("a", encoding="utf-8") as file:
        file.write("2026-11-20,GBP,1.3,unit,USD,\n")
    line = len((lane / "metal_prices.csv").read_text(encoding="utf-8").splitlines())
    with pytest.raises(Faults) as raised:
        resolved(lane)
    assert [fault.headline() for fault in raised.value.faults] == [
        f"metal_prices.csv:{line}:25 currency: an exchange rate is told in USD, the workshop counts in EUR. "
        "Say what one GBP costs in EUR."
    ]  # 25: behind "2026-11-20,GBP,1.3,unit,", 24 signs


class FirstOfDecember(date):
    @classmethod
    def today(cls):
        return date(2026, 12, 1)


def test_days_to_come_are_one_note(lane, monkeypatch):
    monkeypatch.setattr("pricing.folder.rows.metals.date", FirstOfDecember)
    before = (lane / "metal_prices.csv").read_text(encoding="utf-8")
    (lane / "metal_prices.csv").write_text(
        before + "".join(f"2199-12-{day},Ag,50,ozt,USD,\n" for day in range(10, 31)), encoding="utf-8"
    )
    notes = [note for note in resolve(read_folder(lane), AS_OF, no_mesh)[1] if "has not come yet" in note.problem]
    line = len(before.splitlines()) + 1
    assert [note.headline() for note in notes] == [
        f"metal_prices.csv:{line}:1 date: 2199-12-10 has not come yet, and 21 lines in all are of days to come. "
        "Each counts from its day on; correct them if they are a slip."
    ]  # the 10th to the 30th are 21 days


def test_the_first_quote_is_the_earliest_not_the_uppermost(lane):
    file = lane / "metal_prices.csv"
    header, *lines = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join([header, *sorted(lines, reverse=True)]), encoding="utf-8")
    with pytest.raises(Faults) as raised:
        resolved(lane, Asked(date(2026, 1, 1)))
    silver = next(fault for fault in raised.value.faults if fault.key == "Ag")
    assert "(the first is of 2026-10-30)" in silver.problem


def test_a_price_never_grows_old_where_the_maker_says_so(lane):
    edit(lane / "workshop.toml", "stale_after_days = 5", "stale_after_days = 1e20")
    notes = resolve(read_folder(lane), Asked(date(2036, 1, 1)), no_mesh)[1]
    assert not [note for note in notes if "days old" in note.problem]


@pytest.mark.parametrize("folder", [tin_lane, alder_wharf, sample_catalog])
def test_rows_of_checked_figures_are_what_checking_them_again_gives(folder):
    found = resolved(folder(), measure=lambda path: (1, 2))  # whole numbers, as a caller may hand in

    def is_right(row):
        held = dict(row)
        again = type(row).model_validate(held)  # strict: a whole number becomes a figure, all else is refused
        assert [*map(type, held.values())] == [type(getattr(again, name)) for name in held]
        assert again == row and row.model_fields_set == set(held) == set(type(row).model_fields)
        return all(is_right(each) for name in row.nested for each in held[name])

    rows = [found.workshop, *(row for name in HEADS for row in getattr(found, name))]
    assert (
        all(map(is_right, rows)) and len({type(row).table for row in rows}) == 1 + len(HEADS) - 1
    )  # hidden ones are variants


def test_what_all_alloys_of_a_product_have_in_common_is_made_once():
    """Columns are read from each row once, and from each list of rows."""
    rows = resolved(alder_wharf()).variants
    alike = [(one, other) for one, other in pairwise(rows) if one.sku == other.sku and one.alloy != other.alloy]
    held = [(getattr(one, each), getattr(other, each)) for one, other in alike for each in ("castings", "sizes")]
    assert any(some for some, _ in held) and all(some is other for some, other in held)
    rows = resolved(sample_catalog(), measure=lambda path: (1.0, 2.0)).variants
    using = {id(step): step.uses for row in rows for step in row.steps if step.uses}
    assert len({id(uses) for uses in using.values()}) < len(using)  # a product's own minutes change no material
