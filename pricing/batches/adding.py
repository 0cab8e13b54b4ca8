"""Writing a card down in the log, and with it what it took from the metal drawer and brought back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pricing.batches.matching import slips
from pricing.batches.model import Batch, Card, Flask, Metal
from pricing.batches.read import LOG, read_every_batch, read_log
from pricing.costing import asked_for, cost_folder
from pricing.drawer.adding import check_corrects, doubts
from pricing.drawer.adding import content_of as content_of_entry
from pricing.drawer.model import Entry, Form, KeptEntry, Line, What
from pricing.drawer.read import STOCK, read_every_entry, standing
from pricing.drawer.worth import prices_per_g
from pricing.errors import Fault, Faults, Place
from pricing.folder.read import Folder
from pricing.formulas.engine import Computed
from pricing.kept.series import Series
from pricing.kept.shape import from_json
from pricing.kept.writing import append
from pricing.model.stated import Stated

#: What a flask takes from the drawer and brings back: the figure of the card, what happens, in which form.
MOVES: tuple[tuple[Callable[[Flask], float], What, Form], ...] = (
    (lambda flask: flask.fresh_g, "used", "fresh"),
    (lambda flask: flask.returned_g, "used", "returned"),
    (lambda flask: flask.back_g + flask.rejected_g, "returned", "returned"),
    (lambda flask: flask.lemel_g, "swept", "lemel"),
)


def computed_on(folder: Folder, day: date) -> Computed | None:
    """All figures of a folder on the day of a pour; None where the price history does not reach back to it."""
    try:
        return cost_folder(folder, asked_for(day)).computed
    except Faults:
        return None


def metal_of_the_day(card: Card, stated: Stated, computed: Computed | None) -> dict[str, Metal]:
    """What a gram of each alloy of a card cost to buy on its day, by figures of that day, and the melt loss believed.

    Without figures the prices are None.
    """
    prices = prices_per_g(computed) if computed is not None else {}
    return {
        flask.alloy: Metal(
            buy_price_per_g=prices.get(flask.alloy, {}).get("fresh"),
            lemel_price_per_g=prices.get(flask.alloy, {}).get("lemel"),
            melt_loss=stated.alloys[flask.alloy].melt_loss,
        )
        for flask in card.flasks
    }


def casting_masses(computed: Computed | None) -> dict[tuple[str, str], float]:
    """What one casting of each sku and alloy should weigh as cast, in grams; nothing without figures."""
    if computed is None:
        return {}
    return {
        (variant.sku, variant.alloy): float(computed["as_cast_g"][row] / pieces)
        for row, variant in enumerate(computed.resolved.variants)
        if (pieces := computed["castings_per_set"][row]) > 0
    }


def content_of(card: Card, currency: str, metal: Mapping[str, Metal], drew: bool) -> dict[str, Any]:
    """What an entry of the log says: the card, when it is written down, what the metal cost on its day, and whether an
    entry of the drawer was written with it."""
    return {
        **card.model_dump(mode="json"),
        "recorded": datetime.now().astimezone().isoformat(timespec="seconds"),
        "currency": currency,
        "metal": {name: each.model_dump(mode="json") for name, each in metal.items()},
        "drew": drew,
    }


def drawn(card: Card, currency: str, metal: Mapping[str, Metal], number: int, corrects: int | None) -> Entry | None:
    """What a batch of this number takes from the drawer and brings back; None where that is nothing.

    `corrects` is the entry of the batch that it corrects. Lemel counts as having cost what a refiner pays for it.
    """
    amounts: dict[tuple[str, What, Form], float] = {}
    for flask in card.flasks:
        for amount, what, form in MOVES:
            kind = (flask.alloy, what, form)
            amounts[kind] = amounts.get(kind, 0.0) + amount(flask)
    lines = []
    for (alloy, what, form), grams in amounts.items():
        price = metal[alloy].lemel_price_per_g if what == "swept" and alloy in metal else None
        if grams > 0:
            money = None if price is None else price * grams
            lines.append(Line(what=what, alloy=alloy, form=form, grams=grams, money=money))
    if not lines and corrects is None:
        return None
    return Entry(day=card.day, lines=tuple(lines), currency=currency, batch=number, corrects=corrects)


def entry_of_batch(entries: Sequence[KeptEntry], batch: int | None) -> int | None:
    """The number of the entry that counts of what a batch took from the drawer; None where there is none."""
    corrected = {entry.corrects for entry in entries}
    found = (entry.number for entry in entries if entry.batch == batch and entry.number not in corrected)
    return None if batch is None else next(found, None)


def told_apart(root: Path) -> list[Fault]:
    """A note for every batch that drew on the drawer where no entry there says so, and for every entry of a batch that
    the log does not have: of a folder that was brought over in part. Raises Faults where either cannot be read."""
    batches, entries = read_log(root), standing(read_every_entry(root))
    known, drawn_by = {batch.number for batch in batches}, {entry.batch for entry in entries}
    return [
        *(
            Fault(Place(LOG.file_of(batch.number)), "drew",
                  f"batch {batch.number} took its metal from the drawer, and no entry there says so",
                  f"Bring over the whole folder {STOCK.folder} from where it was written down.")
            for batch in batches if batch.drew and batch.number not in drawn_by
        ),
        *(
            Fault(Place(STOCK.file_of(entry.number)), "batch",
                  f"entry {entry.number} is what batch {entry.batch} took, and the log has no such batch",
                  f"Bring over the whole folder {LOG.folder} from where it was written down.")
            for entry in entries if entry.batch is not None and entry.batch not in known
        ),
    ]  # fmt: skip


@dataclass(frozen=True)
class Prepared:
    """A card ready to be written down: the metal of its day, whether it draws on the drawer, what looks like a slip."""

    card: Card
    metal: Mapping[str, Metal]
    draws: bool
    doubts: tuple[str, ...]


def prepared(folder: Folder, card: Card, wants_stock: bool, today: date, computed: Computed | None) -> Prepared:
    """What is to be known before a card is written down; `computed` are the figures of its day.

    It draws on the drawer where that is wanted and one is kept. Raises Faults where the drawer cannot be read.
    """
    entries = read_every_entry(folder.root)
    draws = wants_stock and bool(entries)
    metal = metal_of_the_day(card, folder.stated, computed)
    found = list(slips(card, today, casting_masses(computed)))
    if draws and card.corrects is None:
        entry = drawn(card, folder.stated.workshop.currency, metal, 1, None)
        found += doubts(entries, entry, card.day) if entry is not None else ()
    return Prepared(card, metal, draws, tuple(found))


def write_batch(
    root: Path, card: Card, currency: str, metal: Mapping[str, Metal], draws: bool, over_gap: bool = False
) -> tuple[Batch, KeptEntry | None]:
    """Write a card down, and where it `draws` on the drawer the entry of that with it: both stand, or none.

    Where it corrects a batch that drew on the drawer, that entry is corrected, too. Raises UsageFault where it
    corrects one that there is not, TroytagError where something is wrong with what was written before (unless it
    shall go `over_gap`) and where the disk refuses; then nothing is written.
    """

    def wanted(number_of: Callable[[Series], int]) -> list[tuple[Series, dict[str, Any]]]:
        if card.corrects is not None:  # asked when nobody else can correct it any more
            check_corrects(card.corrects, read_every_batch(root), LOG.one)
        drew = entry_of_batch(read_every_entry(root), card.corrects) if card.corrects is not None else None
        takes = draws or drew is not None
        entry = drawn(card, currency, metal, number_of(LOG), drew) if takes else None
        batch = (LOG, content_of(card, currency, metal, entry is not None and bool(entry.lines)))
        return [batch, (STOCK, content_of_entry(entry))] if entry is not None else [batch]

    batch, *rest = append(root, wanted, "a batch", over_gap)
    return from_json(Batch, batch.content), from_json(KeptEntry, rest[0].content) if rest else None


def write_card(
    root: Path, card: Card, currency: str, metal: Mapping[str, Metal] = MappingProxyType({}), over_gap: bool = False
) -> Batch:
    """The same for a card that takes nothing from the drawer."""
    return write_batch(root, card, currency, metal, draws=False, over_gap=over_gap)[0]
