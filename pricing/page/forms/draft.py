"""A design as it is being drawn up on the page: the fields of its form, the product that they make, what it costs."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pricing.costing import Costing, cost_folder
from pricing.errors import Fault, Faults, Place
from pricing.folder.build_models import salvaged
from pricing.folder.files import PRODUCTS_FOLDER, TOML
from pricing.folder.shapes import plain_shapes
from pricing.folder.toml.edits import Drop, Edit, Put
from pricing.folder.toml.places import Document
from pricing.folder.toml.spelling import plain
from pricing.folder.typed_values import figure, word
from pricing.formulas.engine import compute
from pricing.meshes import VolumeAndArea, volume_and_area
from pricing.model.product import VOLUME_KEYS, Casting, Finding, OwnInAlloy, Product
from pricing.page.forms.beside import alone, sense_faults
from pricing.page.forms.sizes import SIZE_FIELDS, is_stated, path_of, size_fields, size_values
from pricing.page.forms.typed import alike, spelled
from pricing.page.workspace import Look, Upload, Workspace
from pricing.what_if import only


def _way(first: str) -> str:
    """What a way to state a casting's volume is called in the form: by its first key, without the unit."""
    return first.partition("_")[0]


#: How a casting's volume may be stated, and the keys that state it so.
KEYS_OF_WAY: Mapping[str, tuple[str, ...]] = MappingProxyType({_way(keys[0]): keys for keys in VOLUME_KEYS})
#: The fields of each way: a mesh brings its surface along.
WAYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {way: keys if keys == ("mesh",) else (*keys, "area_cm2") for way, keys in KEYS_OF_WAY.items()}
)
CASTING_FIELDS = tuple(Casting.model_fields)
CASTING_WORDS = frozenset(key for key, shape in plain_shapes(Casting).items() if shape.kind != "number")
#: The keys of a finding that have a field, by what it is: bought, or a piece of the maker's own.
FINDING_WAYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "bought": ("name", "quantity", "price", "spoil", "metal_g", "alloy", "premium", "other_g"),
        "own": ("product", "alloy", "quantity", "spoil"),
    }
)
FINDING_FIELDS = tuple(dict.fromkeys(name for names in FINDING_WAYS.values() for name in names))
FINDING_WORDS = frozenset(key for key, shape in plain_shapes(Finding).items() if shape.kind != "number")
WORDS = ("sku", "name", "sold_as", "collection", "process", "flask")
#: Figures that may differ from alloy to alloy: the form says those for all alloys.
FIGURES = tuple(key for key, shape in plain_shapes(OwnInAlloy).items() if shape.kind == "number")
#: Where a product that is not saved yet would stand.
NEW_FILE = f"{PRODUCTS_FOLDER}/new{TOML}"
#: So many castings or findings are read from one form.
MOST_ITEMS = 60


@dataclass(frozen=True)
class Draft:
    """The fields as they were typed, by name; `sku` is the product that is changed, "" for a new one.

    Names of fields: those of the product; `castings-0-name` …, with `castings-0-way` and `castings-0-upload`;
    `findings-0-name` …, with `findings-0-way`; `sizes-list` …; `alloys` and `sold_in` as often as they were ticked.
    `shown` is what the form showed when it was opened, as `as_shown` writes it: only what differs from that was changed
    by the maker.
    """

    sku: str
    fields: Mapping[str, str]
    alloys: tuple[str, ...]
    sold_in: tuple[str, ...]
    shown: str = ""

    @cached_property
    def base(self) -> Shown | None:
        """What the form showed when it was opened; None where it does not say."""
        return _shown_of(self.sku, self.shown)

    def get(self, name: str) -> str:
        return self.fields.get(name, "")

    def count(self, kind: str) -> int:
        """How many castings or findings there are fields for."""
        found = re.compile(rf"{kind}-(\d{{1,3}})-(?:name|way)")
        numbers = [int(match[1]) for name in self.fields if (match := found.fullmatch(name))]
        return min(max(numbers, default=-1) + 1, MOST_ITEMS)


@dataclass(frozen=True)
class Shown:
    """What a form showed: the draft, and the channels that could be ticked."""

    draft: Draft
    offered: tuple[str, ...]


def as_shown(draft: Draft, offered: Iterable[str]) -> Draft:
    """The same draft, with what it says now as what its form shows."""
    text = json.dumps([dict(draft.fields), list(draft.alloys), list(draft.sold_in), list(offered)], ensure_ascii=False)
    return replace(draft, shown=text)


def _shown_of(sku: str, text: str) -> Shown | None:
    try:
        fields, *lists = json.loads(text)
        fields = {str(name): str(value) for name, value in fields.items()}
        alloys, sold_in, offered = (tuple(map(str, each)) for each in lists)
        "".join([*fields, *fields.values(), *alloys, *sold_in, *offered]).encode()  # half a letter is none
    except (ValueError, TypeError, AttributeError, RecursionError):
        return None
    return Shown(Draft(sku, MappingProxyType(fields), alloys, sold_in, text), offered)


def draft_of_form(sku: str, items: Iterable[tuple[str, Any]]) -> Draft:
    """The draft that a form says; files are passed over."""
    fields: dict[str, str] = {}
    ticked: dict[str, list[str]] = {"alloys": [], "sold_in": []}
    shown = ""
    for name, value in items:
        if isinstance(value, str):
            if name in ticked:
                ticked[name].append(value[:120])
            elif name == "shown":
                shown = value
            else:
                fields[name] = value[:2000]
    return Draft(sku, MappingProxyType(fields), tuple(ticked["alloys"]), tuple(ticked["sold_in"]), shown)


def with_channels_of(look: Look, draft: Draft) -> Draft:
    """The draft for a form that offers the channels of now: who had ticked every channel has ticked every one."""
    base, every = draft.base, tuple(look.costing.folder.stated.channels)
    if base is None:
        return as_shown(draft, every) if not draft.sku else draft
    if base.offered == every:
        return draft

    def ticked(sold_in: tuple[str, ...]) -> tuple[str, ...]:
        return every if set(sold_in) == set(base.offered) else sold_in

    then = replace(base.draft, sold_in=ticked(base.draft.sold_in))
    return replace(draft, sold_in=ticked(draft.sold_in), shown=as_shown(then, every).shown)


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
    draft = Draft("", MappingProxyType(fields), tuple(often[:2]), tuple(stated.channels))
    return as_shown(draft, stated.channels)


def draft_of_product(look: Look, sku: str) -> Draft:
    """The fields of a product, with what it takes by `like`."""
    product = look.products[sku]
    fields = {name: spelled(getattr(product, name)) for name in (*WORDS, *FIGURES)}
    for place, casting in enumerate(product.castings or ()):
        fields |= {f"castings-{place}-{name}": text for name, text in _stated(casting, Casting.model_fields)}
        fields[f"castings-{place}-way"] = way_of(casting)
    for place, finding in enumerate(product.findings or ()):
        fields |= {f"findings-{place}-{name}": text for name, text in _stated(finding, FINDING_FIELDS)}
        fields[f"findings-{place}-way"] = "bought" if finding.product is None else "own"
    fields |= size_fields(product.sizes)
    every = tuple(look.costing.folder.stated.channels)
    sold_in = product.sold_in if product.sold_in is not None else every
    return as_shown(Draft(sku, MappingProxyType(fields), product.alloys or (), sold_in), every)


def _stated(item: Casting | Finding, names: Iterable[str]) -> list[tuple[str, str]]:
    """What an item of a list states, as it stands in fields; what is left to its default stands empty."""
    return [(name, spelled(getattr(item, name)) if name in item.model_fields_set else "") for name in names]


def way_of(casting: Casting) -> str:
    """Which of WAYS states a casting's volume."""
    return _way(casting.kind)


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
    every = draft.base.offered if draft.base else look.costing.folder.stated.channels
    values["sold_in"] = None if set(draft.sold_in) == set(every) else list(draft.sold_in)
    castings = [_casting(workspace, draft, place) for place in range(draft.count("castings"))]
    values["castings"] = [casting for casting in castings if casting] or None
    old = (before.findings if before else None) or ()
    findings = [
        _finding(draft, place, old[place] if place < len(old) else None) for place in range(draft.count("findings"))
    ]
    values["findings"] = [finding for finding in findings if finding] or None
    return values | size_values(draft.get)


def _finding(draft: Draft, place: int, old: Finding | None) -> dict[str, Any] | None:
    """A finding as its fields say it, with what has no field as it was; None where its name is taken out."""
    way = finding_way(draft, place)
    own = {
        name: (word if name in FINDING_WORDS else figure)(draft.get(f"findings-{place}-{name}"))
        for name in FINDING_WAYS[way]
    }
    if own["product" if way == "own" else "name"] is None:
        return None
    kept = {} if old is None else {name: getattr(old, name) for name in old.model_fields_set - set(FINDING_FIELDS)}
    if old is not None and way == "own" and old.product is not None and old.name is not None:
        kept["name"] = old.name
    return {name: value for name, value in {**own, **kept}.items() if value is not None}


def finding_way(draft: Draft, place: int) -> str:
    """Which of FINDING_WAYS a finding is."""
    stated = draft.get(f"findings-{place}-way")
    return stated if stated in FINDING_WAYS else "own" if draft.get(f"findings-{place}-product") else "bought"


def _casting(workspace: Workspace, draft: Draft, place: int) -> dict[str, Any] | None:
    said = {
        name: (word if name in CASTING_WORDS else figure)(draft.get(f"castings-{place}-{name}"))
        for name in Casting.model_fields
    }
    way = draft.get(f"castings-{place}-way")
    stated = any(said[name] is not None for name in WAYS.get(way, ())) or draft.get(f"castings-{place}-upload")
    if said["name"] is None and (place or not stated):
        return None  # an empty name takes a casting out; of the only one, where no volume is stated either
    wanted = ("name", "count", *WAYS.get(way, ()), "effort")
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
    whole = copy.deepcopy(dict(folder.documents.by_file[file].values)) if draft.sku else {}
    for edit in edits_of(workspace, look, draft, values):
        here: dict[Any, Any] = whole
        for part in edit.path[:-1]:
            here = here.setdefault(part, {})
        if isinstance(edit, Drop):
            here.pop(edit.path[-1], None)
        else:
            here[edit.path[-1]] = edit.value
    if not draft.sku:
        whole.setdefault("sku", "new-design")
        whole.setdefault("name", "New design")
    if faults := _cannot_be_emptied(workspace, look, draft, values):
        return Drawn(values, None, None, faults)
    document = Document(file, "", plain(whole))
    read = salvaged(Product, document)
    faults = tuple(
        replace(fault, place=replace(fault.place, line=None, column=None, text=None)) for fault in read.faults
    )
    if faults or read.model is None:
        return Drawn(values, None, None, faults)
    product: Product = read.model
    uploads = {mesh_file(each): each for place in range(MOST_ITEMS) if (each := upload_of(workspace, draft, place))}
    faults = sense_faults(look, product, document, uploads)
    if faults:
        return Drawn(values, None, None, faults)

    def measured(path: Path) -> VolumeAndArea:
        upload = uploads.get(path.relative_to(folder.root).as_posix())
        return volume_and_area(upload.path if upload else path, thorough=True)

    among = alone(look, product, document)
    effective = among.stated.products[product.sku]
    try:
        costing = cost_folder(among, look.costing.asked, measured)
    except Faults as found:
        return Drawn(values, None, None, found.faults)
    own = [row for row, each in enumerate(costing.computed.resolved.variants) if each.product == product.sku]
    if len(own) < len(costing.computed.resolved.variants):  # without the pieces that are joined to it
        costing = replace(costing, computed=compute(only(costing.computed.resolved, own)))
    return Drawn(values, effective, costing, ())


def _cannot_be_emptied(workspace: Workspace, look: Look, draft: Draft, values: Mapping[str, Any]) -> tuple[Fault, ...]:
    """Keys that were emptied, but come from the product that this one is like: its file has nothing to take out."""
    if not draft.sku or not look.costing.folder.stated.products[draft.sku].like:
        return ()
    like = look.costing.folder.stated.products[draft.sku].like
    own = look.costing.folder.stated.products[draft.sku]
    emptied = [key for key in compared(workspace, look, draft, values).changed if values[key] is None]
    return tuple(
        Fault(Place(""), key, f'it comes from "{like}" and cannot be left empty here', "Type it, or change it there.")
        for key in emptied
        if not is_stated(own, key) and key != "sold_in"
    )


@dataclass(frozen=True)
class Compared:
    """The keys of a product three times: as its form showed them, as they were typed, as the folder says them now."""

    shown: Mapping[str, Any]
    typed: Mapping[str, Any]
    now: Mapping[str, Any]

    @property
    def changed(self) -> tuple[str, ...]:
        """What the maker changed in the form."""
        return tuple(key for key, value in self.typed.items() if not _alike(key, self.shown[key], value))

    @property
    def moved(self) -> tuple[str, ...]:
        """What somebody else, or a change of what it is `like`, changed meanwhile."""
        return tuple(key for key, value in self.now.items() if not _alike(key, self.shown[key], value))

    @property
    def torn(self) -> tuple[str, ...]:
        """What both changed, to something else."""
        moved = self.moved
        return tuple(key for key in self.changed if key in moved and not _alike(key, self.typed[key], self.now[key]))


def _alike(key: str, one: Any, other: Any) -> bool:
    """Whether two values of a key say the same: sold in no channel is not the same as nothing said of channels."""
    return alike(one, other) and (key != "sold_in" or (one is None) == (other is None))


def compared(workspace: Workspace, look: Look, draft: Draft, values: Mapping[str, Any] | None = None) -> Compared:
    """A draft of a product beside what its form showed and what the folder says now."""
    now = values_of(workspace, look, draft_of_product(look, draft.sku))
    shown = values_of(workspace, look, draft.base.draft) if draft.base else now
    return Compared(shown, values_of(workspace, look, draft) if values is None else values, now)


def taken_up(look: Look, draft: Draft, changed: Iterable[str]) -> Draft:
    """The product as it is now, with what the maker `changed` put over it: a form that shows what it would change."""
    now = draft_of_product(look, draft.sku)

    def belongs(name: str) -> bool:
        return any(name == key or name.startswith(f"{key}-") for key in changed)

    fields = {name: value for name, value in now.fields.items() if not belongs(name)}
    items = ("castings-", "findings-")
    fields |= {
        name: value
        for name, value in draft.fields.items()
        if belongs(name) or (name not in now.fields and not name.startswith(items))
    }
    alloys = draft.alloys if "alloys" in changed else now.alloys
    return replace(now, fields=MappingProxyType(fields), alloys=alloys,
                   sold_in=draft.sold_in if "sold_in" in changed else now.sold_in)  # fmt: skip


def edits_of(workspace: Workspace, look: Look, draft: Draft, values: Mapping[str, Any]) -> list[Edit]:
    """The edits of the product's file that make it say what the maker changed; of a new product every key."""
    if not draft.sku:
        return [Put(path_of(key), value) for key, value in values.items() if value is not None]
    found = compared(workspace, look, draft, values)
    stated = look.costing.folder.stated.products[draft.sku]
    fewer = stated.like is not None and look.products[stated.like].sold_in is not None
    without_sizes = stated.sizes is not None and all(values[name] is None for name in SIZE_FIELDS)
    edits: list[Edit] = [Drop(("sizes",))] if without_sizes else []
    for key in found.changed:
        value = values[key]
        if _alike(key, found.now[key], value) or (without_sizes and key in SIZE_FIELDS):
            continue
        if value is not None:
            edits.append(Put(path_of(key), value))
        elif key == "sold_in" and fewer:  # what it is like is sold in some channels, this one in all of them
            edits.append(Put((key,), list(look.costing.folder.stated.channels)))
        elif is_stated(stated, key):
            edits.append(Drop(path_of(key)))
    return edits
