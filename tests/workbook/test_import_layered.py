"""Where a shared figure ends up: afterwards every variant holds what was wanted, and nobody else is moved."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from pricing.workbook.back.layered import Shared, Slot, Variant, settle

ALLOYS = ("brass", "sterling")
#: A product, a size of it, a size of that, and one that stands alone.
CHAINS = {"knob": ("knob",), "large": ("large", "knob"), "huge": ("huge", "large", "knob"), "ring": ("ring",)}
CAST, SAWN = Shared("processes.toml", ("cast", "minutes")), Shared("processes.toml", ("sawn", "minutes"))
VARIANTS = tuple(Variant(sku, alloy) for sku in CHAINS for alloy in ALLOYS)
SLOTS = tuple(Slot(sku, alloy) for sku in CHAINS for alloy in (None, *ALLOYS))
FIGURES = st.integers(1, 4)
BASES = {CAST: 10, SAWN: 20}


def shared(sku: str) -> Shared:
    return SAWN if sku == "ring" else CAST


def holds(slots, bases) -> dict[Variant, int]:
    """What every variant holds, by the rule of the folder: figures in its alloy along the chain, then the others."""
    found = {}
    for variant in VARIANTS:
        chain = CHAINS[variant.sku]
        places = [Slot(sku, variant.alloy) for sku in chain] + [Slot(sku, None) for sku in chain]
        found[variant] = next((slots[place] for place in places if place in slots), bases[shared(variant.sku)])
    return found


def settled(slots, wanted):
    """The figures to be stated, and what all variants hold with them."""
    told = list(settle(wanted, holds(slots, BASES), slots, CHAINS.__getitem__, shared))
    slots, bases = dict(slots), dict(BASES)
    for each in told:
        (bases if isinstance(each.where, Shared) else slots)[each.where] = each.value
    return told, holds(slots, bases)


@given(st.dictionaries(st.sampled_from(SLOTS), FIGURES), st.dictionaries(st.sampled_from(VARIANTS), FIGURES))
def test_every_variant_holds_what_was_wanted_and_no_other_moves(slots, typed):
    wanted = {**holds(slots, BASES), **typed}
    told, after = settled(slots, wanted)
    assert after == wanted
    if all(holds(slots, BASES)[variant] == value for variant, value in typed.items()):
        assert told == []


@given(st.dictionaries(st.sampled_from(SLOTS), FIGURES), st.sampled_from(VARIANTS))
def test_one_row_never_changes_what_others_share(slots, variant):
    """One typed row of a process that several products have: it stands in a product's file."""
    told, _ = settled(slots, {**holds(slots, BASES), variant: 9})
    assert all(each.where != CAST for each in told)


def test_the_process_changes_where_all_who_take_it_from_there_agree():
    wanted = {variant: 7 if variant.sku != "ring" else 20 for variant in VARIANTS}
    told, _ = settled({}, wanted)
    assert [(each.where, each.value) for each in told] == [(CAST, 7)]


def test_a_cousin_that_was_not_changed_keeps_its_figure_as_its_own():
    slots = {Slot("knob", None): 3}
    wanted = {**holds(slots, BASES), Variant("knob", "brass"): 5, Variant("knob", "sterling"): 5}
    told, _ = settled(slots, wanted)
    assert [(each.where, each.value, each.kept) for each in told] == [
        (Slot("knob", None), 5, False),
        (Slot("large", None), 3, True),
    ]  # huge takes it from large


def test_alike_in_all_alloys_stands_once_and_otherwise_in_the_alloy():
    both = {**holds({}, BASES), Variant("large", "brass"): 5, Variant("large", "sterling"): 5}
    told, _ = settled({Slot("huge", None): 10}, both)
    assert [(each.where, each.value) for each in told] == [(Slot("large", None), 5)]
    one = {**holds({}, BASES), Variant("huge", "brass"): 5}
    told, _ = settled({}, one)
    assert [(each.where, each.value) for each in told] == [(Slot("huge", "brass"), 5)]
