"""What stays true of the whole cost model, on generated workshops, to the last digit of the fractions."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, given, settings

from .recompute import HOURS, LINES, recompute
from .recompute_folder import figures_of, follow_like
from .recompute_sizes import mean_growth, sizes_of
from .selling_workshops import SMALL_MONEY
from .workshop_writer import Workshop, write
from .workshops import workshops

GENERATED = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
# Keys whose figure is money of the workshop's currency; a channel's buyers' money is told apart below.
MONEY = frozenset(
    "rate per_month price_per_kwh purchase residual maintenance_per_hour pack_price fabrication_per_g "
    "stock_fabrication_per_g bought_fabrication_per_g scrap_fee_per_g lemel_fee_per_g fee price".split()
)


def recomputed(workshop: Workshop, files: dict | None = None, run: int | None = None) -> dict:
    """Variants by (sku, alloy)."""
    with TemporaryDirectory() as root:
        folder = write(Workshop(files or workshop.files, workshop.as_of), Path(root))
        return {(variant["sku"], variant["alloy"]): variant for variant in recompute(folder, workshop.as_of, run)}


def doubled(value, key=""):
    """Tables with every amount of money doubled."""
    if isinstance(value, dict):
        return {inner: doubled(stated, inner) for inner, stated in value.items()}
    if isinstance(value, list):
        return [doubled(inner, key) for inner in value]
    return value * 2 if key in MONEY and not isinstance(value, str) else value


@GENERATED
@given(workshops())
def test_every_cost_doubles_with_all_money(workshop):
    files = {name: deepcopy(tables) for name, tables in workshop.files.items()}
    for name, tables in workshop.files.items():
        if name in ("workshop.toml", "alloys.toml", "processes.toml") or name.startswith("products/"):
            files[name] = doubled(tables)
    for line in files["metal_prices.csv"]:
        if line["per"] != "unit":
            line["price"] = format(2 * Decimal(line["price"]), "f")
    before, after = recomputed(workshop), recomputed(workshop, files)
    for key, variant in before.items():
        for line in (*LINES, "unit_cost", "findings_metal_cost", "own_labour_cost", "melt_value"):
            assert after[key][line] == 2 * variant[line]


@GENERATED
@given(workshops())
def test_the_order_of_what_is_stated_changes_nothing(workshop):
    files = deepcopy(workshop.files)
    for name, tables in files.items():
        for key in ("findings", "castings", "alloys"):
            if name.startswith("products/") and key in tables:
                tables[key] = tables[key][::-1]
    for alloy in files["alloys.toml"]["alloys"].values():
        alloy["composition"] = dict(reversed(alloy["composition"].items()))
    for steps in files["processes.toml"]["processes"].values():
        for step in steps:
            if "uses" in step:
                step["uses"] = step["uses"][::-1]
    for channel in files["channels.toml"]["channels"].values():
        if "fees" in channel:
            channel["fees"] = channel["fees"][::-1]
    before, after = recomputed(workshop), recomputed(workshop, files)
    assert before.keys() == after.keys()
    for key, variant in before.items():
        parts = [after[key].pop("parts", []), variant.pop("parts", [])]
        assert sorted(map(repr, parts[0])) == sorted(map(repr, parts[1]))
        assert after[key] == variant


@GENERATED
@given(workshops())
def test_what_is_nothing_but_another_costs_what_that_costs_as_a_part(workshop):
    """And a box of three of them the three-fold, in the steady state and in a run."""
    files = deepcopy(workshop.files)
    files["processes.toml"]["processes"]["nothing"] = []
    own = [tables for name, tables in workshop.files.items() if name.startswith("products/")]
    whole = follow_like(own[-1], {tables["sku"]: tables for tables in own})
    sizes = whole.get("sizes", {})
    named = whole["sku"]
    if sizes.get("each_priced", False):
        named += "-" + sizes.get("list", list(sizes.get("lengths", {})))[0]
    for sku, quantity in (("alone", 1), ("box-of-three", 3)):
        files[f"products/{sku}.toml"] = {
            "sku": sku,
            "name": sku,
            "alloys": whole["alloys"],
            "process": "nothing",
            "expected_sales": 1,
            "sold_in": [],
            "findings": [{"product": named, "quantity": quantity}],
        }
    for run in (None, 6):
        found = recomputed(workshop, files, run)
        for alloy in whole["alloys"]:
            alone = found["alone", alloy]
            (part,) = alone["parts"]
            for line in (*LINES, "findings_metal_cost", "unit_cost", "melt_value", "total_g", "labour_hours"):
                assert alone[line] == part[line]
    of_two, boxed = (recomputed(workshop, files, run) for run in (6, 2))
    for alloy in whole["alloys"]:
        for line in (*LINES, *HOURS, "unit_cost", "total_g"):
            # Two boxes of three are a run of six.
            assert boxed["box-of-three", alloy][line] == 3 * of_two["alone", alloy][line]


@GENERATED
@given(workshops())
def test_a_channels_money_may_be_another(workshop):
    """Every price before rounding, with all that a channel states said in the workshop's currency: × the rate."""
    currency = workshop.files["workshop.toml"]["currency"]
    other = "USD" if currency != "USD" else "EUR"
    rate = Decimal(125) if currency in SMALL_MONEY else Decimal("1.25")
    today = {"date": workshop.as_of.isoformat(), "metal": other, "price": str(rate), "per": "unit"}
    abroad = deepcopy(workshop.files)
    lines = [line for line in abroad["metal_prices.csv"] if line["metal"] != other]
    abroad["metal_prices.csv"] = [*lines, today | {"currency": currency, "source": "invented"}]
    for name, tables in abroad.items():
        if name.startswith("products/"):
            for own in (tables, *tables.get("for_alloy", {}).values()):
                own.pop("in_channel", None)
    for channel in abroad["channels.toml"]["channels"].values():
        channel["currency"] = other
        # What follows a rounded price of another channel is left out; one fee of every shape stands for all.
        if "keystone_of" in channel["policy"]:
            channel["policy"] = {"margin": Decimal("0.1")}
        channel["fees"] = [{"name": "sale", "rate": Decimal("0.02"), "fixed": 3, "min": 1, "max": 4, "of": "order"}]
    home = deepcopy(abroad)
    for channel in home["channels.toml"]["channels"].values():
        del channel["currency"]
        tiers = channel.get("postage", [])
        for charge in (*channel["fees"], channel["policy"], *(tiers if isinstance(tiers, list) else [tiers])):
            for key in {"fixed", "min", "max", "charged"} & charge.keys():
                charge[key] *= rate
    at_home = recomputed(workshop, home)
    for key, variant in recomputed(workshop, abroad).items():
        for name, price in variant["prices"].items():
            assert price["required_price"] * Fraction(rate) == at_home[key]["prices"][name]["required_price"]


@GENERATED
@given(workshops())
def test_the_sizes_cost_the_mean_in_the_mean(workshop):
    """Weighted by sales; with no step by mass, and no metal used again where the limit would bend it."""
    files = deepcopy(workshop.files)
    files["workshop.toml"]["max_return_share"] = 0
    for alloy in files["alloys.toml"]["alloys"].values():
        alloy.pop("max_return_share", None)
    for steps in files["processes.toml"]["processes"].values():
        for step in steps:
            step.pop("from_g", None)
    products = {tables["sku"]: tables for name, tables in files.items() if name.startswith("products/")}
    for product in products.values():
        for own in (product, *product.get("for_alloy", {}).values()):
            for step in own.get("steps", {}).values():
                step.pop("from_g", None)
    for (sku, alloy), variant in recomputed(workshop, files, workshop.run).items():
        if "sizes" not in variant:
            continue
        figures = figures_of(follow_like(products[sku], products), alloy)
        sizes = sizes_of({"sizes": fractions(figures["sizes"])})
        sold = sum(size.sales for size in sizes)
        for quantity in ("unit_cost", "finished_g", "total_g"):
            told = {row["size"]: row[quantity] for row in variant["sizes"]}
            assert sum(size.sales * told[size.name] for size in sizes) / sold == variant[quantity]
        assert min(size.growth for size in sizes) <= mean_growth(sizes) <= max(size.growth for size in sizes)


def fractions(value):
    """The same value with numbers as fractions."""
    if isinstance(value, dict):
        return {key: fractions(inner) for key, inner in value.items()}
    if isinstance(value, Decimal | int) and not isinstance(value, bool):
        return Fraction(value)
    return value
