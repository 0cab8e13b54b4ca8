"""Hypothesis strategies for whole, valid workshop folders of every shape that the contract allows.

`workshops()` draws a `Workshop`; `write` puts it on disk. No figure has more than six significant digits.
Left out on purpose, because they are errors or because the contract is silent: missing quotes, fees
that eat the price, chains of keystones, meshes, rework and losses on a design step, several metal steps,
figures for an alloy or a step that a product does not have.
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from .chooser import Chooser, examples
from .making_workshops import Room, boxed_steps, process_steps, product_tables
from .quoting_workshops import quotations
from .selling_workshops import SMALL_MONEY, channels_file
from .workshop_writer import Workshop, write

__all__ = ["Workshop", "workshops", "write"]

AS_OF = date(2026, 3, 16)
CURRENCIES = ["GBP", "EUR", "USD", "JPY", "KRW", "KWD", "TND", "HUF", "IQD"]
ELEMENTS = ["Ag", "Au", "Cu", "Zn", "Sn"]
ALLOYS = ["sterling", "yellow-brass", "red-gold"]
PLATED_WITH = "fine-gold"  # no product is made of it
CHANNELS = ["trade", "shop", "market", "gallery"]
SKUS = ["acorn-knob", "beetle-pin", "candle-snuffer", "thimble", "fern-box"]

# An alloy that no product is made in needs no quote.
UNUSED = {
    "name": "Cupronickel",
    "density": Decimal("8.94"),
    "composition": {"Cu": Decimal("0.75"), "Ni": Decimal("0.25")},
    "priced_by": "quote",
    "quote": "cupronickel-wire",
    "melt_loss": Decimal("0.02"),
}

# Lowest and highest price and places by the unit of a quote: a gram costs from next to nothing to 40.
QUOTED = {
    "ozt": ("1", "900", 2),
    "dwt": ("0.1", "60", 3),
    "g": ("0.01", "30", 3),
    "kg": ("5", "9000", 1),
    "lb": ("3", "2000", 2),
    "t": ("1500", "90000", 0),
}


def workshops() -> st.SearchStrategy[Workshop]:
    """Whole workshop folders with a question: one to five products, one to three alloys, one to four channels."""
    return examples(drawn_workshop)


def drawn_workshop(any_money: Chooser) -> Workshop:
    """One of them, however its figures are drawn."""
    currency = any_money.one(CURRENCIES)
    pick = any_money.paid_in(100 if currency in SMALL_MONEY else 1)
    roles = ["bench", "finisher"][: pick.integer(1, 2)]
    machines = ["kiln", "barrel"][: pick.integer(0, 2)]
    materials = ["investment", "resin", "patina"][: pick.integer(1, 3)]
    flasks = ["small", "tall"][: pick.integer(1, 2)]
    alloys = {name: alloy_tables(pick, name) for name in ALLOYS[: pick.integer(1, 3)]}
    made_in = list(alloys)
    if pick.chance(5):
        alloys[PLATED_WITH] = alloy_tables(pick, PLATED_WITH)
    channels = channels_file(pick, currency, CHANNELS[pick.integer(0, 1) :][: pick.integer(1, 4)], roles, CURRENCIES)
    room = Room(roles, machines, materials, made_in, list(alloys))
    processes = {"cast": process_steps(pick, "pour", room)}
    for process, takes_metal in (("sawn", "cut"), ("bought-in", "bought")):
        if pick.chance(4):
            processes[process] = process_steps(pick, takes_metal, room)
    processes["boxed"] = boxed_steps(pick, room)
    processes["bare"] = []
    files = {
        "workshop.toml": workshop_tables(pick, currency, roles, machines, materials, flasks),
        "alloys.toml": {"alloys": alloys | ({"cupronickel": UNUSED} if pick.chance(2) else {})},
        "processes.toml": {"processes": processes},
        "channels.toml": channels,
        "metal_prices.csv": quote_lines(pick, currency, alloys, channels["channels"]),
    }
    products: dict[str, dict] = {}
    for sku in SKUS[: pick.one([1, 2, 3, 4, 5])]:
        products[sku] = product_tables(pick, sku, products, processes, channels["channels"], room, flasks)
        files[f"products/{sku}.toml"] = products[sku]
    run = pick.one([None, pick.integer(1, 12), pick.integer(13, 400)])
    asked = quotations(pick, products, list(channels["channels"]))
    return Workshop(files, AS_OF, run, run is not None and pick.chance(5), quotations=asked)


def workshop_tables(
    pick: Chooser, currency: str, roles: list[str], machines: list[str], materials: list[str], flasks: list[str]
) -> dict:
    """workshop.toml."""
    tables: dict = {"name": "Fernhollow Castings", "currency": currency}
    tables |= pick.some_of({"unreclaimed_tax": lambda: pick.number("0", "0.25", 3), "max_return_share": pick.share})
    if pick.chance(2):
        tables["show"] = {"mass": "dwt", "length": "in", "temperature": "F"}
    tables["labour"] = {
        role: {"rate": pick.money("8", "60")} | pick.some_of({"on_cost": lambda: pick.number("0", "0.4", 3)})
        for role in roles
    }
    # The first role is the maker's, so that wanted earnings have an hour to be earned in.
    if len(roles) > 1 and pick.chance(5):
        tables["labour"][roles[1]]["own"] = pick.chance(2)
    tables["overhead"] = {
        "per_month": pick.money("100", "2000"),
        "productive_hours": pick.number("20", "160", 1),
    }
    tables["energy"] = {"price_per_kwh": pick.money("0.05", "0.9", 3)}
    machine_options = {
        "residual": lambda: pick.money("0", "90"),
        "maintenance_per_hour": lambda: pick.money("0", "1"),
        "power_kw": lambda: pick.number("0.05", "6", 2),
        "duty": pick.share,
    }
    tables["machines"] = {
        machine: {"purchase": pick.money("100", "3000"), "life_hours": pick.integer(200, 9000)}
        | pick.some_of(machine_options)
        for machine in machines
    }
    tables["materials"] = {
        material: {"pack_price": pick.money("5", "90"), "pack_size": pick.integer(50, 25000), "unit": "g"}
        | pick.some_of({"waste": lambda: pick.number("0", "0.3", 3)})
        for material in materials
    }
    flask_options = {
        "button_cm3": lambda: pick.number("0", "6", 2),
        "powder_g": lambda: pick.number("200", "5000", 1),
    }
    tables["flasks"] = {
        flask: {
            "diameter_mm": pick.number("50", "150", 1),
            "height_mm": pick.number("60", "250", 1),
            "material": "investment",
            "water_per_100": pick.number("32", "45", 1),
            "slurry_density": pick.number("1.6", "1.95", 2),
        }
        | pick.some_of(flask_options)
        for flask in flasks
    }
    return {key: value for key, value in tables.items() if value != {}}


def alloy_tables(pick: Chooser, name: str) -> dict:
    """One alloy of alloys.toml, priced by content or by a supplier's quote."""
    elements = pick.shuffled(pick.some(ELEMENTS, least=1))[:3]
    composition = {}
    left = Decimal(1) - pick.one([Decimal(0), Decimal(0), Decimal("0.001")])
    for element in elements[1:]:
        composition[element] = pick.number("0.001", "0.4", 3)
        left -= composition[element]
    composition[elements[0]] = left
    tables = {
        "name": name.replace("-", " "),
        "density": pick.number("6", "19", 2),
        "composition": composition,
        "melt_loss": pick.number("0", "0.12", 4),
    }
    if pick.chance(3):
        tables |= {"priced_by": "quote", "quote": f"{name}-grain"}
    else:
        tables["priced_by"] = "content"
        unpriced = pick.some(elements) if pick.chance(5) else []
        priced = [element for element in elements if element not in unpriced]
        if unpriced:
            tables["unpriced"] = unpriced
        if priced and pick.chance(5):
            tables["scrap_pays"] = pick.some(priced, least=1)
    return tables | pick.some_of(
        {
            "premium": lambda: pick.number("0", "0.4", 3),
            "fabrication_per_g": lambda: pick.money("0", "2", 3),
            "stock_premium": lambda: pick.number("0", "0.5", 3),
            "stock_fabrication_per_g": lambda: pick.money("0", "3", 3),
            "bought_premium": lambda: pick.number("0", "0.6", 3),
            "bought_fabrication_per_g": lambda: pick.money("0", "3", 3),
            "scrap_payout": lambda: pick.number("0", "1", 3),
            "scrap_fee_per_g": lambda: pick.money("0", "0.05", 4),
            "lemel_payout": lambda: pick.number("0", "1", 3),
            "lemel_fee_per_g": lambda: pick.money("0", "0.05", 4),
            "max_return_share": pick.share,
        }
    )


def quote_lines(pick: Chooser, currency: str, alloys: dict, channels: dict) -> list[dict]:
    """metal_prices.csv: every metal and currency that is needed, with older, equal and later lines, in any order."""
    metals = []
    for tables in alloys.values():
        if tables["priced_by"] == "quote":
            metals.append(tables["quote"])
        else:
            metals += [element for element in tables["composition"] if element not in tables.get("unpriced", [])]
    foreign = "CHF" if currency == "USD" else "USD"
    lines = []
    for metal in dict.fromkeys(metals):
        for days in days_back(pick):
            line_currency = pick.one([currency, foreign])
            unit = pick.unit if line_currency == currency else 1
            per = pick.one(list(QUOTED))
            lines.append(csv_line(days, metal, pick.number(*QUOTED[per]) * unit, per, line_currency))
    abroad = {channel["currency"] for channel in channels.values() if "currency" in channel} - {currency}
    abroad |= {foreign for line in lines if line["currency"] == foreign}
    for other in sorted(abroad):
        of_small_money = 100 if other in SMALL_MONEY else 1
        for days in days_back(pick):
            lines.append(
                csv_line(days, other, pick.number("0.1", "3", 4) * pick.unit / of_small_money, "unit", currency)
            )
    return pick.shuffled(lines) if pick.chance(3) else lines


def days_back(pick: Chooser) -> list[int]:
    """How many days before the as-of date a metal's lines are dated (below 0 is later); at least one is in force."""
    return [pick.integer(0, 2), *(pick.one([0, -1, -3, 0, 1, 4, 40]) for _ in range(pick.integer(0, 2)))]


def csv_line(days: int, metal: str, price: Decimal, per: str, currency: str) -> dict:
    """One line of metal_prices.csv."""
    return {
        "date": (AS_OF - timedelta(days=days)).isoformat(),
        "metal": metal,
        "price": format(price, "f"),
        "per": per,
        "currency": currency,
        "source": "invented",
    }
