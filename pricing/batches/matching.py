"""Whether a card fits the folder: its alloys, products, sizes and steps are there, and its figures are no slips."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from types import MappingProxyType
from typing import NamedTuple

from pricing.batches.balance import balance_of
from pricing.batches.model import Card, Pieces
from pricing.errors import did_you_mean
from pricing.folder.inherit import figures_of, inherited, pieces, steps_of
from pricing.folder.toml.places import KeyPath
from pricing.model.process import Step
from pricing.model.product import Product
from pricing.model.stated import Stated

#: More came out than went in, as a share of the charge: scales differ by less.
MOST_GAINED = 0.002
#: So much of a charge is missing that it was rather weighed wrong.
MOST_MISSING = 0.1
#: Castings are so many times as heavy as they should be, or as light: rather another count, or other pieces.
MOST_OFF = 1.5


class Wrong(NamedTuple):
    """Something in a card that does not fit: where in it, the problem and the mend."""

    path: KeyPath
    problem: str
    mend: str


def products_of(stated: Stated) -> Mapping[str, Product]:
    """Every product that can be poured, by every sku that it, or a size of it, is called by."""
    whole = inherited(stated.products)
    sized = {sku: piece.product for sku, piece in pieces(whole).items()}
    return {**sized, **whole}


def steps_in(stated: Stated, product: Product, alloy: str) -> tuple[Step, ...]:
    """The steps of a product in an alloy, with its own figures."""
    own = figures_of(product, alloy)
    return steps_of(stated.processes.get(own.process or "", ()), own, alloy, stated.alloys)


def mismatches(card: Card, stated: Stated) -> Iterator[Wrong]:
    """Everything in a card that the folder does not know."""
    products = products_of(stated)
    steps: dict[str, None] = {}
    for place, flask in enumerate(card.flasks):
        at: KeyPath = ("flasks", place)
        if flask.alloy not in stated.alloys:
            problem, mend = f'no alloy "{flask.alloy}"', did_you_mean(flask.alloy, stated.alloys)
            yield Wrong((*at, "alloy"), problem, mend)
            continue
        for row, each in enumerate(flask.pieces):
            here: KeyPath = (*at, "pieces", row)
            product = products.get(each.sku)
            if product is None:
                yield Wrong((*here, "sku"), f'no product "{each.sku}"', did_you_mean(each.sku, products))
                continue
            if flask.alloy not in (product.alloys or ()):
                problem = f"{each.sku} is not made in {flask.alloy}"
                yield Wrong((*here, "sku"), problem, did_you_mean(flask.alloy, product.alloys or ()))
                continue
            yield from _sizes(here, each, product)
            own = steps_in(stated, product, flask.alloy)
            steps |= dict.fromkeys(step.name for step in own)
            yield from _steps(here, each, own)
    for name in card.minutes if steps else ():
        if name not in steps:
            problem = f'no product of this batch has a step "{name}"'
            yield Wrong(("minutes", name), problem, did_you_mean(name, steps, most=40))


def _sizes(here: KeyPath, each: Pieces, product: Product) -> Iterator[Wrong]:
    made = product.sizes.made if product.sizes else ()
    if each.size is not None and each.size not in made:
        yield Wrong((*here, "size"), f'{each.sku} has no size "{each.size}"', did_you_mean(each.size, made))
    elif each.size is None and each.sku == product.sku and product.sizes and product.sizes.each_priced:
        yield Wrong((*here, "sku"), f"{each.sku} has sizes that are each priced", f"Say size: {did_you_mean('', made)}")


def _steps(here: KeyPath, each: Pieces, steps: tuple[Step, ...]) -> Iterator[Wrong]:
    names = [step.name for step in steps]
    told: list[tuple[KeyPath, str]] = [
        ((*here, key), name) for key in ("since", "up_to") if (name := getattr(each, key)) is not None
    ]
    told += [((*here, "rejected", name), name) for name in each.rejected]
    told += [((*here, "minutes", name), name) for name in each.minutes]
    unknown = [Wrong(path, f'{each.sku} has no step "{name}"', did_you_mean(name, names, most=40))
               for path, name in told if name not in names]  # fmt: skip
    yield from unknown
    if unknown:
        return
    first, last = counted(each, steps)
    if first > last:
        yield Wrong((*here, "up_to"), f'"{each.up_to}" is done before "{names[first]}"', "Name a later step.")
    for name, rejected in each.rejected.items():
        if rejected and not first <= names.index(name) <= last:
            problem = f'rejects at "{name}", and the steps from "{names[first]}" to "{names[last]}" are counted'
            mend = f'Say since = "{name}".' if names.index(name) < first else f'Say up_to = "{name}", or leave it out.'
            yield Wrong((*here, "rejected", name), problem, mend)


def counted(each: Pieces, steps: tuple[Step, ...]) -> tuple[int, int]:
    """The places of the first and the last step of these that a line of a card counts: from the pour, or as it says."""
    names = [step.name for step in steps]
    pour = next((place for place, step in enumerate(steps) if step.takes_metal), 0)
    first = names.index(each.since) if each.since is not None else pour
    return first, names.index(each.up_to) if each.up_to is not None else len(names) - 1


def slips(card: Card, today: date, casting_g: Mapping[tuple[str, str], float] = MappingProxyType({})) -> Iterator[str]:
    """What looks like a slip of the pen or the scale, a sentence each.

    `casting_g` is what one casting of each sku and alloy should weigh as cast, where that is known.
    """
    if card.day > today:
        yield f"{card.day} has not come yet"
    for place, flask in enumerate(card.flasks, 1):
        balance = balance_of(flask.alloy, [flask], None)
        which = f"flask {place}: " if len(card.flasks) > 1 else ""
        if balance.missing_share < -MOST_GAINED:
            yield (f"{which}{-balance.missing_g:,.2f} g more came out than the {balance.charge_g:,.2f} g of the charge")
        elif balance.missing_share > MOST_MISSING:
            yield f"{which}{balance.missing_g:,.2f} g of the {balance.charge_g:,.2f} g of the charge are missing"
        should = [each.started * casting_g.get((each.sku, flask.alloy), 0.0) for each in flask.pieces if not each.size]
        weighed = flask.castings_g + flask.rejected_g
        if should and len(should) == len(flask.pieces) and all(should):
            if not 1 / MOST_OFF <= weighed / sum(should) <= MOST_OFF:
                number = sum(each.started for each in flask.pieces)
                yield f"{which}{number} castings should weigh {sum(should):,.2f} g, and {weighed:,.2f} g were weighed"


def told(wrong: Iterable[Wrong]) -> list[str]:
    """The same as sentences."""
    return [f"{each.problem}. {each.mend}" for each in wrong]
