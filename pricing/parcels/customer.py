"""Metal that a customer brings: what is fine in it, what brings it to an alloy of the workshop, what it is credited at.

The credit is what it would bring as clean scrap, by the payout and fee of an alloy of the folder; the order is priced
as if all metal were bought.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from pricing.costing import Costing
from pricing.errors import UsageFault, did_you_mean
from pricing.formulas.by_itself import by_itself
from pricing.model.alloy import Alloy
from pricing.model.metals import PRECIOUS, WORDS
from pricing.parcels.refining import spot_price
from pricing.pouring.mixing import Brought, share_of, to_fineness

#: More is no parcel of old jewellery.
MOST_GRAMS = 100_000.0
_FINENESS = re.compile(r"(?:(?P<thousandths>[1-9][0-9]{2}(?:\.[0-9])?)|(?P<carats>[0-9]{1,2}(?:\.[0-9]+)?) ?(?:ct|k))")


@dataclass(frozen=True)
class CustomerMetal:
    """So many grams of an alloy of the folder, or of a fineness (parts of one); one of the two.

    Carats are of gold; what a fineness in thousandths is of, the alloys quoted say.
    """

    grams: float
    alloy: str | None
    fineness: float | None
    said: str
    is_carats: bool = False
    where: str = "--customer-metal"


@dataclass(frozen=True)
class TakenIn:
    """What a customer's metal comes to.

    `credit` is in the workshop's currency, by the scrap terms of the alloy `terms`; `brought` says for each alloy
    quoted (by its name, with what a set of it takes fresh) what makes it of the customer's metal.
    """

    grams: float
    title: str
    element: str
    fineness: float
    spot_per_g: float
    terms: str
    credit: float
    brought: tuple[tuple[str, float, Brought | None], ...]

    @property
    def fine_g(self) -> float:
        return self.grams * self.fineness

    @property
    def word(self) -> str:
        """gold, silver …"""
        return WORDS[self.element][0]


def metal_of(text: str, where: str = "--customer-metal") -> CustomerMetal:
    """`20:gold-9ct`, `20:375`, `20:9ct`; `where` it was said. Raises UsageFault for anything else."""
    amount, colon, what = (part.strip() for part in text.partition(":"))
    mend = "write grams and an alloy or a fineness, as 20:gold-9ct, 20:375 or 20:9ct."
    if not (colon and what and re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,3})?", amount)):
        raise UsageFault(f'{where} "{text}": {mend}')
    grams = float(amount)
    if not 0 < grams <= MOST_GRAMS:
        raise UsageFault(f'{where} "{text}": {amount} g is no parcel of old metal; {mend}')
    told = _FINENESS.fullmatch(what)
    if told is None:
        return CustomerMetal(grams, what, None, what, where=where)
    fineness = float(told["thousandths"]) / 1000 if told["thousandths"] else float(told["carats"]) / 24
    if not 0 < fineness <= 1:
        raise UsageFault(f'{where} "{text}": {what} is no fineness; {mend}')
    return CustomerMetal(grams, None, fineness, what, is_carats=told["carats"] is not None, where=where)


def taken_in(costing: Costing, rows: Sequence[int], metal: CustomerMetal) -> TakenIn:
    """What it comes to beside the variants in `rows`. Raises UsageFault where nobody can say of what metal it is."""
    alloys = costing.folder.stated.alloys
    variants = costing.computed.resolved.variants
    element, fineness, terms, title = _told(metal, [variants[row].alloy for row in rows], alloys, costing)
    spot = spot_price(costing, element)
    credit = by_itself("scrap_less_fee_per_g")(
        scrap_value_per_g=fineness * spot,
        scrap_payout=alloys[terms].scrap_payout,
        scrap_fee_per_g=alloys[terms].scrap_fee_per_g,
    )
    brought = []
    for row in rows:
        name = variants[row].alloy
        fresh = float(costing.computed["fresh_g"][row])
        brought.append((name, fresh, _brought(metal.grams, element, fineness, alloys[name])))
    return TakenIn(
        metal.grams, title, element, fineness, spot, terms, max(0.0, float(credit)) * metal.grams, tuple(brought)
    )


def _told(
    metal: CustomerMetal, quoted: Sequence[str], alloys: dict[str, Alloy], costing: Costing
) -> tuple[str, float, str, str]:
    """The element, its fineness, the alloy whose scrap terms hold, and how the metal is called."""
    if metal.alloy is not None:
        if metal.alloy not in alloys:
            raise UsageFault(f'{metal.where}: no alloy "{metal.alloy}". {did_you_mean(metal.alloy, alloys)}')
        alloy = alloys[metal.alloy]
        element = _noblest(alloy)
        if element is None:
            raise UsageFault(f"{metal.where}: {alloy.name} holds no precious metal; there is nothing to credit.")
        return element, share_of(alloy, element), metal.alloy, alloy.name
    assert metal.fineness is not None  # one of the two is said
    elements = {"Au"} if metal.is_carats else {_noblest(alloys[name]) for name in quoted} - {None}
    if len(elements) != 1:
        words = " or ".join(sorted(WORDS[each][0] for each in elements if each)) or "what"
        raise UsageFault(
            f"{metal.where}: is {metal.said} of {words}? Name an alloy of alloys.toml, or quote one alloy only."
        )
    (element,) = elements
    assert element is not None
    alike = [name for name, alloy in alloys.items() if _noblest(alloy) == element]
    if not alike:
        raise UsageFault(f"{metal.where}: no alloy of alloys.toml is of {WORDS[element][0]}: there are no scrap terms.")
    terms = min(alike, key=lambda name: abs(share_of(alloys[name], element) - metal.fineness))  # type: ignore[operator]
    return element, metal.fineness, terms, f"{metal.said} {WORDS[element][0]}"


def _noblest(alloy: Alloy) -> str | None:
    return next((element for element in PRECIOUS if element in alloy.composition), None)


def _brought(grams: float, element: str, fineness: float, wanted: Alloy) -> Brought | None:
    """What to add to bring it to an alloy; None where that is of another metal, or is the fine metal itself."""
    if _noblest(wanted) != element or share_of(wanted, element) >= 1 > fineness:
        return None
    return to_fineness(grams, element, fineness, share_of(wanted, element))
