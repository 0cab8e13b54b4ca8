"""What the bench weighs beside the cost model's own quantities: powder round a tree, metal by a weighed tree, alloying.

Quantities as those of the cost model, with unit and source; `by_itself` of `pricing.pouring.model` computes them.
"""

from pricing.words import maximum, minutes_per_hour, parts_of_powder


def powder_beside_tree_g(flask_powder_g, flask_cm3, tree_cm3) -> "flask":
    """Investment powder that fills a flask in which a tree stands.

    Unit: g
    Why: where the tree is there is no investment; costing takes the empty flask, the scale need not.
    """
    return flask_powder_g * maximum(0, 1 - tree_cm3 / flask_cm3)


def water_for_powder_g(powder_beside_tree_g, water_per_100) -> "flask":
    """Water for that powder.

    Unit: g
    Source: suppliers state water by weight per 100 of powder.
    """
    return powder_beside_tree_g * water_per_100 / parts_of_powder


def weighed_tree_g(tree_pattern_g, tree_pattern_density, density) -> "alloy":
    """Metal of a tree whose sprued pattern was weighed: pieces with their sprues, without base and button.

    Unit: g
    Source: wax-to-metal rule of the trade: wax grams by the metal's specific gravity, over the wax's own if known.
    """
    return tree_pattern_g / tree_pattern_density * density


def fine_to_add_g(own_g, own_fineness, wanted_fineness, added_fineness) -> "alloy":
    """Finer metal that brings an alloy up to a fineness.

    Unit: g
    Source: alligation: what is lacking in the old mass is what the added metal is finer than wanted.
    """
    return own_g * (wanted_fineness - own_fineness) / (added_fineness - wanted_fineness)


def base_to_add_g(own_g, own_fineness, wanted_fineness) -> "alloy":
    """Metal without any of the fine one that brings an alloy down to a fineness.

    Unit: g
    Source: alligation: the fine metal stays the same and is a smaller share of more.
    """
    return own_g * (own_fineness / wanted_fineness - 1)


def run_kwh(power_kw, duty, run_minutes) -> "machine":
    """Energy of one run of a machine.

    Unit: kWh
    Why: rated power by the share of it that is drawn, by hours.
    """
    return power_kw * duty * run_minutes / minutes_per_hour
