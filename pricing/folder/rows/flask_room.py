"""Whether what is cast goes into its flask: the size of a piece against the flask's, and a tree's volume."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path

from pricing.errors import Fault
from pricing.folder.files import WORKSHOP_FILE
from pricing.folder.read import Folder
from pricing.formulas.engine import Computed
from pricing.model.rows import FlaskRow, VariantRow

#: Investment that stays between a piece and the side of its flask, and above the top of the tree, in mm: a quarter
#: and half an inch. Common practice at the bench, from memory; no standard says it, and a thicker wall does no harm.
SIDE_WALL_MM, END_WALL_MM = 6.0, 12.0
#: Lengths along x, y and z in mm, by the file of a mesh.
Extents = Mapping[Path, tuple[float, float, float]]


def flask_warnings(folder: Folder, computed: Computed, extents: Extents) -> Iterator[Fault]:
    """Castings that do not go into their flask, and trees with more on them than a flask holds; each once a product.

    `extents` are those of the meshes that were measured for their volume: of other castings nobody knows the size.
    """
    flasks = {row.name: row for row in computed.resolved.flasks}
    products = folder.goods
    told: set[tuple[str, str]] = set()
    sizes = {str(path): extent for path, extent in extents.items()}
    in_flasks: dict[int, bool] = {}  # whether any step is per flask, by the identity of the steps, which rows hold
    pattern_cm3, castings = computed["pattern_cm3"], computed["castings_per_set"]
    held_cm3 = dict(zip(flasks, computed["flask_cm3"].tolist(), strict=True))
    for row, variant in enumerate(computed.resolved.variants):
        flask = flasks.get(variant.flask or "")
        if flask is None or variant.takes != "cast" or (variant.sku, flask.name) in told:
            continue
        told.add((variant.sku, flask.name))
        for index, casting in enumerate(products[variant.sku].castings or () if extents else ()):
            extent = _extent(folder, sizes, extents, casting.mesh) if casting.mesh else None
            sides = [side * variant.scale for side in extent or ()]
            if sides and not _goes_in(sides, flask):
                yield folder.documents.fault(
                    folder.product_file(variant.sku),
                    ("castings", index, "mesh"),
                    f'"{variant.sku}" as it is drawn is '
                    f"{' × '.join(f'{side:.0f}' for side in sides)} mm, and the flask "
                    f'"{flask.name}" has room for {_room(flask)}',
                    "Take a larger flask, or see in which unit the mesh is drawn.",
                    other=(folder.place(WORKSHOP_FILE, ("flasks", flask.name)),),
                )
        if id(variant.steps) not in in_flasks:
            in_flasks[id(variant.steps)] = any(step.is_flask for step in variant.steps)
        if variant.castings and in_flasks[id(variant.steps)]:
            each = float(pattern_cm3[row] / castings[row])
            tree = variant.pieces_per_flask * each * (1 + variant.sprue_ratio) + flask.button_cm3
            if tree > held_cm3[flask.name]:
                yield _too_many(folder, variant, each, tree, held_cm3[flask.name])


def _extent(
    folder: Folder, sizes: Mapping[str, tuple[float, float, float]], extents: Extents, mesh: str
) -> tuple[float, float, float] | None:
    """The lengths of a mesh by its name; names that are written otherwise than their files are put right first."""
    return sizes.get(os.path.join(folder.root, mesh)) or extents.get(folder.root / mesh)


def _too_many(folder: Folder, variant: VariantRow, each: float, tree: float, held: float) -> Fault:
    """A tree that is larger than its flask: all castings of a flask with their sprues, and the button; in cm3."""
    return folder.documents.fault(
        folder.product_file(variant.sku),
        ("pieces_per_flask",),
        f"{variant.pieces_per_flask:g} castings of {each:.3g} cm3 with their sprues are {tree:,.0f} cm3, and the "
        f'flask "{variant.flask}" holds {held:,.0f}',
        "State fewer, or a larger flask.",
        other=(folder.place(WORKSHOP_FILE, ("flasks", variant.flask or "")),),
    )


def _goes_in(sides: list[float], flask: FlaskRow) -> bool:
    """Whether a piece stands in the flask along one of its three axes, as if it were round across the others."""
    across, along = _inside(flask)
    return any(side <= along and max(sides[:place] + sides[place + 1 :]) <= across for place, side in enumerate(sides))


def _inside(flask: FlaskRow) -> tuple[float, float]:
    """Diameter and height within the walls, in mm."""
    return flask.flask_diameter_mm - 2 * SIDE_WALL_MM, flask.flask_height_mm - END_WALL_MM


def _room(flask: FlaskRow) -> str:
    across, along = (max(0.0, size) for size in _inside(flask))
    walls = f"within walls of {SIDE_WALL_MM:g} mm, {END_WALL_MM:g} at its end"
    return f"{across:.0f} mm across and {along:.0f} along {walls}"
