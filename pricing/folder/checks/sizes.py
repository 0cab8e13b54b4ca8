"""Whether the sizes of a product make sense, once what it takes by `like` is applied."""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType

from pricing.errors import Fault, did_you_mean
from pricing.folder.gathered import Parts
from pricing.folder.toml.places import KeyPath
from pricing.model.product import Product
from pricing.model.sizes import Sizes

#: How the sizes of each standard are written.
WRITTEN = MappingProxyType(
    {
        "iso": 'the circumference in mm, such as "54"',
        "us": 'a number, such as "7" or "6.5"',
        "uk": 'a letter, such as "M", "L½" or "Z+1"',
    }
)


def size_faults(parts: Parts, file: str, product: Product, whole: Product) -> Iterator[Fault]:
    """Everything that is wrong about a product's sizes; nothing where it states none itself."""
    own, sizes = product.sizes, whole.sizes
    if own is None or sizes is None:
        return
    for path, problem, mend in (*_ways(own, sizes), *_lacking(sizes), *_names(own, sizes)):
        yield parts.documents.fault(file, ("sizes", *path), problem, mend)


def sku_faults(parts: Parts) -> Iterator[Fault]:
    """A size with a price of its own whose name another product has already."""
    for sku, product in parts.whole.items():
        if product.sizes is None or not product.sizes.each_priced:
            continue
        for size in product.sizes.made:
            if f"{sku}-{size}" in parts.whole:
                other = parts.documents.place(parts.documents.product_files[f"{sku}-{size}"], ("sku",))
                problem = f'its size {size} is called "{sku}-{size}", and so is another product'
                file = parts.documents.product_files[sku]
                mend = "Give one of them another sku."
                yield parts.documents.fault(file, ("sku",), problem, mend, other=(other,))


def _ways(own: Sizes, sizes: Sizes) -> Iterator[tuple[KeyPath, str, str]]:
    if own.standard is not None and own.lengths is not None:
        yield ("lengths",), "stands beside standard", "Keep one of them."
    elif sizes.standard is None and sizes.lengths is None:
        yield (), "by what the sizes are named is missing", 'Add standard = "iso", "us" or "uk", or lengths = in mm.'
    if own.band_mm is not None and sizes.lengths is not None:
        yield ("band_mm",), "it has no effect beside lengths, which grow as they are", "Leave it out."


def _lacking(sizes: Sizes) -> Iterator[tuple[KeyPath, str, str]]:
    if not sizes.made:
        yield (), "list is missing", "Add list = with the sizes that are made, as text."
    if sizes.master is None:
        yield (), "master is missing", "Add master = with the size at which the pattern is drawn."
    if sizes.standard is not None and sizes.band_mm is None:
        yield (), "band_mm is missing", "Add band_mm = with the thickness of the band in mm."


def _names(own: Sizes, sizes: Sizes) -> Iterator[tuple[KeyPath, str, str]]:
    """Sizes that are none: told where this product states them, or the way in which they are named."""
    if sizes.standard is None and sizes.lengths is None:
        return
    mend = (
        f"Write {WRITTEN[sizes.standard]}." if sizes.standard else f"Known lengths: {', '.join(sizes.lengths or ())}."
    )
    called = f"a {sizes.standard} size" if sizes.standard else "among the lengths"
    told = [(("list", index), size) for index, size in enumerate(sizes.size_list or ())]
    for path, size in [*told, *([(("master",), sizes.master)] if sizes.master else [])]:
        if sizes.inner_mm(size) is None:
            yield path, f'"{size}" is not {called}', mend
    for size in own.sales or {}:
        if size not in sizes.made:
            yield ("sales", size), f'"{size}" is not in the list', did_you_mean(size, sizes.made)
    if sizes.made and sum(sizes.weight(size) for size in sizes.made) == 0:
        yield ("sales",), "none of the sizes is sold at all", "State more than 0 for one of them."
