"""What lies between the files: names that must exist, and rules that bind several tables.

Every check is a function from what was read to faults or warnings. Where a thing was refused already, or
its file could not be read, nothing is said about it a second time. Products have a module of their own.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePosixPath

from pricing.errors import Fault, Place, did_you_mean, nearest
from pricing.folder.checks.copies import copies_warnings
from pricing.folder.checks.densities import density_doubt, density_mend
from pricing.folder.checks.doubts import doubt_faults, doubt_warnings
from pricing.folder.checks.named_files import file_problem
from pricing.folder.checks.names import keystone_faults, step_name_faults, unknown
from pricing.folder.checks.on_top import on_top_warnings
from pricing.folder.checks.products import file_faults, product_faults, product_warnings
from pricing.folder.files import ALLOYS_FILE, CHANNELS_FILE, PRICES_FILE, PROCESSES_FILE, WORKSHOP_FILE
from pricing.folder.gathered import Parts
from pricing.folder.prices.slips import newest_slips, valued_by
from pricing.folder.product_files import products_folder_warnings
from pricing.folder.toml.places import KeyPath
from pricing.model.channel import Channel
from pricing.model.currency import minor_unit_digits
from pricing.model.workshop import LOGO_ENDINGS
from pricing.shown import percent

_HAIR = 1e-9
#: From this fraction of a price on a fee is a commission: payment and listing fees are far smaller.
COMMISSION = 0.25


def faults(parts: Parts) -> Iterator[Fault]:
    """Everything between the files that is wrong."""
    yield from _contact_faults(parts)
    yield from _flask_faults(parts)
    yield from _process_faults(parts)
    yield from _channel_faults(parts)
    yield from product_faults(parts)
    yield from _quote_faults(parts)
    yield from doubt_faults(parts)


def faults_of_the_day(parts: Parts) -> Iterator[Fault]:
    """Those of them that hang on quotes, and on what lies in the folder besides what was read."""
    yield from _quote_faults(parts)
    yield from _contact_faults(parts)
    for sku, product in parts.products.items():
        yield from file_faults(parts, parts.documents.product_files[sku], product)


def warnings(parts: Parts) -> Iterator[Fault]:
    """Everything between the files that is allowed and looks like a slip, in what was read alone, but the quotes."""
    yield from on_top_warnings(parts)
    yield from _workshop_warnings(parts)
    yield from _alloy_warnings(parts)
    yield from _channel_warnings(parts)
    yield from product_warnings(parts)
    yield from doubt_warnings(parts)


def warnings_of_the_day(parts: Parts) -> Iterator[Fault]:
    """What looks like a slip among the quotes, and what else lies in the folder as if it were meant to be read."""
    yield from _price_warnings(parts)
    yield from products_folder_warnings(parts)
    yield from copies_warnings(parts)


def _flask_faults(parts: Parts) -> Iterator[Fault]:
    for name, flask in parts.workshop.flasks.items() if parts.workshop else ():
        yield from unknown(parts, "material", flask.material, WORKSHOP_FILE, ("flasks", name, "material"))


def _process_faults(parts: Parts) -> Iterator[Fault]:
    for name, steps in parts.processes.items():
        seen: dict[str, int] = {}
        for index, step in enumerate(steps):
            path = ("processes", name, index)
            yield from step_name_faults(parts, PROCESSES_FILE, path, step)
            if step.name in seen:
                first = parts.documents.place(PROCESSES_FILE, ("processes", name, seen[step.name], "name"))
                yield parts.documents.fault(
                    PROCESSES_FILE,
                    (*path, "name"),
                    f'a step "{step.name}" is there already',
                    "Give one of them another name: products state their own figures by it.",
                    other=(first,),
                )
            seen.setdefault(step.name, index)


def _channel_faults(parts: Parts) -> Iterator[Fault]:
    for name, channel in parts.channels.items():
        path = ("channels", name)
        yield from unknown(parts, "role", channel.labour, CHANNELS_FILE, (*path, "labour"))
        yield from keystone_faults(parts, CHANNELS_FILE, (*path, "policy"), name, channel.policy)
        asked = channel.policy.keystone_of
        if asked is not None and asked != name and asked in parts.channels:
            further = parts.channels[asked].policy.keystone_of
            if further is not None and further != asked:
                place = parts.documents.place(CHANNELS_FILE, ("channels", asked, "policy", "keystone_of"))
                yield parts.documents.fault(
                    CHANNELS_FILE,
                    (*path, "policy", "keystone_of"),
                    f'"{asked}" is itself keystone_of "{further}", and a chain is not followed',
                    "Name the channel at its end, with the multiples multiplied.",
                    other=(place,),
                )


def _quote_faults(parts: Parts) -> Iterator[Fault]:
    """Quotes of their own, for alloys that some product is made in, that no line of the price history names."""
    quoted = {quote.metal for quote in parts.quotes}
    if not parts.all_quotes_read:
        return
    needed: dict[str, list[str]] = {}
    for sku, product in parts.whole.items():
        for made_in in product.alloys or ():
            needed.setdefault(made_in, []).append(sku)
    for name, alloy in parts.alloys.items():
        if alloy.quote is not None and alloy.quote not in quoted and name in needed:
            skus = needed[name]
            who = ", ".join(skus[:3]) + (f" and {len(skus) - 3} more" if len(skus) > 3 else "")
            close = nearest(alloy.quote, quoted)
            line = next((quote.line for quote in parts.quotes if quote.metal == close), None)
            yield parts.documents.fault(
                ALLOYS_FILE,
                ("alloys", name, "quote"),
                f'no quote "{alloy.quote}" in {PRICES_FILE}, and {who} in {name} needs one',
                did_you_mean(alloy.quote, quoted) if close else "Add a line with its price.",
                other=(parts.documents.place(PRICES_FILE, (line, "metal")) if line else Place(PRICES_FILE),),
            )


def _contact_faults(parts: Parts) -> Iterator[Fault]:
    """The logo must be a picture of this folder."""
    logo = parts.workshop.contact.logo if parts.workshop else None
    if logo is None:
        return
    told = file_problem(parts, logo)
    if told is None and PurePosixPath(logo).suffix.lower() not in LOGO_ENDINGS:
        told = f'"{logo}" is no picture that papers can bear', f"Save it as {', '.join(LOGO_ENDINGS)}."
    if told:
        yield parts.documents.fault(WORKSHOP_FILE, ("contact", "logo"), *told)


def _price_warnings(parts: Parts) -> Iterator[Fault]:
    """Newest prices that look like slips, as they would be asked about by whoever takes a price."""
    if parts.workshop is None:
        return
    for quote, slip in newest_slips(parts.quotes, valued_by(parts.alloys), parts.workshop.currency):
        mend = f'Did you mean "{slip.meant}"?' if slip.meant else "See whether it is right."
        yield parts.documents.fault(PRICES_FILE, (quote.line, slip.column), slip.problem, mend)


def _workshop_warnings(parts: Parts) -> Iterator[Fault]:
    if parts.workshop is None:
        return
    for name, role in parts.workshop.labour.items():
        if role.rate == 0:
            yield parts.documents.fault(
                WORKSHOP_FILE,
                ("labour", name, "rate"),
                "an hour of it costs nothing, so that what pieces earn in an hour says little",
                "State what you would have to pay somebody else, and see what is left.",
            )
    for name, flask in parts.workshop.flasks.items():
        if flask.water_per_100 is not None and 0 < flask.water_per_100 < 1:
            yield parts.documents.fault(
                WORKSHOP_FILE,
                ("flasks", name, "water_per_100"),
                f"{flask.water_per_100:g} g of water to 100 g of powder is hardly a drop",
                f"If you meant the fraction, write {100 * flask.water_per_100:g}.",
            )


def _alloy_warnings(parts: Parts) -> Iterator[Fault]:
    for name, alloy in parts.alloys.items():
        if doubt := density_doubt(alloy.composition, alloy.density):
            mend = density_mend(alloy.composition, alloy.density)
            yield parts.documents.fault(ALLOYS_FILE, ("alloys", name, "density"), doubt, mend)
        if alloy.priced_by == "quote":
            for key in ("unpriced", "scrap_pays"):
                if getattr(alloy, key):
                    yield parts.documents.fault(
                        ALLOYS_FILE,
                        ("alloys", name, key),
                        "it has no effect on an alloy that is priced by a quote",
                        'Leave it out, or write priced_by = "content".',
                        at="key",
                    )
        for index, element in enumerate(alloy.scrap_pays or ()):
            if element in alloy.unpriced and alloy.priced_by == "content":
                yield parts.documents.fault(
                    ALLOYS_FILE,
                    ("alloys", name, "scrap_pays", index),
                    f"{element} is unpriced, so that nothing is reckoned for it",
                    "Take it out of unpriced, or out of here.",
                )


def _channel_warnings(parts: Parts) -> Iterator[Fault]:
    if parts.ladder is not None and parts.ladder.keystone is not None and parts.channels:
        if not any(channel.audience == "wholesale" for channel in parts.channels.values()):
            yield parts.documents.fault(
                CHANNELS_FILE,
                ("ladder", "keystone"),
                "it has no effect, since no channel is wholesale",
                'Leave it out, or write audience = "wholesale" on a channel.',
                at="key",
            )
    if parts.workshop is None:
        return
    for name, channel in parts.channels.items():
        yield from _fee_warnings(parts, name, channel)
        currency = channel.currency or parts.workshop.currency
        digits = minor_unit_digits(currency)
        path: KeyPath = ("channels", name, "rounding")
        figures: list[tuple[KeyPath, float | None]] = [
            ((*path, "step"), channel.rounding.step),
            ((*path, "ending"), channel.rounding.ending),
        ]
        for index, lower in enumerate(channel.rounding.steps_by_price):
            figures.append(((*path, "steps_by_price", index, "step"), lower.step))
        for figure, value in figures:
            if value is not None and abs(value * 10**digits - round(value * 10**digits)) > _HAIR * max(1, abs(value)):
                yield parts.documents.fault(
                    CHANNELS_FILE,
                    figure,
                    f"{value:g} gives prices that {currency} has no coin for",
                    f"The currency has {digits} decimals.",
                )


def _fee_warnings(parts: Parts, name: str, channel: Channel) -> Iterator[Fault]:
    """A fee that is as large as a commission, and is counted on the sales tax too."""
    for index, fee in enumerate(channel.fees):
        if channel.tax.rate > 0 and fee.taxed and fee.rate >= COMMISSION:
            yield parts.documents.fault(
                CHANNELS_FILE,
                ("channels", name, "fees", index, "rate"),
                f'"{fee.name}" takes {percent(fee.rate)} of the price with its tax; a commission is usually of the '
                "price without",
                "If it is so here, write taxed = false beside it.",
            )
