"""Whether pieces of the maker's own that are parts of others are there, in that alloy, and lead to no circle."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pricing.errors import Fault, did_you_mean
from pricing.folder.gathered import Parts
from pricing.folder.inherit import Piece, parts_of, pieces
from pricing.model.product import Finding, Product


def part_faults(parts: Parts, known: Mapping[str, Piece], file: str, product: Product) -> Iterator[Fault]:
    """Everything that is wrong about the parts that a product itself states (`like` may have brought others along)."""
    if not parts.all_products_read:
        return
    for index, finding in enumerate(product.findings or ()):
        if finding.product is None:
            continue
        path = ("findings", index, "product")
        piece = known.get(finding.product)
        if piece is not None:
            yield from _alloy_faults(parts, file, product, index, finding, piece)
        elif finding.product in parts.whole:
            sizes = ", ".join(each for each in known if known[each].product.sku == finding.product)
            problem = f'each size of "{finding.product}" has a price of its own, and so it must be said which'
            yield parts.documents.fault(file, path, problem, f"Name one of {sizes}.")
        elif finding.product not in (parts.names["product"] or ()):
            mend = did_you_mean(finding.product, set(known) - {product.sku})
            yield parts.documents.fault(file, path, f'no product "{finding.product}"', mend)


def _alloy_faults(
    parts: Parts, file: str, product: Product, index: int, finding: Finding, piece: Piece
) -> Iterator[Fault]:
    """An alloy in which the part is not made; by itself it is that of the whole."""
    whole = parts.whole.get(product.sku, product)
    if piece.product.alloys is None:
        return
    if finding.alloy is not None:
        lacking = [] if finding.alloy in piece.product.alloys else [finding.alloy]
    else:
        used = [alloy for alloy in whole.alloys or () if finding.alloys is None or alloy in finding.alloys]
        lacking = [alloy for alloy in used if alloy not in piece.product.alloys]
    if lacking:
        made_in = ", ".join(piece.product.alloys)
        path = ("findings", index, "alloy" if finding.alloy is not None else "product")
        problem = f'"{finding.product}" is made in {made_in}, not in {" or ".join(lacking)}'
        mend = "State one of these as its alloy." if finding.alloy is not None else "Add alloy = with one of these."
        yield parts.documents.fault(file, path, problem, mend)


def circle_faults(parts: Parts, known: Mapping[str, Piece]) -> Iterator[Fault]:
    """Products that are parts of themselves, whatever the alloys: each circle once."""
    joined = {
        sku: list(dict.fromkeys(
            known[finding.product].product.sku
            for finding in product.findings or ()
            if finding.product is not None and finding.product in known
        ))
        for sku, product in parts.whole.items()
    }  # fmt: skip
    done: set[str] = set()
    for start in joined:
        yield from _circles_from(parts, joined, start, done)


def _circles_from(parts: Parts, joined: Mapping[str, list[str]], start: str, done: set[str]) -> Iterator[Fault]:
    """Walks down from a product, without going down anything twice."""
    chain = [start]
    waiting = [iter(joined[start])] if start not in done else []
    while waiting:
        below = next(waiting[-1], None)
        if below is None:
            done.add(chain.pop())
            waiting.pop()
        elif below in chain:
            circle = [*chain[chain.index(below) :], below]
            file = parts.documents.product_files[circle[0]]
            problem = f"it is a part of itself: {' -> '.join(circle)}"
            yield parts.documents.fault(file, ("findings",), problem, "Take one of these parts out of its whole.")
        elif below not in done and below in joined:
            chain.append(below)
            waiting.append(iter(joined[below]))


def known_pieces(parts: Parts) -> dict[str, Piece]:
    """What a part may be called by; products whose sizes make no sense count whole."""
    return pieces(parts.whole)


def has_parts(product: Product) -> bool:
    """Whether any piece of the maker's own goes into a product, in some alloy."""
    return any(parts_of(product, alloy) for alloy in product.alloys or ())
