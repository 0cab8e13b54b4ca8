"""ISO 4217: which currencies there are, and how many decimals each has.

The table is the one that the maintenance agency publishes, as the `iso4217` package carries it. The
package itself parses the whole table when it is imported (20 ms); here only codes and digits are read
from the same file, once, when a currency is first asked about (under 1 ms).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from types import MappingProxyType
from typing import Annotated

from pydantic import AfterValidator

from pricing.model.base import Sense, refusal

_ENTRY = re.compile(r"<CcyNtry>(.*?)</CcyNtry>", re.DOTALL)
_CODE_AND_DIGITS = re.compile(r"<Ccy>\s*([A-Z]{3})\s*</Ccy>.*?<CcyMnrUnts>\s*(\d+)\s*</CcyMnrUnts>", re.DOTALL)


@cache
def currencies() -> Mapping[str, int]:
    """Decimals of every ISO 4217 currency that has a minor unit, by its code.

    Metals, bond units, test codes and the like (XAU, XTS …) have none and are not in it.
    """
    package = find_spec("iso4217")
    if package is None or not package.submodule_search_locations:
        raise ModuleNotFoundError("the package iso4217 is missing: install the project's requirements")
    table = (Path(package.submodule_search_locations[0]) / "table.xml").read_text(encoding="utf-8")
    found = (_CODE_AND_DIGITS.search(entry) for entry in _ENTRY.findall(table))
    return MappingProxyType({match[1]: int(match[2]) for match in found if match})


def minor_unit_digits(currency: str) -> int:
    """Decimals that prices in this currency have: 2 for GBP, 0 for JPY, 3 for KWD. Source: ISO 4217.

    Raises KeyError for what is no currency.
    """
    return currencies()[currency]


def minor_unit(currency: str) -> float:
    """The least amount that is paid in a currency: 0.01 for GBP, 1 for JPY. Raises KeyError for what is no currency."""
    return 10.0 ** -minor_unit_digits(currency)


def number_of(currency: str) -> float:
    """A number that no other currency has: its three letters read as digits, A = 0 … Z = 25."""
    first, second, third = (ord(letter) - ord("A") for letter in currency)
    return float((first * 26 + second) * 26 + third)


def _real_currency(code: str) -> str:
    if code not in currencies():
        raise refusal(Sense((), f'"{code}" is no currency', currency_meant(code)))
    return code


def currency_meant(code: str) -> str:
    """What to do about a word that is no currency."""
    upper = code.strip().upper()
    return f'Did you mean "{upper}"?' if upper in currencies() else 'Write its ISO 4217 code, such as "GBP".'


#: An ISO 4217 code of a currency that has a minor unit.
Currency = Annotated[str, AfterValidator(_real_currency)]
