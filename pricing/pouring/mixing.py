"""Alloying by the balance: fine metal to bring an alloy up, base metal to bring it down, a whole recipe by element."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pricing.errors import UsageFault, did_you_mean
from pricing.model.alloy import Alloy
from pricing.model.metals import PRECIOUS, WORDS
from pricing.pouring.model import formula
from pricing.pouring.rooms import button_of, charge


@dataclass(frozen=True)
class Brought:
    """What brings metal to a fineness: so much of an element, fine, or of metal that holds none of it."""

    element: str
    before: float
    wanted: float
    add_fine_g: float
    add_base_g: float
    comes_to_g: float


def brought_to(own_g: float, before: Alloy, wanted: Alloy) -> Brought:
    """What to add to metal of one alloy so that it has the fineness of another.

    The fineness is the share of the noblest metal that is in both. Raises UsageFault where there is none.
    """
    element = next((each for each in PRECIOUS if each in before.composition and each in wanted.composition), None)
    if element is None:
        raise UsageFault(
            f"{before.name} and {wanted.name} have no precious metal in common: neither can be brought to the other."
        )
    return to_fineness(own_g, element, share_of(before, element), share_of(wanted, element))


def to_fineness(own_g: float, element: str, have: float, want: float) -> Brought:
    """What to add to metal of one fineness so that it has another. Raises UsageFault for fine metal."""
    if have == want:
        return Brought(element, have, want, 0.0, 0.0, own_g)
    if want == 1:
        raise UsageFault(f"no addition makes fine {WORDS[element][0]} of an alloy: that is a refiner's work.")
    if have < want:
        fine = float(formula("fine_to_add_g")(own_g=own_g, own_fineness=have, wanted_fineness=want, added_fineness=1.0))
        return Brought(element, have, want, fine, 0.0, own_g + fine)
    base = float(formula("base_to_add_g")(own_g=own_g, own_fineness=have, wanted_fineness=want))
    return Brought(element, have, want, 0.0, base, own_g + base)


def recipe(own_g: float, before: Alloy, wanted: Alloy) -> dict[str, float]:
    """Grams of each element that make exactly the wanted alloy of the old one: the least that does, nothing taken out.

    Raises UsageFault where the old one holds an element that the wanted one does not.
    """
    foreign = [element for element in before.composition if element not in wanted.composition]
    if foreign:
        raise UsageFault(
            f"{wanted.name} holds no {', '.join(foreign)}, and {before.name} does: nothing added mends that."
        )
    have = {element: own_g * share_of(before, element) for element in before.composition}
    whole = max(grams / share_of(wanted, element) for element, grams in have.items())
    return {
        element: max(0.0, whole * share_of(wanted, element) - have.get(element, 0.0)) for element in wanted.composition
    }


def share_of(alloy: Alloy, element: str) -> float:
    """The share of an element, the whole composition taken as 1."""
    return alloy.composition[element] / sum(alloy.composition.values())


def charge_for_tree(tree_g: float, tree_density: float, alloy: Alloy, button_cm3: float = 0.0) -> float:
    """Metal to weigh, in gram, for a sprued tree weighed in wax or resin, with the button and what the melt loses.

    `tree_density` in g/cm3 is the wax's or the resin's own; the trade's rule takes 1.0.
    """
    metal = formula("weighed_tree_g")(tree_pattern_g=tree_g, tree_pattern_density=tree_density, density=alloy.density)
    return charge(float(metal), button_of(button_cm3, alloy.density), alloy.melt_loss)


def alloy_named(alloys: Mapping[str, Alloy], name: str) -> Alloy:
    """An alloy of the folder. Raises UsageFault for one that is not there."""
    if name not in alloys:
        raise UsageFault(f'no alloy "{name}". {did_you_mean(name, alloys)}')
    return alloys[name]
