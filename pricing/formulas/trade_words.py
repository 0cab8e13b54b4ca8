"""What people of the trade call a thing, and the quantities and keys of files in which it is found here."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import NamedTuple

from pricing.resources import templates


class TradeWord(NamedTuple):
    """A word of the trade: what it is, and the names to ask for next, each a quantity or a key of a file."""

    meaning: str
    see: tuple[str, ...]


@cache
def trade_words() -> Mapping[str, TradeWord]:
    """The words of `templates/trade_words.toml`, in small letters; a word of several has its spaces."""
    said = tomllib.loads((templates() / "trade_words.toml").read_text(encoding="utf-8"))
    return MappingProxyType(
        {word: TradeWord(each["meaning"], tuple(each["see"])) for each in said["word"] for word in each["called"]}
    )
