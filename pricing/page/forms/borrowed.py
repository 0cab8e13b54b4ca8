"""A new design whose figures are not typed yet: the nearest piece of the folder lends its own, and they say so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from math import inf, log
from types import MappingProxyType

from pricing.errors import Faults, TroytagError
from pricing.folder.typed_values import figure
from pricing.meshes import volume_and_area
from pricing.page.forms.draft import CASTING_WORDS, FIGURES, KEYS_OF_WAY, Draft, upload_of
from pricing.page.forms.typed import spelled
from pricing.page.workspace import Look, Workspace, leads_inside
from pricing.weighing import Mass, finishing_leaves, masses, volume_stated


@dataclass(frozen=True)
class Borrowed:
    """`draft` with the figures of the product `sku`, called `name`, in the fields that were left empty: `fields`."""

    sku: str
    name: str
    fields: Mapping[str, str]
    draft: Draft


def borrowed(workspace: Workspace, look: Look, draft: Draft) -> Borrowed | None:
    """A new design with what it lacks from the piece of its process that is nearest in size; None where none is.

    Nearest: whose castings have the volume that differs by the smallest factor; pieces in the same flask come first
    where one was chosen. A flask that stands there unchosen is lent with the number of castings that it holds.
    """
    volume = volume_of(workspace, look, draft)
    if draft.sku or not volume:
        return None
    computed = look.costing.computed
    unchosen = not draft.get("flask") or (
        draft.base is not None
        and draft.get("flask") == draft.base.draft.get("flask")
        and not draft.get("pieces_per_flask")
    )
    nearest, least = None, (True, inf)
    for row, variant in enumerate(computed.resolved.variants):
        product = look.products[variant.sku]
        count = sum(casting.casting_count for casting in variant.castings)
        if product.process != draft.get("process") or not count:
            continue
        density = look.costing.folder.stated.alloys[variant.alloy].density
        own = float(computed["as_cast_g"][row]) / density / count
        apart = (not unchosen and product.flask != draft.get("flask"), abs(log(own / volume)))
        if own > 0 and apart < least:
            nearest, least = product, apart
    if nearest is None:
        return None
    lent = {
        name: spelled(value)
        for name in FIGURES
        if not draft.get(name).strip() and (value := getattr(nearest, name)) is not None
    }
    if unchosen and nearest.flask is not None and nearest.flask != draft.get("flask"):
        lent["flask"] = nearest.flask
    whole = replace(draft, fields=MappingProxyType({**draft.fields, **lent}))
    return Borrowed(nearest.sku, nearest.name, MappingProxyType(lent), whole) if lent else None


def weights(workspace: Workspace, look: Look, draft: Draft) -> list[Mass]:
    """What the castings of a draft weigh in every alloy of the folder, finished where its process is known."""
    places = range(draft.count("castings"))
    counts = [figure(draft.get(f"castings-{place}-count") or "1") for place in places]
    volumes = [volume_of(workspace, look, draft, place) for place in places]
    if not volumes or not all(volumes) or not all(isinstance(count, Decimal) for count in counts):
        return []
    stated = look.costing.folder.stated
    whole = sum(float(count or 0) * (volume or 0) for count, volume in zip(counts, volumes, strict=True))
    return masses(whole, stated.alloys, stated.processes.get(draft.get("process")))


def volume_of(workspace: Workspace, look: Look, draft: Draft, place: int = 0) -> float | None:
    """The volume of a casting of a draft, in cm3; None where the fields do not tell."""

    def typed(name: str) -> float | None:
        value = figure(draft.get(f"castings-{place}-{name}"))
        return float(value) if isinstance(value, Decimal) and 0 < value < inf else None

    way, stated = draft.get(f"castings-{place}-way") or "mesh", look.costing.folder.stated
    keys = [key for key in KEYS_OF_WAY.get(way, ()) if key not in CASTING_WORDS]
    if keys:
        figures = {key: grams for key in keys if (grams := typed(key))}
        if len(figures) < len(keys):
            return None
        if way != "metal":
            return volume_stated(figures)
        alloy = draft.get(f"castings-{place}-in_alloy")
        if alloy not in stated.alloys:
            return None
        steps = stated.processes.get(draft.get("process"), ())
        is_finished = draft.get(f"castings-{place}-weighed") == "finished"
        leaves = finishing_leaves(steps, alloy, stated.alloys[alloy].composition) if is_finished else 1.0
        return volume_stated(figures, stated.alloys[alloy].density, leaves)
    upload, file = upload_of(workspace, draft, place), draft.get(f"castings-{place}-mesh")
    root = look.costing.folder.root
    if upload is None and not (file and leads_inside(root, file)):
        return None
    try:
        return volume_and_area(upload.path if upload else root / file, thorough=True).volume_cm3
    except (Faults, TroytagError, OSError):
        return None
