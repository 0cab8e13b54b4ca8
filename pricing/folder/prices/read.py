"""What a workshop folder says about the price of metal, read without the rest of it.

A price must be addable also while something else in the folder is faulty, the more so where what is faulty is that
a price is missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pricing.errors import Fault, Faults, no_folder, not_begun
from pricing.folder.build_models import salvaged
from pricing.folder.files import ALLOYS_FILE, PRICES_FILE, WORKSHOP_FILE, is_begun
from pricing.folder.prices.history import PriceLines, read_quotes
from pricing.folder.prices.slips import valued_by
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import read_text
from pricing.model.quote import Quote
from pricing.model.stated import AlloysFile
from pricing.model.workshop import Workshop
from pricing.several_files import finish


@dataclass(frozen=True)
class MetalPrices:
    """The workshop and its quotes in the order of the file.

    `needed` holds the names of every metal that an alloy is valued by; `faults` what is wrong in the price history
    (the quotes are those of its other lines); `notes` what is to be told of the reading itself.
    """

    root: Path
    workshop: Workshop
    quotes: tuple[Quote, ...]
    needed: tuple[str, ...]
    faults: tuple[Fault, ...]
    notes: tuple[Fault, ...] = ()


def read_metal_prices(root: Path) -> MetalPrices:
    """Read `workshop.toml`, the price history (which may be missing), and of `alloys.toml` what can be read.

    Raises UsageFault where there is no such folder, and the Faults of `workshop.toml`.
    """
    if not root.is_dir():
        raise no_folder(root)
    if not is_begun(root):
        raise not_begun(root)
    finished = finish(root)
    salvage = salvaged(Workshop, document(WORKSHOP_FILE, read_text(root, WORKSHOP_FILE)))
    if salvage.faults or salvage.model is None:
        raise Faults(salvage.faults)
    quotes, faults = (
        read_quotes(PriceLines(read_text(root, PRICES_FILE))) if (root / PRICES_FILE).exists() else ((), [])
    )
    return MetalPrices(root, salvage.model, quotes, _needed(root), tuple(faults), finished)


def _needed(root: Path) -> tuple[str, ...]:
    try:
        alloys = salvaged(AlloysFile, document(ALLOYS_FILE, read_text(root, ALLOYS_FILE))).model
    except Faults:
        return ()
    return valued_by(alloys.alloys) if alloys else ()
