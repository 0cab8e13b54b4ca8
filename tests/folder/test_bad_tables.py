"""Tables in which something by itself is wrong: unknown keys, wrong kinds, ranges, and sense within one table.

Each case replaces one piece of the folder in `workshops.py`; `▶` is where the fault must point.
"""

from __future__ import annotations

import pytest

from tests.folder.telling import check_told
from tests.folder.workshops import Change, changed, faults_of, write

WORKSHOP = "workshop.toml"
ALLOYS = "alloys.toml"
PROCESSES = "processes.toml"
CHANNELS = "channels.toml"
KNOB = "products/acorn-knob.toml"
LARGE = "products/large-knob.toml"
DOUBTS = "doubts.toml"

POLICIES = "margin, markup, earn, multiple, metal_multiple with work_multiple, keystone_of with multiple, or fixed"
VOLUMES = "volume_cm3, mesh, model_g with model_density, or metal_g with in_alloy and weighed"

WRONG_KINDS = [
    (KNOB, "pieces_per_flask = 18", "pieces_per_flask = ▶0.5", "pieces_per_flask: 0.5 is below 1. State 1 or more."),
    (KNOB, "count = 2", "count = ▶10001", "castings[0].count: 10001 is more than 10000. State 10000 or less."),
    (KNOB, "count = 2", "count = ▶" + "9" * 400,
     "castings[0].count: a number of this size is more than 10000. State 10000 or less."),
    (CHANNELS, "step = 1.0", "step = ▶1e308",
     "channels.shop.rounding.step: a number of this size is more than 1e+12. State 1e+12 or less."),
    (CHANNELS, "step = 1.0", "step = 1.0, ending = ▶1e308",
     "channels.shop.rounding.ending: a number of this size is more than 1e+12. State 1e+12 or less."),
    (CHANNELS, "below = 20, step = 0.5", "below = 20, step = ▶2e12",
     "channels.shop.rounding.steps_by_price[0].step: 2e+12 is more than 1e+12. State 1e+12 or less."),
    (WORKSHOP, "rate = 24.0", 'rate = ▶"24.0"',
     'labour.bench.rate: the text "24.0" stands where a number belongs. Write it without the quotes: 24.0.'),
    (WORKSHOP, "rate = 24.0", 'rate = ▶"24,50"',
     'labour.bench.rate: the text "24,50" stands where a number belongs. Write it without the quotes: 24.50.'),
    (WORKSHOP, "rate = 24.0", 'rate = 24.0\non_cost = ▶"8 %"',
     'labour.bench.on_cost: the text "8 %" stands where a number belongs. Write a fraction: 0.08.'),
    (WORKSHOP, "rate = 24.0", 'rate = ▶"٢٤"',
     'labour.bench.rate: the text "٢٤" stands where a number belongs. Write a number, without quotes.'),
    (WORKSHOP, "rate = 24.0", "rate = ▶true",
     "labour.bench.rate: true stands where a number belongs. Write a number."),
    (WORKSHOP, "rate = 24.0", "rate = ▶2026-11-20",
     "labour.bench.rate: the date 2026-11-20 stands where a number belongs. Write a number."),
    (WORKSHOP, "rate = 24.0", "rate = ▶07:32:00",
     "labour.bench.rate: the time 07:32:00 stands where a number belongs. Write a number."),
    (WORKSHOP, "rate = 24.0", "rate = ▶[24.0]",
     "labour.bench.rate: a list stands where a number belongs. Write a number."),
    (WORKSHOP, "rate = 24.0", "rate = ▶inf",
     "labour.bench.rate: this number is too large to count with. Write a smaller one."),
    (WORKSHOP, "rate = 24.0", "rate = ▶nan",
     "labour.bench.rate: nan is no number to count with. Write a finite number."),
    (WORKSHOP, "rate = 24.0", "rate = ▶" + "9" * 400,
     "labour.bench.rate: this number has too many digits. Write a shorter one."),
    (WORKSHOP, 'name = "Fernhollow Castings"', "name = ▶7",
     'name: 7 stands where text belongs. Put it in quotes: "…".'),
    (WORKSHOP, 'name = "Fernhollow Castings"', 'name = ▶""',
     "name: the text is empty. Write something between the quotes."),
    (WORKSHOP, 'name = "Fernhollow Castings"', 'name = ▶" Fernhollow"',
     "name: it has blanks at its ends or signs that cannot be seen. Write it without them."),
    (WORKSHOP, 'name = "Fernhollow Castings"', f'name = ▶"{"F" * 121}"',
     "name: the text has 121 letters, more than 120. Write a shorter one."),
    (WORKSHOP, "[labour.bench]\nrate = 24.0", "[labour]\nbench = ▶24.0",
     "labour.bench: 24 stands where a table belongs. Write { key = value }."),
    (WORKSHOP, "schema = 1", "schema = ▶2", "schema: 2 is not known here. Write 1."),
    (CHANNELS, "included = true", 'included = ▶"yes"',
     'channels.shop.tax.included: the text "yes" stands where true or false belongs. Write true or false.'),
    (PROCESSES, 'uses = [{ material = "patina", per_cm2 = 0.03 }]', 'uses = ▶{ material = "patina", per_cm2 = 0.03 }',
     "processes.cast[3].uses: a table stands where a list belongs. Put it in brackets: [ … ]."),
    (PROCESSES, 'quantity = "flask"', 'quantity = ▶"flsk"',
     'processes.cast[1].uses[0].quantity: "flsk" is not known here. Write a number, or "flask".'),
    (PROCESSES, 'quantity = "flask"', 'quantity = ▶"2"',
     'processes.cast[1].uses[0].quantity: the text "2" stands where a number belongs. Write it without the quotes: 2.'),
    (PROCESSES, 'quantity = "flask"', "quantity = ▶false",
     "processes.cast[1].uses[0].quantity: false stands where a number belongs. Write a number."),
    (KNOB, "count = 2", "count = ▶2.5",
     "castings[0].count: 2.5 stands where a whole number belongs. Write it without a point."),
    (KNOB, "count = 2", 'count = ▶"2"',
     'castings[0].count: the text "2" stands where a number belongs. Write it without the quotes: 2.'),
    (KNOB, 'alloys = ["yellow-brass", "sterling"]', 'alloys = ▶"sterling"',
     'alloys: the text "sterling" stands where a list belongs. Put it in brackets: [ … ].'),
    (KNOB, '"sterling"]', "▶925]", 'alloys: 925 stands where text belongs. Put it in quotes: "…".'),
    (KNOB, 'alloys = ["yellow-brass", "sterling"]', "alloys = ▶[]",
     "alloys: nothing stands here. Write at least one, or take the key out."),
    (KNOB, '"sterling"]', '"sterling", ▶"sterling"]',
     'alloys: "sterling" is there twice. Leave one of them out.'),
]  # fmt: skip

WRONG_WORDS = [
    (WORKSHOP, "rate = 24.0", "rate = 24.0\n▶on_cots = 0.1",
     'labour.bench.on_cots: unknown key "on_cots". Did you mean "on_cost"?'),
    (WORKSHOP, "productive_hours = 110", "productive_hours = 110\n▶rent = 1",
     'overhead.rent: unknown key "rent". Known: "per_month", "productive_hours".'),
    (CHANNELS, "rate = 0.015", "rate = 0.015, ▶shares = 0.5",
     'channels.shop.fees[0].shares: unknown key "shares". Did you mean "share"?'),
    (KNOB, "minutes = 5", 'minutes = 5\n▶collection = "Hedgerow"',
     'steps.darken.collection: unknown key "collection". '
     "It belongs to the top of the file, above the first header; here it is a part of steps.darken."),
    (KNOB, "good = 0.95", "good = 0.95\n▶pieces_per_flask = 9",
     'for_alloy.sterling.steps.pour.pieces_per_flask: unknown key "pieces_per_flask". '
     "It belongs to for_alloy.sterling; here it is a part of for_alloy.sterling.steps.pour."),
    (WORKSHOP, "[labour.bench]", '[show]\nmass = ▶"oz"\n[labour.bench]',
     'show.mass: "oz" is not known here. Did you mean "ozt"?'),
    (WORKSHOP, 'currency = "GBP"', 'currency = ▶"gbp"', 'currency: "gbp" is no currency. Did you mean "GBP"?'),
    (WORKSHOP, 'currency = "GBP"', 'currency = ▶"XAU"',
     'currency: "XAU" is no currency. Write its ISO 4217 code, such as "GBP".'),
    (DOUBTS, "", '"labour.bench.rate" = { low = 20, high = 28, ▶hihg = 28 }\n',
     '"labour.bench.rate".hihg: unknown key "hihg". Did you mean "high"?'),
    (ALLOYS, 'priced_by = "content"', 'priced_by = ▶"contents"',
     'alloys.sterling.priced_by: "contents" is not known here. Did you mean "content"?'),
    (ALLOYS, "Cu = 0.075", "▶CU = 0.075",
     'alloys.sterling.composition.CU: "CU" is no chemical element. Did you mean "Cu"?'),
    (ALLOYS, "Cu = 0.075", "▶Co2 = 0.075",
     'alloys.sterling.composition.Co2: "Co2" is no chemical element. Write the symbol, such as "Ag" for silver.'),
    (PROCESSES, 'per = "design"', 'per = ▶"desing"',
     'processes.cast[0].per: "desing" is not known here. Did you mean "design"?'),
    (CHANNELS, 'audience = "wholesale"', 'audience = ▶"trade"',
     'channels.trade.audience: "trade" is not known here. Write "retail" or "wholesale".'),
    (KNOB, 'sold_as = "pair"', "sold_as = ▶2",
     'sold_as: 2 stands where a word belongs. Write "each", "pair" or "set".'),
]  # fmt: skip

WRONG_RANGES = [
    (WORKSHOP, "rate = 24.0", "rate = ▶-3", "labour.bench.rate: -3 is below 0. State 0 or more."),
    (WORKSHOP, "rate = 24.0", "rate = 24.0\non_cost = ▶8",
     "labour.bench.on_cost: 8 is more than 3. Write a fraction, not a percentage: 8 % is 0.08."),
    (WORKSHOP, "power_kw = 2.4", "power_kw = 2.4\nduty = ▶45",
     "machines.kiln.duty: 45 is more than 1. Write a fraction, not a percentage: 45 % is 0.45."),
    (ALLOYS, "melt_loss = 0.01", "melt_loss = ▶1",
     "alloys.sterling.melt_loss: 1 leaves nothing. State a fraction below 1."),
    (PROCESSES, "minutes = 12", "minutes = ▶-12", "processes.cast[2].minutes: -12 is below 0. State 0 or more."),
    (PROCESSES, "minutes = 12", "minutes = 12\ngood = ▶93",
     "processes.cast[2].good: 93 is more than 1. Write a fraction, not a percentage: 93 % is 0.93."),
    (PROCESSES, "minutes = 12", "minutes = 12\ngood = ▶0",
     "processes.cast[2].good: 0 is not above 0. State a number above 0."),
    (PROCESSES, "minutes = 12", "minutes = 12\ntogether = ▶0.5",
     "processes.cast[2].together: 0.5 is below 1. State 1 or more."),
    (PROCESSES, 'quantity = "flask"', "quantity = ▶-1",
     "processes.cast[1].uses[0].quantity: -1 is below 0. State 0 or more."),
    (CHANNELS, "margin = 0.25", "margin = ▶25",
     "channels.shop.policy.margin: 25 is more than 1. Write a fraction, not a percentage: 25 % is 0.25."),
    (LARGE, "scale = 1.25", "scale = ▶0", "scale: 0 is not above 0. State a number above 0."),
]  # fmt: skip

NO_SENSE = [
    (WORKSHOP, "residual = 100.0", "residual = ▶2000",
     "machines.kiln.residual: 2000 is more than the machine cost (1450). "
     "State what it will fetch at the end of its life, at most its purchase."),
    (WORKSHOP, "[flasks.medium]\ndiameter_mm = 100\nheight_mm = 150\nmaterial = \"investment\"\nwater_per_100 = 40\n",
     "▶[flasks.medium]\ndiameter_mm = 100\nheight_mm = 150\nmaterial = \"investment\"\n",
     "flasks.medium: water_per_100 is missing, and no weighed powder_g takes its place. "
     "Add water_per_100 or powder_g."),
    (ALLOYS, "{ Ag = 0.925, Cu = 0.075 }\npriced_by = \"content\"\nmelt_loss = 0.01\nmark = \"925\"",
     "▶{ Ag = 0.905, Cu = 0.075 }\npriced_by = \"content\"\nmelt_loss = 0.01",
     "alloys.sterling.composition: the fractions sum to 0.98, not to 1. Correct them, or add what is missing."),
    (ALLOYS, "{ Ag = 0.925, Cu = 0.075 }\npriced_by = \"content\"\nmelt_loss = 0.01\nmark = \"925\"",
     "{ Au = 0.58333, Ag = 0.21667, Cu = 0.2 }\npriced_by = \"content\"\nmelt_loss = 0.01\nmark = ▶\"585\"",
     "alloys.sterling.mark: Au is 0.58333 of the alloy, short of the 0.585 that the mark 585 promises. "
     "Correct the composition, or strike a lower mark."),
    (ALLOYS, 'name = "Yellow brass"', 'name = "Yellow brass"\nmark = ▶"925"',
     "alloys.yellow-brass.mark: 925 is a fineness, but there is no platinum, gold, palladium or silver in it. "
     "Leave the mark out, or correct the composition."),
    (ALLOYS, "pour_c = 960", "pour_c = ▶899",
     "alloys.sterling.pour_c: 899 °C is not above the liquidus, 899 °C. "
     "Metal is poured hotter than it melts: look both up again."),
    (ALLOYS, "liquidus_c = 899", "liquidus_c = ▶799",
     "alloys.sterling.liquidus_c: 799 °C is below the solidus, 802 °C. Look both up again."),
    (ALLOYS, 'priced_by = "content"', 'priced_by = "content"\nunpriced = ["Cu", ▶"Zn"]',
     "alloys.sterling.unpriced: Zn is not in the composition. Leave it out, or add it there."),
    (ALLOYS, 'priced_by = "content"', 'priced_by = ▶"quote"',
     "alloys.sterling.priced_by: quote is missing beside it. Add quote = with the name that metal_prices.csv uses."),
    (ALLOYS, 'priced_by = "content"', 'priced_by = "content"\nquote = ▶"silver-grain"',
     'alloys.sterling.quote: it has no effect where priced_by is "content". '
     'Leave it out, or write priced_by = "quote".'),
    (PROCESSES, 'takes_metal = "pour"\nlabour = "bench"\nminutes = 12', 'takes_metal = "pour"\nminutes = ▶12',
     "processes.cast[2].minutes: labour is missing beside it. Add labour = with the name of a role."),
    (PROCESSES, 'machine = "kiln"\nmachine_minutes = 480', "machine_minutes = ▶480",
     "processes.cast[1].machine_minutes: machine is missing beside it. Add machine = with the name of a machine."),
    (PROCESSES, "per_cm2 = 0.03", "per_cm2 = 0.03, per_g = ▶1",
     "processes.cast[3].uses[0].per_g: stands beside per_cm2. Keep one of them: a use is counted one way."),
    (PROCESSES, '{ material = "patina", per_cm2 = 0.03 }', '▶{ material = "patina" }',
     "processes.cast[3].uses[0]: how much is used is missing. "
     "Add one of quantity, per_cm3, per_cm2, per_g and microns."),
    (PROCESSES, 'per = "design"', 'per = "design"\ntakes_metal = ▶"pour"',
     "processes.cast[0].takes_metal: no metal is brought in once per design. Write per piece, flask or set."),
    (PROCESSES, 'per = "set"\nfee', 'per = ▶"flask"\nfee',
     'processes.cast[4].per: a step with from_g is per set or per piece. Write per = "set" or per = "piece".'),
    (PROCESSES, "from_g = 7.78", "from_g = 7.78\ngood = ▶0.9",
     "processes.cast[4].good: a step with from_g has good = 1. Leave it out, or leave from_g out."),
    (PROCESSES, "from_g = 7.78", "from_g = 7.78\nmetal_loss = ▶0.01",
     "processes.cast[4].metal_loss: a step with from_g has no metal_loss. Leave it out, or leave from_g out."),
    (PROCESSES, "from_g = 7.78", "from_g = 7.78\nrework = ▶0.1",
     "processes.cast[4].rework: a step with from_g has no rework. Leave it out, or leave from_g out."),
    (PROCESSES, "from_g = 7.78", 'from_g = 7.78\ntakes_metal = ▶"cut"',
     "processes.cast[4].takes_metal: a step with from_g cannot bring the metal in. "
     "Leave it out, or leave from_g out."),
    (PROCESSES, "from_g = 7.78", 'from_g = 7.78\nuses = [{ material = "patina", per_g = ▶1 }]',
     "processes.cast[4].uses[0].per_g: a step with from_g has uses by quantity only. "
     "Leave it out, or leave from_g out."),
    (CHANNELS, 'minutes = 6\nlabour = "bench"', "minutes = ▶6",
     "channels.shop.minutes: labour is missing beside it. Add labour = with the name of a role."),
    (CHANNELS, "minutes = 6", "minutes = 6\nrefund_share = ▶0.02",
     "channels.shop.refund_share: refund_cost is missing beside it. Add what one refund costs, 0 if nothing."),
    (CHANNELS, "max = 2.0", "max = ▶0.1",
     "channels.shop.fees[0].max: 0.1 is less than min, 0.2. Exchange them, or correct one."),
    (CHANNELS, "{ margin = 0.25 }", "▶{ margin = 0.25, markup = 3 }",
     f"channels.shop.policy: it asks in more ways than one: margin, markup. Keep one: {POLICIES}."),
    (CHANNELS, "{ margin = 0.25 }", "▶{}", f"channels.shop.policy: it asks for nothing. Add one: {POLICIES}."),
    (CHANNELS, "{ margin = 0.25 }", "{ metal_multiple = ▶1.2 }",
     "channels.shop.policy.metal_multiple: work_multiple is missing beside it. Add work_multiple."),
    (CHANNELS, "step = 0.5 }", "step = 0.5 }, { below = ▶10, step = 0.1 }",
     "channels.shop.rounding.steps_by_price[1].below: 10 does not rise above the 20 before it. "
     "Put the limits in rising order."),
    (KNOB, "volume_cm3 = 2.31", "volume_cm3 = 2.31, model_g = ▶2.5, model_density = 1.1",
     f"castings[0].model_g: stands beside volume_cm3. State the volume one way: {VOLUMES}."),
    (KNOB, "volume_cm3 = 2.31", "model_g = ▶2.5",
     "castings[0].model_g: model_density is missing beside it. Add model_density."),
    (KNOB, '{ name = "knob", count = 2, volume_cm3 = 2.31, area_cm2 = 11.4 }',
     '▶{ name = "knob", count = 2, area_cm2 = 11.4 }', f"castings[0]: its volume is missing. Add one of {VOLUMES}."),
    (KNOB, "price = 0.11", "price = 0.11, metal_g = ▶0.4",
     "findings[0].metal_g: alloy is missing beside it. Add alloy = with the name of its alloy."),
    (KNOB, "price = 0.11", 'price = 0.11, alloy = ▶"sterling"',
     "findings[0].alloy: metal_g is missing beside it. Add metal_g, or write alloys = for where it is used."),
    (LARGE, 'like = "acorn-knob"', 'like = ▶"large-knob"',
     "like: a product cannot be like itself. Name another product, or leave it out."),
    (DOUBTS, "", '"products.acorn-knob.sprue_ratio" = { low = 0.6, high = ▶0.4 }\n',
     '"products.acorn-knob.sprue_ratio".high: 0.4 is not above low, 0.6. Exchange them, or correct one.'),
    (DOUBTS, "", "▶products.acorn-knob.sprue_ratio = { low = 0.4, high = 0.6 }\n",
     "products: a path of a figure stands without its quotes here. "
     'Put the whole path in quotes: "labour.bench.rate" = { low = 20, high = 28 }.'),
]  # fmt: skip

MISSING = [
    (WORKSHOP, "rate = 24.0\n", "", "workshop.toml:4:1 labour.bench: rate is missing. "
     "Add it: pay for one attended hour, in the workshop's currency."),
    (WORKSHOP, "[overhead]\nper_month = 640.0\nproductive_hours = 110\n", "",
     "workshop.toml:1:1 overhead is missing. Add it: what the workshop costs in a month."),
    (WORKSHOP, "[energy]\nprice_per_kwh = 0.28\n", "",
     "workshop.toml:1:1 energy is missing, and there are machines. Add [energy] with price_per_kwh."),
    (ALLOYS, "density = 10.36\n", "",
     "alloys.toml:1:1 alloys.sterling: density is missing. Add it: density as cast, in g/cm3."),
    (CHANNELS, "policy = { metal_multiple = 1.3, work_multiple = 2.0 }\n", "",
     "channels.toml:9:1 channels.trade: policy is missing. Add it: what is asked of a price."),
    (KNOB, "count = 2, ", "",
     "products/acorn-knob.toml:10:13 castings[0]: count is missing. Add it: how many there are in one set."),
    (LARGE, 'sku = "large-knob"\n', "",
     "products/large-knob.toml:1:1 sku is missing. Add it: its name in the books, once in the workshop."),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "told"), WRONG_KINDS + WRONG_WORDS + WRONG_RANGES + NO_SENSE)
def test_told_where_it_stands(tmp_path, file, old, new, told):
    check_told(tmp_path, (Change(file, old, new),), told)


@pytest.mark.parametrize(("file", "old", "new", "told"), MISSING)
def test_a_missing_key_is_told_at_its_table(tmp_path, file, old, new, told):
    assert [fault.headline() for fault in faults_of(write(tmp_path, changed(Change(file, old, new))))] == [told]


def test_every_fault_of_every_file_at_once(tmp_path):
    """Ten slips in six files, among them one that lies between files, and one in a table with another slip."""
    check_told(
        tmp_path,
        (
            Change(ALLOYS, "density = 10.36", "▶densty = 10.36\ndensity = ▶-1"),
            Change(CHANNELS, "rate = 0.015", "rate = ▶1.5"),
            Change("metal_prices.csv", "38.40", "▶£38.40"),
            Change(PROCESSES, "metal_loss = 0.002", "metal_loss = ▶2"),
            Change(KNOB, '"sterling"]', '▶"sterlin"]'),
            Change(KNOB, "sprue_ratio = 0.45", "sprue_ratio = ▶-1"),
            Change(WORKSHOP, "residual = 100.0", "residual = ▶2000"),
            Change(WORKSHOP, "rate = 24.0", "rate = ▶true"),
            Change(ALLOYS, "[alloys.sterling]", "▷[alloys.sterling]"),
        ),
        'alloys.sterling.densty: unknown key "densty". Did you mean "density"?',
        "alloys.sterling.density: -1 is not above 0. State a number above 0.",
        "channels.shop.fees[0].rate: 1.5 is more than 1. Write a fraction, not a percentage: 1.5 % is 0.015.",
        'price: "£38.40" is no number. Write digits and a point only: 38.40.',
        "processes.cast[3].metal_loss: 2 is more than 1. Write a fraction, not a percentage: 2 % is 0.02.",
        'alloys: no alloy "sterlin". Did you mean "sterling"?',
        "sprue_ratio: -1 is below 0. State 0 or more.",
        "labour.bench.rate: true stands where a number belongs. Write a number.",
        "machines.kiln.residual: 2000 is more than the machine cost (1450). "
        "State what it will fetch at the end of its life, at most its purchase.",
    )
