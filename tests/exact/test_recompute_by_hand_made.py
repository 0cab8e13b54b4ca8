"""The exact re-computation of what a piece is made of and how: each case small enough to be reckoned in the test."""

from copy import deepcopy
from decimal import Decimal
from fractions import Fraction

import pytest

from .recompute import recompute
from .recompute_sizes import PI, circumference_mm, sizes_of
from .test_recompute_by_hand import FILES, as_decimals
from .workshop_writer import Workshop, write
from .workshops import AS_OF, csv_line

# The knob of 2 cm3 at 10 g/cm3: 20 g at 0.50 a gram are 10.00 of metal, 6 minutes of 30.00 an hour 3.00 of labour,
# with 600 / 100 an hour of overhead 0.60: 13.60 in all.


@pytest.fixture
def files():
    return deepcopy(FILES)


@pytest.fixture
def variants(tmp_path):
    def compute(files, run=None, charge_design=False):
        found = recompute(write(Workshop(files, AS_OF), tmp_path), AS_OF, run, charge_design)
        return {variant["sku"]: variant for variant in found}

    return compute


def add_product(files, sku, **stated):
    """One more product, otherwise as the knob."""
    product = deepcopy(files["products/knob.toml"]) | {"sku": sku, "name": sku.title()} | as_decimals(stated)
    files[f"products/{sku}.toml"] = product


def add_steps(files, *steps, process="cast"):
    files["processes.toml"]["processes"].setdefault(process, []).extend(as_decimals(list(steps)))


# Findings --------------------------------------------------------------------------------------


def test_a_findings_metal_has_a_premium_of_its_own(files, variants):
    files["alloys.toml"]["alloys"]["silver"] |= as_decimals({"premium": "0.5", "fabrication_per_g": "0.1"})
    files["workshop.toml"]["unreclaimed_tax"] = Decimal("0.25")
    chain = {"name": "chain", "quantity": 2, "price": "1.5", "metal_g": 4, "alloy": "silver", "spoil": "0.1"}
    stone = {"name": "stone", "quantity": 3, "price": 2, "other_g": "0.4"}
    files["products/knob.toml"]["findings"] = as_decimals([chain | {"premium": "0.2"}, stone])
    knob = variants(files)["knob"]
    # 4 g at 0.50 with a fifth on top are 2.40, nothing of the grain's premium; two, a tenth more, a quarter tax: 2.75.
    assert knob["findings_metal_cost"] == Fraction("2.4") * Fraction("2.75")
    # 1.50 beside it; three stones of 2.00 with tax are 7.50.
    assert knob["findings_cost"] == Fraction("3.9") * Fraction("2.75") + Fraction("7.5")
    assert knob["melt_value"] == 14  # 20 g and twice 4 g at 0.50: no premium, tax or spoil
    assert knob["total_g"] == Fraction("29.2")  # 20 + 2 x 4 + 3 x 0.4
    assert knob["finished_g"] == 20


def test_a_finding_without_a_premium_or_price_costs_what_its_metal_is_worth(files, variants):
    files["alloys.toml"]["alloys"]["silver"]["premium"] = Decimal("0.5")
    files["products/knob.toml"]["findings"] = [{"name": "bail", "quantity": 1, "metal_g": 3, "alloy": "silver"}]
    assert variants(files)["knob"]["findings_cost"] == Fraction("1.5")  # 3 g at 0.50


# Steps -----------------------------------------------------------------------------------------


def test_plating_by_the_thickness_of_its_layer(files, variants):
    files["alloys.toml"]["alloys"]["gold"] = as_decimals(
        {"name": "Gold", "density": 20, "composition": {"Au": 1}, "priced_by": "content", "premium": "0.25"}
    )
    files["metal_prices.csv"].append(csv_line(0, "Au", Decimal(40), "g", "GBP"))
    layer = {"alloy": "gold", "microns": "2.5", "covers": "0.8", "waste": "0.1"}
    add_steps(files, {"name": "gild", "per": "set", "uses": [layer], "good": "0.5"})
    files["products/knob.toml"]["castings"][0]["area_cm2"] = 10
    knob = variants(files)["knob"]
    # 10 cm2 x 0.8 x 0.00025 cm x 20 g/cm3 = 0.04 g, a tenth more 0.044 g, at 40 x 1.25 = 50 a gram 2.20; two begun.
    assert knob["material_cost"] == Fraction("4.4")
    # The layer is in no mass: the two poured are 40 g, one of them back as returned metal (half the charge at most).
    assert (knob["finished_g"], knob["total_g"], knob["melt_value"]) == (20, 20, 10)
    assert knob["metal_cost"] == 10
    # Twice as large: four times the surface. Not made whole in a run, as any use by the surface.
    files["products/knob.toml"]["scale"] = 2
    assert variants(files)["knob"]["material_cost"] == Fraction("17.6")
    assert variants(files, run=3)["knob"]["material_cost"] == Fraction("17.6")


def test_plating_covers_all_and_wastes_nothing_unless_stated(files, variants):
    add_steps(files, {"name": "silver", "per": "set", "uses": [{"alloy": "silver", "microns": 10}]})
    files["products/knob.toml"]["castings"][0] |= {"area_cm2": 8, "count": 2}
    # Two of 8 cm2 x 0.001 cm x 10 g/cm3 = 0.16 g at 0.50.
    assert variants(files)["knob"]["material_cost"] == Fraction("0.08")


def test_effort_weighs_the_minutes_of_a_piece(files, variants):
    add_steps(
        files,
        {"name": "file", "per": "piece", "labour": "bench", "minutes": 4, "rework": "0.5", "rework_minutes": 2},
        {"name": "polish", "per": "piece", "together": 5, "labour": "bench", "minutes": 10},
        {"name": "mount", "per": "set", "labour": "bench", "minutes": 3},
    )
    files["products/knob.toml"]["castings"] = as_decimals(
        [
            {"name": "knob", "count": 1, "volume_cm3": 2, "effort": "1.5"},
            {"name": "bolt", "count": 4, "volume_cm3": "0.1", "effort": "0.25"},
        ]
    )
    knob = variants(files)["knob"]
    assert knob["mean_effort"] == Fraction("0.5")  # (1.5 + 4 x 0.25) / 5
    minutes = [60 * step["step_labour_hours"] for step in knob["steps"]]
    # Five pieces: 6 minutes each, halved; 4 and half of 2, halved; one load of 10, halved; the set as it is.
    assert minutes == [15, Fraction("12.5"), 5, 3]


def test_a_mark_looks_at_one_casting_where_it_is_per_piece(files, variants):
    mark = {"fee": 3, "from_g": 15}
    add_steps(files, {"name": "mark each", "per": "piece"} | mark, {"name": "mark all", "per": "set"} | mark)
    files["products/knob.toml"]["castings"] = [{"name": "knob", "count": 2, "volume_cm3": 1}]
    # 20 g of two castings of 10 g: only the set is heavy enough.
    assert [step["times"] for step in variants(files)["knob"]["steps"]] == [2, 0, 1]
    files["products/knob.toml"]["castings"][0]["volume_cm3"] = Decimal("1.5")
    assert [step["times"] for step in variants(files)["knob"]["steps"]] == [2, 2, 1]


@pytest.mark.parametrize(("from_g", "times"), [("20", 1), ("20.000000001", 1), ("20.0000000011", 0)])
def test_a_mass_is_below_by_more_than_a_thousand_millionth(files, variants, from_g, times):
    add_steps(files, {"name": "mark", "per": "set", "from_g": from_g})
    assert variants(files)["knob"]["steps"][-1]["times"] == times


def test_a_step_for_what_holds_an_element(files, variants):
    add_steps(files, {"name": "mark", "per": "set", "holding": ["Ag", "Au"]}, {"name": "oil", "per": "set"})
    assert [step["name"] for step in variants(files)["knob"]["steps"]] == ["pour", "mark", "oil"]
    files["alloys.toml"]["alloys"]["silver"]["composition"] = {"Cu": 1}
    files["metal_prices.csv"].append(csv_line(0, "Cu", Decimal("0.01"), "g", "GBP"))
    assert [step["name"] for step in variants(files)["knob"]["steps"]] == ["pour", "oil"]


def test_hired_help_is_a_cost_and_no_hour_of_the_makers(files, variants):
    files["workshop.toml"]["labour"]["helper"] = {"rate": 20, "own": False}
    add_steps(files, {"name": "tumble", "per": "set", "labour": "helper", "minutes": 30})
    knob = variants(files)["knob"]
    # 0.1 h at 30.00 and half an hour at 20.00.
    assert (knob["labour_hours"], knob["labour_cost"]) == (Fraction("0.6"), 13)
    assert (knob["own_labour_hours"], knob["own_labour_cost"]) == (Fraction("0.1"), 3)
    assert knob["unit_cost"] == 10 + 13 + Fraction("3.6")


def test_castings_bought(files, variants):
    files["alloys.toml"]["alloys"]["silver"] |= as_decimals(
        {"premium": "0.5", "bought_premium": "0.2", "bought_fabrication_per_g": "0.4", "melt_loss": "0.1"}
        | {"max_return_share": "0.5", "scrap_payout": "0.6"}
    )
    files["processes.toml"]["processes"]["cast"] = as_decimals(
        [
            {"name": "arrive", "per": "piece", "takes_metal": "bought", "together": 10, "fee": 15, "good": "0.8"},
            {"name": "polish", "per": "piece", "metal_loss": "0.2"},
        ]
    )
    del files["products/knob.toml"]["sprue_ratio"]
    knob = variants(files)["knob"]
    assert (knob["poured_g"], knob["charge_g"], knob["fresh_g"]) == (25, 25, 25)  # 20 / 0.8, nothing melted
    assert (knob["melt_lost_g"], knob["sprue_g"], knob["reused_g"]) == (0, 0, 0)
    assert knob["surplus_g"] == 5  # the spoilt fifth goes to the refiner, none into a crucible
    # 25 g at 0.5 x 1.2 + 0.4 = 1.00, less 5 g at 0.5 x 0.6.
    assert (knob["buy_price_per_g"], knob["metal_cost"]) == (1, Fraction("23.5"))
    assert knob["fee_cost"] == Fraction("1.875")  # 1.25 begun, ten to a lot of 15.00
    # For a run of four 5 are begun: half a lot, so a whole one.
    assert variants(files, run=4)["knob"]["fee_cost"] == Fraction(15, 4)


def test_bought_castings_cost_as_grain_where_nothing_else_is_stated(files, variants):
    files["alloys.toml"]["alloys"]["silver"] |= as_decimals({"premium": "0.5", "stock_premium": "0.9"})
    files["processes.toml"]["processes"]["cast"][0]["takes_metal"] = "bought"
    assert variants(files)["knob"]["buy_price_per_g"] == Fraction("0.75")


# Sizes -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("standard", "size", "circumference"),
    [
        ("iso", "54", 54),
        ("iso", "52.5", Fraction("52.5")),
        ("us", "0", PI * Fraction("11.63")),
        ("us", "6.5", PI * Fraction("16.9132")),  # 11.63 + 0.8128 x 6.5
        ("uk", "A", Fraction("37.5")),  # 36.25 + 1.25
        ("uk", "C", 40),
        ("uk", "L½", Fraction("51.875")),  # 36.25 + 1.25 x 12.5
        ("uk", "Z", Fraction("68.75")),  # 36.25 + 1.25 x 26
        ("uk", "Z½", Fraction("69.375")),
        ("uk", "Z+1", 70),
        ("uk", "Z+3½", Fraction("73.125")),  # 36.25 + 1.25 x 29.5
    ],
)
def test_circumference(standard, size, circumference):
    assert circumference_mm(standard, size) == circumference


def test_what_grows_is_the_length_of_the_bands_middle():
    sizes = as_decimals({"standard": "iso", "list": ["50", "60"], "master": "50", "band_mm": 2, "band_share": "0.5"})
    sizes = {key: Fraction(value) if isinstance(value, Decimal | int) else value for key, value in sizes.items()}
    small, large = sizes_of({"sizes": sizes})
    assert (small.growth, small.length_mm) == (1, 50 + 2 * PI)
    assert large.growth == 1 + 5 / (50 + 2 * PI)  # half of 10 mm over the master's length


def lengths(files, **more):
    files["products/knob.toml"]["sizes"] = {"lengths": {"S": 160, "M": 200, "L": 300}, "master": "M"} | as_decimals(
        more
    )


def test_one_price_for_all_sizes_is_that_of_the_mean(files, variants):
    lengths(files, sales={"L": 2})
    knob = variants(files)["knob"]
    # 0.8, 1 and 1.5 of 20 g, sold 1 : 1 : 2: the mean is 1.2 of it.
    assert (knob["finished_g"], knob["metal_cost"]) == (24, 12)
    assert knob["unit_cost"] == Fraction("15.6")
    told = {size["size"]: size for size in knob["sizes"]}
    assert [told[size]["finished_g"] for size in "SML"] == [16, 20, 30]
    assert [told[size]["length_mm"] for size in "SML"] == [160, 200, 300]
    assert [told[size]["unit_cost"] for size in "SML"] == [Fraction("11.6"), Fraction("13.6"), Fraction("18.6")]
    # 15.60 / 0.8 is 19.50; of which 7.90, 5.90 and 0.90 stay.
    assert knob["prices"]["shop"]["price"] == Fraction("19.5")
    assert [told[size]["margin"]["shop"] for size in "SML"] == [Fraction(n, 195) for n in (79, 59, 9)]


def test_each_size_priced_is_a_variant(files, variants):
    lengths(files, each_priced=True, band_share="0.5", list=["L", "S"])
    found = variants(files)
    assert list(found) == ["knob-L", "knob-S"]
    assert [found[sku]["size"] for sku in found] == ["L", "S"]
    assert [found[sku]["finished_g"] for sku in found] == [25, 18]  # half of half more, half of a fifth less
    assert found["knob-L"]["prices"]["shop"]["required_price"] == Fraction("20.125")  # (12.50 + 3.60) / 0.8


def test_a_size_weighs_for_its_own_mark_and_its_own_postage(files, variants):
    lengths(files)
    add_steps(files, {"name": "mark", "per": "set", "fee": 2, "from_g": 21})
    shop = files["channels.toml"]["channels"]["shop"]
    shop |= as_decimals({"postage": [{"up_to_g": 20, "cost": 1}, {"cost": 4}], "policy": {"fixed": 50}})
    knob = variants(files)["knob"]
    # The mean, 1.1 of 20 g, is marked: 11.00 + 3.60 + 2.00.
    assert knob["unit_cost"] == Fraction("16.6")
    told = {size["size"]: size for size in knob["sizes"]}
    assert [told[size]["unit_cost"] for size in "SML"] == [Fraction("11.6"), Fraction("13.6"), Fraction("20.6")]
    # 50 less the cost, less 1.00 of postage up to 20 g, 4.00 above.
    assert [told[size]["margin"]["shop"] for size in "SML"] == [Fraction(n, 500) for n in (374, 354, 254)]


def test_sizes_grow_surfaces_and_weighed_pieces_and_are_not_scale(files, variants):
    lengths(files, list=["L"])
    add_steps(files, {"name": "wax", "per": "set", "uses": [{"material": "wax", "per_cm2": 1}]})
    piece = {"name": "knob", "count": 1, "metal_g": 10, "in_alloy": "silver", "weighed": "finished", "area_cm2": 4}
    files["products/knob.toml"] |= {"castings": [piece], "scale": 2}
    knob = variants(files)["knob"]
    assert knob["finished_g"] == 120  # 10 g x 1.5 x 2 x 2 x 2
    assert knob["material_cost"] == Fraction("1.2")  # 4 cm2 x 1.5 x 2 x 2 at 0.05
    assert knob["sizes"][0]["length_mm"] == 300


# Parts -----------------------------------------------------------------------------------------


def test_a_part_brings_all_its_lines(files, variants):
    files["workshop.toml"]["unreclaimed_tax"] = Decimal("0.25")
    add_steps(files, {"name": "oil", "per": "set", "uses": [{"material": "wax", "quantity": 8}], "fee": 4})
    add_steps(files, {"name": "pack", "per": "set", "fee": 100, "as_part": False})
    files["products/knob.toml"]["findings"] = as_decimals([{"name": "stud", "quantity": 1, "price": 2, "other_g": 1}])
    add_product(files, "latch", findings=[{"product": "knob", "quantity": 2, "spoil": "0.1"}])
    found = variants(files)
    knob, latch = found["knob"], found["latch"]
    # One knob as a part: 20 g at 0.625 are 12.50, labour 3.00, overhead 0.60, wax 8 g at 0.0625 are 0.50, fee 5.00,
    # a stud of 2.50; packing (125.00) only where it is sold alone.
    lines = {
        "metal": "12.5",
        "labour": 3,
        "overhead": "0.6",
        "machine": 0,
        "material": "0.5",
        "fee": 5,
        "findings": "2.5",
    }
    (part,) = latch["parts"]
    for line, cost in lines.items():
        assert part[f"{line}_cost"] == Fraction(cost)
        # A latch's own steps cost the same, with packing but no stud; and 2 x 1.1 knobs.
        own = 0 if line == "findings" else Fraction(cost) + (125 if line == "fee" else 0)
        assert latch[f"{line}_cost"] == own + Fraction("2.2") * Fraction(cost)
    assert part["unit_cost"] == Fraction("24.1")
    assert knob["unit_cost"] == Fraction("149.1")
    assert (part["sku"], part["alloy"], part["quantity"], part["spoil"]) == ("knob", "silver", 2, Fraction("0.1"))
    assert latch["labour_hours"] == latch["own_labour_hours"] == Fraction("0.32")  # 0.1 h and 2.2 of it
    # Without spoil: 20 g and 2 x 21 g; melt value 10 and 2 x 10. The mass to be marked is the latch's own.
    assert (latch["total_g"], latch["melt_value"], latch["finished_g"]) == (62, 30, 20)
    assert [step["name"] for step in latch["steps"]] == ["pour", "oil", "pack"]


def test_a_part_in_another_alloy_and_for_some_alloys_only(files, variants):
    files["alloys.toml"]["alloys"]["tin"] = {
        "name": "Tin",
        "density": 5,
        "composition": {"Sn": 1},
        "priced_by": "content",
    }
    files["metal_prices.csv"].append(csv_line(0, "Sn", Decimal("0.2"), "g", "GBP"))
    files["products/knob.toml"]["alloys"] = ["silver", "tin"]
    add_product(
        files,
        "latch",
        alloys=["tin"],
        findings=[
            {"product": "knob", "quantity": 1, "alloy": "silver"},
            {"product": "knob", "quantity": 1},
            {"product": "knob", "quantity": 1, "alloy": "silver", "alloys": ["silver"]},
        ],
    )
    latch = variants(files)["latch"]
    assert [(part["alloy"], part["metal_cost"]) for part in latch["parts"]] == [("silver", 10), ("tin", 2)]
    assert latch["metal_cost"] == 14  # 10 g of tin are 2.00, once its own and once a part; 20 g of silver
    assert (latch["melt_value"], latch["total_g"]) == (14, 40)


def test_a_gift_set_costs_what_is_in_it(files, variants):
    files["processes.toml"]["processes"] |= {"bare": [], "boxed": [{"name": "box", "per": "set", "fee": 3}]}
    bare = {"process": "bare", "findings": [{"product": "knob", "quantity": 1}]}
    add_product(files, "alone", **bare)
    add_product(files, "gift", process="boxed", findings=[{"product": "alone", "quantity": 3}])
    for sku in ("alone", "gift"):
        for key in ("castings", "flask", "pieces_per_flask", "sprue_ratio"):
            del files[f"products/{sku}.toml"][key]
    found = variants(files)
    knob, alone, gift = found["knob"], found["alone"], found["gift"]
    for line in ("metal_cost", "labour_cost", "overhead_cost", "unit_cost", "melt_value", "total_g", "labour_hours"):
        assert alone[line] == knob[line]
    assert (alone["castings_per_set"], alone["mean_effort"], alone["finished_g"], alone["steps"]) == (0, None, 0, [])
    assert (gift["unit_cost"], gift["fee_cost"]) == (3 * Fraction("13.6") + 3, 3)
    assert (gift["total_g"], gift["charge_g"], gift["fresh_g"], gift["flasks_per_set"]) == (60, 0, 0, 0)
    assert gift["prices"]["shop"]["price"] == Fraction("54.75")  # (40.80 + 3.00) / 0.8


def test_a_run_of_the_whole_is_a_run_of_every_part(files, variants):
    add_steps(files, {"name": "draw", "per": "design", "fee": 60}, {"name": "burn out", "per": "flask", "fee": 9})
    files["products/knob.toml"]["alloys"] = ["silver"]
    add_product(files, "latch", process="plain", findings=[{"product": "knob", "quantity": 2, "spoil": "0.25"}])
    add_product(files, "door", process="plain", findings=[{"product": "latch", "quantity": 2}])
    add_steps(files, {"name": "pour", "per": "piece", "takes_metal": "pour"}, process="plain")
    # Three knobs to a flask. Four latches take 4 x 2.5 = 10 knobs: four flasks, 0.4 of one for each knob.
    latch = variants(files, run=4)["latch"]
    assert latch["parts"][0]["fee_cost"] == Fraction("1.2") + Fraction("3.6")  # 60 / 50 sold, and 0.4 x 9
    assert latch["fee_cost"] == Fraction("2.5") * Fraction("4.8")
    # The design charged to them: 60 / 10 on each of the ten knobs, 60 / 4 on each latch.
    charged = variants(files, run=4, charge_design=True)["latch"]
    assert charged["fee_cost"] == Fraction("2.5") * (6 + Fraction("3.6")) == 15 + 9
    # One door: two latches, five knobs, two flasks of 9 on five.
    door = variants(files, run=1)["door"]
    assert door["parts"][0]["fee_cost"] == Fraction("2.5") * (Fraction("1.2") + Fraction("3.6"))
    assert door["fee_cost"] == 2 * door["parts"][0]["fee_cost"] == 24
    # A run that is not whole: one latch takes 2.5 knobs, so one flask.
    assert variants(files, run=1)["latch"]["parts"][0]["fee_cost"] == Fraction("1.2") + 9 / Fraction("2.5")


def test_a_sized_piece_as_a_part(files, variants):
    lengths(files)
    add_product(files, "latch", findings=[{"product": "knob", "quantity": 1}])
    del files["products/latch.toml"]["sizes"]
    assert variants(files)["latch"]["total_g"] == 42  # 20 g and the mean of 16, 20 and 30
    lengths(files, each_priced=True)
    files["products/latch.toml"]["findings"][0]["product"] = "knob-L"
    latch = variants(files)["latch"]
    assert (latch["total_g"], latch["parts"][0]["sku"]) == (50, "knob-L")


def test_what_is_weighed_finished_as_a_part_has_been_through_fewer_steps(files, variants):
    add_steps(files, {"name": "polish for show", "per": "set", "metal_loss": "0.2", "as_part": False})
    piece = {"name": "knob", "count": 1, "metal_g": 16, "in_alloy": "silver", "weighed": "finished"}
    files["products/knob.toml"]["castings"] = [piece]
    add_product(files, "latch", castings=[{"name": "latch", "count": 1, "volume_cm3": 1}])
    files["products/latch.toml"]["findings"] = [{"product": "knob", "quantity": 1}]
    found = variants(files)
    assert (found["knob"]["as_cast_g"], found["knob"]["finished_g"]) == (20, 16)  # 16 / 0.8
    assert found["latch"]["parts"][0]["finished_g"] == 16  # what finishing leaves of it as a part is all
