"""What lies beyond all bounds is a slip at every door: figures, prices, days, digits; and names of files."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.days import day
from pricing.errors import Faults, UsageFault
from pricing.folder.prices.append import typed_quote
from pricing.folder.read import read_folder
from pricing.folder.write import file_name, new_product
from tests.folder.workshops import Change, changed, faults_of, write

FIELDS = {"date": "2026-11-20", "metal": "Ag", "price": "38.40", "per": "ozt", "currency": "USD", "source": ""}


def problems(fields) -> list[tuple[str, str]]:
    with pytest.raises(Faults) as wrong:
        typed_quote({**FIELDS, **fields})
    return [(fault.key, fault.problem) for fault in wrong.value.faults]


@pytest.mark.parametrize(
    ("price", "problem"),
    [
        ("1e20", "1e+20 is an absurd price"),
        ("1e12", None),
        ("1e-320", "9.99989e-321 is smaller than anything in a workshop"),
        ("0.0000000001", "1e-10 is an absurd price"),
        ("1e300", "1e+300 is larger than anything in a workshop"),
        ("38." + "4" * 100_000, '"38.444444444…" has 100003 signs'),
    ],
)
def test_prices_beyond_all_bounds(price, problem):
    if problem is None:
        assert typed_quote({**FIELDS, "price": price}).price == float(price)
    else:
        assert problems({"price": price})[0] == ("price", problem)


@pytest.mark.parametrize("on", ["0001-01-01", "0026-11-20", "1899-12-31", "2201-01-01", "9999-12-31"])
def test_days_beyond_all_bounds(on):
    assert problems({"date": on}) == [("date", f"{on} lies outside the years 1900 to 2200")]
    with pytest.raises(UsageFault, match=f"{on} lies outside the years 1900 to 2200. Write it as "):
        day(on)


def test_the_first_and_the_last_day():
    assert (day("1900-01-01"), day("2200-12-31")) == (date(1900, 1, 1), date(2200, 12, 31))


@pytest.mark.parametrize(
    ("figure", "word"), [("1e300", "larger"), ("1e21", "larger"), ("1e-320", "smaller"), ("1e-21", "smaller")]
)
def test_figures_beyond_all_bounds(tmp_path, figure, word):
    write(tmp_path, changed(Change("workshop.toml", "rate = 24.0", f"rate = {figure}")))
    (fault,) = [each for each in faults_of(tmp_path) if each.place.file == "workshop.toml"]
    assert fault.key.endswith(".rate") and fault.problem == f"{float(figure):g} is {word} than anything in a workshop"


# ---- names of product files


@pytest.mark.parametrize(
    ("sku", "name"),
    [
        ("CON", "product-CON"), ("aux", "product-aux"), ("LPT1", "product-LPT1"), ("com¹", "product-com¹"),
        ("console", "console"), ("a/b:c*", "a-b-c"), ("…", "product"), ("x" * 300, "x" * 50), ("../../etc", "etc"),
    ],
)  # fmt: skip
def test_a_product_s_file_can_lie_on_every_system(tmp_path, sku, name):
    assert file_name(tmp_path, sku) == name


def test_no_file_differs_from_another_in_capitals_alone(tmp_path):
    write(tmp_path, changed())
    product = next(iter(read_folder(tmp_path).stated.products.values()))
    first = new_product(tmp_path, product.model_copy(update={"sku": "thimble"}))
    second = new_product(tmp_path, product.model_copy(update={"sku": "THIMBLE"}))
    third = new_product(tmp_path, product.model_copy(update={"sku": "Thimble"}))
    assert [first, second, third] == ["products/thimble.toml", "products/THIMBLE-2.toml", "products/Thimble-3.toml"]
    assert {"thimble", "THIMBLE", "Thimble"} <= set(read_folder(tmp_path).stated.products)


def test_a_link_of_a_product_that_leads_out_is_not_read(tmp_path):
    write(tmp_path / "shop", changed())
    (tmp_path / "secret.toml").write_text('sku = "secret"\n')
    (tmp_path / "shop" / "products" / "there.toml").symlink_to(tmp_path / "secret.toml")
    (fault,) = faults_of(tmp_path / "shop")
    assert fault.headline() == ("products/there.toml this link leads out of the folder. Put the file itself there.")


def test_a_link_of_a_product_to_another_in_the_folder_is_read(tmp_path):
    write(tmp_path / "shop", changed())
    product = next((tmp_path / "shop" / "products").glob("*.toml"))
    product.rename(tmp_path / "shop" / "kept.toml")
    product.symlink_to("../kept.toml")
    read_folder(tmp_path / "shop")
