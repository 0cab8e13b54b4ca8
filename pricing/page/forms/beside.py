"""A product as it is being drawn up, beside the rest of the folder: what it needs of it, and what does not fit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from pricing.errors import Fault
from pricing.folder.checks.products import product_faults
from pricing.folder.gathered import Documents, Parts
from pricing.folder.inherit import inherited, pieces
from pricing.folder.read import Folder
from pricing.folder.stated_at import DEFINED
from pricing.folder.toml.places import Document
from pricing.model.product import OwnInAlloy, Product
from pricing.page.workspace import Look, Upload


def alone(look: Look, product: Product, document: Document) -> Folder:
    """The folder with this product, and with those that are parts of it, sold nowhere by themselves."""
    folder = look.costing.folder
    whole = inherited(needed_by(product, look))
    known = pieces(whole)
    wanted, waiting = {product.sku: whole[product.sku]}, [product.sku]
    while waiting:
        for finding in whole[waiting.pop()].findings or ():
            if finding.product in known and (sku := known[finding.product].product.sku) not in wanted:
                wanted[sku] = whole[sku].model_copy(update={"sold_in": (), "for_alloy": _unsold(whole[sku])})
                waiting.append(sku)
    products = {
        sku: each.model_copy(update={"like": None}) for sku, each in wanted.items()
    }  # what they take, they have
    stated = folder.stated.model_copy(update={"products": products})
    return replace(folder, stated=stated, documents=_documents(look, product, document))


def _unsold(product: Product) -> dict[str, OwnInAlloy]:
    """Its own figures in each alloy, none of which says where it is sold."""
    return {name: own.model_copy(update={"sold_in": None}) for name, own in product.for_alloy.items()}


def needed_by(product: Product, look: Look) -> dict[str, Product]:
    """A product with all that it is like and all that is joined to it, at any depth, as stated."""
    stated = look.costing.folder.stated.products
    found, waiting = {product.sku: product}, [product]
    while waiting:
        here = waiting.pop()
        named = [here.like, *(finding.product for finding in here.findings or ())]
        for name in named:
            sku = _sku_of(name, look)
            if sku in stated and sku not in found:
                found[sku] = stated[sku]
                waiting.append(stated[sku])
    return found


def _sku_of(name: str | None, look: Look) -> str:
    """The product that a piece is, or that it is one size of."""
    if name is None or name in look.costing.folder.stated.products:
        return name or ""
    return look.product_of.get(name, "")


def _documents(look: Look, product: Product, document: Document) -> Documents:
    documents = look.costing.folder.documents
    return Documents(
        documents.root,
        {**documents.by_file, document.file: document},
        documents.prices,
        {**documents.product_files, product.sku: document.file},
        documents.likes,
    )


def sense_faults(look: Look, product: Product, document: Document, uploads: Mapping[str, Upload]) -> tuple[Fault, ...]:
    """What does not make sense beside the other files; an uploaded mesh needs no file yet."""
    stated = look.costing.folder.stated
    parts = Parts(
        _documents(look, product, document),
        stated.workshop,
        dict(stated.alloys),
        dict(stated.processes),
        dict(stated.channels),
        stated.ladder,
        needed_by(product, look),
    )
    parts.names_in_files()
    assert set(parts.names) >= set(DEFINED)
    waiting = {
        f"castings[{place}].mesh" for place, casting in enumerate(product.castings or ()) if casting.mesh in uploads
    }
    return tuple(
        replace(fault, place=replace(fault.place, line=None, column=None, text=None), other=())
        for fault in product_faults(parts)
        if fault.place.file == document.file and fault.key not in waiting
    )
