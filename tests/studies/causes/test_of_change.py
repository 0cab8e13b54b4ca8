"""Why a cost changed: the shares add up, and one cause that came alone gets all, on generated pairs of workshops."""

from __future__ import annotations

import shutil
import tempfile
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from pricing.costing import asked_for, cost
from pricing.formulas.engine import Computed, run
from pricing.formulas.tables import INPUTS, TABLES
from pricing.studies.causes.groups import Group, kind_of
from pricing.studies.causes.of_change import FORMULAS, Causes, Mixtures, causes_of_cost, causes_of_price
from pricing.studies.causes.pairing import paired
from tests.exact.workshop_writer import Workshop, write
from tests.exact.workshops import workshops
from tests.folders import alder_wharf, tin_lane
from tests.studies.causes.pairs import CHANGES, changed

GENERATED = settings(max_examples=8, suppress_health_check=list(HealthCheck), deadline=None, phases=[Phase.generate])
DAY = date(2026, 11, 20)


def computed(workshop: Workshop) -> Computed:
    with tempfile.TemporaryDirectory() as directory:
        return cost(write(workshop, Path(directory)), asked_for(workshop.as_of)).computed


def places_of(causes: Causes, whole: Computed) -> list[int]:
    """Where each variant of `causes` stands in a computed workshop."""
    names = {(row.sku, row.alloy): place for place, row in enumerate(whole.resolved.variants)}
    return [names[name] for name in causes.places]


def assert_adds_up(causes: Causes) -> None:
    whole = sum(causes.shares.values(), np.zeros_like(causes.before))
    allowed = 1e-9 * np.maximum(1, np.maximum(np.abs(causes.before), np.abs(causes.after)))
    assert (np.abs(whole - (causes.after - causes.before)) <= allowed).all()


@GENERATED
@given(first=workshops(), second=workshops())
def test_between_any_two_workshops_the_shares_add_up_and_both_ends_are_the_engine_s(first, second):
    """Two workshops that have nothing but some names in common: steps, alloys, channels, even currencies differ."""
    before, after = computed(first), computed(second)
    causes = causes_of_cost(before.resolved, after.resolved)
    assume(causes.places)
    np.testing.assert_allclose(causes.before, before["unit_cost"][places_of(causes, before)], rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(causes.after, after["unit_cost"][places_of(causes, after)], rtol=1e-12, atol=1e-12)
    assert_adds_up(causes)


@GENERATED
@given(workshop=workshops(), kinds=st.sets(st.sampled_from(CHANGES), min_size=1, max_size=3), data=st.data())
def test_when_some_things_change_the_shares_add_up_and_nothing_else_has_one(workshop, kinds, data):
    now = workshop
    done = set()
    for kind in sorted(kinds):
        times = data.draw(st.sampled_from([Decimal("0.9"), Decimal("1.05"), Decimal("1.2")]))
        if further := changed(now, kind, times):
            now = further
            done.add(kind)
    assume(done)
    before, after = computed(workshop), computed(now)
    for causes, quantity in (
        (causes_of_cost(before.resolved, after.resolved), "unit_cost"),
        (causes_of_price(before.resolved, after.resolved), "price"),
    ):
        assert {group.kind for group in causes.shares} <= done
        np.testing.assert_allclose(causes.before, before[quantity], rtol=1e-12, atol=1e-12)
        np.testing.assert_allclose(causes.after, after[quantity], rtol=1e-12, atol=1e-12)
        assert_adds_up(causes)


@pytest.mark.parametrize("kind", CHANGES)
@settings(parent=GENERATED, max_examples=2)
@given(workshop=workshops())
def test_what_changed_alone_has_all_of_the_change(kind, workshop):
    later = changed(workshop, kind, Decimal("1.1"))
    assume(later is not None)
    before, after = computed(workshop), computed(later)
    causes = causes_of_cost(before.resolved, after.resolved)
    assert {group.kind for group in causes.shares} <= {kind}
    whole = sum(causes.shares.values(), np.zeros_like(causes.before))
    difference = after["unit_cost"] - before["unit_cost"]
    assert (np.abs(whole - difference) <= 1e-9 * np.maximum(1, np.abs(after["unit_cost"]))).all()


# ---- cases by hand


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(tin_lane(), tmp_path / "tin-lane")


def changed_file(folder: Path, file: str, before: str, after: str) -> None:
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert before in text
    path.write_text(text.replace(before, after), encoding="utf-8")


def causes_between(folder: Path, *edits: tuple[str, str, str]) -> tuple[Causes, Computed, Computed]:
    before = cost(folder, asked_for(DAY)).computed
    for edit in edits:
        changed_file(folder, *edit)
    after = cost(folder, asked_for(DAY)).computed
    return causes_of_cost(before.resolved, after.resolved), before, after


EDITS = (("metal_prices.csv", "USD,0.8641,", "USD,0.9000,"), ("workshop.toml", "rate = ", "rate = 1"))


def sides(folder: Path) -> tuple[Computed, Computed]:
    """The workshop before and after these edits."""
    before = cost(folder, asked_for(DAY)).computed
    for edit in EDITS:
        changed_file(folder, *edit)
    return before, cost(folder, asked_for(DAY)).computed


@pytest.mark.parametrize("quantity", ["metal_cost", "labour_cost", "machine_cost", "unit_cost", "price"])
def test_what_does_not_differ_is_run_once_and_comes_to_the_same_to_the_bit(folder, quantity):
    before, after = sides(folder)
    mixtures = Mixtures(paired(before.resolved, after.resolved))
    mixing = mixtures.mixing("price")
    mixed = mixtures.of(mixing, quantity)
    every = mixtures.graph
    inputs, keys = set(every.inputs), {key for key in mixing.pair.after.keys if key in mixing.pair.before.keys}
    for groups in (set(), {Group("exchange", "USD")}, set(mixed.changed)):
        whole = run(mixing.mixed(groups, inputs, keys), every, [quantity])[quantity][: len(mixing.pair.variants)]
        assert mixed(groups).tobytes() == whole.tobytes()
    assert len(mixed.moving.quantities) < len(every.quantities) / 2


def test_columns_that_are_at_hand_are_taken_where_the_rows_stand_as_they_are(folder):
    before, after = sides(folder)
    assert paired(before.resolved, after.resolved, after.columns).after is after.columns
    fewer = after.resolved.model_copy(update={"variants": after.resolved.variants[1:]})
    assert paired(fewer, after.resolved, after.columns).after is not after.columns


def test_a_rate_of_exchange_is_no_metal(folder):
    causes, *_ = causes_between(folder, ("metal_prices.csv", "USD,0.8641,", "USD,0.9000,"))
    assert list(causes.shares) == [Group("exchange", "USD")]
    assert Group("exchange", "USD").label == "USD rate"


def test_metals_are_told_apart(folder):
    silver = ("metal_prices.csv", "Ag,49.385,ozt", "Ag,60,ozt")
    gold = ("metal_prices.csv", "Au,4012.4,ozt", "Au,4100,ozt")
    causes, before, after = causes_between(folder, silver, gold)
    assert set(causes.shares) == {Group("metal", "Ag"), Group("metal", "Au")}
    assert_adds_up(causes)
    boats = causes.places["harbour-set", "brass"]  # of brass, without a silver post
    assert [share[boats] for share in causes.shares.values()] == [0, 0]


@pytest.fixture
def wharf(tmp_path):
    """Its fern pendant has a fern bail in it (spoil 0.02), and is in the tide set; anchor leaf has an anchor charm."""
    return shutil.copytree(alder_wharf(), tmp_path / "alder-wharf")


BAIL = "products/fern-bail.toml"
LONGER = (BAIL, "[steps.model]", '[steps."cut and file"]\nminutes = 8\n\n[steps.model]')  # 5 before


def told(causes: Causes, *variant: str) -> dict[Group, float]:
    """What a variant is told."""
    place = causes.places[variant]
    return {group: float(share[place]) for group, share in causes.shares.items() if share[place]}


def test_the_minutes_of_a_part_are_told_as_the_part_s(wharf):
    """A cut of 8 minutes in place of 5 in the bail: its own labour; in all that it is in, that of the bail in it."""
    causes, before, after = causes_between(wharf, LONGER)
    whole = dict(zip(causes.places, causes.after - causes.before, strict=True))
    in_it = Group("labour", "fern-bail")
    assert in_it.label == "fern-bail in it: labour"
    for sku, group in (("fern-bail", Group("labour")), ("fern-pendant", in_it), ("tide-set", in_it)):
        assert told(causes, sku, "sterling") == pytest.approx({group: whole[sku, "sterling"]}, abs=1e-12)
    # three minutes more at least, at what an hour of the bench pays; 1.02 bails go into a pendant
    pay = after["labour_rate"][[role.name for role in after.resolved.roles].index("bench")]
    assert whole["fern-bail", "sterling"] > 3 / 60 * pay
    assert whole["fern-pendant", "sterling"] >= 1.02 * whole["fern-bail", "sterling"] * (1 - 1e-9)
    assert told(causes, "anchor-leaf", "bronze") == {}
    np.testing.assert_allclose(causes.after, after["unit_cost"], rtol=1e-12)
    asked = causes_of_price(before.resolved, after.resolved)
    assert set(asked.shares) <= {Group("labour"), in_it}
    assert_adds_up(asked)


def test_parts_of_different_wholes_and_kinds_are_told_apart(wharf):
    """The bail's minutes and volume, the charm's metal, and how many bails go into a pendant: the whole's finding."""
    causes, before, after = causes_between(
        wharf,
        LONGER,
        (BAIL, "volume_cm3 = 0.041", "volume_cm3 = 0.050"),
        ("products/anchor-charm.toml", "metal_g = 2.9", "metal_g = 3.1"),
        ("products/fern-pendant.toml", "spoil = 0.02", "spoil = 0.05"),
    )
    bail = {Group("labour", "fern-bail"), Group("design", "fern-bail")}
    assert set(told(causes, "fern-pendant", "sterling")) == bail | {Group("findings")}
    assert set(told(causes, "anchor-leaf", "bronze")) == {Group("design", "anchor-charm")}
    assert set(told(causes, "anchor-charm", "sterling")) == {Group("design")}
    np.testing.assert_allclose(causes.before, before["unit_cost"], rtol=1e-12)
    np.testing.assert_allclose(causes.after, after["unit_cost"], rtol=1e-12)
    assert_adds_up(causes)


def test_a_step_that_many_parts_share_is_told_as_what_it_is(wharf):
    """Longer prints and fewer good ones: of the tide set that is two groups of each cast part; no part is named."""
    print_minutes = ("processes.toml", 'labour = "bench"\nminutes = 1.5', 'labour = "bench"\nminutes = 3')
    causes, _, after = causes_between(wharf, print_minutes, ("processes.toml", "good = 0.96", "good = 0.94"))
    assert set(causes.shares) == {Group("labour"), Group("good")}
    np.testing.assert_allclose(causes.after, after["unit_cost"], rtol=1e-12)
    assert_adds_up(causes)


def test_a_new_step_of_a_part_is_its_design(wharf):
    """Two minutes come into the bail alone, by a process of its own."""
    process = (wharf / "processes.toml").read_text(encoding="utf-8")
    cast = process[process.index("[[processes.cast]]") :]
    cast = cast[: cast.index("[[processes.", cast.rindex("[[processes.cast]]") + 5)]
    step = '[[processes.bail]]\nname = "stamp"\nper = "piece"\nlabour = "bench"\nminutes = 2\n\n'
    bails = cast.replace("processes.cast", "processes.bail")
    barrel = '[[processes.bail]]\nname = "barrel"\n'
    causes, *_ = causes_between(
        wharf,
        ("processes.toml", process, process + "\n" + bails.replace(barrel, step + barrel)),
        (BAIL, 'process = "cast"', 'process = "bail"'),
    )
    assert set(told(causes, "fern-bail", "sterling")) == {Group("design")}
    assert set(told(causes, "fern-pendant", "sterling")) == {Group("design", "fern-bail")}
    assert_adds_up(causes)


def test_a_new_step_is_design_and_so_is_all_that_it_uses(folder):
    """Ten minutes and two of a material come into the process: its labour and its material are a change of design."""
    after_it = '[[processes.cast]]\nname = "wash and cure"\n'
    step = (
        '[[processes.cast]]\nname = "stamp the sign"\nper = "set"\nlabour = "bench"\nminutes = 10\n'
        'uses = [{ material = "wax", quantity = 2 }]\n'
    )
    causes, before, after = causes_between(folder, ("processes.toml", after_it, step + after_it))
    assert set(causes.shares) == {Group("design")}
    assert_adds_up(causes)
    assert (causes.after - causes.before > 0).any()


def test_a_difference_that_only_formulas_explain_is_theirs(folder):
    resolved = cost(folder, asked_for(DAY)).computed.resolved
    now = causes_of_cost(resolved, resolved)
    published = {name: float(now.before[place]) - 0.25 for name, place in now.places.items()}
    causes = causes_of_cost(resolved, resolved, published)
    assert set(causes.shares) == {FORMULAS}
    np.testing.assert_allclose(causes.shares[FORMULAS], 0.25, atol=1e-9)


def test_every_input_and_every_key_belongs_to_a_group():
    for known in INPUTS.values():
        assert Group(kind_of(known.table, known.name), "x").label
    for table in TABLES.values():
        for key in table.keys:
            assert Group(kind_of(table.name, key), "x").label


def test_workshops_brought_side_by_side_have_the_same_shapes(folder):
    before = cost(folder, asked_for(DAY)).computed.resolved
    changed_file(folder, "processes.toml", 'name = "invest"', 'name = "fill with investment"')
    after = cost(folder, asked_for(DAY)).computed.resolved
    pair = paired(before, after)
    for name in INPUTS:
        assert pair.before.inputs[name].shape == pair.after.inputs[name].shape, name
    assert pair.one_sided["step"].any()
