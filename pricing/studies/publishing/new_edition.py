"""What the next edition says: prices with all that they come from, so that any figure can be shown again later."""

from __future__ import annotations

import hashlib
from datetime import date, datetime
from pathlib import Path
from typing import Any

from pricing import __version__
from pricing.editions.chain import Edition
from pricing.editions.figures import formulas_version, frozen_formulas
from pricing.editions.inputs import frozen_inputs
from pricing.editions.publishing import next_number, publish
from pricing.errors import TroytagError
from pricing.folder.files import PRICES_FILE
from pricing.folder.read import Folder, read_folder
from pricing.formulas.engine import Computed
from pricing.meshes.faults import MeshLimits
from pricing.reading import NotRead, read_file
from pricing.records import variant_records
from pricing.studies.prices_out import at_prices, quotes_in_force
from pricing.studies.repricing.reprice import RepricedRow, Repricing


def publish_prices(
    repricing: Repricing, published: datetime | None = None, over_gap: bool = False, ahead: bool = False
) -> Edition:
    """Publish the prices that were decided; `published` is the moment, now if left out.

    `over_gap` is for editions that are lost for good, `ahead` for a day that is still to come. Raises TroytagError
    where nothing would be published, or the folder has changed since it was read, and whatever
    `pricing.editions.publishing.publish` raises.
    """
    folder = repricing.costing.folder
    day, today = repricing.costing.computed.resolved.as_of, date.today()
    if day > today and not ahead:
        days = (day - today).days
        raise TroytagError(
            f"{day} lies {days} day{'' if days == 1 else 's'} ahead, and until then no other edition could be "
            "published. If that is meant, add --ahead."
        )
    if not any(row.verdict != "gone" for row in repricing.rows):
        raise TroytagError("there is no price to publish: no product is sold in any channel.")
    files = files_read(folder)
    if read_folder(folder.root).stated != folder.stated:
        raise TroytagError(f"{folder.root} was changed while its prices were looked at; reprice again.")
    number = next_number(folder.root, repricing.edition, over_gap)
    said = content(repricing, files, published or datetime.now().astimezone(), number)
    return publish(folder.root, said, repricing.edition, over_gap)


def content(repricing: Repricing, files: dict[str, str], published: datetime, number: int) -> dict[str, Any]:
    """All that the edition says, but for what ties it to the one before."""
    computed = at_prices(repricing.costing.computed, repricing.prices)
    resolved, graph = computed.resolved, computed.graph
    return {
        **({"restores": repricing.restores} if repricing.restores else {}),
        "as_of": resolved.as_of.isoformat(),
        "published": published.isoformat(timespec="seconds"),
        "program": __version__,
        "workshop": repricing.costing.folder.stated.workshop.name,
        "currency": resolved.currency,
        "files": files,
        "quotes": _quotes(repricing),
        "formulas_version": formulas_version(),
        "formulas": frozen_formulas(graph),
        "inputs": frozen_inputs(resolved),
        "figures": {name: computed.values[name] for name in graph.quantities},
        "prices": [_price(row, number, resolved.as_of.isoformat()) for row in repricing.rows if row.to is not None],
        "variants": _variants(computed),
    }


def files_read(folder: Folder) -> dict[str, str]:
    """SHA-256 of every file that the prices come from, by its name relative to the folder."""
    names = [*folder.documents.by_file, PRICES_FILE]
    products = folder.products.values()
    names += [casting.mesh for product in products for casting in product.castings or () if casting.mesh]
    return {name: _hash(folder.root / name) for name in sorted(set(names))}


def _hash(path: Path) -> str:
    try:
        return hashlib.sha256(read_file(path, MeshLimits().file_bytes)).hexdigest()
    except NotRead as error:
        raise TroytagError(f"{path} cannot be read any more: {error.problem}; reprice again.") from None


def _quotes(repricing: Repricing) -> list[dict[str, Any]]:
    """The lines of the price history that counted."""
    return [line.model_dump(mode="json", exclude={"line"}) for line in quotes_in_force(repricing.costing)]


def _price(row: RepricedRow, number: int, day: str) -> dict[str, Any]:
    kept = row.in_force if row.verdict == "hold" else None
    return {
        "sku": row.sku,
        "alloy": row.alloy,
        "channel": row.channel,
        "price": row.to,
        "asked": row.asked,
        "set_on": kept.set_on.isoformat() if kept else day,
        "set_in": kept.set_in if kept else number,
        "verdict": row.verdict,
        "reason": row.reason,
    }


def _variants(computed: Computed) -> list[dict[str, Any]]:
    """Each variant's figures by name, with what the published prices bring."""
    records = variant_records(computed)
    for record in records:
        del record["steps"]  # they stand among the figures
    return records
