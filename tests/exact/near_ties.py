"""Workshops in which something falls exactly on an edge: where float noise must not decide.

A workshop of round figures is drawn, computed exactly, and then one of its own results becomes a limit: the
ending of the rounding rule, the end of a band of steps, a least price, the mass from which a step is done,
the size of a run. What is a matter of noise all the same is told in `compare.py`.
"""

from __future__ import annotations

import math
import tempfile
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from hypothesis import reject
from hypothesis import strategies as st

from .chooser import Chooser, examples
from .recompute import recompute
from .workshop_writer import Quotation, Workshop, write
from .workshops import AS_OF, csv_line

ALLOY, SKU = "sterling", "acorn-knob"
# The contract states a tolerance for the first of these; for the others only exactness decides.
RUNS = {"flasks": "pour", "loads": "print", "flask loads": "pour", "flasks of a part": "pour"}
AIMS_WITH_TOLERANCE = ["rounding up", "nearest", *RUNS, "tier", "from_g", "from_g weighed", "from_g per piece"]
AIMS_WITHOUT = [
    "band",
    "least price",
    "keystone",
    "keystone abroad",
    "one retail price",
    "price of nothing",
    "minimum order",
    "price in force",
]
DOLLAR = Decimal("0.8")
STEPS = ["0.01", "0.05", "0.1", "0.25", "0.3", "0.7", "1", "5"]


class NotThisOne(Exception):
    """The figures drawn do not come to the edge; others may."""


def near_ties() -> st.SearchStrategy[Workshop]:
    """Workshops with one product in one alloy, perhaps a part of another; `tie` names what lies on an edge."""
    return examples(_near_tie_or_none)


def _near_tie_or_none(pick: Chooser) -> Workshop:
    try:
        return drawn_near_tie(pick)
    except NotThisOne:
        reject()


def drawn_near_tie(pick: Chooser) -> Workshop:
    """One of them, however its figures are drawn."""
    tie = pick.one(AIMS_WITH_TOLERANCE + AIMS_WITHOUT)
    files = round_workshop(pick, weighed=tie == "from_g weighed")
    variant = exact_variant(files)
    run, quotations = None, ()
    shop = files["channels.toml"]["channels"]["shop"]
    mark = files["processes.toml"]["processes"]["cast"][-1]
    asked = variant["prices"]["shop"]["required_price"]
    step = Decimal(pick.one(STEPS))
    if tie == "rounding up":
        shop["rounding"] = {"step": step, "ending": short(asked % Fraction(step))}
    elif tie == "nearest":
        half_above = (asked + Fraction(step) / 2) % Fraction(step)
        shop["rounding"] = {"step": step, "ending": short(half_above), "direction": "nearest"}
    elif tie == "band":
        bands = [{"below": short(asked), "step": Decimal("0.7")}]
        shop["rounding"] = {"step": Decimal("1.1"), "ending": Decimal("0.3"), "steps_by_price": bands}
    elif tie == "least price":
        shop |= {"least_price": short(asked), "rounding": {"step": step, "direction": "nearest"}}
    elif tie in ("keystone", "keystone abroad"):
        times = Decimal(pick.one(["2", "1.2", "2.5"]))
        # Shop prices lie on the trade's grid carried over, so that rounding never takes them past the keystone.
        tax = shop["tax"]["rate"] if shop["tax"]["included"] else 0
        shop["policy"] = {"keystone_of": "trade", "multiple": times}
        shop["rounding"] = {"step": step * times * (1 + tax)}
        if tie == "keystone abroad":
            shop |= {"currency": "USD", "rounding": {"step": step * times * (1 + tax) / DOLLAR}}
            files["metal_prices.csv"].append(csv_line(0, "USD", DOLLAR, "unit", "GBP"))
        files["channels.toml"]["channels"]["trade"]["rounding"] = {"step": step}
        files["channels.toml"]["ladder"] = {"keystone": times}
    elif tie == "one retail price":
        both_reach(files, Fraction(step), asked)
    elif tie == "price of nothing":
        # So much postage comes in that the piece could be given away; 3 or 7 steps of 0.3 below the ending is 0.
        ending = Decimal(pick.one(["0.9", "2.1"]))
        shop |= {"policy": {"markup": 0}, "postage": {"charged": 90000}}
        shop["rounding"] = {"step": Decimal("0.3"), "ending": ending, "direction": pick.one(["up", "nearest"])}
    elif tie in ("from_g", "from_g weighed"):
        mark["from_g"] = short(variant["finished_g"])
    elif tie == "from_g per piece":
        mark |= {"per": "piece", "from_g": short(variant["finished_g"] / variant["castings_per_set"])}
    elif tie == "tier":
        shop |= {"units_per_order": pick.integer(1, 5), "packing_g": pick.number("0", "90", 1)}
        order_g = shop["units_per_order"] * variant["total_g"] + Fraction(shop["packing_g"])
        shop["postage"] = [{"up_to_g": short(order_g), "charged": 1, "cost": 2}, {"charged": 3, "cost": 5}]
    elif tie == "minimum order":
        shop |= {"policy": {"fixed": 12}, "minimum_order": 12 * pick.integer(1, 9)}
        quotations = (Quotation(SKU, ALLOY, "shop", (shop["minimum_order"] // 12,)),)
    elif tie == "price in force":
        # Nothing here is cheaper by the number: what is asked is what is in force, for any quantity.
        shop["rounding"] = {"step": step}
        files["processes.toml"]["processes"]["cast"][0]["together"] = 1
        files["processes.toml"]["processes"]["cast"][1] |= {"per": "piece", "together": 1}
        shop.pop("discount", None)
        quotations = (Quotation(SKU, ALLOY, "shop", (7, 1, 3)),)
        if "fees" in shop:
            shop["fees"][0]["per"] = "set"
    else:
        if tie == "flasks of a part":
            files["processes.toml"]["processes"]["bare"] = []
            files["products/holder.toml"] = holder()
        run = whole_run(files, variant, tie)
    return Workshop(files, AS_OF, run, tie=tie, quotations=quotations)


def holder() -> dict:
    """A product that is nothing but two of the other, a quarter more of them begun than needed."""
    return {
        "sku": "holder",
        "name": "Holder",
        "alloys": [ALLOY],
        "process": "bare",
        "expected_sales": 40,
        "findings": [{"product": SKU, "quantity": 2, "spoil": Decimal("0.25")}],
    }


def exact_variant(files: dict, run: int | None = None) -> dict:
    """What the exact re-computation makes of the one variant."""
    with tempfile.TemporaryDirectory() as root:
        return recompute(write(Workshop(files, AS_OF), Path(root)), AS_OF, run)[0]


def short(number: Fraction) -> Decimal:
    """The decimal that is exactly this number. Raises NotThisOne where it has none of twelve digits."""
    scaled = number * 10**9
    if scaled.denominator != 1 or abs(scaled) >= 10**12:
        raise NotThisOne
    return Decimal(scaled.numerator) / 10**9


def both_reach(files: dict, step: Fraction, asked: Fraction) -> None:
    """Shop and market come to the same price on two different grids."""
    channels = files["channels.toml"]["channels"]
    price = math.ceil(asked / step) * step
    other_step = Fraction("0.35")
    channels["shop"]["rounding"] = {"step": short(step)}
    channels["market"] |= {
        "policy": {"multiple": Decimal("0.1")},
        "least_price": short(price),
        "rounding": {"step": short(other_step), "ending": short(price % other_step)},
    }
    files["channels.toml"]["ladder"] = {"one_retail_price": True}


def whole_run(files: dict, variant: dict, tie: str) -> int:
    """The smallest run in which flasks or loads come out whole without any rounding.

    Raises NotThisOne where it is more than some thousand.
    """
    name = RUNS[tie]
    stated = next(step for step in files["processes.toml"]["processes"]["cast"] if step["name"] == name)
    units = next(step["units"] for step in variant["steps"] if step["name"] == name)
    together = stated.get("together", 1) if "loads" in tie else 1
    often = Fraction("2.5") if tie == "flasks of a part" else 1
    run = (often * units / together).denominator
    if run > 5000:
        raise NotThisOne
    return run


def round_workshop(pick: Chooser, weighed: bool) -> dict:
    """A small workshop whose every result is a short decimal: divisors have no other primes than 2 and 5."""
    good = ["1", "0.8", "0.5", "0.625"]
    steps = [
        {"name": "print", "per": "piece", "labour": "bench", "minutes": pick.integer(1, 9), "together": 4},
        {"name": "pour", "per": "flask", "takes_metal": "pour", "labour": "bench", "minutes": 5 * pick.integer(1, 4)},
        {"name": "grind", "per": "piece", "labour": "bench", "minutes": pick.integer(0, 9)},
        {"name": "mark", "per": "set", "fee": pick.number("0.1", "4", 1), "from_g": pick.one([0, 1000])},
    ]
    for step in steps[:3]:
        step["good"] = Decimal(pick.one(good))
    steps[1]["together"] = pick.one([1, 2, 5])
    steps[2] |= {"metal_loss": Decimal(pick.one(["0.2", "0", "0.1", "0.02"])), "caught": Decimal("0.7")}
    count = pick.integer(1, 3)
    casting = {"name": "knob", "count": count, "volume_cm3": pick.number("0.1", "3", 1)}
    if weighed:
        casting = {"name": "knob", "count": count, "metal_g": pick.number("0.5", "30", 2)}
        casting |= {"in_alloy": ALLOY, "weighed": "finished"}
    channels = {
        "trade": {"audience": "wholesale", "policy": {"multiple": Decimal("1.6")}},
        "shop": {"audience": "retail"} | round_selling(pick),
        "market": {"audience": "retail", "policy": {"fixed": 1}},
    }
    alloy = {
        "name": "Sterling silver",
        "density": pick.number("8", "12", 1),
        "composition": {"Ag": 1},
        "priced_by": "content",
        "melt_loss": Decimal(pick.one(["0", "0.2", "0.36"])),
        "scrap_payout": Decimal("0.9"),
    }
    product = {
        "sku": SKU,
        "name": "Acorn drawer knob",
        "alloys": [ALLOY],
        "process": "cast",
        "flask": "medium",
        "pieces_per_flask": pick.one([4, 5, 8, 10, 16, 20, 25]),
        "sprue_ratio": pick.number("0", "1.5", 1),
        "expected_sales": 50,
        "castings": [casting],
    }
    return {
        "workshop.toml": {
            "name": "Fernhollow Castings",
            "currency": "GBP",
            "labour": {"bench": {"rate": 12 * pick.integer(1, 4)}},
            "overhead": {"per_month": 600, "productive_hours": 100},
            "energy": {"price_per_kwh": Decimal("0.3")},
            "materials": {"investment": {"pack_price": 46, "pack_size": 20000, "unit": "g"}},
            "flasks": {
                "medium": {
                    "diameter_mm": 100,
                    "height_mm": 150,
                    "material": "investment",
                    "water_per_100": 40,
                    "slurry_density": Decimal("1.8"),
                    "button_cm3": Decimal(pick.one(["0", "2.2"])),
                }
            },
        },
        "alloys.toml": {"alloys": {ALLOY: alloy}},
        "processes.toml": {"processes": {"cast": steps}},
        "channels.toml": {"channels": channels},
        "metal_prices.csv": [csv_line(0, "Ag", pick.number("0.01", "2", 2), "g", "GBP")],
        f"products/{SKU}.toml": product,
    }


def round_selling(pick: Chooser) -> dict:
    """Tax, fees and a policy whose price is a short decimal: the slope left to it is 0.8, 0.5, 0.4 or the like."""
    channel: dict = {"tax": {"rate": Decimal(pick.one(["0", "0.25", "0.2"])), "included": pick.chance(5)}}
    if pick.chance(5):
        channel["discount"] = Decimal("0.2")
    fee = {"name": "card", "rate": Decimal("0.1"), "fixed": pick.number("0", "0.5", 1), "taxed": False}
    if pick.chance(5):
        channel["fees"] = [fee]
    taken = Decimal("0.1") if "fees" in channel else Decimal(0)
    channel["policy"] = pick.one(
        [
            {"multiple": Decimal("2.5")},
            {"margin": Decimal(pick.one(["0.2", "0.5", "0.6"])) - taken},
            {"metal_multiple": Decimal("1.3"), "work_multiple": 2},
            {"markup": Decimal("0.25")} if "fees" not in channel else {"margin": Decimal("0.3")},
        ]
    )
    return channel
