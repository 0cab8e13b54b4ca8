"""Where a price may be pulled from: an address or a file that the maker chose (`[sources.…]` in `workshop.toml`)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import Field, StringConstraints

from pricing.model.base import Name, Positive, Sense, StatedModel
from pricing.model.currency import Currency, currencies
from pricing.model.quote import QuotedPer

#: Addresses are longer than names.
Address = Annotated[str, StringConstraints(min_length=1, max_length=1000)]
_PART = re.compile(r'\.?"([^"]+)"|\.?([^.\[\]"]+)|\[(-?\d{1,6})\]')


class Source(StatedModel):
    """One source of one price: an address or a file, and where in its JSON or CSV the number stands."""

    metal: Name = Field(description="What the price is for, as metal_prices.csv names it: Ag, a grain, a currency.")
    per: QuotedPer = Field(description='Mass that the price is for; "unit" for an exchange rate.')
    currency: Currency = Field(description="ISO 4217 code of the currency of the price.")
    address: Address | None = Field(None, description="Where it is read: an https address.")
    file: Name | None = Field(None, description="Or a file on this machine, relative to the folder.")
    json_path: Name | None = Field(None, description='Where the price stands in JSON: rates.Ag or list[0]."a.b".')
    json_day: Name | None = Field(None, description="Where its day stands; without it, it is today's price.")
    csv_column: Name | None = Field(None, description="Or the column of a CSV table; its last line counts.")
    csv_day: Name | None = Field(None, description="Column of the day; without it, it is today's price.")
    csv_where: dict[Name, Name] = Field({}, description="Only lines with these words in these columns count.")
    inverted: bool = Field(False, description="Whether the number says how much metal one unit of currency buys.")
    band: Positive = Field(0.2, description="Change from the last quote beyond which a price is refused, a fraction.")
    loopback: bool = Field(False, description="Whether the address is on this machine; then http will do too.")

    def senses(self) -> Iterator[Sense]:
        yield from _one_of(self, ("address", "file"))
        yield from _one_of(self, ("json_path", "csv_column"))
        for key, needs in (("json_day", "json_path"), ("csv_day", "csv_column"), ("csv_where", "csv_column")):
            if getattr(self, key) and getattr(self, needs) is None:
                yield Sense((key,), f"it has no effect without {needs}", f"Add {needs}, or leave it out.")
        if self.loopback and self.address is None:
            yield Sense(("loopback",), "it has no effect without address", "Leave it out.")
        if self.address is not None:
            yield from _address_senses(self.address, self.loopback)
        for key in ("json_path", "json_day"):
            path = getattr(self, key)
            if path is not None and path_parts(path) is None:
                yield Sense((key,), f'"{path}" is no path', "Write names with points, and places in lists as [0].")
        if self.per == "unit" and self.metal not in currencies():
            yield Sense(
                ("per",),
                f'"unit" is for exchange rates, and "{self.metal}" is no currency',
                "Write the mass that the price is for, such as ozt or kg.",
            )


def _one_of(source: Source, keys: tuple[str, str]) -> Iterator[Sense]:
    first, second = keys
    stated = [key for key in keys if getattr(source, key) is not None]
    if not stated:
        yield Sense((), f"{first} or {second} is missing", f"Add {first} or {second}.")
    elif len(stated) > 1:
        yield Sense((second,), f"stands beside {first}", "Keep one of them.")


def _address_senses(address: str, loopback: bool) -> Iterator[Sense]:
    try:
        parts = urlsplit(address)
        host = parts.hostname if parts.port != 0 else None
    except ValueError:  # a port or an address in brackets that is none
        parts, host = urlsplit(""), None
    if not host or parts.scheme not in ("https", "http") or not address.isprintable() or " " in address:
        yield Sense(("address",), "this is no https address", 'Write it as "https://…", with the name of the machine.')
    elif parts.scheme == "http" and not loopback:
        yield Sense(("address",), "what comes over http can be changed on its way", "Write https.")
    elif parts.username is not None or parts.password is not None:
        yield Sense(("address",), "a name or a password stands in it", "Leave it out: none is sent.")


def path_parts(path: str) -> tuple[str | int, ...] | None:
    """The names and places of a JSON path such as `$.rates["a.b"][0].price`; None where it is none."""
    text = re.sub(r'\["([^"]+)"\]', r'."\1"', path.removeprefix("$").removeprefix("."))
    parts: list[str | int] = []
    position = 0
    while position < len(text):
        match = _PART.match(text, position)
        if match is None:
            return None
        quoted, name, place = match.groups()
        parts.append(int(place) if place is not None else quoted or name)
        position = match.end()
    return tuple(parts) or None
