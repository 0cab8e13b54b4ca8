"""A design as it is being drawn up on the page: the fields of its form, the product that they make, what it costs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pricing.costing import Costing, cost_folder
from pricing.errors import Fault, Faults
from pricing.folder.build_models import salvaged
from pricing.folder.checks.products import product_faults
from pricing.folder.files import PRODUCTS_FOLDER, TOML
from pricing.folder.gathered import Documents, Parts
from pricing.folder.inherit import inherited
from pricing.folder.stated_at import DEFINED
from pricing.folder.toml.edits import Drop, Edit, Put
from pricing.folder.toml.places import Document
from pricing.folder.toml.spelling import plain
from pricing.meshes import volume_and_area
from pricing.model.product import Casting, Product
from pricing.page.forms.typed import alike, figure, spelled, word
from pricing.page.workspace import Look, Upload, Workspace

#: How a casting's volume may be stated, and the fields of each way.
WAYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "mesh": ("mesh",),
        "volume": ("volume_cm3", "area_cm2"),
        "model": ("model_g", "model_density", "area_cm2"),
        "metal": ("metal_g", "in_alloy", "weighed", "area_cm2"),
    }
)
CASTING_WORDS = frozenset({"name", "mesh", "in_alloy", "weighed"})
FINDING_FIELDS = ("name", "quantity", "price", "spoil")
WORDS = ("sku", "name", "sold_as", "collection", "process", "flask")
FIGURES = ("pieces_per_flask", "sprue_ratio", "expected_sales", "shrinkage")
#: Where a product that is not saved yet would stand.
NEW_FILE = f"{PRODUCTS_FOLDER}/new{TOML}"
#: So many castings or findings are read from one form.
MOST_ITEMS = 60


@dataclass(frozen=True)
class Draft:
    """The fields as they were typed, by name; `sku` is the product that is changed, "" for a new one.

    Names of fields: those of the product; `castings-0-name` …, with `castings-0-way` and `castings-0-upload`;
    `findings-0-name` …; `alloys` and `sold_in` as often as they were ticked.
    """

    sku: str
    fields: Mapping[str, str]
    alloys: tuple[str, ...]
    sold_in: tuple[str, ...]

    def get(self, name: str) -> str:
        return self.fields.get(name, "")

    def count(self, kind: str) -> int:
        """How many castings or findings there are fields for."""
        found = re.compile(rf"{kind}-(\d{{1,3}})-name")
        numbers = [int(match[1]) for name in self.fields if (match := found.fullmatch(name))]
        return min(max(numbers, default=-1) + 1, MOST_ITEMS)


def draft_of_form(sku: str, items: Iterable[tuple[str, Any]]) -> Draft:
    """The draft that a form says; files are passed over."""
    fields: dict[str, str] = {}
    ticked: dict[str, list[str]] = {"alloys": [], "sold_in": []}
    for name, value in items:
        if isinstance(value, str):
            if name in ticked:
                ticked[name].append(value[:120])
            else:
                fields[name] = value[:2000]
    return Draft(sku, MappingProxyType(fields), tuple(ticked["alloys"]), tuple(ticked["sold_in"]))


def empty_draft(look: Look) -> Draft:
    """A new design: two alloys of the folder, its first process and flask, and no figure made up."""
    stated = look.costing.folder.stated
    fields = {
        "process": next(iter(stated.processes), ""),
        "castings-0-name": "casting",
        "castings-0-count": "1",
        "castings-0-way": "mesh",
    }
    used = [product.alloys or () for product in look.products.values()]
    often = sorted(stated.alloys, key=lambda alloy: -sum(alloy in alloys for alloys in used))
    if stated.workshop.flasks and any(step.per == "flask" for step in stated.processes.get(fields["process"], ())):
        fields["flask"] = next(iter(stated.workshop.flasks))
    return Draft("", MappingProxyType(fields), tuple(often[:2]), tuple(stated.channels))


def draft_of_product(look: Look, sku: str) -> Draft:
    """The fields of a product, with what it takes by `like`."""
    product = look.products[sku]
    fields = {name: spelled(getattr(product, name)) for name in (*WORDS, *FIGURES)}
    for place, casting in enumerate(product.castings or ()):
        fields |= {f"castings-{place}-{name}": spelled(getattr(casting, name)) for name in Casting.model_fields}
        fields[f"castings-{place}-way"] = way_of(casting)
    for place, finding in enumerate(product.findings or ()):
        stated = finding.model_fields_set
        fields |= {
            f"findings-{place}-{name}": spelled(getattr(finding, name)) if name in stated else ""
            for name in FINDING_FIELDS
        }
    sold_in = product.sold_in if product.sold_in is not None else tuple(look.costing.folder.stated.channels)
    return Draft(sku, MappingProxyType(fields), product.alloys or (), sold_in)


def way_of(casting: Casting) -> str:
    """Which of WAYS states a casting's volume."""
    return {"volume_cm3": "volume", "mesh": "mesh", "model_g": "model", "metal_g": "metal"}[casting.kind]


def values_of(workspace: Workspace, look: Look, draft: Draft) -> dict[str, Any]:
    """What the fields say, by the product's keys; None where nothing is said."""
    before = look.products.get(draft.sku)
    values: dict[str, Any] = {name: word(draft.get(name)) for name in WORDS}
    values |= {name: figure(draft.get(name)) for name in FIGURES}
    if draft.sku:
        values["sku"] = draft.sku
    if values["sold_as"] == "each" and (before is None or before.sold_as is None):
        values["sold_as"] = None  # it need not be stated
    values["alloys"] = list(draft.alloys) or None
    every = tuple(look.costing.folder.stated.channels)
    values["sold_in"] = None if draft.sold_in in ((), every) else list(draft.sold_in)
    castings = [_casting(workspace, draft, place) for place in range(draft.count("castings"))]
    values["castings"] = [casting for casting in castings if casting] or None
    findings = []
    for place in range(draft.count("findings")):
        own = {
            name: (word if name == "name" else figure)(draft.get(f"findings-{place}-{name}")) for name in FINDING_FIELDS
        }
        if own["name"] is None:
            continue  # an empty name takes a finding out
        old = before.findings[place] if before and before.findings and place < len(before.findings) else None
        kept = (
            {}
            if old is None
            else {name: getattr(old, name) for name in ("metal_g", "alloy", "alloys") if name in old.model_fields_set}
        )
        findings.append({name: value for name, value in {**own, **kept}.items() if value is not None})
    values["findings"] = findings or None
    return values


def _casting(workspace: Workspace, draft: Draft, place: int) -> dict[str, Any] | None:
    said = {
        name: (word if name in CASTING_WORDS else figure)(draft.get(f"castings-{place}-{name}"))
        for name in Casting.model_fields
    }
    if said["name"] is None and place:
        return None  # an empty name takes a further casting out
    way = draft.get(f"castings-{place}-way")
    wanted = ("name", "count", *WAYS.get(way, ()))
    upload = upload_of(workspace, draft, place)
    if upload is not None and way == "mesh":
        said["mesh"] = mesh_file(upload)
    return {name: value for name, value in said.items() if name in wanted and value is not None}


def upload_of(workspace: Workspace, draft: Draft, place: int) -> Upload | None:
    """The mesh that was dropped for a casting."""
    return workspace.uploads.get(draft.get(f"castings-{place}-upload"))


def mesh_file(upload: Upload) -> str:
    """Where an uploaded mesh will lie in the folder."""
    return f"meshes/{upload.name}"


@dataclass(frozen=True)
class Drawn:
    """A draft as far as it could be understood: the whole product and its costing, or the faults."""

    values: Mapping[str, Any]
    product: Product | None
    costing: Costing | None
    faults: tuple[Fault, ...]


def drawn(workspace: Workspace, look: Look, draft: Draft) -> Drawn:
    """Read a draft by the folder's own rules and cost it, as if it were saved."""
    values = values_of(workspace, look, draft)
    folder = look.costing.folder
    file = folder.product_file(draft.sku) if draft.sku else NEW_FILE
    whole = dict(folder.documents.by_file[file].values) if draft.sku else {}
    for edit in edits_of(look, draft, values):
        if isinstance(edit, Drop):
            whole.pop(edit.path[0], None)
        else:
            whole[edit.path[0]] = edit.value
    if not draft.sku:
        whole.setdefault("sku", "new-design")
        whole.setdefault("name", "New design")
    document = Document(file, "", plain(whole))
    read = salvaged(Product, document)
    faults = [replace(fault, place=replace(fault.place, line=None, column=None, text=None)) for fault in read.faults]
    if faults or read.model is None:
        return Drawn(values, None, None, tuple(faults))
    product: Product = read.model
    uploads = {mesh_file(each): each for place in range(MOST_ITEMS) if (each := upload_of(workspace, draft, place))}
    faults = _sense_faults(look, product, document, uploads)
    if faults:
        return Drawn(values, None, None, faults)
    stated = folder.stated
    effective = inherited({**stated.products, product.sku: product})[product.sku] if product.like else product
    effective = effective.model_copy(update={"like": None})  # it has taken what it takes
    alone = replace(folder, stated=stated.model_copy(update={"products": {product.sku: effective}}))
    alone = replace(alone, documents=_documents(look, product, document))

    def measured(path: Path) -> tuple[float, float]:
        upload = uploads.get(path.relative_to(folder.root).as_posix())
        return volume_and_area(upload.path if upload else path, thorough=True)

    try:
        costing = cost_folder(alone, look.costing.asked, measured)
    except Faults as found:
        return Drawn(values, None, None, found.faults)
    return Drawn(values, effective, costing, ())


def _documents(look: Look, product: Product, document: Document) -> Documents:
    documents = look.costing.folder.documents
    return Documents(
        documents.root,
        {**documents.by_file, document.file: document},
        documents.prices,
        {**documents.product_files, product.sku: document.file},
        documents.likes,
    )


def _sense_faults(look: Look, product: Product, document: Document, uploads: Mapping[str, Upload]) -> tuple[Fault, ...]:
    """What does not make sense beside the other files; an uploaded mesh needs no file yet."""
    stated = look.costing.folder.stated
    chain = {product.sku: product}
    here = product.like
    while here and here not in chain:
        chain[here] = stated.products[here]
        here = stated.products[here].like
    parts = Parts(
        _documents(look, product, document),
        stated.workshop,
        dict(stated.alloys),
        dict(stated.processes),
        dict(stated.channels),
        stated.ladder,
        chain,
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


def edits_of(look: Look, draft: Draft, values: Mapping[str, Any]) -> list[Edit]:
    """The edits of the product's file that make it say what the fields say; of a new product every key."""
    if not draft.sku:
        return [Put((key,), value) for key, value in values.items() if value is not None]
    effective = look.products[draft.sku]
    stated = look.costing.folder.stated.products[draft.sku]
    edits: list[Edit] = []
    for key, value in values.items():
        old = getattr(effective, key)
        if isinstance(old, tuple) and old and not isinstance(old[0], str):
            old = [each.model_dump(exclude_unset=True) for each in old]
        if alike(old, value):
            continue
        if value is not None:
            edits.append(Put((key,), value))
        elif key in stated.model_fields_set:
            edits.append(Drop((key,)))
    return edits
