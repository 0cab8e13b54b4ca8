"""Rows of metals, currencies and alloys: which quotes some variant needs, and which are in force."""

from __future__ import annotations

from datetime import date

from pricing.errors import Fault, Place
from pricing.folder.files import PRICES_FILE
from pricing.folder.prices.in_force import age_warning, exchange_problem
from pricing.folder.rows.resolving import Bench
from pricing.folder.rows.variants import VariantRows, alloys_in
from pricing.model.alloy import Alloy
from pricing.model.currency import number_of
from pricing.model.given import row_of
from pricing.model.metals import symbol_meant
from pricing.model.quote import Quote
from pricing.model.rows import AlloyRow, ContentRow, CurrencyRow, MetalRow
from pricing.units import GRAMS_PER

#: Before the name of a channel among the users of a currency; no metal is called so.
_CHANNEL = "channel "


def metal_and_currency_rows(
    bench: Bench, variants: VariantRows
) -> tuple[tuple[MetalRow, ...], tuple[CurrencyRow, ...]]:
    """Rows of the metals and currencies that some variant needs; what is missing becomes a fault."""
    stated, home = bench.folder.stated, bench.folder.stated.workshop.currency
    for quote in stated.quotes:
        if problem := exchange_problem(quote, home):
            column, said, mend = problem
            bench.fault(PRICES_FILE, (quote.line, column), said, mend)
    _warn_of_days_to_come(bench, [quote for quote in stated.quotes if quote.date > date.today()])
    needed = dict.fromkeys(metal for name in variants.alloys for metal in _metals_of(stated.alloys[name]))
    exchanged: dict[str, list[str]] = {}
    used: list[Quote] = []
    for metal in needed:
        priced = bench.quotes.metals.get(metal)
        if priced is None:
            days = [quote.date for quote in stated.quotes if quote.metal == metal and quote.per != "unit"]
            hint = f" (the first is of {min(days)})" if days else ""
            called = next((each.metal for each in stated.quotes if symbol_meant(each.metal) == metal), None)
            by = _shortened(_whose(bench, variants, metal))
            add = f"Add a line: date,{metal},price,per,currency,source."
            bench.faults.append(
                Fault(
                    Place(PRICES_FILE),
                    metal,
                    f"there is no quote on or before {bench.asked.as_of}{hint}; needed by {by}",
                    add if called is None else f'Write {metal} where the file says "{called}".',
                )
            )
            continue
        used.append(priced)
        if priced.currency != home:
            exchanged.setdefault(priced.currency, []).append(metal)
    for name, channel in stated.channels.items():
        if channel.currency is not None and channel.currency != home:
            exchanged.setdefault(channel.currency, []).append(f"{_CHANNEL}{name}")
    currencies = [CurrencyRow(name=home, exchange_rate=1.0, currency_number=number_of(home))]
    for currency, users in exchanged.items():
        rate = bench.quotes.exchange.get(currency)
        if rate is None:
            bench.faults.append(
                Fault(
                    Place(PRICES_FILE),
                    currency,
                    f"there is no exchange rate on or before {bench.asked.as_of}; {_used(users)}",
                    f"Add a line: date,{currency},price,unit,{home},source.",
                )
            )
            continue
        used.append(rate)
        currencies.append(CurrencyRow(name=currency, exchange_rate=rate.price, currency_number=number_of(currency)))
    _warn_of_age(bench, used)
    rows = tuple(
        row_of(MetalRow, priced, name=metal, grams_per_unit=GRAMS_PER[priced.per])
        for metal in needed
        if (priced := bench.quotes.metals.get(metal))
    )
    return rows, tuple(currencies)


def _whose(bench: Bench, variants: VariantRows, metal: str) -> list[str]:
    """The variants that need the quote of a metal."""
    alloys = bench.folder.stated.alloys
    return [
        f"{row.sku} in {row.alloy}"
        for row in variants.listed
        if any(metal in _metals_of(alloys[name]) for name in alloys_in(row))
    ]


def _used(users: list[str]) -> str:
    """What is in a currency: metals are quoted in it, channels sell in it."""
    channels = [user.removeprefix(_CHANNEL) for user in users if user.startswith(_CHANNEL)]
    metals = [user for user in users if not user.startswith(_CHANNEL)]
    said = [f"{_shortened(metals)} is quoted in it"] if metals else []
    return " and ".join([*said, *([f"{_shortened(channels)} sells in it"] if channels else [])])


def _warn_of_days_to_come(bench: Bench, quotes: list[Quote]) -> None:
    """One note for all lines that are dated after today, at the first of them."""
    if not quotes:
        return
    said, mend = f"{quotes[0].date} has not come yet", "It counts from that day on; correct it if it is a slip."
    if len(quotes) > 1:
        said += f", and {len(quotes)} lines in all are of days to come"
        mend = "Each counts from its day on; correct them if they are a slip."
    bench.warn(bench.folder.place(PRICES_FILE, (quotes[0].line, "date")), "date", said, mend)


def _warn_of_age(bench: Bench, used: list[Quote]) -> None:
    """One note for all quotes that are old, at the oldest of them."""
    said = age_warning(used, bench.asked.as_of, bench.folder.stated.workshop.stale_after_days)
    if said:
        oldest = min(used, key=lambda quote: quote.date)
        mend = "Add today's prices." if said[0].isdigit() else "Add today's price."
        bench.warn(bench.folder.place(PRICES_FILE, (oldest.line, "date")), "date", said, mend)


def _shortened(names: list[str], most: int = 4) -> str:
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def _metals_of(alloy: Alloy) -> tuple[str, ...]:
    """Names of the quotes that an alloy is valued by."""
    if alloy.priced_by == "quote":
        assert alloy.quote is not None  # the model asks for it
        return (alloy.quote,)
    return tuple(element for element in alloy.composition if element not in alloy.unpriced)


def alloy_row(name: str, alloy: Alloy, known: set[str]) -> AlloyRow:
    """The row of an alloy, its contents by element or, where a supplier quotes it, by that quote alone."""
    priced = _metals_of(alloy)
    contents: tuple[ContentRow, ...]
    if alloy.priced_by == "quote":
        (quote,) = priced
        metal = quote if quote in known else None
        contents = (ContentRow(element=quote, metal=metal, mass_fraction=1.0, is_priced=True, pays_as_scrap=True),)
    else:
        pays = priced if alloy.scrap_pays is None else alloy.scrap_pays
        contents = tuple(
            ContentRow(
                element=element,
                metal=element if element in priced and element in known else None,
                mass_fraction=float(fraction),
                is_priced=element in priced,
                pays_as_scrap=element in pays and element in priced,
            )
            for element, fraction in alloy.composition.items()
        )
    return row_of(AlloyRow, alloy, name=name, contents=contents)
