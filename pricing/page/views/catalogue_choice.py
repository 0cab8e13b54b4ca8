"""What is asked of the catalogue: words, alloy, collection, what wants a look, in which order. All of it lives in the
address; whatever makes no sense is as if it had not been asked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from urllib.parse import urlencode

import numpy as np
from starlette.requests import Request

from pricing.made_of import own_grams
from pricing.page.workspace import Look
from pricing.studies.break_even.reach import least_margins
from pricing.studies.repricing.reprice import PRICE_NOISE

#: Orders by their name: what a person reads, and the way each goes first.
ORDERS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "name": ("name", "ascending"),
        "hour": ("what an hour brings, least first", "ascending"),
        "margin": ("what is left, least first", "ascending"),
        "drift": ("asked above it, most first", "descending"),
        "price": ("price, highest first", "descending"),
        "cost": ("cost, highest first", "descending"),
        "mass": ("weight, heaviest first", "descending"),
    }
)
#: What wants a look, in words.
WANTS: Mapping[str, str] = MappingProxyType(
    {
        "more": "asks for more",
        "less": "asks for less",
        "thin": "below its least margin",
        "loss": "loses money",
        "unseen": "no picture",
    }
)


@dataclass(frozen=True)
class Choice:
    """What was asked of the catalogue; `wants` are names of WANTS, each of which a variant has to fit."""

    query: str = ""
    alloy: str = ""
    collection: str = ""
    wants: tuple[str, ...] = ()
    channel: str = ""
    sort: str = "name"
    way: str = "ascending"
    number: int = 1

    @classmethod
    def of(cls, request: Request, look: Look) -> Choice:
        asked = request.query_params
        stated = look.costing.folder.stated
        number, channel, alloy = asked.get("number", "1"), asked.get("channel", ""), asked.get("alloy", "")
        sort = asked.get("sort", "name") if asked.get("sort") in ORDERS else "name"
        wanted = set(asked.getlist("wants"))
        return cls(
            query=asked.get("query", "").strip()[:120],
            alloy=alloy if alloy in stated.alloys else "",
            collection=asked.get("collection", "")[:120],
            wants=tuple(name for name in WANTS if name in wanted),
            channel=channel if channel in stated.channels else next(iter(stated.channels), ""),
            sort=sort,
            way=way if (way := asked.get("way")) in ("ascending", "descending") else ORDERS[sort][1],
            number=int(number) if number.isascii() and number.isdigit() and len(number) < 7 else 1,
        )

    def address(self, **other: str | int) -> str:
        """The address of the same choice with something else."""
        asked = {**{name: getattr(self, name) for name in self.__dataclass_fields__}, **other}
        return "/?" + urlencode({name: value for name, value in asked.items() if value not in ("", ())}, doseq=True)


def wanting(look: Look) -> dict[str, np.ndarray]:
    """Which variants want a look, by the names of WANTS: True or False for each."""
    out = look.going_out
    sold_places, price, asked = out.computed.sold_places, out.computed["price"], out.asked.computed["price"]
    margin = out.computed["margin"]
    least = np.array([np.nan if each is None else each for each in least_margins(look.costing)])
    seen = {sku: bool(each.photo or any(casting.mesh for casting in each.castings or ()))
            for sku, each in look.products.items()}  # fmt: skip
    unseen = np.array([not seen[each.sku] for each in look.costing.computed.resolved.variants], dtype=bool)
    with np.errstate(invalid="ignore"):
        return {
            "more": (sold_places & (asked - price > PRICE_NOISE)).any(axis=1),
            "less": (sold_places & (price - asked > PRICE_NOISE)).any(axis=1),
            "thin": (sold_places & (margin < least) & (margin >= 0)).any(axis=1),
            "loss": (sold_places & (margin < 0)).any(axis=1),
            "unseen": unseen,
        }


def matching(look: Look, choice: Choice, wants: Mapping[str, np.ndarray]) -> np.ndarray:
    """The rows of the variants that are asked for, in the order of their names."""
    words = choice.query.casefold().split()
    if not (words or choice.alloy or choice.collection or choice.wants):
        return look.by_name
    variants, texts = look.costing.computed.resolved.variants, look.texts
    found = [
        row
        for row in look.by_name.tolist()
        if (not choice.alloy or variants[row].alloy == choice.alloy)
        and (not choice.collection or look.products[variants[row].sku].collection == choice.collection)
        and all(wants[name][row] for name in choice.wants)
        and all(word in texts[row] for word in words)
    ]
    return np.array(found, dtype=np.intp)


def in_order(look: Look, choice: Choice, rows: np.ndarray) -> np.ndarray:
    """The same rows in the order that is asked for; what cannot be told comes last."""
    computed, out = look.costing.computed, look.going_out
    if choice.sort == "name":
        return rows[::-1] if choice.way == "descending" else rows
    column = [row.name for row in computed.resolved.channels].index(choice.channel) if choice.channel else None
    values = {"price": "price", "margin": "margin", "hour": "earned_per_hour"}
    if choice.sort == "mass":
        keys = np.array([own_grams(computed, row) for row in rows.tolist()])
    elif choice.sort == "cost":
        keys = computed["unit_cost"][rows]
    elif column is None:
        return rows
    else:
        at_them = out.computed[values.get(choice.sort, "price")]
        found = computed["price"] / at_them - 1 if choice.sort == "drift" else at_them
        keys = np.where(computed.sold_places[:, column], found[:, column], np.nan)[rows]
    keys = -keys if choice.way == "descending" else keys
    return rows[np.argsort(keys, kind="stable")]


def by_design(look: Look, rows: Iterable[int]) -> list[tuple[str, list[int]]]:
    """The rows of each product, in the order in which its first one comes."""
    variants, found = look.costing.computed.resolved.variants, dict[str, list[int]]()
    for row in rows:
        found.setdefault(variants[row].product, []).append(row)
    return list(found.items())
