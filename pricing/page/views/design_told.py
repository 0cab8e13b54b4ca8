"""What each section of a design's form says in a sentence, so that a closed one need not be opened."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from pricing.page.forms.draft import FIGURES, Draft, finding_way, upload_of
from pricing.page.workspace import Look, Workspace

#: The sections of the form in their order, and the fields in each, or what their names begin with before a hyphen.
SECTIONS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "castings": ("castings",),
        "what": ("name", "sku", "sold_as", "collection"),
        "alloys": ("alloys",),
        "made": ("process", "flask", *FIGURES),
        "findings": ("findings",),
        "sizes": ("sizes",),
        "sold": ("sold_in",),
    }
)


def section_of(field: str) -> str:
    """The section that a field stands in, "" for none."""
    return next((name for name, fields in SECTIONS.items() if field.partition("-")[0] in fields), "")


def told(workspace: Workspace, look: Look, draft: Draft) -> dict[str, str]:
    """A sentence for each section, as its fields stand now."""
    stated, get = look.costing.folder.stated, draft.get
    together = get("sold_as") or "each"
    process = [get("process") or "no process chosen", get("flask") and f"{get('flask')} flask"]
    figures = [
        (get("pieces_per_flask"), "{} castings on a tree"),
        (get("sprue_ratio"), "{} g of sprues a gram"),
        (get("expected_sales"), "{} sets over its life"),
        (get("shrinkage"), "shrinkage {}"),
    ]
    sizes = get("sizes-list") or get("sizes-lengths")
    sold = draft.sold_in
    return {
        "castings": _listed(_casting(workspace, draft, place) for place in range(draft.count("castings"))),
        "what": _listed(
            [
                get("name") or "No name yet",
                f"sold as a {together}" if together != "each" else "sold singly",
                get("collection") and f"in {get('collection')}",
            ]
        ),  # fmt: skip
        "alloys": _listed(stated.alloys[name].name for name in draft.alloys if name in stated.alloys) or "None ticked",
        "made": _listed([*process, *(words.format(value) for value, words in figures if value)]),
        "findings": _listed(_finding(draft, place) for place in range(draft.count("findings"))) or "None",
        "sizes": f"Made in {sizes}" if sizes else "One size",
        "sold": "Everywhere" if set(sold) == set(stated.channels) else _listed(sold) or "Only as a part of others",
    }


def _casting(workspace: Workspace, draft: Draft, place: int) -> str:
    def get(name: str) -> str:
        return draft.get(f"castings-{place}-{name}").strip()

    upload = upload_of(workspace, draft, place)
    mesh = upload.name if upload else get("mesh").rpartition("/")[2]
    ways = {
        "mesh": mesh and f"from {mesh}",
        "volume": get("volume_cm3") and f"{get('volume_cm3')} cm³",
        "model": get("model_g") and f"from a model of {get('model_g')} g",
        "metal": get("metal_g") and f"from a piece of {get('metal_g')} g",
    }
    count = get("count") or "1"
    name = f"{count} × {get('name')}" if count != "1" else get("name")
    return f"{name} {ways.get(get('way') or 'mesh') or 'without a volume yet'}"


def _finding(draft: Draft, place: int) -> str:
    name = draft.get(f"findings-{place}-{'product' if finding_way(draft, place) == 'own' else 'name'}")
    count = draft.get(f"findings-{place}-quantity") or "1"
    return name and (f"{count} × {name}" if count != "1" else name)


def _listed(words: Iterable[str]) -> str:
    return ", ".join(filter(None, words))
