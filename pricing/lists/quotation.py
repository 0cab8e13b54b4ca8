"""The quotation for a commission: one design, alloys side by side, runs of several sizes, and a metal clause."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from pricing.costing import Costing, price_faults
from pricing.errors import Faults, UsageFault
from pricing.formulas.engine import compute
from pricing.lists.catalogue import Item, alloy_of, channel_for, code_of, collections
from pricing.lists.conditions import fineness_words, metal_basis, tax_words
from pricing.lists.letterhead import letterhead
from pricing.lists.number_habits import Habit
from pricing.lists.pictures import Pictures
from pricing.lists.rendering import Paper
from pricing.model.rows import Resolved
from pricing.studies.prices_out import quotes_in_force
from pricing.what_if import in_a_run, only, with_metal_at

#: Days for which a quotation holds that states no day.
VALID_DAYS = 14
#: How far the metal may have moved in the lines of the metal clause.
METAL_MOVES = (-0.20, -0.10, -0.05, 0.0, 0.05, 0.10, 0.20)
#: Alloys and sizes of a run that fit side by side.
MOST_ALLOYS, MOST_QUANTITIES = 3, 6


@dataclass(frozen=True)
class QuoteAsked:
    """What is quoted.

    `alloys` empty: all that the product is made in and sold in; `channel` None: the first, wholesale before retail, in
    which it is sold in all of them; `valid_until` None: 14 days from the day of the prices.
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


@dataclass(frozen=True)
class Quoted:
    """The engine's list prices: `[move][quantity][alloy]`, moves as in METAL_MOVES."""

    channel: str
    rows: tuple[int, ...]
    prices: tuple[tuple[tuple[float, ...], ...], ...]

    @property
    def today(self) -> tuple[tuple[float, ...], ...]:
        """Prices by quantity and alloy with the metal where it stands."""
        return self.prices[METAL_MOVES.index(0.0)]


def quoted(costing: Costing, asked: QuoteAsked) -> Quoted:
    """Prices of runs, each asked of the engine. Raises UsageFault for what cannot be quoted, Faults as `cost` does."""
    if not asked.quantities or min(asked.quantities) < 1:
        raise UsageFault("a quotation needs quantities of 1 or more. State --quantity.")
    if len(asked.quantities) > MOST_QUANTITIES or len(asked.alloys) > MOST_ALLOYS:
        raise UsageFault(f"at most {MOST_ALLOYS} alloys and {MOST_QUANTITIES} quantities fit on one quotation.")
    rows, channel = _rows_and_channel(costing, asked)
    base = only(costing.computed.resolved, rows)
    column = [row.name for row in base.channels].index(channel)
    return Quoted(
        channel,
        tuple(rows),
        tuple(
            tuple(
                _prices(costing, with_metal_at(in_a_run(base, quantity, asked.charge_design), 1 + move), column)
                for quantity in asked.quantities
            )
            for move in METAL_MOVES
        ),
    )


def _prices(costing: Costing, resolved: Resolved, column: int) -> tuple[float, ...]:
    computed = compute(resolved, costing.computed.graph)
    if faults := list(price_faults(costing.folder, computed)):
        raise Faults(faults)
    return tuple(float(price) for price in computed["price"][:, column])


def _rows_and_channel(costing: Costing, asked: QuoteAsked) -> tuple[list[int], str]:
    variants = costing.computed.resolved.variants
    made = [row for row, variant in enumerate(variants) if variant.sku == asked.sku]
    if asked.alloys:
        by_alloy = {variants[row].alloy: row for row in made}
        for alloy in asked.alloys:
            if alloy not in by_alloy:
                raise UsageFault(f"{asked.sku} is made in {', '.join(by_alloy)}; there is no {alloy} to quote.")
        made = [by_alloy[alloy] for alloy in asked.alloys]

    def lacks(name: str) -> Iterator[str]:
        for row in made:
            if not any(price.sold for price in variants[row].prices if price.channel == name):
                yield variants[row].alloy

    channels = costing.folder.stated.channels
    if asked.channel is not None:
        channel_for(costing, None, asked.channel)
        if missing := list(lacks(asked.channel)):
            made_in = ", ".join(missing)
            raise UsageFault(f"{asked.sku} in {made_in} is not sold in {asked.channel}. Name another --channel.")
        return made[:MOST_ALLOYS], asked.channel
    by_audience = sorted(channels, key=lambda name: channels[name].audience != "wholesale")
    channel = next((name for name in by_audience if not list(lacks(name))), None)
    if channel is None:
        raise UsageFault(f"no channel sells {asked.sku} in all of these alloys. Name one with --alloy.")
    return made[:MOST_ALLOYS], channel


def quotation(costing: Costing, asked: QuoteAsked, habit: Habit, pictures: Pictures | None) -> Paper:
    """The quotation as a sheet. Raises as `quoted` does."""
    found = quoted(costing, asked)
    stated = costing.folder.stated
    ((item,),) = (group.items for group in collections(costing, found.rows))
    as_of = costing.computed.resolved.as_of
    valid_until = asked.valid_until or as_of + timedelta(days=VALID_DAYS)
    if valid_until < as_of:
        raise UsageFault(f"the quotation would end on {valid_until}, before its prices begin on {as_of}.")
    picture = pictures.of(item.product, alloy_of(costing, found.rows[0])) if pictures else None
    head, shown = letterhead(costing)
    sold_as = item.product.sold_as or "each"
    channel = stated.channels[found.channel]
    facts = [
        ("For", asked.customer),
        ("Reference", asked.reference),
        ("Date", habit.date(as_of)),
        ("Valid until", habit.date(valid_until)),
        ("Terms", channel.terms),
    ]
    document = {
        "title": "Quotation",
        **head,
        "date": as_of.isoformat(),
        "paper": asked.paper or habit.paper,
        "facts": [(name, text) for name, text in facts if text],
        "name": item.product.name,
        "sku": item.product.sku,
        "picture": "piece.jpg" if picture else None,
        "parts": _parts(item),
        "each": "each" if sold_as == "each" else f"a {sold_as}",
        "sign": habit.sign,
        "alloys": [_alloy(costing, row, habit) for row in found.rows],
        "runs": [
            {
                "quantity": _counted(quantity, sold_as, habit),
                "prices": [(habit.figure(price), habit.figure(quantity * price)) for price in prices],
            }
            for quantity, prices in zip(asked.quantities, found.today, strict=True)
        ],
        "moves": [_move_words(move, habit) for move in METAL_MOVES],
        "today": METAL_MOVES.index(0.0),
        "clause": _clause(costing, found, asked.quantities, habit),
        "basis": metal_basis(costing, quotes_in_force(costing), found.rows, habit),
        "notes": [
            note
            for note in (
                "Making the design is charged to this order, whatever its size."
                if asked.charge_design
                else "Making the design is spread over all that are expected to be sold.",
                tax_words(channel, habit, "prices"),
                fineness_words(costing, found.rows),
            )
            if note
        ],
    }
    return Paper("quotation", document, {**shown, **({"piece.jpg": picture} if picture else {})})


def _parts(item: Item) -> str:
    """`2 × half, 1 × hook`, where it is more than one piece."""
    castings = item.product.castings or ()
    if len(castings) == 1 and castings[0].count == 1:
        return ""
    return ", ".join(f"{casting.count} × {casting.name}" for casting in castings)


def _alloy(costing: Costing, row: int, habit: Habit) -> dict[str, Any]:
    alloy = alloy_of(costing, row)
    return {
        "name": alloy.name,
        "mark": alloy.mark or "",
        "code": code_of(costing, row),
        "mass": habit.about(float(costing.computed["finished_g"][row])),
    }


def _counted(quantity: int, sold_as: str, habit: Habit) -> str:
    word = "piece" if sold_as == "each" else sold_as
    return f"{habit.number(quantity)} {word}{'' if quantity == 1 else 's'}"


def _clause(costing: Costing, found: Quoted, quantities: Sequence[int], habit: Habit) -> list[dict[str, Any]]:
    """For each alloy, one line for each quantity: the price at every move of the metal."""
    return [
        {
            "alloy": alloy_of(costing, row).name,
            "lines": [
                {
                    "quantity": habit.number(quantity),
                    "prices": _once([habit.figure(prices[run][alloy]) for prices in found.prices]),
                }
                for run, quantity in enumerate(quantities)
            ],
        }
        for alloy, row in enumerate(found.rows)
    ]


def _once(prices: list[str]) -> list[str]:
    """The prices at each move of the metal; one alone where it is the same at all of them."""
    return prices[:1] if len(set(prices)) == 1 else prices


def _move_words(move: float, habit: Habit) -> str:
    return f"{habit.percent(abs(move))} {'lower' if move < 0 else 'higher'}" if move else "as today"
