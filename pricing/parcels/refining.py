"""A refiner's lot: what scrap, filings and dust should settle at under the refiner's terms, and how short it came.

Fine content of the lot, each metal's payable share of it at the price in force, less the charges:
settlement = Σ fine grams × price per gram × paid − charges, charges = Σ fine ounces × charge_per_ozt + lot_charge, at
least minimum_charge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pricing.costing import Costing
from pricing.drawer.on_hand import on_hand
from pricing.errors import UsageFault
from pricing.folder.prices.in_force import in_force
from pricing.model.alloy import Alloy
from pricing.model.metals import PRECIOUS, WORDS, is_precious
from pricing.model.refiner import Refiner
from pricing.units import GRAMS_PER


@dataclass(frozen=True)
class Sent:
    """Metal of one alloy in a lot, in gram as it is weighed: clean scrap, or filings and dust (`is_lemel`)."""

    alloy: str
    grams: float
    is_lemel: bool = False


@dataclass(frozen=True)
class Settled:
    """One metal of a lot: fine grams, those that are paid for, what they bring and what refining them costs."""

    element: str
    fine_g: float
    price_per_g: float
    paid_g: float
    value: float
    charge: float


@dataclass(frozen=True)
class Settlement:
    """What a lot should settle at with one refiner, in the workshop's currency.

    `reckoned` is what the alloys' scrap and lemel prices (`alloys.toml`) give for the same metal; `unpaid` are precious
    metals in it that this refiner does not settle, in fine grams.
    """

    refiner: str
    title: str
    sent: tuple[Sent, ...]
    metals: tuple[Settled, ...]
    lot_charge: float
    minimum_charge: float
    reckoned: float
    unpaid: Mapping[str, float]
    too_small_by_g: float

    @property
    def grams(self) -> float:
        return sum(each.grams for each in self.sent)

    @property
    def value(self) -> float:
        return sum(each.value for each in self.metals)

    @property
    def charges(self) -> float:
        """All charges of the lot."""
        return max(self.minimum_charge, self.lot_charge + sum(each.charge for each in self.metals))

    @property
    def expected(self) -> float:
        """What should be paid; below 0 where the charges are more than the metal brings."""
        return self.value - self.charges

    def short_by(self, paid: float) -> float:
        """How much less than expected was paid; below 0 where it was more."""
        return self.expected - paid

    def content_paid(self, paid: float) -> float | None:
        """The share of the expected content that a payment comes to, were it the content that was short.

        None where nothing in it is paid for.
        """
        keeps = self.value - sum(each.charge for each in self.metals)
        if self.value <= 0 or keeps <= 0:
            return None
        by_metal = self.lot_charge + sum(each.charge for each in self.metals) >= self.minimum_charge
        share = (paid + self.lot_charge) / keeps if by_metal else (paid + self.minimum_charge) / self.value
        return max(0.0, share)


def fine_content(sent: Sequence[Sent], alloys: Mapping[str, Alloy], lemel_metal: float = 1.0) -> dict[str, float]:
    """Grams of each element in a lot; `lemel_metal` is the share of filings and dust that is metal."""
    found: dict[str, float] = {}
    for each in sent:
        composition = alloys[each.alloy].composition
        metal = each.grams * (lemel_metal if each.is_lemel else 1.0) / sum(composition.values())
        for element, share in composition.items():
            found[element] = found.get(element, 0.0) + metal * share
    return found


def settlement(costing: Costing, name: str, sent: Sequence[Sent]) -> Settlement:
    """What a lot should settle at with the refiner of this name. Raises UsageFault where a metal has no price."""
    stated = costing.folder.stated
    terms = stated.refiners[name]
    fine = fine_content(sent, stated.alloys, terms.lemel_metal)
    metals = tuple(
        _settled(element, fine[element], terms, spot_price(costing, element))
        for element in terms.metals
        if fine.get(element, 0.0) > 0
    )
    unpaid = {element: grams for element, grams in fine.items() if element in PRECIOUS and element not in terms.metals}
    return Settlement(
        name, terms.name, tuple(sent), metals, terms.lot_charge, terms.minimum_charge, reckoned(costing, sent), unpaid,
        max(0.0, terms.least_lot_g - sum(each.grams for each in sent)),
    )  # fmt: skip


def _settled(element: str, fine_g: float, terms: Refiner, price_per_g: float) -> Settled:
    metal = terms.metals[element]
    counts = fine_g >= metal.from_g
    paid_g = fine_g * metal.paid if counts else 0.0
    charge = fine_g / GRAMS_PER["ozt"] * metal.charge_per_ozt if counts else 0.0
    return Settled(element, fine_g, price_per_g, paid_g, paid_g * price_per_g, charge)


def spot_price(costing: Costing, element: str) -> float:
    """Price of a gram of a metal on the day of the costing, in the workshop's currency.

    Raises UsageFault where it has no quote, or its currency no rate, on or before that day.
    """
    stated, resolved = costing.folder.stated, costing.computed.resolved
    known = {row.name: place for place, row in enumerate(resolved.metals)}
    if element in known:
        return float(costing.computed["spot_per_g"][known[element]])
    quotes = in_force(stated.quotes, costing.asked.as_of)
    quote = quotes.metals.get(element)
    word = WORDS[element][0]
    if quote is None:
        raise UsageFault(
            f"{word} has no price on or before {costing.asked.as_of}, and there is some in it. "
            f"Add one: troytag metal {costing.folder.root} add {element} PRICE"
        )
    price = quotes.price_per_g(element, stated.workshop.currency)
    if price is None:
        raise UsageFault(f"{word} is quoted in {quote.currency}, which has no exchange rate. Add one.")
    return price


def reckoned(costing: Costing, sent: Sequence[Sent]) -> float:
    """What the costing counts for the same metal: scrap_price_per_g and lemel_price_per_g of its alloys."""
    computed = costing.computed
    places = {row.name: place for place, row in enumerate(computed.resolved.alloys)}
    names = {False: "scrap_price_per_g", True: "lemel_price_per_g"}
    return sum(each.grams * float(computed[names[each.is_lemel]][places[each.alloy]]) for each in sent)


def lot_in_drawer(costing: Costing, with_returned: bool = False) -> tuple[Sent, ...]:
    """What lies in the drawer for the refiner: filings and dust of precious alloys, and clean returns where wanted."""
    alloys = costing.folder.stated.alloys
    found = []
    for name, held in on_hand(costing.folder.root, costing.asked.as_of).items():
        if name in alloys and is_precious(alloys[name].composition):
            found += [Sent(name, held.returned_g)] if with_returned and held.returned_g > 0 else []
            found += [Sent(name, held.lemel_g, True)] if held.lemel_g > 0 else []
    return tuple(found)
