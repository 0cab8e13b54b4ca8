"""Texts made to swamp a reader are told in a sentence, within seconds and a GiB."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from pricing.errors import Faults
from pricing.folder.toml.syntax import document
from tests.bounded import told
from tests.folder.workshops import changed, write


def checked(folder, file, more):
    """What `check` says of the workshop with this at the end of a file."""
    write(folder / "shop", changed())
    with (folder / "shop" / file).open("a") as opened:
        opened.write(f"\n{more}\n")
    return told("check", "shop", folder=folder)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (".".join("a" * 50_000) + " = 1", "this key has too many parts"),
        ("[" + ".".join(["'a'"] * 50_000) + "]", "this key has too many parts"),
        ("x" * 3_000_000, "this file has more than 2 MiB"),
        ("\n" * 200_000, "lines. A workshop's has at most 50,000."),
        ("".join(f"k{each} = 1\n" for each in range(49_000)), "200 faults in shop"),
        ("x = [" + "1," * 900_000 + "]", "commas. A workshop's has at most 100,000."),
        ("x" * 1_900_000 + " = 1", 'unknown key "xxx'),
        ("x = [" + "1," * 90_000 + "]", 'unknown key "x"'),
    ],
)
def test_toml_without_end(tmp_path, more, said):
    assert said in checked(tmp_path, "workshop.toml", more)


def test_a_price_history_without_end(tmp_path):
    assert "metal_prices.csv this file has more than 16 MiB" in checked(tmp_path, "metal_prices.csv", "x" * 17_000_000)


def test_a_price_history_of_two_thousand_years(tmp_path):
    """One of the year 26 for 2026 is a slip; days since 1900 are read, and a study takes the last forty years."""
    days = [date(1900, 1, 1) + timedelta(days=each) for each in range(40_000)]
    lines = "".join(f"{day},Ag,{20 + day.toordinal() % 7},ozt,USD,\n" for day in days)
    write(tmp_path / "shop", changed())
    with (tmp_path / "shop" / "metal_prices.csv").open("a") as opened:
        opened.write(lines)
    assert told("check", "shop", "--as-of", "2026-11-20", folder=tmp_path).endswith("1 fault in shop\n")  # no copper
    assert "lies outside the years 1900 to 2200" in checked(tmp_path, "metal_prices.csv", "0026-11-20,Ag,38,ozt,USD,")


@pytest.mark.parametrize("key", ["a.b.c.d.e.f.g.h = 1", "note = 'Cast. Cut. File. Sand. Polish. Tumble. Pack.'"])
def test_keys_and_texts_of_a_workshop_are_none_of_it(key):
    assert document("workshop.toml", key).values
    with pytest.raises(Faults, match="this key has too many parts"):
        document("workshop.toml", ".".join("abcdefgh" * 5) + " = 1")
