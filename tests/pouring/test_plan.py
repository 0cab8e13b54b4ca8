"""The plan: metal that adds up, the cost model's own charge, what a drawer holds, parts, sizes, limits."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from pricing.costing import asked_for, cost
from pricing.drawer.on_hand import OnHand
from pricing.errors import TroytagError, UsageFault
from pricing.pouring.plan import plan
from pricing.pouring.wants import want_of
from tests.pouring.many import many_designs
from tests.published.small_workshop import AS_OF, WORTHLESS, written

FLASK = {"diameter_mm": 100.0, "height_mm": 100.0, "material": "powder", "water_per_100": 40.0, "slurry_density": 1.75}
WORKSHOP = {
    "materials": {"powder": {"pack_price": 1.0, "pack_size": 1000.0, "unit": "g"}},
    "flasks": {"one": {**FLASK, "button_cm3": 2.0}},
    "energy": {"price_per_kwh": 0.5},
    "machines": {
        "kiln": {"purchase": 0.0, "life_hours": 1000.0, "power_kw": 3.0, "duty": 0.5},
        "furnace": {"purchase": 0.0, "life_hours": 1000.0},
    },
}
STEPS = [
    {"name": "print", "per": "piece", "good": 0.8},
    {"name": "burn out", "per": "flask", "together": 2, "machine": "kiln", "machine_minutes": 600},
    {"name": "pour", "per": "flask", "takes_metal": "pour", "machine": "furnace", "good": 0.9},
    {"name": "file", "per": "piece", "good": 0.95},
    {"name": "check", "per": "set", "good": 0.9},
]
PIECE = {"flask": "one", "pieces_per_flask": 6.0, "sprue_ratio": 0.5}
ALLOY = {**WORTHLESS, "density": 10.0, "melt_loss": 0.2, "max_return_share": 0.4, "composition": {"Ag": 0.9, "Cu": 0.1}}
ALLOY["unpriced"] = ["Ag", "Cu"]


def workshop(folder, *, product=(), steps=STEPS, alloys=None, **changed):
    tables = {**WORKSHOP, **changed}
    written(folder, workshop=tables, steps=steps, alloys=alloys or {"metal": ALLOY}, product={**PIECE, **dict(product)})
    return cost(folder, asked_for(AS_OF))


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return workshop(tmp_path_factory.mktemp("small"))


def test_metal_is_conserved_in_every_plan(planned, sample):
    for made in (planned, plan(sample, [want_of("chess-knight:silicon-bronze=3"), want_of("caddy-spoon:sterling=8")])):
        for flask in made.flasks:
            out = flask.castings_g + flask.sprue_g + flask.button_g + flask.melt_lost_g
            assert abs(out - flask.charge_g) <= 1e-9
            assert abs(flask.fresh_g + flask.returned_g - flask.charge_g) <= 1e-9
            assert abs(sum(flask.elements.values()) - flask.fresh_g) <= 1e-9
        for total in made.alloys:
            own = [flask for flask in made.flasks if flask.alloy == total.alloy]
            assert abs(sum(flask.charge_g for flask in own) - total.returned_g - total.fresh_g) <= 1e-9
        for line in made.lines:
            assert sum(units for _, units in line.flasks) == line.count.on_trees
            cast = line.count.on_trees * line.design.unit_g
            as_cast = sample.computed.values["as_cast_g"][line.design.place]
            assert cast == pytest.approx(as_cast * line.count.on_trees / line.design.chain.per_set, abs=1e-9)


def test_what_one_flask_takes_by_hand(small):
    """Three pieces of 1 cm3 at 10 g/cm3 on one tree, a button of 2 cm3, half as much in sprues, a fifth lost.

    Castings 30 g, sprues 15 g, button 20 g: 65 g, and 65 / 0.8 = 81.25 g into the crucible, 16.25 g of it lost. At most
    0.4 × 81.25 = 32.5 g may be returned metal. The tree is 3 × 1.5 + 2 = 6.5 cm3 of a flask of π/4 × 10² × 10 = 785.4.
    Powder of the empty flask: 785.4 × 1.75 / 1.4; as much less as the tree takes of the room.
    """
    made = plan(small, [want_of("piece:metal=2")], sure=None)
    (flask,) = made.flasks
    # 2 / (0.9 × 0.95 × 0.9) = 2.599 on the tree: 3; by 0.8 more are printed: 3.249, so 4
    assert (made.lines[0].on_trees, made.lines[0].patterns) == (3, 4)
    assert made.lines[0].expected_starts == pytest.approx(2 / (0.8 * 0.9 * 0.95 * 0.9), rel=1e-12)
    figures = (flask.castings_g, flask.sprue_g, flask.button_g, flask.charge_g, flask.melt_lost_g)
    assert figures == pytest.approx((30.0, 15.0, 20.0, 81.25, 16.25), rel=1e-12)
    assert (flask.returned_g, flask.fresh_g) == pytest.approx((32.5, 48.75), rel=1e-12)
    assert flask.elements == pytest.approx({"Ag": 48.75 * 0.9, "Cu": 48.75 * 0.1}, rel=1e-12)
    room = math.pi / 4 * 100 * 10
    powder = room * 1.75 / 1.4 * (1 - 6.5 / room)
    assert (flask.tree_cm3, flask.powder_g, flask.water_g) == pytest.approx((6.5, powder, 0.4 * powder), rel=1e-12)
    assert flask.holds[0].missing_g == pytest.approx(10 * 1.5 / 0.8, rel=1e-12)  # one casting with its sprues, melted
    (load,) = made.loads
    assert (load.minutes, load.kwh, load.cost) == pytest.approx((600, 3 * 0.5 * 10, 3 * 0.5 * 10 * 0.5), rel=1e-12)


def test_the_charge_of_a_full_tree_is_the_cost_models(sample):
    """24 thimbles to a tree, 18 pairs of knobs on the mean: whatever tree is full weighs what the cost model says."""
    computed = sample.computed
    made = plan(sample, [want_of("thimble:sterling=20"), want_of("acorn-knob:silicon-bronze=15")], sure=None)
    full = [flask for flask in made.flasks if flask.room == pytest.approx(1) and len(flask.holds) == 1]
    assert full
    for flask in full:
        place = flask.holds[0].design.place
        assert flask.charge_g == pytest.approx(float(computed["one_pour_charge_g"][place]), rel=1e-12)
        per_set, poured = (float(computed[name][place]) for name in ("charge_g", "poured_g"))
        assert flask.charge_g == pytest.approx(per_set * flask.castings_g / poured, rel=1e-12)


def test_a_drawer_is_drawn_on_until_its_returned_metal_is_gone(small):
    """12 castings, two flasks of (6 × 15 + 20) / 0.8 = 137.5 g: the first takes 55 g of 80, the next what is left."""
    wants = [want_of("piece:metal=9")]
    made = plan(small, wants, sure=None, stock={"metal": OnHand(60.0, 80.0, 0.0)})
    left = 80.0
    for flask in made.flasks:
        assert flask.returned_g == pytest.approx(min(0.4 * flask.charge_g, left), abs=1e-12)
        left -= flask.returned_g
    assert left == 0 and [flask.returned_g for flask in made.flasks] == pytest.approx([55.0, 25.0])
    (total,) = made.alloys
    assert total.to_buy_g == pytest.approx(total.fresh_g - 60.0, rel=1e-12)
    bare = plan(small, wants, sure=None, stock={})
    assert all(flask.returned_g == 0 for flask in bare.flasks)


def test_kiln_loads_are_as_few_as_the_flasks_allow(planned):
    assert planned.least_loads == len(planned.loads) == math.ceil(len(planned.flasks) / 4)  # four to a load
    assert sorted(number for load in planned.loads for number in load.flasks) == list(range(1, len(planned.flasks) + 1))


def test_each_want_has_its_chance_in_the_very_flasks_of_the_plan(planned):
    for line in planned.lines:
        assert line.attained >= 0.9
        assert len(line.flasks) >= len(line.count.flasks)


def test_designs_of_one_alloy_share_a_tree(planned):
    """12 thimbles of 24 to a tree and 15 castings of 30 fill one: 1/2 + 1/2."""
    shared = [flask for flask in planned.flasks if len(flask.holds) > 1]
    assert shared and all(flask.room <= 1 + 1e-9 for flask in planned.flasks)
    for flask in planned.flasks:
        assert {each.design.alloy for each in flask.holds} == {flask.alloy}


def test_a_crucible_that_is_small_makes_more_pours(tmp_path):
    """It takes 12 cm3, 120 g, 96 g after the melt: less 20 g of button that is 76 / 15 = 5 sprued castings, not 6."""
    machines = {**WORKSHOP["machines"], "furnace": {**WORKSHOP["machines"]["furnace"], "crucible_cm3": 12.0}}
    made = plan(workshop(tmp_path / "a", machines=machines), [want_of("piece=15")], sure=None)  # 19.5
    assert [flask.holds[0].castings for flask in made.flasks] == [5, 5, 5, 5]
    assert all(flask.charge_g <= flask.room_g == 120 for flask in made.flasks)
    machines["furnace"]["crucible_cm3"] = 4.0
    with pytest.raises(TroytagError, match=r"crucible_cm3: one piece in metal takes 44 g, and the crucible holds 40 g"):
        plan(workshop(tmp_path / "b", machines=machines), [want_of("piece=9")])  # (15 + 20) / 0.8 = 43.75


def test_a_tree_that_is_high_holds_fewer(tmp_path):
    """Six make a tree of 132 mm, and the flask has 100 - 12 = 88: 88 / 132 × 6 = 4 on one, three times."""
    made = plan(workshop(tmp_path, product={"tree_mm": 132.0}), [want_of("piece=9")], sure=None)  # 11.7: 12 castings
    assert [flask.holds[0].castings for flask in made.flasks] == [4, 4, 4]


def test_parts_are_planned_with_the_whole_each_in_its_alloy(tmp_path):
    """Five wholes with two hares each are ten hares, in the other alloy; one in fifty is spoiled when joined."""
    alloys = {"metal": ALLOY, "other": {**ALLOY, "density": 8.0}}
    part = '{ product = "hare", alloy = "other", quantity = 2, spoil = 0.02 }'
    folder = tmp_path
    workshop(folder, alloys=alloys)
    text = (folder / "products/piece.toml").read_text(encoding="utf-8")
    (folder / "products/hare.toml").write_text(text.replace('"piece"', '"hare"', 1), encoding="utf-8")
    changed = text.replace("[[castings]]", f"findings = [{part}]\n[[castings]]", 1)
    (folder / "products/piece.toml").write_text(changed, encoding="utf-8")
    made = plan(cost(folder, asked_for(AS_OF)), [want_of("piece:metal=5"), want_of("hare:metal=1")])
    lines = {(line.design.titled, line.design.alloy): line.design.quantity for line in made.lines}
    assert lines == {("piece", "metal"): 5, ("hare for piece", "other"): 10, ("hare", "metal"): 1}
    assert {flask.alloy for flask in made.flasks} == {"metal", "other"}
    part = next(line for line in made.lines if line.design.of)
    assert part.expected_starts == pytest.approx(10 * 1.02 / (0.8 * 0.9 * 0.95 * 0.9), rel=1e-12)
    assert part.design.chain.sets == pytest.approx(0.9 / 1.02, rel=1e-12)


def test_a_set_that_does_not_go_on_one_tree_is_planned_casting_by_casting(tmp_path):
    """One casting to a flask: good sets take good bases and good lids, 0.9 for both is sqrt(0.9) each."""
    castings = [{"name": name, "count": 1, "volume_cm3": volume} for name, volume in (("base", 3.0), ("lid", 1.0))]
    costing = workshop(tmp_path, product={"castings": castings, "pieces_per_flask": 1.0})
    made = plan(costing, [want_of("piece=2")])
    assert [line.design.titled for line in made.lines] == ["piece (base)", "piece (lid)"]
    assert all(line.attained >= math.sqrt(0.9) for line in made.lines)
    assert {round(flask.castings_g, 9) for flask in made.flasks} == {30.0, 10.0}


def test_what_is_not_invested_has_no_powder(tmp_path):
    steps = [{"name": "pour", "per": "piece", "together": 4, "takes_metal": "pour", "machine": "furnace"}]
    made = plan(workshop(tmp_path, steps=steps), [want_of("piece=10")])
    assert [flask.holds[0].castings for flask in made.flasks] == [4, 3, 3]  # ten, four at once, spread evenly
    assert all(flask.powder_g is None and not flask.load and flask.button_g == 0 for flask in made.flasks)


def test_what_is_cut_is_told_beside_it(tmp_path):
    steps = [{"name": "saw", "per": "piece", "takes_metal": "cut"}]
    made = plan(workshop(tmp_path, steps=steps), [want_of("piece=10")])
    assert made.flasks == () and made.taken[0].metal_g == pytest.approx(10 * 10 * 1.5, rel=1e-12)  # half in offcut


def test_a_weighed_flask_without_a_ratio_takes_forty_and_says_so(tmp_path):
    """40 of water to 100 of powder is common practice; 1,000 g fill the empty flask, less the tree's share of it."""
    flask = {"diameter_mm": 100.0, "height_mm": 100.0, "material": "powder", "powder_g": 1000.0}
    made = plan(workshop(tmp_path, flasks={"one": flask}), [want_of("piece=2")], sure=None)
    (poured,) = made.flasks
    assert poured.powder_g == pytest.approx(1000 * (1 - 4.5 / (math.pi / 4 * 1000)), rel=1e-12)  # 3 × 1.5 cm3
    assert poured.water_g == pytest.approx(0.4 * poured.powder_g, rel=1e-12)
    assert any("40 parts of water to 100 of powder" in note for note in made.notes)


def test_why_there_is_more_than_one_flask_is_told(small):
    """A flask that comes out 9 times in 10, and what is filed after it: never 90 in a hundred with one alone."""
    made = plan(small, [want_of("piece=2")])
    assert len(made.flasks) == 2
    assert any("comes out with a chance of 90 % only" in note for note in made.notes)
    assert not any("one flask" in note for note in plan(small, [want_of("piece=2")], sure=0.6).notes)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("pieces:metal=1", 'no product "pieces". Did you mean "piece"?'),
        ("piece:tin=1", 'it is not made in "tin". Known: "metal".'),
        ("piece:metal:M=1", 'no size "M". It is not made in sizes.'),
    ],
)
def test_what_is_unknown_is_told(small, text, told):
    with pytest.raises(UsageFault, match=told.replace("?", r"\?").replace(".", r"\.")):
        plan(small, [want_of(text)])


def test_an_alloy_must_be_named_where_there_are_several(sample):
    with pytest.raises(UsageFault, match="say in which alloy: yellow-brass, sterling"):
        plan(sample, [want_of("thimble=1")])


def test_what_is_wanted_twice_is_planned_once(small):
    once, twice = (
        plan(small, [want_of(text) for text in texts]) for texts in (["piece=5"], ["piece=2", "piece:metal=3"])
    )
    assert replace(once, lines=()) == replace(twice, lines=()) and len(twice.lines) == 1


def test_a_long_list_is_planned_whole(tmp_path):
    """Every want is on trees of its alloy that are not overfull, metal adds up, and no fewer flasks are claimed."""
    wants = many_designs(tmp_path, 14)
    made = plan(cost(tmp_path, asked_for(AS_OF)), wants, seconds=0)
    assert {line.design.sku: line.design.quantity for line in made.lines} == {want.sku: want.quantity for want in wants}
    assert all(line.attained >= 0.9 for line in made.lines) and 0 <= made.gap < 0.2
    assert 0 < made.least_flasks <= len(made.flasks) and made.least_loads <= len(made.loads)
    for flask in made.flasks:
        assert flask.room <= 1 + 1e-9 and flask.charge_g <= flask.room_g + 1e-6
        whole = flask.castings_g + flask.sprue_g + flask.button_g + flask.melt_lost_g
        assert abs(whole - flask.charge_g) <= 1e-9
    for line in made.lines:
        assert sum(units for _, units in line.flasks) == line.count.on_trees
