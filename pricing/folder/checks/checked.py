"""Products of which nothing was to be told when they were last looked at, and that are what they were then.

Whether a product is in order hangs on itself with `like` applied, and on the files that all products use. What hangs on
other products or on other files of the folder is looked at each time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pricing.folder.files import DOUBTS_FILE, TOML_FILES, WORKSHOP_FILE
from pricing.folder.gathered import Parts
from pricing.folder.stated_at import DEFINED
from pricing.model.product import Product


@dataclass
class CheckedProduct:
    """What is known of a product; all that it was is held, so that nothing else comes to be the same.

    `is_faultless` says that nothing was wrong with it by itself, `is_quiet` the same of warnings.
    """

    product: Product
    whole: Product
    around: _Around
    unsure: frozenset[str]
    is_faultless: bool = False
    is_quiet: bool = False


@dataclass(frozen=True)
class _Around:
    """What checks of products look at besides: files, by what was read of them, and of the workshop only its names."""

    files: tuple[Any, ...]
    names: tuple[Any, ...]

    @classmethod
    def of(cls, parts: Parts) -> _Around:
        files = [parts.documents.by_file.get(name) for name in TOML_FILES if name not in (WORKSHOP_FILE, DOUBTS_FILE)]
        named = [parts.names.get(kind) for kind, (file, _) in DEFINED.items() if file == WORKSHOP_FILE]
        flasks = parts.workshop.flasks.items() if parts.workshop else None
        filled = flasks and tuple((name, flask.material) for name, flask in flasks)
        return cls(tuple(files), (*(each and tuple(each) for each in named), filled, parts.all_products_read))

    def is_as(self, other: _Around) -> bool:
        return self.names == other.names and all(map(_is, self.files, other.files))


def _is(some: Any, other: Any) -> bool:
    return some is other


class CheckedProducts:
    """What is known of the products of a reading."""

    def __init__(self, parts: Parts):
        self._parts, self._around = parts, _Around.of(parts)
        self._kept = parts.memory.checked

    def of(self, sku: str) -> CheckedProduct:
        """What is known of a product that is what it was; of any other nothing is yet."""
        parts = self._parts
        product, whole, unsure = parts.products[sku], parts.whole[sku], frozenset(parts.unsure(sku))
        held: CheckedProduct | None = self._kept.get(sku)
        if held is not None and held.product is product and held.whole is whole and held.unsure == unsure:
            if held.around is self._around:
                return held
            if held.around.is_as(self._around):
                held.around = self._around
                return held
        found = CheckedProduct(product, whole, self._around, unsure)
        self._kept.put(sku, found)
        return found
