"""The smallest workshop folder, in which nothing costs anything: a test adds what its source speaks of, and no more."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from types import MappingProxyType

import tomlkit

from pricing.costing import asked_for, cost
from pricing.records import variant_records
from tests.exact.compare import differences
from tests.exact.recompute import recompute

AS_OF = date(2026, 11, 20)

#: An alloy whose metal is given no value; 1 g/cm3, so that a casting of 1 cm3 is 1 g.
WORTHLESS = {
    "name": "Metal",
    "density": 1.0,
    "composition": {"Cu": 1.0},
    "unpriced": ["Cu"],
    "priced_by": "content",
    "melt_loss": 0.0,
}
#: The same with a price: the quote "grain", to be given in `quotes`.
QUOTED = {**WORTHLESS, "unpriced": [], "priced_by": "quote", "quote": "grain"}
POUR = {"name": "pour", "per": "set", "takes_metal": "pour"}
ONE_CM3 = {"name": "casting", "count": 1, "volume_cm3": 1.0}
AT_COST = {"audience": "retail", "policy": {"multiple": 1.0}}
ONE_ALLOY = MappingProxyType({"metal": WORTHLESS})
ONE_CHANNEL = MappingProxyType({"shop": AT_COST})
NOTHING: Mapping = MappingProxyType({})


def costed(folder: Path, *, as_of: date = AS_OF, **tables) -> list[dict]:
    """Writes the folder (see `written`), costs it, and returns the records of its variants, by their alloys' order."""
    written(folder, as_of=as_of, **tables)
    return variant_records(cost(folder, asked_for(as_of)).computed)


def costed_twice(folder: Path, *, as_of: date = AS_OF, **tables) -> list[dict]:
    """The same, and the independent re-computation in fractions must make the same of it."""
    records = costed(folder, as_of=as_of, **tables)
    assert differences(records, recompute(folder, as_of)) == []
    return records


def written(
    folder: Path,
    *,
    workshop: Mapping = NOTHING,
    alloys: Mapping[str, Mapping] = ONE_ALLOY,
    steps: Iterable[Mapping] = (POUR,),
    product: Mapping = NOTHING,
    channels: Mapping[str, Mapping] = ONE_CHANNEL,
    ladder: Mapping | None = None,
    quotes: Iterable[tuple[str, float, str, str]] = (),
    as_of: date = AS_OF,
) -> None:
    """Writes the folder: one product, in every alloy.

    `workshop`, `product` and every channel are laid over the bare ones; `quotes` are (metal, price, per,
    currency), all of the day `as_of`.
    """
    files = {
        "workshop.toml": {
            "name": "Fernhollow Castings",
            "currency": "GBP",
            "labour": {"bench": {"rate": 1.0}},
            "overhead": {"per_month": 0.0, "productive_hours": 100.0},
            **workshop,
        },
        "alloys.toml": {"alloys": dict(alloys)},
        "processes.toml": {"processes": {"work": list(steps)}},
        "channels.toml": {"channels": {name: {**AT_COST, **channel} for name, channel in channels.items()}},
        "products/piece.toml": {
            "sku": "piece",
            "name": "Piece",
            "alloys": list(alloys),
            "process": "work",
            "sprue_ratio": 0.0,
            "castings": [ONE_CM3],
            **product,
        },
    }
    if ladder is not None:
        files["channels.toml"]["ladder"] = ladder
    for name, tables in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(tomlkit.dumps(tables), encoding="utf-8")
    lines = [f"{as_of},{metal},{price!r},{per},{currency},published" for metal, price, per, currency in quotes]
    text = "\n".join(["date,metal,price,per,currency,source", *lines]) + "\n"
    (folder / "metal_prices.csv").write_text(text, encoding="utf-8")


def priced(folder: Path, **tables) -> dict:
    """The prices of the only variant, by channel."""
    (record,) = costed(folder, **tables)
    return record["prices"]


def material(price: float) -> dict:
    """Tables for a direct material of this price per set, to be spread into `costed`."""
    return {
        "workshop": {"materials": {"stock": {"pack_price": price, "pack_size": 1.0, "unit": "piece"}}},
        "steps": [{**POUR, "uses": [{"material": "stock", "quantity": 1.0}]}],
    }
