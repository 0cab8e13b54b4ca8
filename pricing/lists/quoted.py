"""What a quotation is asked for and what is found for it: the words of the command and the page, and the offers."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from pricing.costing import Costing
from pricing.errors import UsageFault, did_you_mean
from pricing.lists.catalogue import channel_for
from pricing.model.base import MOST_MONEY
from pricing.model.currency import minor_unit_digits
from pricing.parcels.customer import CustomerMetal, TakenIn, taken_in
from pricing.studies.prices_out import PricesOut
from pricing.studies.quantity.lots import lots
from pricing.studies.quantity.quoting import NO_LADDERS, Ladder, Offers, offered, offered_if_metal_moves

#: How far the metal may have moved in the lines of the metal clause.
METAL_MOVES = (-0.20, -0.10, -0.05, 0.0, 0.05, 0.10, 0.20)
#: What is quoted for where nobody says.
QUANTITIES = (10, 25, 50)
#: Alloys, sizes of a run and extras that fit on one quotation.
MOST_ALLOYS, MOST_QUANTITIES, MOST_EXTRAS = 3, 6, 8
#: Discounts hold for every lot up to this, or up to the largest that is quoted.
DISCOUNTS_UP_TO = 100
#: A larger order is no order of a small workshop.
MOST_SETS = 999_999
#: Signs of a line of the paper.
LONGEST = 120


@dataclass(frozen=True)
class Extra:
    """A line besides the pieces, once for the order: what for, and how much, in the channel's currency.

    A credit, for metal that the customer brings, is below 0.
    """

    label: str
    amount: float


@dataclass(frozen=True)
class QuoteAsked:
    """What is quoted.

    `alloys` empty: all that the product is made in and sold in; `channel` None: the first, wholesale before retail, in
    which it is sold in all of them; `valid_until` None: 14 days from the day of the prices. A `number` of None is left
    out of the paper. With `discounts` what comes off the price in force for more is what keeps its margin
    (`studies.lots.Lots.ladder`), and where there are no `quantities` those from which more comes off are quoted.
    """

    sku: str
    quantities: tuple[int, ...]
    alloys: tuple[str, ...] = ()
    channel: str | None = None
    charge_design: bool = False
    customer: str | None = None
    reference: str | None = None
    valid_until: date | None = None
    paper: str | None = None
    number: str | None = None
    delivery: str | None = None
    extras: tuple[Extra, ...] = ()
    metal: CustomerMetal | None = None
    discounts: bool = False


@dataclass(frozen=True)
class Quoted:
    """The offers of each alloy, rising by quantity, and the prices if the metal moves.

    `rows` are the places of the variants, `offers` theirs in that order; `moved` holds prices by
    `[move][quantity][row]` with moves as in METAL_MOVES; `left_out` are alloys that do not fit on the paper.
    """

    channel: str
    rows: tuple[int, ...]
    offers: tuple[Offers, ...]
    moved: tuple[tuple[tuple[float, ...], ...], ...]
    extras: tuple[Extra, ...]
    left_out: tuple[str, ...] = ()
    metal: TakenIn | None = None

    @property
    def currency(self) -> str:
        """The channel's."""
        return self.offers[0].currency

    @property
    def extra(self) -> float:
        """All extras together."""
        return math.fsum(extra.amount for extra in self.extras)


def quoted(out: PricesOut, asked: QuoteAsked) -> Quoted:
    """The offers and the metal clause. Raises UsageFault for what cannot be quoted, Faults as `offered` does."""
    costing = out.asked
    if len(set(asked.quantities)) > MOST_QUANTITIES or len(asked.alloys) > MOST_ALLOYS:
        raise UsageFault(f"at most {MOST_ALLOYS} alloys and {MOST_QUANTITIES} quantities fit on one quotation.")
    if len(asked.extras) > MOST_EXTRAS:
        raise UsageFault(f"at most {MOST_EXTRAS} extras fit on one quotation.")
    rows, channel = _rows_and_channel(costing, asked)
    rows, more = rows[:MOST_ALLOYS], rows[MOST_ALLOYS:]
    quantities, ladders = by_discounts(out, rows, channel, asked) if asked.discounts else (asked.quantities, NO_LADDERS)
    how = (asked.charge_design, out.published, ladders)
    offers = offered(costing, rows, channel, quantities, *how)
    _whole_coins(asked.extras, offers[0].currency)
    moved = offered_if_metal_moves(costing, rows, channel, quantities, METAL_MOVES, *how)
    left_out = tuple(costing.computed.resolved.variants[row].alloy for row in more)
    metal = taken_in(costing, rows, asked.metal) if asked.metal else None
    extras = (*asked.extras, *([_credit(costing, rows[0], channel, metal)] if metal else ()))
    return Quoted(channel, tuple(rows), offers, moved, extras, left_out, metal)


def by_discounts(
    out: PricesOut, rows: Sequence[int], channel: str, asked: QuoteAsked
) -> tuple[tuple[int, ...], tuple[Ladder, ...]]:
    """The quantities to quote, those asked for or the rungs, and the ladder of each of the rows.

    Raises UsageFault where a price is in force nowhere or no lot keeps its margin.
    """
    variants, up_to = out.asked.computed.resolved.variants, max((DISCOUNTS_UP_TO, *asked.quantities))
    ladders = [
        lots(out, variants[row].sku, variants[row].alloy, channel, up_to, asked.charge_design).ladder for row in rows
    ]
    rungs = sorted({rung.quantity for ladder in ladders for rung in ladder})
    if not rungs:
        raise UsageFault(
            f"no lot of {asked.sku} up to {up_to} keeps the margin of its price in force: quote without it."
        )
    every = -(-len(rungs) // MOST_QUANTITIES)
    return asked.quantities or tuple(reversed(rungs[::-1][::every])), tuple(ladders)


def _credit(costing: Costing, row: int, channel: str, metal: TakenIn) -> Extra:
    """What the customer's metal takes off the order, in whole coins of the channel's currency, rounded down."""
    column = costing.column(channel)
    coins = 10.0 ** minor_unit_digits(costing.computed.resolved.channels[column].currency)
    rate = float(costing.computed["channel_rate"][row, column])
    amount = math.floor(metal.credit / rate * coins + 1e-6) / coins
    grams = f"{metal.grams:,.2f} g of {metal.title}"
    return Extra(f"Your metal taken in: {grams}, {metal.fine_g:,.2f} g of fine {metal.word}", -amount)


def _rows_and_channel(costing: Costing, asked: QuoteAsked) -> tuple[list[int], str]:
    """Where the variants stand, and whose policy prices them: a channel that sells every one."""
    variants, channels = costing.computed.resolved.variants, costing.folder.stated.channels
    made = {each.alloy: row for row, each in enumerate(variants) if each.sku == asked.sku}
    if not made:
        sizes = list(dict.fromkeys(each.sku for each in variants if each.product == asked.sku))
        if sizes:
            raise UsageFault(f"each size of {asked.sku} has a price of its own. Quote one: {', '.join(sizes)}.")
        known = did_you_mean(asked.sku, costing.folder.goods)
        raise UsageFault(f'there is no product "{asked.sku}". {known}')
    for alloy in asked.alloys:
        if alloy not in made:
            raise UsageFault(f"{asked.sku} is made in {', '.join(made)}; there is no {alloy} to quote.")
    wanted = [made[alloy] for alloy in dict.fromkeys(asked.alloys)] or list(made.values())

    def sold(name: str) -> list[int]:
        return [row for row in wanted if name in variants[row].sold_in]

    if asked.channel is not None:
        channel_for(costing, None, asked.channel)
        found = sold(asked.channel)
        missing = [variants[row].alloy for row in wanted if row not in found]
        if missing and (asked.alloys or not found):
            raise UsageFault(
                f"{asked.sku} in {', '.join(missing)} is not sold in {asked.channel}. Name another channel."
            )
        return found, asked.channel
    by_audience = sorted(channels, key=lambda name: channels[name].audience != "wholesale")
    channel = next((name for name in by_audience if len(sold(name)) == len(wanted)), None)
    if channel is None:
        raise UsageFault(f"no channel sells {asked.sku} in all of these alloys. Name fewer alloys, or the channel.")
    return wanted, channel


# ---- the words of the command and of the page


def quantities_of(words: Iterable[str], several: str, usual: tuple[int, ...] = QUANTITIES) -> tuple[int, ...]:
    """Quantities from their words, the `usual` ones where there is none; `several` shows how several are written.

    Raises UsageFault for what is none.
    """
    found = []
    for word in words:
        if not re.fullmatch(r"[0-9]{1,6}", word) or int(word) < 1:
            raise UsageFault(
                f'"{word}" is no quantity: write a whole number from 1 to {MOST_SETS}; several as {several}.'
            )
        found.append(int(word))
    return tuple(dict.fromkeys(found)) or usual


def extras_of(lines: Iterable[str]) -> tuple[Extra, ...]:
    """Extras from lines such as `sizing=15`. Raises UsageFault for what is none."""
    return tuple(_extra(line) for line in lines if line.strip())


def _extra(line: str) -> Extra:
    label, sign, text = (part.strip() for part in line.rpartition("="))
    if not sign or not label:
        raise UsageFault(f'"{line.strip()}" is no extra: write what for and how much, as sizing=15.')
    if not re.fullmatch(r"[0-9]{1,12}(\.[0-9]{1,6})?", text) or float(text) > MOST_MONEY:
        raise UsageFault(f'"{text}" is no amount for {label}: write it as {label}=15 or {label}=15.50.')
    return Extra(line_of(label, "an extra") or "", float(text))


def _whole_coins(extras: Sequence[Extra], currency: str) -> None:
    digits = minor_unit_digits(currency)
    for extra in extras:
        if abs(round(extra.amount, digits) - extra.amount) > 10.0 ** -(digits + 3):
            raise UsageFault(
                f"{extra.label}={extra.amount:g}: {currency} is paid in {digits or 'no'} decimals. Round it."
            )


def line_of(text: str | None, what: str) -> str | None:
    """A text for one line of the paper, blanks of all kinds as one; None for none. Raises UsageFault for a long one."""
    found = " ".join((text or "").split())
    if len(found) > LONGEST:
        raise UsageFault(f"{what} has {len(found)} signs; {LONGEST} fit on the paper.")
    return found or None


def number_by_clock(now: datetime) -> str:
    """`20261126-1547`: the number of a quotation that is given none, by the minute in which it is written.

    Nothing is kept in the folder for it, and numbers rise.
    """
    return f"{now:%Y%m%d-%H%M}"
