"""The rows that the products of a large folder came to, remembered: resolving is a good part of what a command does.

They are taken again where the very same files but the quotes are read by the very same program, and each mesh measures
what it measured then; on quotes, the day and the run they do not hang. All else is resolved anew, and so is what cannot
be read or is no such thing.
"""

from __future__ import annotations

from pricing.errors import Fault, TroytagError
from pricing.folder.checks.remembered import digest_without_quotes
from pricing.folder.product_files import are_many
from pricing.folder.read import Folder
from pricing.folder.rows.resolve import resolve
from pricing.folder.rows.resolving import Asked, Bench, MeasureMesh
from pricing.folder.rows.variants import VariantRows, variant_rows
from pricing.formulas.frozen import OtherForm
from pricing.formulas.frozen_variants import frozen_variants, thawed_variants
from pricing.model.rows import Resolved
from pricing.remembered import keep, name_for, recalled

MOST_BYTES = 2**27


def resolved_again(folder: Folder, asked: Asked, measure_mesh: MeasureMesh) -> tuple[Resolved, tuple[Fault, ...]]:
    """As `resolve`, of a folder that stands as it was read; what its products come to is kept and taken again.

    `measure_mesh` is asked about the same files in either case.
    """
    digest = digest_without_quotes(folder.hashes) if are_many(folder.root) else None
    return resolve(folder, asked, measure_mesh, rows=lambda bench: _rows_again(bench, digest))


def _rows_again(bench: Bench, digest: str | None) -> VariantRows:
    """As `variant_rows`; kept where nothing is wrong with them, and nowhere without a digest."""
    if digest is None:
        return variant_rows(bench)
    name = name_for(bench.folder.root)
    known = _known(bench, name, digest)
    if known is None:
        known = variant_rows(bench)
        if not bench.faults:
            _keep(bench, name, digest, known)
    return known


def _keep(bench: Bench, name: str, digest: str, rows: VariantRows) -> None:
    from pydantic_core import to_json

    root, measured = bench.folder.root, bench.measured_meshes
    entry = {
        "of": digest,
        "measured": {path.relative_to(root).as_posix(): found for path, found in measured.items()},
        "listed": len(rows.listed),
        "alloys": rows.alloys,
        "variants": frozen_variants((*rows.listed, *rows.hidden)),
    }
    content = to_json(entry, inf_nan_mode="constants")
    if len(content) <= MOST_BYTES:
        keep("resolved", name, content)


def _known(bench: Bench, name: str, digest: str) -> VariantRows | None:
    """What was kept, where all of it holds still."""
    from pydantic_core import from_json

    content = recalled("resolved", name, MOST_BYTES)
    if content is None:
        return None
    try:
        kept = from_json(content)
        if kept["of"] != digest:
            return None
        for file, measured in kept["measured"].items():
            if list(bench.measured(bench.path_of(file))) != measured:
                return None
        variants, listed, alloys = thawed_variants(kept["variants"]), kept["listed"], tuple(kept["alloys"])
        if type(listed) is not int or not 0 <= listed <= len(variants) or not {*alloys} <= {*bench.alloys}:
            return None
        return VariantRows(variants[:listed], variants[listed:], alloys)
    except (TroytagError, OtherForm, ValueError, KeyError, TypeError, AttributeError):
        return None
