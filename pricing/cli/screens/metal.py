"""What `troytag metal` asks back and shows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from pricing.cli.screens import plots, screen
from pricing.errors import Faults, UsageFault
from pricing.folder.prices.in_force import age_warning
from pricing.folder.prices.moves import change
from pricing.folder.prices.read import MetalPrices
from pricing.folder.prices.slips import slips
from pricing.metal.changes import SPANS, Standing, prices_over
from pricing.model.currency import currencies
from pricing.model.metals import metal_meant
from pricing.model.quote import Quote
from pricing.shown import Shown, metal_named, percent, quoted_in, quoted_price

if TYPE_CHECKING:
    from pricing.metal.pull import Pulled
    from pricing.studies.repricing.would_move import WouldMove

NO_SOURCES = """\
workshop.toml names no source. Add one, for instance:

[sources.silver]
metal = "Ag"
per = "ozt"
currency = "USD"
file = "prices/silver.csv"          # or address = "https://…"
csv_column = "price"                # or json_path = "rates.Ag"
band = 0.2                          # refused where it moved by more than 20 %"""

#: Rows of a plot, and quotes below it.
PLOT_ROWS, LAST_QUOTES = 9, 8
LEAST_SPARKLINE = 6


def as_last_time(prices: MetalPrices, metal: str, per: str | None, currency: str | None) -> tuple[str, str]:
    """What the last quote of this metal was told in, for what was left out. Raises UsageFault where there is none."""
    last = next((quote for quote in reversed(prices.quotes) if quote.metal == metal), None)
    if last is not None:
        return per or last.per, currency or last.currency
    if metal in currencies() and per in (None, "unit"):
        return "unit", currency or prices.workshop.currency
    missing = [word for word, given in (("--per", per), ("--currency", currency)) if given is None]
    if missing:
        close = metal_meant(metal, {*prices.needed, *(quote.metal for quote in prices.quotes)} - {metal})
        meant = f' Did you mean "{close}"?' if close and metal not in prices.needed else ""
        example = f"--per ozt --currency {prices.workshop.currency}"
        raise UsageFault(f"{metal} has no quote yet.{meant} Say {' and '.join(missing)} too, as in {example}.")
    return per or "", currency or ""


def understood(read: Callable[[Mapping[str, str]], Quote], fields: Mapping[str, str]) -> Quote:
    """The quote that was typed; UsageFault for what is none."""
    try:
        return read(fields)
    except Faults as wrong:
        raise UsageFault("\n".join(f"{each.key}: {each.problem}. {each.mend}" for each in wrong.faults)) from None


def ask_about_slips(prices: MetalPrices, quote: Quote, number: str) -> None:
    """Raise UsageFault with everything about a typed price that looks like a slip."""
    found = list(slips(quote, prices.quotes, prices.needed, prices.workshop.currency, number))
    if found:
        raise UsageFault("\n".join(slip.asked("add --yes") for slip in found))


def added(prices: MetalPrices, quote: Quote, price: str, before: Quote | None) -> str:
    """What became of a typed price, in a line or two."""
    said = f"{metal_named(quote.metal)}: {price} {quoted_in(quote)} on {quote.date} is in metal_prices.csv."
    later = [other for other in prices.quotes if other.metal == quote.metal and other.date > quote.date]
    if later:
        newest = max(later, key=lambda other: other.date)
        return f"{said}\nThe quote of {newest.date} stays in force."
    moved = None if before is None else change(quote, before, prices.quotes, prices.workshop.currency)
    if before is None or moved is None:
        return said
    return f"{said}\nIt was {quoted_price(before)} {quoted_in(before)} on {before.date}: {signed(moved)} %."


def would_move(found: WouldMove, shown: Shown) -> None:
    """What a price would move that is not written yet."""
    console = screen.out()
    for sentence in filter(None, (found.costs_in_words, found.counted)):
        console.print(sentence)
    if found.moves:
        rows = [
            (
                each.sku,
                each.alloy,
                shown.channel(each.channel),
                shown.price(each.channel, each.before),
                shown.price(each.channel, each.after),
                signed(each.by),
            )
            for each in found.moves
        ]
        console.print()
        console.print(screen.table(("piece", "alloy", "channel", "now", "then", "%"), rows, left=3))
    console.print("\nNothing was written.")


def signed(fraction: float | None) -> str:
    """A change in per cent, with its sign and without the word."""
    return percent(fraction, 1, signed=True).removesuffix(" %")


def all_of_them(found: Sequence[Standing], prices: MetalPrices) -> None:
    """One line each: price, age, changes, and the past year as a line of blocks."""
    heads = ["", "price", "in", "age", *(f"{word} %" for word in SPANS)]
    rows = [
        [
            metal_named(standing.quote.metal),
            quoted_price(standing.quote),
            f"{standing.quote.currency}/{standing.quote.per}".removesuffix("/unit"),
            f"{standing.age_days} d",
            *(signed(standing.changes[word]) for word in SPANS),
        ]
        for standing in found
    ]
    console = screen.out()
    widths = [max(len(row[place]) for row in [heads, *rows]) for place in range(len(heads))]
    places = console.width - sum(width + 2 for width in widths)
    if places >= LEAST_SPARKLINE:
        heads.append("a year")
        for row, standing in zip(rows, found, strict=True):
            row.append(plots.sparkline(_over_a_year(standing, prices, min(places, 24))))
    table = screen.table(heads, rows)
    table.columns[2].justify = table.columns[-1].justify = "left"
    console.print(table)


def one(standing: Standing, prices: MetalPrices) -> None:
    """One metal: where it stands, a plot of the past year, and the last quotes."""
    console, quote = screen.out(), standing.quote
    age = "today" if not standing.age_days else f"{standing.age_days} days old"
    console.print(
        f"{metal_named(quote.metal)}: {quoted_price(quote)} {quoted_in(quote)}, {quote.date} ({age})", style="bold"
    )
    moved = [f"{signed(standing.changes[word])} % in a {word}" for word in SPANS if standing.changes[word] is not None]
    if moved:
        console.print(", ".join(moved))
    values = _over_a_year(standing, prices, max(20, min(console.width, 80) - 12))
    known = [value for value in values if value is not None]
    high, low = (quoted_price(quote.model_copy(update={"price": edge})) for edge in (max(known), min(known)))
    width = max(len(high), len(low))
    console.print()
    lines = plots.columns(values, PLOT_ROWS)
    for place, line in enumerate(lines):
        label = high if place == 0 else low if place == len(lines) - 1 else ""
        console.print(f"{label:>{width}} {line}", no_wrap=True, crop=True)
    first = standing.as_of - timedelta(days=SPANS["year"])
    console.print(f"{'':>{width}} {first}{str(standing.as_of):>{len(values) - len(str(first))}}")
    own = [each for each in prices.quotes if each.metal == quote.metal and each.date <= standing.as_of]
    own = sorted(own, key=lambda each: each.date)[-LAST_QUOTES:]
    console.print()
    table = screen.table(
        ("date", "price", "in", "source"),
        [(each.date, quoted_price(each), quoted_in(each), each.source) for each in reversed(own)],
    )
    table.columns[2].justify = table.columns[3].justify = "left"
    table.columns[3].no_wrap = False
    console.print(table)


def _over_a_year(standing: Standing, prices: MetalPrices, places: int) -> list[float | None]:
    first = standing.as_of - timedelta(days=SPANS["year"])
    return prices_over(prices.quotes, standing.quote, first, standing.as_of, places)


def tell_ages(found: Sequence[Standing], prices: MetalPrices) -> None:
    stale = prices.workshop.stale_after_days
    told = age_warning([each.quote for each in found], found[0].as_of, stale)
    screen.advise([told] if told else [])


def record(standing: Standing, prices: MetalPrices, with_history: bool) -> dict[str, Any]:
    """One metal for `--json` and `--csv`; changes are fractions, None where there is nothing to compare with."""
    quote = standing.quote
    made: dict[str, Any] = {
        "metal": quote.metal,
        "price": quote.price,
        "per": quote.per,
        "currency": quote.currency,
        "date": quote.date.isoformat(),
        "age_days": standing.age_days,
        **{f"change_{word}": standing.changes[word] for word in SPANS},
        "source": quote.source,
    }
    if with_history:
        own = [each for each in prices.quotes if each.metal == quote.metal and each.date <= standing.as_of]
        own = sorted(own, key=lambda each: each.date)
        keys = ("price", "per", "currency", "source")
        made["history"] = [{"date": each.date.isoformat(), **{key: getattr(each, key) for key in keys}} for each in own]
    return made


def pulled(found: Sequence[Pulled], dry_run: bool) -> None:
    """A line for each source that gave a price; what was refused goes to stderr, with its number."""
    new = 0
    for each in found:
        if each.quote is None:
            continue
        moved = "" if each.moved is None else f" ({signed(each.moved)} %)"
        told = f"{metal_named(each.quote.metal)} {each.number} {quoted_in(each.quote)}, {each.quote.date}{moved}"
        said = f"{each.name}: {told}"
        print(f"{said}, is there already" if each.known else said)
        new += not each.known
    for each in found:
        if each.fault is not None:
            screen.err().print(f"{each.name}: {each.fault.problem}. {each.fault.mend}")
    lines = f"{new} {'price' if new == 1 else 'prices'}"
    print(f"{lines} would be added; nothing was written." if dry_run else f"{lines} added to metal_prices.csv.")


def pulled_record(each: Pulled, dry_run: bool) -> dict[str, Any]:
    """One source for `--json`."""
    quote = each.quote
    return {
        "source": each.name,
        "metal": quote.metal if quote else None,
        "price": quote.price if quote else None,
        "per": quote.per if quote else None,
        "currency": quote.currency if quote else None,
        "date": quote.date.isoformat() if quote else None,
        "change": each.moved,
        "written": quote is not None and not each.known and not dry_run,
        "fault": f"{each.fault.problem}. {each.fault.mend}" if each.fault else None,
    }
